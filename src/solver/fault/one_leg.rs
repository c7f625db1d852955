//! A full bridge of which one leg passes no charge: the other leg drives alone, with half of the amplitude.
//!
//! The voltages of the damaged leg sink until its chain carries no net charge. Its body diodes and the
//! gates that still work then let its nodes swing, which is more than a half bridge would do. Dead time and
//! switch capacitance decide how much more: the currents are not known. What is known is how little it
//! is. By time integration of three designs at the lower end of the band it was at most half of the
//! larger of
//!
//! - what the healthy converter delivers there from 0.56 of its input;
//! - 0.15 of the peak magnetising current of all phases, `Vp/(4 Lm f)`, seen from the output.
//!
//! If the larger one does not reach the output current, the converter is out of range. Else nothing is
//! said.

use super::case::FaultCase;
use super::group::{GroupPlan, GroupStart};
use super::outcome::FaultOutcome;
use crate::converter::{Arrangement, Converter};
use crate::solver::Solver;
use crate::solver::links::ChainLinks;
use crate::units::{Hertz, Volt};

/// Share of the input from which the healthy converter delivers more.
const AMPLITUDE: f64 = 0.56;
/// Share of the peak magnetising current.
const MAGNETISING: f64 = 0.15;

impl FaultCase {
    /// Whether what is left is too little.
    pub(super) fn solve_one_leg(&self, solver: &Solver, converter: &Converter) -> FaultOutcome {
        let lowest = self.band.minimum;
        let reduced = GroupPlan {
            phases: (0..converter.phases()).collect(),
            links: ChainLinks {
                elastances: converter.tanks.iter().map(|_| [0.0, 0.0]).collect(),
                ripple: 0.0,
            },
            input: Volt(AMPLITUDE * self.point.input_voltage.0),
            drive: self.point.drive,
            arrangement: Arrangement::Paralleled,
        };
        let group = reduced.group(converter, self.asked(), &GroupStart::default());
        let is_too_little = |bound: f64| bound < self.point.output_current.0;
        let delivered = group.current_at(solver, lowest);
        let is_out = is_too_little(self.magnetising_bound(converter, lowest))
            && delivered.is_some_and(|current| is_too_little(current.0));
        if is_out { FaultOutcome::OutOfRange } else { FaultOutcome::Unknown }
    }

    /// A share of the peak magnetising currents, seen from the output, in ampere.
    fn magnetising_bound(&self, converter: &Converter, frequency: Hertz) -> f64 {
        let of_phases = converter.tanks.iter().map(|tank| {
            let (n, rectifier) = (tank.turns_ratio, self.point.rectifier);
            let clamp = rectifier.clamp_voltage(n, self.point.output_voltage, tank.rectifier_drop);
            let peak = clamp / (4.0 * tank.magnetising_inductance.0 * frequency.0);
            rectifier.current_gain(n) * peak
        });
        MAGNETISING * of_phases.sum::<f64>()
    }
}
