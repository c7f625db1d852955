//! The case for or against current sensors on a terminal, 80 columns wide: the answer first.

use super::words::{
    SensitivityText, answer, findings, method, name, no_rating, ratings as both_ratings,
    sensitivity, single_faults, unfinished, verdict, volt, warnings,
};
use crate::report::format::blocks::{Scale, Strip};
use crate::report::format::faults::terminal::worst_of_all;
use crate::report::format::numbers::{
    BEYOND, BEYOND_MEANS, NONE, count, decimals_or_three, given_percent, money, percent, plain,
    quantile, yield_percent,
};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, headed, quick_look};
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::report::format::{premises, ratings, switching};
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::KeyFigures;
use crate::study::sensors::{SensorStudy, Variant, VariantResult};

/// Statements of each kind in the screenful.
const SHOWN: usize = 3;
/// Characters of the scale of failures, and the smallest share that it shows.
const SCALE: u32 = 18;
const LEAST: f64 = 1e-5;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Screen {
    let unfinished = unfinished(study).map_or_else(String::new, |missing| missing + "\n\n");
    let warnings = warnings(scenario, request, study);
    let first: Vec<String> = std::iter::once(answer(scenario, study)).chain(warnings).collect();
    let found = sensitivity(scenario, study);
    let changes = headed("What would change this answer", &found.changes, SHOWN);
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: unfinished + quick_look(study.settings.method) + &premises::text(scenario, None),
        answer: format!("{}\n{}\n", first.join("\n"), settings(scenario, study)),
        figure: figure(scenario, study),
        notes: changes
            + &headed("Robustness", &found.robustness, SHOWN)
            + &premises::exact_text(scenario, None),
    };
    let next = NextQuestion::verb("capacitors", "how large must the flying capacitors be?");
    blocks.screen(&tables(scenario, study, &found), next)
}

/// What the screenful has no room for.
fn tables(scenario: &Scenario, study: &SensorStudy, found: &SensitivityText) -> String {
    let all = usize::MAX;
    let mut text = headed("Findings", &findings(scenario, study), all) + "\n";
    if found.changes.len() > SHOWN {
        text += &(headed("What would change this answer", &found.changes, all) + "\n");
    }
    if found.robustness.len() > SHOWN {
        text += &(headed("Robustness", &found.robustness, all) + "\n");
    }
    text += &(variants(scenario, study) + "\n");
    text += &parts(scenario, study);
    text += &(headed("Single faults", &single_faults(scenario), all) + "\n");
    text += &worst_of_all(&study.faults);
    text + "\nMethod: " + &method(scenario, study) + "\n"
}

/// What the parts of the chain, and of the converter with sensors in its place, must bear.
fn parts(scenario: &Scenario, study: &SensorStudy) -> String {
    let shown = [Variant::Chain, Variant::ParalleledWithSensors];
    let tables = shown.map(|variant| {
        let heading = format!("What to order for {}", name(variant));
        let ratings = &study.parts_of(variant).ratings;
        ratings::terminal::of_arrangement(scenario, ratings, variant.arrangement(), &heading)
    });
    let mut text = tables
        .iter()
        .filter(|table| !table.is_empty())
        .fold(String::new(), |text, table| text + table + "\n");
    text += &switching::terminal::text(scenario, study.parts.switching.as_ref(), None);
    text + "(a), (d), each operating point, nominal and largest: summary.json.\n\n"
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

/// The variants in rows, with the share of each that fails on a logarithmic scale.
fn figure(scenario: &Scenario, study: &SensorStudy) -> String {
    let allowed = 1.0 - scenario.limits.yield_target;
    let ticks = [1.0, 1e-1, 1e-2, 1e-3, 1e-4].iter();
    let axis = ticks.fold(Strip::new(scale()), |strip, share| {
        let text = if *share < 1e-3 { "100 ppm".into() } else { given_percent(*share) };
        strip.label(log(*share), &plain(&text))
    });
    let headings =
        ["share that fails", "target", "yield", "cost of a\ngood one", "FIT", &axis.text()];
    let mut table = table(&headings);
    right(&mut table, 1..5);
    left(&mut table, 5);
    for own in &study.variants {
        let fails =
            [own.good.upper, own.good.estimate, own.good.lower].map(|share| log(1.0 - share));
        let strip = Strip::new(scale()).interval([fails[2], fails[0]], fails[1]);
        table.add_row([
            name(own.variant),
            verdict(own).to_owned(),
            yield_percent(own.good.estimate),
            own.price_per_good().map_or_else(|| "none".into(), money),
            format!("{:.0}", own.bill.failure_rate),
            strip.mark('│', log(allowed)).text(),
        ]);
    }
    let target = given_percent(scenario.limits.yield_target);
    let level = given_percent(scenario.limits.confidence);
    format!(
        "{}│ the target of {target}; ├─●─┤ the {level} interval of each yield by itself\n",
        trimmed(&table)
    )
}

/// From all to the least share that is shown.
fn scale() -> Scale {
    Scale::new(0.0, log(LEAST), SCALE)
}

fn log(share: f64) -> f64 {
    libm::log10(share.max(LEAST))
}

/// The four variants side by side, a figure a row.
fn variants(scenario: &Scenario, study: &SensorStudy) -> String {
    let target = given_percent(scenario.limits.yield_target);
    let names = Variant::ALL.map(|v| name(v).replace(" + ", "\n+ "));
    let mut table = table(&["", &names[0], &names[1], &names[2], &names[3]]);
    right(&mut table, 1..5);
    let mut add = |name: &str, cell: &dyn Fn(&VariantResult) -> String| {
        let cells = study.variants.iter().map(cell);
        table.add_row(std::iter::once(name.to_owned()).chain(cells));
    };
    add("verdict", &|v| verdict(v).to_uppercase());
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
        v.loss.map_or(NONE.into(), |s| format!("{}\u{a0}W", decimals_or_three(s.mean, 2)))
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
    let ampere = |value: f64| format!("{}\u{a0}A", decimals_or_three(value, 2));
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
    result.joint_rating.map_or_else(|reason| no_rating(reason).into(), both_ratings)
}
