//! The result of a run on the terminal: the answer in a screenful.

use std::fmt::Write as _;

use super::worst_case::terminal as worst_case;
use super::{batches, figures, losses, nominal, words};
use crate::converter::Arrangement;
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::names;
use crate::report::format::numbers::{
    BEYOND, BEYOND_MEANS, NONE, count, decimals, decimals_or_three, percent, quantile, samples,
    yield_interval, yield_percent,
};
use crate::report::format::screen::{Blocks, Screen, quick_look};
use crate::report::format::terminal::{table, trimmed};
use crate::report::format::what_if::words::{THE_VERDICT, sentence};
use crate::report::format::{premises, ratings, switching, tolerance};
use crate::report::run::explanation::terminal::explanation_text;
use crate::scenario::Scenario;
use crate::statistics::KeyFigures;
use crate::study::common::figures::Figure;
use crate::study::explanation::Explanation;
use crate::study::run::{Joint, Run};

/// Limits that the nominal converter misses, shown of each arrangement.
const MISSES: usize = 1;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> Screen {
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: quick_look(run.settings.method).to_owned()
            + &nominal::text(&run.nominal_misses, MISSES)
            + &premises::text(scenario, None),
        answer: answer(scenario, run, explanation),
        figure: figures::sharing(scenario, run),
        notes: notes(scenario, run, explanation),
    };
    blocks.screen(&tables(scenario, run, explanation), figures::next(scenario, run))
}

