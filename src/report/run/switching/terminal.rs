//! Soft switching on the terminal: a table, and what was searched.

use std::fmt::Write as _;

use super::words;
use crate::report::format::commutation::words as common;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, percent, quantile, quantity, three, yield_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::{Scenario, SwitchSettings};
use crate::study::common::figures::Figure;
use crate::study::common::switching_figures::SwitchingFigure;
use crate::study::explanation::{Explanation, SwitchingSearch};
use crate::study::run::{PopulationSwitching, Run};

/// What it says of soft switching; nothing where the scenario does not describe the switches.
pub(in crate::report::run) fn text(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> String {
    let Some(settings) = &scenario.switch else { return String::new() };
    let Some(switching) = &run.switching else { return format!("{}\n\n", common::NEEDS_EXACT) };
    let mut text = format!("Soft switching\n{}", shares(run, switching));
    let _ = writeln!(text, "{}", common::rule(settings));
    if let Some(search) = explanation.and_then(|explanation| explanation.switching.as_ref()) {
        text.push_str(&searched(scenario, settings, SearchedRun { switching, search }));
    }
    text + "\n"
}

fn shares(run: &Run, switching: &PopulationSwitching) -> String {
    let mut table = table(&[
        "operating point",
        "arrangement",
        "soft",
        "not\ndecided",
        "hard",
        "turn-on\np50",
        "turn-on\np95",
        "loss\np95",
    ]);
    for (n, (case, shares)) in run.cases.iter().zip(&switching.cases).enumerate() {
        let figures = |figure| run.key_figures(n, Figure::Switching(figure));
        let voltage = figures(SwitchingFigure::TurnOnShare);
        let loss = figures(SwitchingFigure::Loss);
        table.add_row([
            case.operating_point().to_owned(),
            names::arrangement(case.arrangement()).short.to_owned(),
            yield_percent(shares.soft.estimate),
            yield_percent(shares.not_decided.estimate),
            yield_percent(shares.hard.estimate),
            voltage.map_or_else(|| NONE.into(), |v| quantile(v.p50, percent)),
            voltage.map_or_else(|| NONE.into(), |v| quantile(v.p95, percent)),
            loss.map_or_else(
                || NONE.into(),
                |w| quantile(w.p95, |w| format!("{}\u{a0}W", three(w))),
            ),
        ]);
    }
    let mut text = trimmed(&table);
    for (joint, shares) in run.joint.iter().zip(&switching.joint) {
        let _ = writeln!(
            text,
            "All operating points, {}: {} soft, {} not decided, {} hard.",
            names::arrangement(joint.arrangement).long,
            words::share(&shares.soft),
            yield_percent(shares.not_decided.estimate),
            yield_percent(shares.hard.estimate),
        );
    }
    text
}

/// What a search found beside what the samples of the run tell.
#[derive(Clone, Copy)]
struct SearchedRun<'a> {
    switching: &'a PopulationSwitching,
    search: &'a SwitchingSearch,
}

fn searched(scenario: &Scenario, settings: &SwitchSettings, run: SearchedRun<'_>) -> String {
    let SearchedRun { switching, search } = run;
    let target = scenario.limits.yield_target;
    let mut table = table(&[
        "arrangement",
        "soft with\ndead times of",
        "now",
        "largest Lm,\nnominal parts",
        "largest Lm,\ntarget share",
        "at",
    ]);
    let arrangements = crate::converter::Arrangement::ALL.iter().zip(&switching.joint);
    for ((arrangement, shares), found) in arrangements.zip(&search.arrangements) {
        let now = settings.specification(*arrangement).dead_time;
        table.add_row([
            names::arrangement(*arrangement).short.to_owned(),
            words::window(&found.dead_times),
            words::judged(&found.dead_times, now, &shares.soft, target).to_owned(),
            words::largest(found.magnetising.nominal),
            words::largest(found.magnetising.population),
            format!("{}\u{a0}ns", words::nano(found.magnetising.dead_time)),
        ]);
    }
    let table = if table.is_empty() { String::new() } else { trimmed(&table) };
    format!(
        "{table}{}\nLargest Lm: as the nominal value of all parts; now it is {}.\n",
        words::rule(scenario, search),
        quantity(scenario.nominal.magnetising_inductance)
    )
}
