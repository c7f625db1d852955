//! The case for or against current sensors on a terminal, 80 columns wide.

use super::{carrying, flips, headline, money, name, unfinished};
use crate::report::terminal::{
    CAUTION, folded, grouped, percent, table, trimmed, verdict_word, yield_percent,
};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::Summary;
use crate::study::sensors::{SensorStudy, VariantResult};

/// The result.
pub fn sensors(scenario: &Scenario, study: &SensorStudy) -> String {
    let mut text = format!("{}\n", scenario.title);
    text.push_str(&format_settings(scenario, study));
    if let Some(missing) = unfinished(study) {
        text.push_str(&missing);
        text.push_str("\n\n");
    }
    text.push_str(headline(study));
    text.push('\n');
    if study.settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take verdicts from the exact one.\n",
        );
    }
    text.push_str(&listed(&carrying(scenario, study)));
    text.push_str("\nWhat would turn it over\n");
    text.push_str(&listed(&flips(scenario, study)));
    text.push('\n');
    text.push_str(&errors(study));
    text.push('\n');
    text.push_str(&parts(study));
    text.push('\n');
    text.push_str(CAUTION);
    folded(&text)
}

fn listed(lines: &[String]) -> String {
    lines.iter().fold(String::new(), |text, line| text + "- " + line + "\n")
}

fn format_settings(scenario: &Scenario, study: &SensorStudy) -> String {
    format!(
        "{} samples, seed {}, {} solver, {} phases\n\n",
        grouped(study.samples),
        study.settings.seed,
        study.settings.method.name(),
        scenario.phases
    )
}

fn errors(study: &SensorStudy) -> String {
    let mut table =
        table(&["variant", "verdict", "yield", "p50", "p95", "p99", "max", "RMS at target"]);
    for result in &study.variants {
        let error =
            |f: fn(&Summary) -> f64| result.sharing.as_ref().map_or("-".into(), |s| percent(f(s)));
        table.add_row([
            name(result.variant),
            verdict_word(result.verdict).to_owned(),
            yield_percent(result.good.estimate),
            error(|s| s.p50),
            error(|s| s.p95),
            error(|s| s.p99),
            error(|s| s.max),
            result.ratings[0].map_or("none".into(), |r| format!("{:.2} A", r.current)),
        ]);
    }
    format!(
        "Sharing error, largest over the operating points, and RMS switch rating\n{}",
        trimmed(&table)
    )
}

fn parts(study: &SensorStudy) -> String {
    let mut table =
        table(&["variant", "added", "price", "FIT", "loss", "trims at end", "unsolved"]);
    for result in &study.variants {
        table.add_row([
            name(result.variant),
            format!("{} parts", result.bill.added()),
            money(result.bill.price),
            format!("{:.0}", result.bill.failure_rate),
            result.loss.map_or("-".into(), |s| format!("{:.2} W", s.mean)),
            result.loops.map_or("-".into(), |l| percent(l.at_end)),
            unsolved(result),
        ]);
    }
    format!(
        "Parts, and the mean loss at \"{}\"; unsolved: out of range + not solved\n{}",
        study.loss_point,
        trimmed(&table)
    )
}

fn unsolved(result: &VariantResult) -> String {
    let [_, out_of_range, not_solved] = result.counts.map(grouped);
    format!("{out_of_range} + {not_solved}")
}
