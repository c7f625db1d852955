//! The cheapest set: how its search ended, and other sets.

use super::limits::{TOO_CLOSE, limit_and_point};
use super::numbers::band_of;
use crate::report::format::names::parameter;
use crate::report::format::numbers::{count, counted, money, yield_interval, yield_percent};
use crate::study::bands::Bands;
use crate::study::bands::cheapest::{Cheapest, Ending, OpenSet, PricedSet};

/// What the search for the cheapest set found.
pub(in crate::report) fn ending(found: &Cheapest) -> String {
    let all_decided = found.open == 0;
    match (found.ending, &found.choice) {
        (Ending::Confirmed, _) if found.is_settled() => {
            "The cheapest of all sets on offer that meets the target.".into()
        }
        (Ending::Confirmed, _) => {
            format!("The cheapest confirmed set. {}", open_sets(found, "cheaper set"))
        }
        (Ending::NoneMeets, _) if all_decided => {
            "None. Every set on offer misses the target.".into()
        }
        (Ending::NoneMeets, _) => {
            format!(
                "Not decided. No set on offer was shown to meet the target. {}",
                open_sets(found, "set")
            )
        }
        (Ending::NotConfirmed, _) => {
            "Not decided. The search found sets on offer that meet the target. \
                                      Fresh samples confirmed none of them. More samples may \
                                      decide."
                .into()
        }
        (Ending::TooManyTrials, Some(_)) => "A set that meets the target. The search ended at its \
                                             limit of runs, so that a cheaper set may exist."
            .into(),
        (Ending::TooManyTrials, None) => {
            "Not decided. The search ended at its limit of runs before any \
                                          set met the target."
                .into()
        }
    }
}

/// How many sets are not decided.
fn open_sets(found: &Cheapest, name: &str) -> String {
    match found.open {
        1 => format!("1 {name} is not decided: more samples may decide."),
        n => format!("{} {name}s are not decided: more samples may decide.", count(n as u64)),
    }
}

/// Open sets, and the best one where none was confirmed.
pub(in crate::report) fn other_sets(found: &Cheapest, bands: &Bands) -> Vec<String> {
    let more = match found.open_unlisted() {
        0 => None,
        1 => Some("1 more set is not decided.".to_owned()),
        n => Some(format!("{} more sets are not decided.", count(n as u64))),
    };
    let open = found.passed_over.iter().map(|open| open_set(found, open, bands));
    let best = found.best.as_ref().map(|best| {
        let missed = best.binding.as_ref().map_or_else(String::new, |binding| {
            format!(" Missed most: {}.", limit_and_point(binding))
        });
        format!(
            "Set with the highest yield in the search: {}. Yield {}.{missed}",
            set(found, &best.choice),
            yield_interval(&best.good)
        )
    });
    open.chain(more).chain(best).collect()
}

/// An open set: what the search saw of it, and how many samples may decide.
fn open_set(found: &Cheapest, open: &OpenSet, bands: &Bands) -> String {
    let seen = open.good.map_or_else(String::new, |good| {
        format!(" Yield in the search {}.", yield_percent(good.estimate))
    });
    let samples = match (bands.samples_for_open_set(open), open.good) {
        (Some(samples), _) => {
            format!(" About {} a run may decide (estimate).", counted(samples, "sample"))
        }
        (None, Some(_)) => {
            format!(" No number of samples is told: {TOO_CLOSE} a yield so close to the target.")
        }
        (None, None) => " The search did not try it, so no number of samples is told.".to_owned(),
    };
    format!("Not decided: {}.{seen}{samples}", set(found, &open.choice))
}

/// A set with its price.
fn set(found: &Cheapest, choice: &PricedSet) -> String {
    let parts = found.catalogue.priced.iter().zip(&choice.set).map(|(part, n)| {
        let (name, offered) = (parameter(part.parameter).long, &part.offers[*n]);
        let band = band_of(&offered.tolerance);
        match &offered.name {
            Some(grade) => format!("{name} {grade} ({band})"),
            None => format!("{name} {band}"),
        }
    });
    format!("{} at {}", parts.collect::<Vec<_>>().join(", "), money(choice.price))
}
