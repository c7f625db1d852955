//! What a solver finds.

use super::commutation::Commutation;
use super::dissipation::Dissipation;
use crate::converter::Shared;
use crate::units::{Ampere, Hertz, Volt};

/// Current of one switch over a whole period, in the direction in which it carries the source.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SwitchCurrent {
    /// Root mean square.
    pub rms: Ampere,
    /// Mean of the absolute value; of a low switch in a chain good to about a thousandth.
    pub mean: Ampere,
    /// Largest absolute value.
    pub peak: Ampere,
}

/// The four switches of a phase. In half-bridge drive the return leg does not switch: its high side
/// is off. Its low side is on all the time and carries the tank current of its phase.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Switches {
    /// High side of the driven leg.
    pub high: SwitchCurrent,
    /// Low side of the driven leg.
    pub low: SwitchCurrent,
    /// High side of the return leg.
    pub return_high: SwitchCurrent,
    /// Low side of the return leg.
    pub return_low: SwitchCurrent,
}

impl Switches {
    /// High, low, return high, return low.
    pub fn all(&self) -> [SwitchCurrent; 4] {
        [self.high, self.low, self.return_high, self.return_low]
    }
}

/// A phase's tank at the instant at which its high interval begins or ends.
///
/// Signs: both currents count from the source's high side through the tank into the winding. The
/// capacitor's voltage counts in the direction in which that current charges it. In half-bridge
/// drive it includes the mean of the source, about half of the start voltage. In full-bridge drive
/// the mean of the source is the difference of both legs' start voltages. It is taken to be zero,
/// as in [`PhaseState::start_voltage`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TankState {
    /// Current through the resonant inductance and the resonant capacitor.
    pub tank_current: Ampere,
    /// Current through the magnetising inductance; the rectifier carries the difference.
    pub magnetising_current: Ampere,
    /// Voltage of the resonant capacitor.
    pub capacitor_voltage: Volt,
}

/// One half wave of the tank current less the magnetising current, which the transformer passes on. Times the
/// turns ratio it is the current of the secondary, and of one diode. Over the whole period.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HalfWave {
    /// Mean.
    pub mean: Ampere,
    /// Root mean square.
    pub rms: Ampere,
}

/// One phase at its periodic steady state. Currents are those of the tank as it is, in both
/// arrangements.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhaseState {
    /// Mean rectified output current.
    pub output_current: Ampere,
    /// Mean absolute tank current.
    pub mean_abs_current: Ampere,
    /// Root-mean-square tank current.
    pub rms_current: Ampere,
    /// What the transformer passes on: the half wave of positive current, and the other one. In a chain they
    /// differ: in half-bridge drive the flying capacitors take part in one half of the period alone, in
    /// full-bridge drive those of one leg in each.
    pub half_waves: [HalfWave; 2],
    /// Largest absolute tank current.
    pub peak_current: Ampere,
    /// ∫ i dt over the phase's own high interval, in coulomb.
    pub charge: f64,
    /// Lowest and highest of the charge moved since the start of a half period, in coulomb. First
    /// of the first half, then of the second, counted in its own direction. Lagging current flows
    /// back at first, so that the lowest is below zero.
    pub charge_range: [(f64, f64); 2],
    /// How far the charge of the phase after the next one runs ahead of this one's in either half, at most, in
    /// coulomb: an upper bound. None where it is not told, where there is no such phase, and of the first one.
    pub lead: Option<[f64; 2]>,
    /// Source voltage at the start of the high interval; in full-bridge drive the mean of both
    /// legs.
    pub start_voltage: Volt,
    /// The tank at the start of the high interval; only the exact solver knows it.
    pub start: Option<TankState>,
    /// The tank at the end of the high interval, half a period later. Only the exact solver knows it.
    pub middle: Option<TankState>,
    /// Currents of the phase's switches.
    pub switches: Switches,
    /// What else loads its parts; only the exact solver knows it, where a case asks for it.
    pub stress: Option<PartStress>,
}

/// What loads the parts of a phase beyond the currents that every solution holds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PartStress {
    /// Largest rectifier current, referred to the primary.
    pub rectifier_peak: Ampere,
    /// Largest absolute magnetising current.
    pub magnetising_peak: Ampere,
    /// Lowest and highest voltage of the resonant capacitor, without the mean of the bridge voltage
    /// ([`bridge_mean`](super::bridge_mean)) that stands on it.
    pub capacitor_range: [Volt; 2],
    /// Mean over the first and over the second half of the charge moved since its start, in coulomb;
    /// each counted in the direction of its half.
    pub mean_charge: [f64; 2],
}

