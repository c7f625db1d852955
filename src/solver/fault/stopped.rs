//! Where the voltages of a chain end whose phases have all stopped.
//!
//! A phase without load stops rectifying below the threshold
//!
//! ```text
//! Vth(f) = a Vp (1 + Lr/Lm) cos(T / (4 √((Lr + Lm) Cr))),   T = 1/f, a = 1 in full bridge, 2 in half bridge
//! ```
//!
//! The chain moves charge until every other phase is at its threshold. The failed one takes the rest of
//! the input. A controller that wants more current lowers the frequency to the end of the band, and the
//! threshold falls on the way. Ripple and resistance are neglected.

use std::f64::consts::FRAC_PI_2;

use arrayvec::ArrayVec;

use super::case::FaultCase;
use crate::converter::{Converter, FailureMode, MAX_PHASES, OperatingPoint, Tank};
use crate::units::{Hertz, Volt};

/// A chain whose phases have all stopped.
#[derive(Debug, Clone, PartialEq)]
pub struct StoppedChain {
    /// Switching frequency at which the controller ends.
    pub frequency: Hertz,
    /// Voltage that each phase receives while its high switch is on.
    pub phases: ArrayVec<Volt, MAX_PHASES>,
}

/// Voltage of a phase below which it does not rectify. None below the resonance without load, where
/// every voltage makes it rectify.
pub fn conduction_threshold(tank: &Tank, point: &OperatingPoint, frequency: Hertz) -> Option<Volt> {
    let clamp =
        point.rectifier.clamp_voltage(tank.turns_ratio, point.output_voltage, tank.rectifier_drop);
    let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
    let slowness = ((lr + lm) * tank.resonant_capacitance.0).sqrt();
    let angle = 0.25 / (frequency.0 * slowness);
    let threshold = clamp / point.drive.amplitude() * (1.0 + lr / lm) * libm::cos(angle);
    (angle < FRAC_PI_2).then_some(Volt(threshold))
}

impl FaultCase {
    /// Where a chain ends in which the rectifier or the tank of a phase is open. None for other faults,
    /// and where the threshold does not tell.
    pub fn stopped(&self, converter: &Converter) -> Option<StoppedChain> {
        if !matches!(self.fault.failure, FailureMode::RectifierOpen | FailureMode::TankOpen) {
            return None;
        }
        let converter = converter.at(&self.point.condition);
        let frequency = self.band.minimum;
        let threshold = |tank: &Tank| conduction_threshold(tank, &self.point, frequency);
        let mut phases: ArrayVec<Volt, MAX_PHASES> =
            converter.tanks.iter().map(threshold).collect::<Option<_>>()?;
        let failed = self.fault.phase;
        let others: f64 =
            phases.iter().enumerate().filter(|(k, _)| *k != failed).map(|(_, v)| v.0).sum();
        let left = self.point.input_voltage.0 - others;
        phases[failed] = Volt(left);
        (left >= 0.0).then_some(StoppedChain { frequency, phases })
    }
}
