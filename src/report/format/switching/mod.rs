//! How the switches of a population turn on: terminal, page and summary.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
mod words;

use crate::scenario::Scenario;
use crate::solver::exact::HighIntervals;
use crate::study::common::high_intervals::ShortHighIntervals;
use crate::study::common::soft_switching::{PopulationSwitching, SharingShift};

/// What the target share of chains keeps to, as far as that is known. What dead times add may exceed limits.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::report) struct KeptFigures {
    /// The sharing error.
    pub sharing_error: Option<f64>,
    /// RMS currents and peaks of switches, as shares of their limits.
    pub switch_currents: [Option<f64>; 2],
}

impl KeptFigures {
    /// Whether currents of switches exceed a limit with short high intervals alone.
    fn exceed_with(&self, HighIntervals { rms, peak }: HighIntervals) -> bool {
        let uses = self.switch_currents.into_iter().zip([rms, peak]);
        uses.filter_map(|(share, factor)| Some((share?, factor)))
            .any(|(share, factor)| share <= 1.0 && share * factor > 1.0)
    }
}

/// Said beside the verdict where the dead time shifts sharing by what is not small, or shortens high intervals so.
pub(in crate::report) fn shift(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    kept: &KeptFigures,
) -> Option<String> {
    let largest = |shift: &&SharingShift| shift.shift[1];
    let switching = switching?;
    let most = switching.shifts.iter().max_by(|a, b| largest(a).total_cmp(&largest(b)));
    let short = || ShortHighIntervals::largest(&switching.short_high_intervals);
    let of_short = |own: &ShortHighIntervals| {
        let is_over = kept.exceed_with(own.currents);
        let over = if is_over { " With that a limit of switches may be exceeded." } else { "" };
        format!("{}{over}", words::short_high_intervals(own))
    };
    most.map(|own| beside(scenario, own, kept.sharing_error)).or_else(|| short().map(of_short))
}

/// The same where a limit may be exceeded by it.
pub(in crate::report) fn shift_over_limit(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    kept: &KeptFigures,
) -> Option<String> {
    let is_over =
        |own: &SharingShift| is_over_limit(scenario, own, kept.sharing_error.unwrap_or(0.0));
    let is_over_with = |own: &ShortHighIntervals| kept.exceed_with(own.currents);
    let any = switching?.shifts.iter().any(is_over)
        || switching?.short_high_intervals.iter().any(is_over_with);
    if any { shift(scenario, switching, kept) } else { None }
}

/// Whether the dead time alone may shift sharing by more than its limit.
pub(in crate::report) fn exceeds_alone(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
) -> bool {
    shift_over_limit(scenario, switching, &KeptFigures::default()).is_some()
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