/// Ripple current of the output capacitors. Of a voltage doubler, which has two, the larger one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OutputRipple {
    /// Root mean square.
    pub rms: Ampere,
    /// From the lowest to the highest instantaneous value.
    pub peak_to_peak: Ampere,
}

impl PhaseState {
    /// The current that the phases are to share.
    pub fn shared(&self, share: Shared) -> Ampere {
        match share {
            Shared::OutputCurrent => self.output_current,
            Shared::MeanTankCurrent => self.mean_abs_current,
            Shared::RmsTankCurrent => self.rms_current,
        }
    }

    /// Root mean square of what the transformer passes on, seen from the primary: both half waves.
    pub fn rectified_rms_current(&self) -> Ampere {
        let [one, other] = self.half_waves.map(|own| own.rms.0);
        Ampere((one * one + other * other).sqrt())
    }

    /// The larger one of the half waves, in the mean and in root mean square.
    pub fn larger_half_wave(&self) -> HalfWave {
        let larger = |of: fn(&HalfWave) -> f64| {
            let [one, other] = self.half_waves.each_ref().map(of);
            Ampere(one.max(other))
        };
        HalfWave { mean: larger(|own| own.mean.0), rms: larger(|own| own.rms.0) }
    }
}

/// A converter at its periodic steady state.
#[derive(Debug, Clone, PartialEq)]
pub struct SteadyState {
    /// Switching frequency that the control loop settles at.
    pub switching_frequency: Hertz,
    /// Every phase.
    pub phases: Vec<PhaseState>,
    /// Ripple current of the output; only the exact solver knows it, where a case asks for it.
    pub output_ripple: Option<OutputRipple>,
    /// How the switches turn on, where a case asks for it ([`Case::switch`](super::Case::switch)).
    pub commutation: Option<Commutation>,
    /// What its parts lose, where the solver found that together with the currents.
    pub dissipation: Option<Dissipation>,
}

/// What becomes of a converter at an operating point.
#[allow(
    clippy::large_enum_variant,
    reason = "nearly all are solved, and a box for each would be an allocation a sample"
)]
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// It delivers the output.
    Solved(SteadyState),
    /// No switching frequency inside the band delivers the output.
    OutOfRange,
    /// Nothing is known of this converter.
    NotSolved(Unsolved),
}

/// Why a converter is not solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unsolved {
    /// The solver failed.
    Lost,
    /// At resonance a tank without resistance shorts its source to the output. Where two paralleled
    /// phases do, they can share the current in any way at all: parts decide that the model leaves
    /// out.
    SplitUndetermined,
    /// The search took all the work that it may take.
    TooMuchWork,
    /// The user asked to stop during the search. Its study ends as interrupted.
    Interrupted,
    /// A part's loss rises faster with its temperature than it gives heat away: it has no steady
    /// temperature.
    ThermalRunaway,
    /// No place is found where the loops that trim the phases rest and stay.
    TrimsAdrift,
    /// A dead time cannot be followed, so nothing is known of the loss at turn-on that warms a switch.
    TurnOnUnknown,
}

impl Unsolved {
    /// The reason in words.
    pub fn reason(self) -> &'static str {
        match self {
            Self::Lost => "the solver found no steady state",
            Self::SplitUndetermined => {
                "at resonance without resistance, paralleled phases can share the current in any \
                 way at all; state their series_resistance"
            }
            Self::TooMuchWork => {
                "the search took more work than one converter may take; check parts and frequency \
                 band for a wrong unit prefix"
            }
            Self::Interrupted => "the search was interrupted",
            Self::ThermalRunaway => {
                "a part has no steady temperature: its loss rises faster with the temperature than it \
                 gives heat away"
            }
            Self::TurnOnUnknown => {
                "the dead time cannot be followed, so the loss at turn-on is not known"
            }
            Self::TrimsAdrift => "the loops that trim the phases find no stable rest",
        }
    }
}

impl Outcome {
    /// The steady state, if there is one.
    pub fn solved(&self) -> Option<&SteadyState> {
        match self {
            Self::Solved(state) => Some(state),
            Self::OutOfRange | Self::NotSolved(_) => None,
        }
    }

    /// Why there is no steady state, in words.
    pub fn reason(&self) -> Option<&'static str> {
        match self {
            Self::Solved(_) => None,
            Self::OutOfRange => Some("no switching frequency in the band delivers the output"),
            Self::NotSolved(why) => Some(why.reason()),
        }
    }

    /// The word used in tables and files.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Solved(_) => "solved",
            Self::OutOfRange => "out of range",
            Self::NotSolved(_) => "not solved",
        }
    }
}
