//! What a whole converter loses.

use super::phase_dissipation::PhaseDissipation;
use crate::units::{Celsius, Watt};

/// Losses and junction temperatures of a converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Dissipation {
    /// Phase by phase.
    pub phases: Vec<PhaseDissipation>,
    /// Whether the losses at turn-on are among those of the switches.
    pub knows_turn_on: bool,
    /// Whether some part has no steady temperature.
    pub(super) runs_away: bool,
}

impl Dissipation {
    /// All losses.
    pub fn total(&self) -> Watt {
        Watt(self.phases.iter().map(|phase| phase.total().0).sum())
    }

    /// The highest junction temperature of the switches; none where none is told.
    pub fn hottest_switch(&self) -> Option<Celsius> {
        let all = self.phases.iter().flat_map(|phase| &phase.switches);
        highest(all.filter_map(|own| own.junction))
    }

    /// The highest junction temperature of the rectifiers; none where none is told.
    pub fn hottest_rectifier(&self) -> Option<Celsius> {
        let all = self.phases.iter().flat_map(|phase| &phase.diodes);
        highest(all.filter_map(|own| own.junction))
    }
}

fn highest(all: impl Iterator<Item = Celsius>) -> Option<Celsius> {
    all.reduce(|a, b| if b.0 > a.0 { b } else { a })
}
