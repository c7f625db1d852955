//! How the switches of a population turn on: terminal, page and summary.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
mod words;

use crate::scenario::Scenario;
use crate::study::common::soft_switching::{PopulationSwitching, SharingShift};

/// Said beside the verdict where the dead time shifts sharing by what is not small.
pub(in crate::report) fn shift(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
) -> Option<String> {
    let largest = |shift: &&SharingShift| shift.shift[1];
    let shifts = switching?.shifts.iter();
    let most = shifts.max_by(|a, b| largest(a).total_cmp(&largest(b)))?;
    Some(shift_beside_limit(scenario, most))
}

/// The same where it alone exceeds the limit.
pub(in crate::report) fn shift_over_limit(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
) -> Option<String> {
    let is_over = |own: &SharingShift| is_over_limit(scenario, own);
    let any = switching?.shifts.iter().any(is_over);
    if any { shift(scenario, switching) } else { None }
}

fn is_over_limit(scenario: &Scenario, own: &SharingShift) -> bool {
    scenario.limits.sharing_error.is_some_and(|limit| own.shift[1] > limit)
}

/// A line for the terminal; nothing where no shift is to be told.
pub(in crate::report) fn shift_line(scenario: &Scenario, shift: Option<&SharingShift>) -> String {
    shift.map_or_else(String::new, |own| shift_beside_limit(scenario, own) + "\n")
}

/// The same of one shift, and whether it alone may exceed the limit.
pub(in crate::report) fn shift_beside_limit(scenario: &Scenario, shift: &SharingShift) -> String {
    let is_over = is_over_limit(scenario, shift);
    let over = if is_over { " That alone may exceed the limit." } else { "" };
    format!("{}{over}", words::shift(shift))
}
