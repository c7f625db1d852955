//! The case for or against current sensors on a terminal, 80 columns wide: the answer first.

use comfy_table::CellAlignment;

use super::words::{
    answer, findings, method, name, no_rating, ratings, sensitivity, single_faults, unfinished,
    volt, warnings,
};
use crate::report::format::names::verdict_capitals;
use crate::report::format::numbers::{
    BEYOND, BEYOND_MEANS, NONE, count, given_percent, money, percent, quantile, yield_percent,
};
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded, table, trimmed};
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::statistics::KeyFigures;
use crate::study::sensors::{SensorStudy, Variant, VariantResult};

/// The result.
pub(super) fn text(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let mut text = format!("{}\n{}\n\n", scenario.title, settings(scenario, study));
    if let Some(missing) = unfinished(study) {
        text += &(missing + "\n\n");
    }
    if study.settings.method == Method::Averaged {
        text += QUICK_LOOK;
    }
    text += &(answer(scenario, study) + "\n");
    for warning in warnings(scenario, request, study) {
        text += &(warning + "\n");
    }
    text += &listed(&findings(scenario, study));
    let found = sensitivity(scenario, study);
    text += &headed("What would change this answer", &found.changes);
    text += &headed("Robustness", &found.robustness);
    text += &headed("Single faults", &single_faults(scenario));
    text += "\n";
    text += &variants(scenario, study);
    text += "\nMethod: ";
    text += &method(scenario, study);
    text += "\n\n";
    text += CAUTION;
    folded(&text)
}

fn settings(scenario: &Scenario, study: &SensorStudy) -> String {
    format!(
        "{} samples, seed {}, {} solver, {} phases",
        count(study.samples),
        study.settings.seed,
        study.settings.method.name(),
        scenario.phases
    )
}

/// A list under a heading; nothing without an entry.
fn headed(heading: &str, lines: &[String]) -> String {
    if lines.is_empty() { String::new() } else { format!("\n{heading}\n{}", listed(lines)) }
}

fn listed(lines: &[String]) -> String {
    lines.iter().fold(String::new(), |text, line| text + "- " + line + "\n")
}

/// The four variants side by side, a figure a row.
fn variants(scenario: &Scenario, study: &SensorStudy) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let names = Variant::ALL.map(|v| name(v).replace(" + ", "\n+ "));
    let mut table = table(&["", &names[0], &names[1], &names[2], &names[3]]);
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let mut add = |name: &str, cell: &dyn Fn(&VariantResult) -> String| {
        let cells = study.variants.iter().map(cell);
        table.add_row(std::iter::once(name.to_owned()).chain(cells));
    };
    add("verdict", &|v| verdict_capitals(v.verdict).to_owned());
    add("yield, all limits together", &|v| yield_percent(v.good.estimate));
    add("sharing error p50", &|v| sharing(v, |s| s.p50));
    add("sharing error p95", &|v| sharing(v, |s| s.p95));
    add("sharing error, largest", &|v| sharing(v, |s| Some(s.max)));
    add("switch rating, RMS; peak", &rating);
    add(&format!("blocking voltage that {target} keep to"), &|v| {
        v.blocking.map_or(BEYOND.into(), |blocking| volt(blocking.value))
    });
    add("parts added", &|v| v.bill.added().to_string());
    add("price", &|v| money(v.bill.price));
    add("cost per good converter", &|v| v.price_per_good().map_or("none".into(), money));
    add("failure rate", &|v| format!("{:.0}\u{a0}FIT", v.bill.failure_rate));
    add("failing within a year", &|v| percent(v.bill.failing_within_a_year()));
    add(&format!("mean loss at “{}”", study.loss_point), &|v| {
        v.loss.map_or(NONE.into(), |s| format!("{:.2}\u{a0}W", s.mean))
    });
    if study.variants.iter().any(|variant| variant.ripple.is_some()) {
        add("output ripple p99, RMS", &|v| ripple(v, 0));
        add("the same, lowest to highest", &|v| ripple(v, 1));
        add("beat frequency p99", &beat);
    }
    add("phases at end of trim range", &|v| v.loops.map_or(NONE.into(), |l| percent(l.at_end)));
    add("samples out of range", &|v| count(v.counts[1]));
    add("samples not solved", &|v| count(v.counts[2]));
    let table = trimmed(&table);
    if table.contains(BEYOND) { format!("{table}{BEYOND_MEANS}\n") } else { table }
}

/// The ripple current of the output: RMS, or from peak to peak.
fn ripple(result: &VariantResult, n: usize) -> String {
    let ampere = |value: f64| format!("{value:.2}\u{a0}A");
    result.ripple.map_or(NONE.into(), |ripple| quantile(ripple[n].p99, ampere))
}

/// The highest beat frequency of any two phases.
fn beat(result: &VariantResult) -> String {
    let kilohertz = |value: f64| format!("{:.2}\u{a0}kHz", value / 1e3);
    let beat = result.loops.and_then(|loops| loops.beat);
    beat.map_or(NONE.into(), |beat| quantile(beat.p99, kilohertz))
}

/// The sharing error, largest over the operating points.
fn sharing(result: &VariantResult, figure: fn(&KeyFigures) -> Option<f64>) -> String {
    result.sharing.as_ref().map_or(NONE.into(), |s| quantile(figure(s), percent))
}

/// The RMS and peak rating with which, together, the target is met.
fn rating(result: &VariantResult) -> String {
    result.joint_rating.map_or_else(|reason| no_rating(reason).into(), ratings)
}
