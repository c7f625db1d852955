//! The case for or against current sensors on a terminal, 80 columns wide.

use super::words::{answer, findings, meaning, money, name, sensitivity, unfinished, warnings};
use crate::report::format::numbers::{grouped, percent, verdict_word, yield_percent};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::statistics::KeyFigures;
use crate::study::sensors::{SensorStudy, VariantResult};

/// The result.
pub(super) fn text(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let mut text = format!("{}\n", scenario.title);
    text.push_str(&format_settings(scenario, study));
    if let Some(missing) = unfinished(study) {
        text.push_str(&missing);
        text.push_str("\n\n");
    }
    text.push_str(&answer(scenario, study));
    text.push('\n');
    if study.settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take verdicts from the exact one.\n",
        );
    }
    for warning in warnings(scenario, request, study) {
        text.push_str(&warning);
        text.push('\n');
    }
    text.push_str(&listed(&findings(scenario, study)));
    let found = sensitivity(scenario, study);
    if !found.would.is_empty() {
        text.push_str("\nIt would turn over\n");
        text.push_str(&listed(&found.would));
    }
    text.extend(found.would_not.map(|would_not| would_not + "\n"));
    text.push_str(&meaning(scenario));
    text.push_str("\n\n");
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
        table(&["variant", "verdict", "yield", "p50", "p95", "max", "RMS rating", "blocking"]);
    for result in &study.variants {
        let error = |f: fn(&KeyFigures) -> f64| {
            result.sharing.as_ref().map_or("-".into(), |s| percent(f(s)))
        };
        let rating = result.ratings[0].and_then(|r| r.required_rating());
        table.add_row([
            name(result.variant),
            verdict_word(result.verdict).to_owned(),
            yield_percent(result.good.estimate),
            error(|s| s.p50),
            error(|s| s.p95),
            error(|s| s.max),
            rating.map_or("none".into(), |current| format!("{current:.2} A")),
            result.blocking.map_or("-".into(), |v| format!("{:.0} V", v.value)),
        ]);
    }
    format!(
        "Sharing error, largest over the operating points, and the worst switch\n{}",
        trimmed(&table)
    )
}

fn parts(study: &SensorStudy) -> String {
    let mut table = table(&[
        "variant",
        "added",
        "price",
        "a good one",
        "FIT",
        "a year",
        "loss",
        "at end",
        "unsolved",
    ]);
    for result in &study.variants {
        let fit = result.bill.failure_rate;
        table.add_row([
            name(result.variant),
            counted(result.bill.added()),
            money(result.bill.price),
            result.price_per_good().map_or("none".into(), money),
            format!("{fit:.0}"),
            percent(result.bill.failing_within_a_year()),
            result.loss.map_or("-".into(), |s| format!("{:.2} W", s.mean)),
            result.loops.map_or("-".into(), |l| percent(l.at_end)),
            unsolved(result),
        ]);
    }
    format!(
        "Parts added, price of each and of a good one, failures in 10⁹ h and in a year, mean loss at \
         “{}”, phases at the end of their trim range, out of range + not solved\n{}",
        study.loss_point,
        trimmed(&table)
    )
}

fn counted(parts: usize) -> String {
    if parts == 1 { "1 part".into() } else { format!("{parts} parts") }
}

fn unsolved(result: &VariantResult) -> String {
    let [_, out_of_range, not_solved] = result.counts.map(grouped);
    format!("{out_of_range} + {not_solved}")
}

#[cfg(test)]
mod tests {
    #[test]
    fn one_part_is_no_parts() {
        assert_eq!([0, 1, 2].map(super::counted), ["0 parts", "1 part", "2 parts"]);
    }
}
