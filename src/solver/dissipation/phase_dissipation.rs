//! What the parts of one phase lose.

use super::device::DeviceLoss;
use crate::converter::SWITCHES_OF_PHASE;
use crate::units::{Volt, Watt};

/// Losses and junction temperatures of a phase. Resistances that are not told apart from the series
/// resistance lose nothing here.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhaseDissipation {
    /// Each switch, in the order of [`SwitchPlace::ALL`](crate::converter::SwitchPlace).
    pub switches: [DeviceLoss; SWITCHES_OF_PHASE],
    /// One rectifier diode.
    pub diode: DeviceLoss,
    /// Number of its diodes.
    pub diodes: usize,
    /// Both windings.
    pub windings: Watt,
    /// The series resistance: all that is not told apart.
    pub rest: Watt,
    /// What the switches' conduction takes out of the tank, whose node two phases share in a chain.
    pub(super) switches_by_tank: f64,
    /// What the slope resistances of the diodes take.
    pub(super) diode_resistances: f64,
    /// Drop of a diode at its temperature.
    pub(super) drop: Volt,
}

impl PhaseDissipation {
    /// Conduction of all switches.
    pub fn conduction(&self) -> Watt {
        Watt(self.switches.iter().map(|own| own.conduction().0).sum())
    }

    /// What all switches lose at turn-on.
    pub fn turn_on(&self) -> Watt {
        Watt(self.switches.iter().map(|own| own.turn_on.0).sum())
    }

    /// All diodes.
    pub fn rectifier(&self) -> Watt {
        Watt(self.diodes as f64 * self.diode.loss.0)
    }

    /// All losses.
    pub fn total(&self) -> Watt {
        let of_switches: f64 = self.switches.iter().map(|own| own.loss.0).sum();
        Watt(of_switches + self.rectifier().0 + self.windings.0 + self.rest.0)
    }
}
