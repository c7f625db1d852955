//! The explanation on the terminal, in few lines.

use super::names::{figure, share_percent};
use crate::converter::{Arrangement, Property};
use crate::report::format::names::property;
use crate::report::format::numbers::{NONE, count, yield_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::study::explanation::{DriverPart, Explanation, FailureDrivers, FigureDrivers};
use crate::study::run::Run;

/// Rows shown: the page has all of them.
const SHOWN: usize = 4;

/// Said where a part has no share of variance of its own.
const GROUP: &str = " Correlated parts have a share of variance together: see the page.";

/// What drives the chain's failures, and the figure that fails most often.
pub(in crate::report::run) fn explanation_text(run: &Run, explanation: &Explanation) -> String {
    let chain = explanation
        .failure_drivers
        .iter()
        .find(|drivers| drivers.arrangement == Arrangement::Chain);
    chain.map_or_else(String::new, |drivers| failures(run, explanation, drivers))
}

fn failures(run: &Run, explanation: &Explanation, drivers: &FailureDrivers) -> String {
    let limiting = limiting_figure(run, explanation);
    let share = limiting.map(|found| format!("share of variance,\n{}", figure(found.figure)));
    let mut names = vec!["exact part", "saved", "interval", "failing\nsaved", "passing\nlost"];
    names.extend(share.as_deref());
    let mut table = table(&names);
    let mut has_group = false;
    for part in drivers.by_saved().into_iter().filter(|part| part.saved() > 0).take(SHOWN) {
        let saved = &part.saved_of_failing;
        let outcomes = &part.change.joint.outcomes;
        let of = |part: u64, all: u64| format!("{} of {}", count(part), count(all));
        let mut row = vec![
            property(part.property),
            yield_percent(saved.estimate),
            format!("{} to {}", yield_percent(saved.lower), yield_percent(saved.upper)),
            of(saved.successes, saved.trials),
            of(outcomes.lost, outcomes.passing_among),
        ];
        row.extend(limiting.map(|found| {
            let share = total_share(found, part.property);
            has_group |= share.is_none();
            share.map_or_else(|| NONE.to_owned(), share_percent)
        }));
        table.add_row(row);
    }
    if table.is_empty() {
        return "No failing chain would pass were one of its parts exact.\n\n".to_owned();
    }
    let group = if has_group { GROUP } else { "" };
    format!(
        "What drives the failures of the chain\n{}Saved: of the samples that fail, those that would \
         pass were this part exact. Lost: of the first samples, those that pass and would fail.{group}\n\n",
        trimmed(&table)
    )
}

/// The drivers of the figure that most chains miss, where they miss it.
fn limiting_figure<'a>(run: &Run, explanation: &'a Explanation) -> Option<&'a FigureDrivers> {
    let binding = run.joint[0].binding.as_ref()?;
    let cases = &explanation.drivers.as_ref()?.cases;
    let (place, _) = run
        .in_arrangement(Arrangement::Chain)
        .find(|(_, case)| case.operating_point() == binding.operating_point)?;
    cases.get(place)?.figures.iter().find(|found| Some(found.figure) == binding.demand.figure)
}

/// The total share of a parameter; none where it is correlated with others.
fn total_share(found: &FigureDrivers, property: Property) -> Option<f64> {
    let mut whole = found.shares.iter().filter(|shares| shares.driver.part == DriverPart::Whole);
    let own = whole.find(|shares| shares.driver.properties == [property])?;
    Some(own.shares.total.estimate)
}
