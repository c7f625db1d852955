//! How the search for the cheapest set ended.

use super::{band, limit, subject};
use crate::report::format::numbers::{grouped, interval};
use crate::study::bands::Subject;
use crate::study::bands::cheapest::{Cheapest, Ending, PricedSet};

/// What came of the search for the cheapest set.
pub(in crate::report) fn ending(found: &Cheapest) -> String {
    let open = match found.open {
        1 => "one may: the samples do not tell".into(),
        n => format!("{} may: the samples do not tell", grouped(n as u64)),
    };
    match (found.ending, &found.choice) {
        (Ending::Confirmed, _) if found.open == 0 => {
            "The cheapest of all sets on offer that meets the target.".into()
        }
        (Ending::Confirmed, _) => {
            format!("The cheapest set that was shown to meet the target. Of cheaper ones {open}.")
        }
        (Ending::NoneMeets, _) if found.open == 0 => "Every set on offer misses the target.".into(),
        (Ending::NoneMeets, _) => {
            format!("Open. No set on offer was shown to meet the target; of them {open}.")
        }
        (Ending::NotConfirmed, _) => {
            "Open. No set on offer that the search found was confirmed on fresh samples: more \
             samples may."
                .into()
        }
        (Ending::TooManyTrials, Some(_)) => {
            "A set that meets the target; the search was cut short by its number of trials, so \
             that a cheaper one may exist."
                .into()
        }
        (Ending::TooManyTrials, None) => {
            "The search was cut short by its number of trials before any set was seen to meet the \
             target."
                .into()
        }
    }
}

/// Sets that were passed over though they may meet the target, and the best where none was proven.
pub(in crate::report) fn others(found: &Cheapest) -> Vec<String> {
    let mut others = Vec::new();
    if !found.passed_over.is_empty() {
        let each: Vec<_> = found.passed_over.iter().map(|own| set(found, own)).collect();
        let more = match found.open - found.passed_over.len() {
            0 => String::new(),
            n => format!("; and {} more", grouped(n as u64)),
        };
        others.push(format!("Left open: {}{more}.", each.join("; ")));
    }
    if let Some(best) = &found.best {
        let stop = best.binding.as_ref().map_or_else(String::new, |binding| {
            format!("; missed most: {} at “{}”", limit(binding), binding.operating_point)
        });
        others.push(format!(
            "Best set tried, on the samples of the search: {}: {}{stop}.",
            set(found, &best.choice),
            interval(&best.good)
        ));
    }
    others
}

/// A set with its price.
fn set(found: &Cheapest, choice: &PricedSet) -> String {
    let parts = found.catalogue.priced.iter().zip(&choice.set).map(|(part, n)| {
        let (name, own) = (subject(Subject::Alone(part.parameter)), &part.offers[*n]);
        let band = band(own.tolerance.band);
        own.name
            .as_ref()
            .map_or_else(|| format!("{name} {band}"), |grade| format!("{name} {grade} ({band})"))
    });
    format!("{} at {:.2}", parts.collect::<Vec<_>>().join(", "), choice.price)
}
