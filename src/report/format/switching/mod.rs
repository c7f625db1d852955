//! How the switches of a population turn on: terminal, page and summary.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
mod words;

use crate::study::common::soft_switching::{PopulationSwitching, SharingShift};

/// Said beside the verdict where the dead time shifts sharing by what is not small.
pub(in crate::report) fn shift(switching: Option<&PopulationSwitching>) -> Option<String> {
    let largest = |shift: &&SharingShift| shift.shift[1];
    let shifts = switching?.shifts.iter();
    let most = shifts.max_by(|a, b| largest(a).total_cmp(&largest(b)))?;
    Some(words::shift(most))
}
