//! The four variants side by side, a figure a row.

use maud::{Markup, html};

use crate::report::format::page::parts;
use crate::report::format::page::parts::{number, remarked};
use crate::report::format::words;
use crate::report::sensors::words as told;
use crate::scenario::Scenario;
use crate::statistics::Interval;
use crate::study::sensors::{SensorStudy, TargetQuantile, Variant, VariantResult};

/// What a variant has in a row.
type Cell<'a> = Box<dyn Fn(&VariantResult) -> Markup + 'a>;
/// A row of the comparison: its name, and a cell of a variant.
type Line<'a> = (String, Cell<'a>);

/// All figures of the comparison.
pub(super) fn table(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let mut lines: Vec<Line> = vec![
        ("verdict".into(), Box::new(|v| number(words::verdict(v.verdict)))),
        ("yield, all limits and operating points".into(), Box::new(good)),
        ("sharing error p95, %".into(), Box::new(sharing)),
        ("the same, p50; p99; largest".into(), Box::new(quantiles)),
    ];
    lines.extend(switch_lines(scenario));
    lines.extend(part_lines());
    lines.extend(loop_lines());
    let caption = format!(
        "Four variants of the same converters; in small {} confidence intervals. Loss at “{}”",
        words::given_percent(scenario.limits.confidence),
        study.loss_point
    );
    let head = html! {
        tr {
            th scope="col" class="text" { "" }
            @for v in Variant::ALL { th scope="col" { (told::name(v)) } }
        }
    };
    let rows = html! {
        @for (name, cell) in &lines {
            tr {
                th scope="row" class="wraps" { (name) }
                @for result in &study.variants { (cell(result)) }
            }
        }
    };
    parts::table(&caption, &head, &rows)
}

fn good(result: &VariantResult) -> Markup {
    let g = &result.good;
    let interval = Interval { lower: g.lower, upper: g.upper };
    let small = words::interval(Some(interval), words::yield_percent);
    remarked(&words::yield_percent(g.estimate), &small)
}

fn sharing(result: &VariantResult) -> Markup {
    result.sharing.as_ref().map_or_else(
        || number(words::NONE),
        |s| {
            remarked(&words::in_percent(s.p95), &words::interval(s.p95_interval, words::in_percent))
        },
    )
}

fn quantiles(result: &VariantResult) -> Markup {
    number(result.sharing.as_ref().map_or_else(
        || words::NONE.into(),
        |s| [s.p50, s.p99, s.max].map(words::in_percent).join("; "),
    ))
}

/// A current that may be missing.
fn current(value: Option<f64>) -> String {
    value.map_or_else(|| "none".into(), words::four)
}

fn switch_lines<'a>(scenario: &Scenario) -> Vec<Line<'a>> {
    let target = words::given_percent(scenario.limits.yield_target);
    let within = |v: &VariantResult| match v.currents[0] {
        Some(TargetQuantile { value, interval }) => {
            remarked(&words::four(value), &words::interval(interval, words::four))
        }
        None => number(words::NONE),
    };
    let surely =
        |n: usize| move |v: &VariantResult| current(v.ratings[n].and_then(|r| r.required_rating()));
    let [rms, peak] = [surely(0), surely(1)];
    vec![
        (format!("RMS switch current that {target} keep to, A"), Box::new(within)),
        (
            "over that of the nominal converter; largest seen, A".into(),
            Box::new(|v| {
                let most = v.rms.map(|s| s.max);
                number(format!("{}; {}", current(v.oversize()[0]), current(most)))
            }),
        ),
        (
            format!("rating that surely gives {target} good, RMS; peak, A"),
            Box::new(move |v| number(format!("{}; {}", rms(v), peak(v)))),
        ),
        (
            "blocking voltage of the worst switch, V".into(),
            Box::new(|v| number(current(v.blocking.map(|b| b.value)))),
        ),
    ]
}

fn part_lines<'a>() -> Vec<Line<'a>> {
    vec![
        (
            "mean loss, W".into(),
            Box::new(|v| {
                number(v.loss.map_or_else(|| words::NONE.into(), |s| words::four(s.mean)))
            }),
        ),
        (
            "parts added that can fail: capacitors, sensors, trims".into(),
            Box::new(|v| {
                let b = &v.bill;
                number(format!("{}, {}, {}", b.flying_capacitors, b.sensors, b.trim_elements))
            }),
        ),
        (
            "price; of a good converter".into(),
            Box::new(|v| {
                let good = v.price_per_good().map_or_else(|| "none".into(), told::money);
                number(format!("{}; {good}", told::money(v.bill.price)))
            }),
        ),
        (
            "failure rate, FIT; failing within a year".into(),
            Box::new(|v| {
                let fit = v.bill.failure_rate;
                number(format!("{fit:.0}; {}", words::percent(v.bill.failing_within_a_year())))
            }),
        ),
        (
            "break-even price of sensor and trim, a phase".into(),
            Box::new(|v| {
                number(v.break_even.map_or_else(|| words::NONE.into(), |p| told::money(p.estimate)))
            }),
        ),
    ]
}

fn loop_lines<'a>() -> Vec<Line<'a>> {
    vec![
        (
            "phases at the end of the trim range".into(),
            Box::new(|v| {
                number(v.loops.map_or_else(|| words::NONE.into(), |l| words::percent(l.at_end)))
            }),
        ),
        (
            "out of range; not solved".into(),
            Box::new(|v| {
                let [_, out, lost] = v.counts.map(words::count);
                number(format!("{out}; {lost}"))
            }),
        ),
    ]
}
