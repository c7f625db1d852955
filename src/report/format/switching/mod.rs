//! How the switches of a population turn on: terminal, page and summary.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
mod words;

use crate::scenario::Scenario;
use crate::study::common::soft_switching::{PopulationSwitching, SharingShift};

/// Said beside the verdict where the dead time shifts sharing by what is not small. `kept` is the sharing error that the
/// target share keeps to, if known.
pub(in crate::report) fn shift(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    kept: Option<f64>,
) -> Option<String> {
    let largest = |shift: &&SharingShift| shift.shift[1];
    let shifts = switching?.shifts.iter();
    let most = shifts.max_by(|a, b| largest(a).total_cmp(&largest(b)))?;
    Some(beside(scenario, most, kept))
}

/// The same where the limit may be exceeded by it.
pub(in crate::report) fn shift_over_limit(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    kept: Option<f64>,
) -> Option<String> {
    let is_over = |own: &SharingShift| is_over_limit(scenario, own, kept.unwrap_or(0.0));
    let any = switching?.shifts.iter().any(is_over);
    if any { shift(scenario, switching, kept) } else { None }
}

/// Whether the dead time alone may shift sharing by more than its limit.
pub(in crate::report) fn exceeds_alone(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
) -> bool {
    shift_over_limit(scenario, switching, None).is_some()
}

/// Whether a shift on top of so much may exceed the limit.
fn is_over_limit(scenario: &Scenario, own: &SharingShift, beside: f64) -> bool {
    scenario.limits.sharing_error.is_some_and(|limit| own.shift[1] + beside > limit)
}

/// A line for the terminal; nothing where no shift is to be told.
pub(in crate::report) fn shift_line(scenario: &Scenario, shift: Option<&SharingShift>) -> String {
    shift.map_or_else(String::new, |own| shift_beside_limit(scenario, own) + "\n")
}

/// The same of one shift, and whether it alone may exceed the limit.
pub(in crate::report) fn shift_beside_limit(scenario: &Scenario, shift: &SharingShift) -> String {
    beside(scenario, shift, None)
}

/// A shift, and whether it may exceed the limit: alone, or with the sharing error that is kept to.
fn beside(scenario: &Scenario, shift: &SharingShift, kept: Option<f64>) -> String {
    let over = match kept {
        _ if is_over_limit(scenario, shift, 0.0) => " That alone may exceed the limit.",
        Some(kept) if is_over_limit(scenario, shift, kept) => {
            " With it sharing errors may exceed the limit."
        }
        _ => "",
    };
    format!("{}{over}", words::shift(shift))
}