/// The verdicts, and what they rest on.
fn answer(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> String {
    let what_if = explanation.and_then(|explanation| explanation.what_if.as_ref());
    let mut text = String::new();
    for joint in &run.joint {
        text.push_str(&verdict(scenario, run, joint));
        let is_chain = joint.arrangement == Arrangement::Chain;
        if let Some(found) = what_if.filter(|_| is_chain) {
            let _ = writeln!(text, "  {}", words::of_samples(joint, &sentence(THE_VERDICT, found)));
        }
    }
    let _ = writeln!(
        text,
        "{}, {}, {} solver, {} phases\n{}",
        samples(run.settings.samples),
        run.source,
        names::method(run.settings.method).short,
        scenario.phases,
        words::sampling(run),
    );
    text
}

/// Use of the limits, reasons, and what became of all samples.
fn notes(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> String {
    let mut text = figures::limits(scenario, run);
    text.push_str(&figures::reasons(scenario, run, explanation));
    if let Some(batches) = &run.batches {
        text.push_str(&batches::text(scenario, batches));
    }
    text.push_str(&tolerance::screening(&scenario.tolerances));
    text.push_str(&premises::exact_text(scenario, None));
    text.push_str(&statuses(run));
    text.push_str(&switching::terminal::unasked(scenario, run.switching.as_ref()));
    if let Some(first) = words::first_in_files(run) {
        let _ = writeln!(text, "{first}");
    }
    if explanation.is_some_and(|explanation| explanation.interrupted) {
        let _ = writeln!(text, "{}", words::INTERRUPTED);
    }
    text
}

/// All tables, which a screenful has no room for.
fn tables(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> String {
    let mut text = points(scenario, run);
    text.push('\n');
    text.push_str(&nominal::text(&run.nominal_misses, usize::MAX));
    text.push_str(&losses::text(run));
    text.push_str(&ratings::terminal::text(scenario, &run.ratings, "ratings.csv"));
    if let Some(explanation) = explanation {
        text.push_str(&explanation_text(run, explanation));
    }
    let search = explanation.and_then(|explanation| explanation.switching.as_ref());
    text.push_str(&switching::terminal::text(scenario, run.switching.as_ref(), search));
    text.push_str(&worst_case::text(scenario, run, explanation));
    text.push_str(&configuration::choices(run.choices()));
    text + &solvers(run)
}

fn verdict(scenario: &Scenario, run: &Run, joint: &Joint) -> String {
    let mut text = format!(
        "{}: {}\n  yield {}, target {}\n",
        names::arrangement_heading(joint.arrangement),
        words::verdict_word(run, joint.arrangement, joint.verdict).to_uppercase(),
        yield_interval(&joint.good),
        yield_percent(scenario.limits.yield_target),
    );
    for own in run.by_age.iter().filter(|own| own.arrangement == joint.arrangement) {
        let word = words::verdict_word(run, own.arrangement, own.verdict);
        let age = own.age.name();
        let _ = writeln!(text, "  {age}: {word}, yield {}", yield_interval(&own.good));
    }
    if let Some(most) = &joint.binding {
        let _ = writeln!(
            text,
            "  limited by the {} at “{}”: {} {} it",
            names::limit(&most.demand).long,
            most.operating_point,
            samples(most.missed),
            words::miss(most.missed)
        );
    }
    if joint.arrangement == Arrangement::Chain
        && let Some(shift) =
            switching::shift(scenario, run.switching.as_ref(), &words::kept_figures(run))
    {
        let _ = writeln!(text, "  {shift}");
    }
    if let Some(forecast) = &joint.forecast {
        let needed = words::to_decide(run, joint, forecast);
        let _ = writeln!(text, "  {}", words::of_samples(joint, &needed));
    }
    if let Some(measured) = words::measured_parts(joint) {
        let _ = writeln!(text, "  {measured}");
    }
    text
}

fn points(scenario: &Scenario, run: &Run) -> String {
    let names = [
        "operating point",
        "arrangement",
        "frequency",
        "p50",
        "p95",
        "max",
        "switch\nRMS",
        "yield",
    ];
    let mut table = table(&names);
    for (n, case) in run.cases.iter().enumerate() {
        let sharing = run.key_figures(n, Figure::SharingError(scenario.limits.sharing));
        let error = |value: fn(&KeyFigures) -> Option<f64>| {
            sharing.map_or_else(|| NONE.into(), |s| quantile(value(s), percent))
        };
        let ampere = |value| format!("{}\u{a0}A", decimals_or_three(value, 2));
        let rms = run.key_figures(n, Figure::WorstSwitchRms);
        table.add_row([
            case.operating_point().to_owned(),
            names::arrangement(case.arrangement()).short.to_owned(),
            format!("{:.1}\u{a0}kHz", case.baseline.state.switching_frequency.0 / 1e3),
            error(|s| s.p50),
            error(|s| s.p95),
            error(|s| Some(s.max)),
            rms.map_or_else(|| NONE.into(), |s| quantile(s.p99, ampere)),
            yield_percent(case.good.estimate),
        ]);
    }
    let table = trimmed(&table);
    let beyond = if table.contains(BEYOND) { format!("{BEYOND_MEANS}\n") } else { String::new() };
    format!(
        "Sharing error: {}\n{table}Frequency: of the nominal converter. p50, p95, max: the sharing \
         error.\nMax: the largest of the solved samples.\nSwitch RMS: 99 % quantile of the RMS current of the worst switch.\n{beyond}",
        names::sharing(scenario.limits.sharing),
    )
}

fn statuses(run: &Run) -> String {
    let totals = Arrangement::ALL.map(|arrangement| run.totals(arrangement));
    if totals[0] == totals[1] && totals[0][1..] == [0, 0] {
        return format!(
            "chain and paralleled: {} solved each, 0 out of range, 0 not solved\n",
            count(totals[0][0])
        );
    }
    let mut text = String::new();
    for arrangement in Arrangement::ALL {
        let [solved, out_of_range, not_solved] = run.totals(arrangement);
        let _ = writeln!(
            text,
            "{}: {} solved, {} out of range, {} not solved (both count as failures)",
            names::arrangement(arrangement).short,
            count(solved),
            count(out_of_range),
            count(not_solved)
        );
    }
    text
}

/// How far the solvers differ, at the operating point where they do most.
fn solvers(run: &Run) -> String {
    let Some(most) = run.largest_solver_difference() else { return String::new() };
    format!(
        "Exact against averaged (fundamental harmonic), chain at “{}”:\n  exact p95 sharing error \
         {} times as large, frequencies up to {} apart\n",
        most.operating_point,
        decimals(most.error_ratio, 2),
        percent(most.frequency)
    )
}
