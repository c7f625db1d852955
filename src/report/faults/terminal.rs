//! Faults on a terminal, 80 columns wide: the answer, the matrix, what the rest carries.

use std::fmt::Write as _;

use super::findings::findings;
use super::words::{self, first_sign};
use crate::converter::Arrangement;
use crate::report::format::faults::fault_word::FaultWord;
use crate::report::format::faults::rows::FailureRow;
use crate::report::format::faults::terminal::{sign, worst_of_all};
use crate::report::format::numbers::{NONE, decimals, kilo, quantity, samples, yield_percent};
use crate::report::format::screen::{
    Blocks, CommandWord, NextQuestion, Screen, first_lines, headed, quick_look,
};
use crate::report::format::terminal::{table, trimmed};
use crate::report::format::{premises, switching};
use crate::scenario::Scenario;
use crate::study::faults::{FaultResult, FaultStudy, HealthyConverter};
use crate::units::Volt;

/// Findings in the screenful.
const FINDINGS: usize = 2;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, study: &FaultStudy) -> Screen {
    let findings: Vec<String> = findings(study).into_iter().map(|own| own.sentence).collect();
    let mut notes = first_lines(&findings, FINDINGS);
    let _ = writeln!(notes, "{}", words::DANGER[0]);
    if let Some(limits) = words::limits_not_judged(scenario) {
        let _ = writeln!(notes, "Not judged after every fault: {limits}.");
    }
    for sentence in premises::exact_sentences(scenario) {
        let _ = writeln!(notes, "{sentence}");
    }
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: quick_look(study.settings.method).to_owned() + &before(scenario, study),
        answer: format!("{}\n{}", words::answer(study), settings(scenario, study)),
        figure: worst_of_all(study),
        notes,
    };
    blocks.screen(&tables(scenario, study), next())
}

/// What to know before the answer.
fn before(scenario: &Scenario, study: &FaultStudy) -> String {
    let shift = study.sharing_shift.as_ref();
    let shift = shift.map(|own| switching::shift_beside_limit(scenario, own));
    let told: Vec<String> = words::before(scenario, study).into_iter().chain(shift).collect();
    if told.is_empty() { String::new() } else { told.join("\n") + "\n\n" }
}

/// What one asks next: this verb is the last of those that judge a design.
fn next() -> NextQuestion {
    NextQuestion::verb("run", "which figures and tables go into the review?")
        .with([CommandWord::Plain("--figures".to_owned())])
}

/// All that the screenful has no room for.
fn tables(scenario: &Scenario, study: &FaultStudy) -> String {
    let findings: Vec<String> = findings(study).into_iter().map(|own| own.sentence).collect();
    let mut text = headed("Findings", &findings, usize::MAX) + "\n";
    for (n, healthy) in study.healthy.iter().enumerate() {
        if healthy.arrangement == Arrangement::Chain {
            let limit = words::blocking_limit(scenario, Arrangement::Chain);
            text += &of_point(study, n, limit);
        }
    }
    text += &legend();
    text += &listed("What the answers rest on", &words::LAWS);
    text += &listed("What stays unknown", &words::UNKNOWN);
    if let Some(limits) = words::limits_not_judged(scenario) {
        let _ = writeln!(text, "{}\n", words::not_judged(&limits));
    }
    text + &listed("Cautions", &words::DANGER)
}

fn settings(scenario: &Scenario, study: &FaultStudy) -> String {
    format!(
        "{} phases, {} solver; {} where it runs, seed {}",
        scenario.phases,
        study.settings.method.name(),
        samples(study.settings.samples),
        study.settings.seed
    )
}

fn listed(heading: &str, lines: &[&str]) -> String {
    lines.iter().fold(format!("{heading}\n"), |text, line| format!("{text}- {line}\n")) + "\n"
}

fn legend() -> String {
    FaultWord::ALL.iter().fold(String::new(), |text, cell| {
        format!("{text}{} {:<6} {}\n", cell.letter(), cell.word(), cell.meaning())
    }) + "! a switch blocks more than the limit\n\n"
}

/// An operating point: the matrix, then the worst place of every failure.
fn of_point(study: &FaultStudy, healthy: usize, limit: Option<Volt>) -> String {
    let before = &study.healthy[healthy];
    let own: Vec<&FaultResult> =
        study.results.iter().filter(|result| result.healthy == healthy).collect();
    let other: Vec<&FaultResult> =
        study.results.iter().filter(|result| result.healthy == healthy + 1).collect();
    let mut text = format!(
        "{}: {} before a fault, tank RMS {}, blocking {}{}\n",
        before.operating_point,
        quantity(before.state.switching_frequency),
        quantity(before.tank_rms_current),
        quantity(before.blocking),
        limit.map(|limit| format!(", limit {}", quantity(limit))).unwrap_or_default()
    );
    text += &matrix(&own, &other, before.state.phases.len());
    text += "\n";
    text += &worst_places(before, &own, limit);
    text + "\n"
}

fn matrix(own: &[&FaultResult], other: &[&FaultResult], phases: usize) -> String {
    let mut headings = vec![String::new()];
    headings.extend((1..=phases).map(|k| k.to_string()));
    headings.push("paral.".into());
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = table(&headings);
    for row in FailureRow::all(own) {
        let mut cells = vec![row.heading()];
        cells.extend((0..phases).map(|k| {
            let result = row.at(k);
            result.map_or(String::new(), |result| sign(FaultWord::of_result(result), phases))
        }));
        let reference = other.iter().find(|result| row.is_of(result.fault()));
        cells.push(reference.map_or(String::new(), |own| sign(FaultWord::of_result(own), 1)));
        table.add_row(cells);
    }
    trimmed(&table)
}

/// What every failure does at its worst place.
fn worst_places(before: &HealthyConverter, own: &[&FaultResult], limit: Option<Volt>) -> String {
    let mut table = table(&[
        "at the worst place",
        "",
        "kHz",
        "tank\nRMS ×",
        "blocks,\nV up to",
        "shows first,\nperiods",
        "yield",
    ]);
    for row in FailureRow::all(own) {
        let Some(worst) = row.worst() else { continue };
        let found = worst.outcome.state();
        let frequency = found.map(|own| kilo(own.state.switching_frequency.0));
        let factor = worst.tank_rms_current.map(|own| own.0 / before.tank_rms_current.0);
        let good = worst.remaining_yield.as_ref().map(|own| yield_percent(own.good.estimate));
        table.add_row([
            row.heading(),
            (worst.fault().phase + 1).to_string(),
            frequency.unwrap_or_else(|| NONE.into()),
            factor.map_or_else(|| NONE.into(), |own| decimals(own, 2)),
            words::most_blocked(worst, limit),
            first_sign(&worst.signs),
            good.unwrap_or_else(|| NONE.into()),
        ]);
    }
    trimmed(&table)
}
