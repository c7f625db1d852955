//! How the switches of a population turn on: terminal, page and summary.

pub(super) mod json;
pub(super) mod page;
pub(super) mod terminal;
mod words;

use crate::study::run::{PopulationSwitching, SharingShift};

/// Said beside the verdict where the dead time shifts sharing by what is not small.
pub(super) fn shift(switching: Option<&PopulationSwitching>) -> Option<String> {
    let largest = |shift: &&SharingShift| shift.shift[1];
    let shifts = switching?.shifts.iter();
    let most = shifts.max_by(|a, b| largest(a).total_cmp(&largest(b)))?;
    Some(words::shift(most))
}
