//! What tells of a fault first, and how many periods later.
//!
//! A capacitor moves by Q/C in a period at most: no window on its voltage is left sooner than
//!
//! ```text
//! n = share · (Vin/N) · C/Q
//! ```
//!
//! A phase that takes no charge empties or fills its neighbours until they stop. Near resonance the
//! envelope of a tank current behaves as an inductance of 2 Lr: with the capacitor it rings, a quarter
//! turn to the end. With N phases and a run of r working ones beside the failed phase
//!
//! ```text
//! ω = (T/π) √(2 A/(Lr C)) · λ,   λ = 2 sin(π/(4 r + 2))     per period; A = 1 in full bridge, ½ in half
//! n = arccos(s)/ω,               s = 0.1 N/(N − 1)           until the output is below a tenth
//! ```
//!
//! Away from resonance the current follows the voltage above the threshold, and decays with
//!
//! ```text
//! n = ln(1/s) · C (V − Vth)/(Q λ²)
//! ```
//!
//! Both are estimates without resistance; what happens lies about between them. Where parts are shorted
//! the currents depend on stray resistance and inductance: one to three periods, by integration.

use std::f64::consts::PI;

use super::case::FaultCase;
use super::effect::Effect;
use super::stopped::conduction_threshold;
use crate::converter::{Arrangement, Converter, FailureMode};
use crate::solver::steady_state::SteadyState;

/// A span of switching periods after the fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Periods {
    /// No sooner than this.
    pub from: f64,
    /// By then; none where nothing is certain.
    pub to: Option<f64>,
}

/// When a fault shows; none where it never does for certain.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FirstSigns {
    /// The output current is too high, or below a tenth.
    pub output: Option<Periods>,
    /// The same of the input current.
    pub input: Option<Periods>,
    /// The currents of the phases differ widely.
    pub sharing: Option<Periods>,
    /// A flying capacitor is a tenth of a phase voltage off its mean.
    pub capacitor: Option<Periods>,
    /// A switch sees more than it is made for.
    pub switch: Option<Periods>,
}

/// Share of a phase voltage that counts as off.
const WINDOW: f64 = 0.1;
/// Share of the output current below which the output counts as gone.
const GONE: f64 = 0.1;

const AT_ONCE: Option<Periods> = Some(Periods { from: 0.0, to: Some(1.0) });
const SOON: Option<Periods> = Some(Periods { from: 1.0, to: Some(3.0) });

impl FaultCase {
    /// When the fault shows in a converter that was healthy in this state.
    pub fn first_signs(&self, converter: &Converter, healthy: &SteadyState) -> FirstSigns {
        let converter = &*converter.at(&self.point.condition);
        if self.arrangement == Arrangement::Paralleled {
            return self.signs_of_paralleled();
        }
        let none = FirstSigns::default();
        match (self.fault.failure, Effect::of(&self.fault, converter, self.point.drive)) {
            (_, Effect::ShortsInput) => FirstSigns { input: AT_ONCE, output: AT_ONCE, ..none },
            (FailureMode::FlyingCapacitorAged(_) | FailureMode::LowGateOff, Effect::Passes(_)) => {
                none
            }
            // The chain is the same with one phase less, once its capacitors have met.
            (_, Effect::Passes(_)) => FirstSigns {
                output: SOON,
                input: AT_ONCE,
                sharing: SOON,
                capacitor: AT_ONCE,
                switch: None,
            },
            (failure, Effect::Stops | Effect::OneLegDrives(_)) => {
                let collapse = self.collapse(converter, healthy);
                let is_capacitor = failure == FailureMode::FlyingCapacitorOpen;
                FirstSigns {
                    output: collapse,
                    input: collapse,
                    sharing: AT_ONCE,
                    capacitor: if is_capacitor {
                        AT_ONCE
                    } else {
                        Some(self.drift(converter, healthy))
                    },
                    switch: if is_capacitor { AT_ONCE } else { None },
                }
            }
        }
    }

    fn signs_of_paralleled(&self) -> FirstSigns {
        let none = FirstSigns::default();
        match self.fault.failure {
            FailureMode::HighSwitchShort | FailureMode::LowSwitchShort => {
                FirstSigns { input: AT_ONCE, output: AT_ONCE, ..none }
            }
            _ => FirstSigns { sharing: AT_ONCE, ..none },
        }
    }

    /// The smallest flying capacitor, in farad.
    fn capacitance(converter: &Converter) -> f64 {
        converter.flying.iter().map(|c| c.0).fold(f64::INFINITY, f64::min)
    }

    /// The most charge of a phase in a period, in coulomb.
    fn charge(healthy: &SteadyState) -> f64 {
        healthy.phases.iter().map(|phase| phase.charge).fold(0.0, f64::max)
    }

    /// The soonest that a capacitor can be off.
    fn drift(&self, converter: &Converter, healthy: &SteadyState) -> Periods {
        let of_phase = self.point.input_voltage.0 / converter.phases() as f64;
        let periods = WINDOW * of_phase * Self::capacitance(converter) / Self::charge(healthy);
        Periods { from: periods, to: None }
    }

    /// When the output is gone.
    fn collapse(&self, converter: &Converter, healthy: &SteadyState) -> Option<Periods> {
        let phases = converter.phases() as f64;
        let (k, tank) = (self.fault.phase, &converter.tanks[self.fault.phase]);
        let run = k.max(converter.phases() - 1 - k) as f64;
        let slowest = 2.0 * libm::sin(PI / (4.0 * run + 2.0));
        let share = GONE * phases / (phases - 1.0);
        let c = Self::capacitance(converter);
        let period = 1.0 / healthy.switching_frequency.0;
        let stiffness = 2.0 * self.point.drive.amplitude() / (tank.resonant_inductance.0 * c);
        let ring = period / PI * stiffness.sqrt() * slowest;
        let turn = libm::acos(share) / ring;
        let threshold = conduction_threshold(tank, &self.point, healthy.switching_frequency)?.0;
        let above = (self.point.input_voltage.0 / phases - threshold).max(0.0);
        let decay = c * above / Self::charge(healthy) / slowest.powi(2) * libm::log(1.0 / share);
        Some(Periods { from: turn.min(decay).max(1.0), to: Some(turn.max(decay).max(1.0)) })
    }
}
