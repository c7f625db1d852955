//! The four variants side by side, a figure a row.

use maud::{Markup, html};

use crate::report::format::numbers::{
    BEYOND, NONE, count, ends, four, four_up, given_percent, in_percent, kilo, level, money,
    percent, quantile, quantile_ends, yield_percent,
};
use crate::report::format::page::parts::{self, number, remarked};
use crate::report::sensors::words as told;
use crate::scenario::Scenario;
use crate::statistics::Interval;
use crate::study::sensors::{SensorStudy, TargetQuantile, Variant, VariantResult};

/// A row of the table: its heading, and what stands in it of a variant.
struct TableRow<'a> {
    heading: String,
    cell: Box<dyn Fn(&VariantResult) -> Markup + 'a>,
}

fn row<'a>(
    heading: impl Into<String>,
    cell: impl Fn(&VariantResult) -> Markup + 'a,
) -> TableRow<'a> {
    TableRow { heading: heading.into(), cell: Box::new(cell) }
}

/// A row of plain numbers.
fn number_row<'a>(
    heading: impl Into<String>,
    text: impl Fn(&VariantResult) -> String + 'a,
) -> TableRow<'a> {
    row(heading, move |variant| number(text(variant)))
}

/// All figures of the comparison.
pub(super) fn table(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let rows = sharing_rows(study).into_iter().chain(switch_rows(scenario)).chain(part_rows(study));
    let rows: Vec<TableRow> = rows.chain(ripple_rows(study)).chain(loop_rows()).collect();
    let caption = format!(
        "Four variants of the same converters, with {} confidence intervals",
        given_percent(scenario.limits.confidence),
    );
    let head = html! {
        tr {
            th scope="col" class="text" { "property" }
            @for variant in Variant::ALL { th scope="col" { (told::name(variant)) } }
        }
    };
    let body = html! {
        @for TableRow { heading, cell } in &rows {
            tr {
                th scope="row" class="wraps" { (heading) }
                @for result in &study.variants { (cell(result)) }
            }
        }
    };
    parts::folded_table(&caption, &head, &body)
}

fn sharing_rows<'a>(study: &SensorStudy) -> Vec<TableRow<'a>> {
    vec![
        number_row("verdict", |v| told::verdict(v).to_owned()),
        number_row(
            format!("yield interval of the verdict ({})", level(study.joint_level())),
            joint,
        ),
        row("yield, all limits and operating points", good),
        row("sharing error p95, %", sharing),
        number_row("sharing error p50; p99; largest, %", |v| {
            v.sharing.as_ref().map_or_else(
                || NONE.into(),
                |s| [s.p50, s.p99, Some(s.max)].map(|p| quantile(p, in_percent)).join("; "),
            )
        }),
    ]
}

fn joint(result: &VariantResult) -> String {
    let [lower, upper] = [result.joint.lower, result.joint.upper].map(yield_percent);
    format!("{lower} to {upper}")
}

fn good(result: &VariantResult) -> Markup {
    let yield_found = &result.good;
    let interval = Interval { lower: yield_found.lower, upper: yield_found.upper };
    let remark = ends(Some(interval), yield_percent);
    remarked(&yield_percent(yield_found.estimate), &remark)
}

fn sharing(result: &VariantResult) -> Markup {
    let Some(sharing) = &result.sharing else { return number(NONE) };
    let remark = quantile_ends(sharing.p95_interval, in_percent);
    remarked(&quantile(sharing.p95, in_percent), &remark)
}

fn switch_rows<'a>(scenario: &Scenario) -> Vec<TableRow<'a>> {
    let target = given_percent(scenario.limits.yield_target);
    vec![
        row(format!("switch RMS current that {target} keep to, A"), rms_at_target),
        number_row("that current over the nominal converter’s", |v| current(v.oversize()[0])),
        number_row("largest switch RMS current, A", |v| {
            v.rms.map_or_else(|| NONE.into(), |s| four(s.max))
        }),
        number_row(format!("switch rating, RMS; peak together, for a yield of {target}, A"), |v| {
            let rating = |both: [f64; 2]| both.map(four_up).join("; ");
            v.joint_rating.map_or_else(|reason| told::no_rating(reason).into(), rating)
        }),
        number_row(format!("switch blocking voltage that {target} keep to, V"), |v| {
            current(v.blocking.map(|b| b.value))
        }),
    ]
}

fn rms_at_target(result: &VariantResult) -> Markup {
    match result.currents[0] {
        Some(TargetQuantile { value, interval }) => {
            remarked(&four(value), &quantile_ends(interval, four))
        }
        None => number(BEYOND),
    }
}

/// What the target share keeps to.
fn current(value: Option<f64>) -> String {
    quantile(value, four)
}

fn part_rows<'a>(study: &SensorStudy) -> Vec<TableRow<'a>> {
    vec![
        number_row(format!("mean loss at “{}”, W", study.loss_point), |v| {
            v.loss.map_or_else(|| NONE.into(), |s| four(s.mean))
        }),
        number_row("added capacitors; sensors; trim elements", |v| {
            let parts = &v.bill;
            format!("{}; {}; {}", parts.flying_capacitors, parts.sensors, parts.trim_elements)
        }),
        number_row("price; cost per good converter", |v| {
            let good = v.price_per_good().map_or_else(|| "none".into(), money);
            format!("{}; {good}", money(v.bill.price))
        }),
        number_row("failure rate, FIT; failing within a year", |v| {
            let failing = percent(v.bill.failing_within_a_year());
            format!("{:.0}; {failing}", v.bill.failure_rate)
        }),
        number_row("break-even price of sensor and trim element, per phase", |v| {
            v.break_even.map_or_else(|| NONE.into(), |p| money(p.estimate))
        }),
    ]
}

/// What differing frequencies cost; no rows where phases keep step in all variants.
fn ripple_rows<'a>(study: &SensorStudy) -> Vec<TableRow<'a>> {
    if study.variants.iter().all(|variant| variant.ripple.is_none()) {
        return Vec::new();
    }
    let ripple = |n: usize| {
        move |v: &VariantResult| {
            v.ripple.map_or_else(|| NONE.into(), |ripple| quantile(ripple[n].p99, four))
        }
    };
    vec![
        number_row("output ripple current p99, RMS, A", ripple(0)),
        number_row("output ripple current p99, lowest to highest, A", ripple(1)),
        number_row("beat frequency p50; p99, kHz", |v| {
            let beat = v.loops.and_then(|loops| loops.beat);
            beat.map_or_else(
                || NONE.into(),
                |beat| [beat.p50, beat.p99].map(|f| quantile(f, kilo)).join("; "),
            )
        }),
    ]
}

fn loop_rows<'a>() -> Vec<TableRow<'a>> {
    vec![
        number_row("phases at the end of the trim range", |v| {
            v.loops.map_or_else(|| NONE.into(), |l| percent(l.at_end))
        }),
        number_row("samples out of range; not solved", |v| {
            let [_, out_of_range, not_solved] = v.counts.map(count);
            format!("{out_of_range}; {not_solved}")
        }),
    ]
}
