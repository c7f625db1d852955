//! What the parts of one phase lose.

use super::device::DeviceLoss;
use crate::converter::SWITCHES_OF_PHASE;
use crate::units::{Ampere, Ohm, Volt, Watt};

/// Losses and junction temperatures of a phase. Resistances that are not told apart from the series
/// resistance lose nothing here.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhaseDissipation {
    /// Each switch, in the order of [`SwitchPlace::ALL`](crate::converter::SwitchPlace).
    pub switches: [DeviceLoss; SWITCHES_OF_PHASE],
    /// A rectifier diode of the half wave of positive current, and one of the other.
    pub diodes: [DeviceLoss; 2],
    /// Number of diodes of each half wave.
    pub diodes_each: usize,
    /// Both windings.
    pub windings: Watt,
    /// The series resistance: all that is not told apart.
    pub rest: Watt,
    /// What the switches' conduction takes out of the tank, whose node two phases share in a chain.
    pub(super) switches_by_tank: f64,
    /// What the slope resistances of the diodes take.
    pub(super) diode_resistances: f64,
    /// Drop of a diode that loses as much as those of both half waves, each at its temperature.
    pub(super) drop: Volt,
    /// Drop and slope resistance of the diodes of both half waves, at their temperatures.
    pub(super) forward: [Forward; 2],
}

/// How a diode conducts at its temperature.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Forward {
    pub(super) drop: Volt,
    /// Zero where it is not told apart.
    pub(super) slope: Ohm,
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
        Watt(self.diodes_each as f64 * self.diodes.iter().map(|own| own.loss.0).sum::<f64>())
    }

    /// Forward voltage of a diode at its temperature, the higher one of both half waves.
    pub fn forward_voltage(&self, current: Ampere) -> Volt {
        let [one, other] = self.forward.map(|own| own.drop.0 + own.slope.0 * current.0);
        Volt(one.max(other))
    }

    /// A diode of each half wave, the one that loses more first.
    pub fn diodes_by_loss(&self) -> [&DeviceLoss; 2] {
        let [one, other] = &self.diodes;
        if other.loss.0 > one.loss.0 { [other, one] } else { [one, other] }
    }

    /// All losses.
    pub fn total(&self) -> Watt {
        let of_switches: f64 = self.switches.iter().map(|own| own.loss.0).sum();
        Watt(of_switches + self.rectifier().0 + self.windings.0 + self.rest.0)
    }
}
