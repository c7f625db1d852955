//! Soft switching on the terminal: a table, and what was searched.

use std::fmt::Write as _;

use super::words;
use crate::converter::Arrangement;
use crate::report::format::commutation::words as common;
use crate::report::format::names;
use crate::report::format::numbers::{
    NONE, count, counted, percent, quantile, quantity, three, yield_percent,
};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::{Scenario, SwitchSettings};
use crate::study::common::soft_switching::PopulationSwitching;
use crate::study::common::switching_figures::SwitchingFigure;
use crate::study::explanation::SwitchingSearch;

/// What it says of soft switching; nothing where the scenario does not describe the switches.
pub(in crate::report) fn text(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    search: Option<&SwitchingSearch>,
) -> String {
    let Some(settings) = &scenario.switch else { return String::new() };
    let Some(switching) = switching else { return format!("{}\n\n", common::NEEDS_EXACT) };
    let mut text = format!("Soft switching\n{}", shares(switching));
    let _ = writeln!(text, "{}", common::rule(settings));
    if let Some(search) = search {
        text.push_str(&searched(scenario, settings, SearchedRun { switching, search }));
    }
    text + "\n"
}

/// How many chains have a hard turn-on where no limit asks for soft switching; nothing where none has.
pub(in crate::report) fn unasked(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
) -> String {
    let shares = switching.map(|own| own.joint[0].hard).filter(|hard| hard.successes > 0);
    let Some(hard) = shares.filter(|_| scenario.limits.chain.soft_turn_on.is_none()) else {
        return String::new();
    };
    format!(
        "Hard turn-on in {} of {}: no limit asks for soft switching.\n",
        count(hard.successes),
        counted(hard.trials, "chain")
    )
}

fn shares(switching: &PopulationSwitching) -> String {
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
    for case in &switching.cases {
        let shares = &case.shares;
        let voltage = case.key_figures(SwitchingFigure::TurnOnShare);
        let loss = case.key_figures(SwitchingFigure::Loss);
        table.add_row([
            case.operating_point.clone(),
            names::arrangement(case.arrangement).short.to_owned(),
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
    for (arrangement, shares) in Arrangement::ALL.into_iter().zip(&switching.joint) {
        let _ = writeln!(
            text,
            "All operating points, {}: {} soft, {} not decided, {} hard.",
            names::arrangement(arrangement).long,
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
    let arrangements = Arrangement::ALL.iter().zip(&switching.joint);
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
