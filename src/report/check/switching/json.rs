//! Soft switching of the nominal converter, in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::commutation::json::SoftSwitchingEntry;
use crate::report::format::switching::json::HighIntervalsEntry;
use crate::study::check::{Check, FallingFirst, LargestMagnetising, NominalSwitching};
use crate::units::{Ampere, Henry, Second, Watt};

/// Soft switching of the nominal converter at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct NominalSwitchingEntry {
    /// With the scenario's dead time and timing.
    now: SoftSwitchingEntry,
    /// The dead times with which every switch turns on softly.
    dead_times: DeadTimesEntry,
    /// Largest magnetising inductance with which every switch turns on softly; null where none that
    /// was tried does.
    #[serde(rename = "largest_magnetising_inductance_H")]
    largest_magnetising_inductance: Option<Henry>,
    /// The dead time that this holds for: the scenario's if it lies in the window, else the middle of
    /// the window.
    #[serde(rename = "largest_magnetising_inductance_at_s")]
    largest_magnetising_inductance_at: Second,
    /// Whether that is the largest that was tried, so that a larger one may do too.
    larger_may_do: bool,
    /// With the falling phases first, in a chain whose phases switch together; else null.
    falling_first: Option<FallingFirstEntry>,
    /// By what the currents of the high switches of a chain in half bridge grow with the falling phases first,
    /// which all results leave out; else null. Each high interval is then a dead time shorter.
    short_high_intervals: Option<HighIntervalsEntry>,
}

/// Dead times with which every switch turns on softly, with the steady state as it is.
#[derive(Debug, Serialize, JsonSchema)]
struct DeadTimesEntry {
    /// The shortest; null where none that was tried does.
    #[serde(rename = "shortest_s")]
    shortest: Option<Second>,
    /// The longest, up to which all do; null where the longest that was tried does, or none.
    #[serde(rename = "longest_s")]
    longest: Option<Second>,
    /// Longest that was tried.
    #[serde(rename = "longest_tried_s")]
    longest_tried: Second,
    /// That with the least loss at turn-on.
    #[serde(rename = "least_loss_at_s")]
    least_loss_at: Second,
    #[serde(rename = "least_loss_W")]
    least_loss: Watt,
}

/// Dead times that suit all operating points of an arrangement.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CommonDeadTimesEntry {
    arrangement: Arrangement,
    /// The shortest; null where none suits all of them.
    #[serde(rename = "shortest_s")]
    shortest: Option<Second>,
    /// The longest; null where the longest that was tried everywhere does, or none.
    #[serde(rename = "longest_s")]
    longest: Option<Second>,
}

impl CommonDeadTimesEntry {
    /// Of both arrangements; none where soft switching is not judged.
    pub(in crate::report) fn all(check: &Check) -> Vec<Self> {
        let is_judged = check.cases.iter().any(|case| case.switching.is_some());
        let entry = |arrangement| {
            let common = check.common_dead_times(arrangement);
            Self {
                arrangement,
                shortest: common.map(|common| common.window.shortest),
                longest: common.and_then(|common| common.window.longest),
            }
        };
        if is_judged { Arrangement::ALL.map(entry).into() } else { Vec::new() }
    }
}

/// The cure by timing.
#[derive(Debug, Serialize, JsonSchema)]
struct FallingFirstEntry {
    switching: SoftSwitchingEntry,
    #[serde(rename = "commutation_loss_W")]
    loss: Watt,
    /// Highest current that a low switch before the last one then interrupts.
    #[serde(rename = "low_turn_off_current_A")]
    low_turn_off_current: Ampere,
    /// The same where all phases switch together.
    #[serde(rename = "low_turn_off_current_together_A")]
    low_turn_off_current_together: Ampere,
}

impl NominalSwitchingEntry {
    pub(in crate::report) fn new(switching: &NominalSwitching) -> Self {
        let (times, window) = (&switching.dead_times, switching.dead_times.window);
        Self {
            now: SoftSwitchingEntry::new(&switching.now),
            dead_times: DeadTimesEntry {
                shortest: window.map(|window| window.shortest),
                longest: window.and_then(|window| window.longest),
                longest_tried: times.longest_tried,
                least_loss_at: times.best.dead_time,
                least_loss: times.best.loss,
            },
            largest_magnetising_inductance: match switching.magnetising.largest {
                LargestMagnetising::Limit(largest) | LargestMagnetising::AtLeast(largest) => {
                    Some(largest)
                }
                LargestMagnetising::NoneBetween(..) => None,
            },
            largest_magnetising_inductance_at: switching.magnetising.dead_time,
            larger_may_do: matches!(switching.magnetising.largest, LargestMagnetising::AtLeast(_)),
            falling_first: switching.falling_first.as_ref().map(FallingFirstEntry::new),
            short_high_intervals: switching.high_intervals.map(HighIntervalsEntry::new),
        }
    }
}

impl FallingFirstEntry {
    fn new(cure: &FallingFirst) -> Self {
        Self {
            switching: SoftSwitchingEntry::new(&cure.switching),
            loss: cure.switching.commutation.loss,
            low_turn_off_current: cure.low_turn_off_current,
            low_turn_off_current_together: cure.low_turn_off_current_together,
        }
    }
}
