//! A full bridge of which one leg passes no charge: the other leg drives alone, with half of the amplitude.
//!
//! The voltages of the damaged leg sink until its chain carries no net charge, and its body diodes hold its
//! nodes. So the chain of the sound leg is a half bridge. Where it delivers the output inside the band, a
//! time integration of an invented design (five phases in deep buck, four faults) agrees within 1 % in
//! frequency and 5 % in currents.
//!
//! Where the half bridge delivers too little, the nodes of the damaged leg swing, which adds some current.
//! Dead time and switch capacitance decide how much: it is not known. What is known is how little it is.
//! By time integration of three designs at the lower end of the band it was at most half of the larger of
//!
//! - what the healthy converter delivers there from 0.56 of its input;
//! - 0.15 of the peak magnetising current of all phases, `Vp/(4 Lm f)`, seen from the output.
//!
//! If the larger one does not reach the output current, the converter is out of range. Else nothing is
//! said. Nor is it where low gate N is dead and the half bridge delivers enough: the current of the last phase then
//! returns through its high diode, and the leg goes on with part of the power. In time an invented design of three
//! phases delivers 9 % more than its half bridge, and one switch blocks 1.8 times as much.
//!
//! At light load the nodes swing too, driven by the magnetising currents: two phases at a fifth of their load then
//! ran at frequencies a third higher, with sharing errors of 70 %. So nothing is said where the second bound, at the
//! frequency found, is more than 5 % of the output current.

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::group::{GroupPlan, GroupStart};
use super::leg::LegRemainder;
use super::outcome::FaultOutcome;
use super::remaining_chain::links;
use super::voltages::VoltageLaw;
use crate::converter::{Arrangement, Converter, Drive, FailureMode, Leg, MAX_PHASES};
use crate::solver::Solver;
use crate::solver::links::ChainLinks;
use crate::solver::steady_state::{Outcome, Switches};
use crate::units::{Hertz, Volt};

/// Share of the input from which the healthy converter delivers more.
const AMPLITUDE: f64 = 0.56;
/// Share of the peak magnetising current.
const MAGNETISING: f64 = 0.15;
/// Share of the output current that swinging nodes may add unsaid.
const ADDED: f64 = 0.05;

impl FaultCase {
    /// The chain of the leg that drives.
    pub(super) fn plan_of_leg(&self, converter: &Converter, leg: Leg) -> GroupPlan {
        let flying = match leg {
            Leg::Driven => &converter.flying,
            Leg::Return => &converter.flying_return,
        };
        let remainder = LegRemainder::new(flying, None);
        let phases: ArrayVec<usize, MAX_PHASES> = (0..converter.phases()).collect();
        GroupPlan {
            links: Some(links([Some(&remainder), None], &phases)),
            phases,
            input: self.point.input_voltage,
            drive: Drive::HalfBridge,
            arrangement: Arrangement::Chain,
        }
    }

    /// What becomes of a converter of which this leg drives.
    pub(super) fn solve_one_leg(
        &self,
        solver: &Solver,
        converter: &Converter,
        leg: Leg,
    ) -> FaultOutcome {
        let plan = self.plan_of_leg(converter, leg);
        let group = plan.group(converter, self.asked(), &self.starts.whole);
        match group.solve(solver) {
            Outcome::OutOfRange if self.is_too_little(solver, converter) => {
                FaultOutcome::OutOfRange
            }
            Outcome::OutOfRange => FaultOutcome::Unknown,
            // Its high diode lets the last phase drive the leg that ought to rest.
            Outcome::Solved(_) if self.fault.failure == FailureMode::LowGateOff => {
                FaultOutcome::Unknown
            }
            Outcome::Solved(state) if self.may_be_more(converter, state.switching_frequency) => {
                FaultOutcome::Unknown
            }
            outcome => {
                let law = VoltageLaw::OneLeg { driving: leg };
                self.outcome(converter.phases(), &group, in_leg(outcome, leg), law)
            }
        }
    }

    /// Whether even the bound of what is left is too little.
    fn is_too_little(&self, solver: &Solver, converter: &Converter) -> bool {
        let lowest = self.band.minimum;
        let reduced = GroupPlan {
            phases: (0..converter.phases()).collect(),
            links: Some(ChainLinks {
                elastances: converter.tanks.iter().map(|_| [0.0, 0.0]).collect(),
                ripple: 0.0,
            }),
            input: Volt(AMPLITUDE * self.point.input_voltage.0),
            drive: self.point.drive,
            arrangement: Arrangement::Paralleled,
        };
        let group = reduced.group(converter, self.asked(), &GroupStart::default());
        let is_too_little = |bound: f64| bound < self.point.output_current.0;
        let delivered = group.current_at(solver, lowest);
        is_too_little(self.magnetising_bound(converter, lowest))
            && delivered.is_some_and(|current| is_too_little(current.0))
    }

    /// Whether the nodes of the leg that ought to rest may swing so that they add to the output.
    fn may_be_more(&self, converter: &Converter, frequency: Hertz) -> bool {
        let most = 0.5 * self.magnetising_bound(converter, frequency);
        most > ADDED * self.point.output_current.0
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

/// The same with the currents of its switches in the leg that drives.
fn in_leg(outcome: Outcome, leg: Leg) -> Outcome {
    let Outcome::Solved(mut state) = outcome else { return outcome };
    if leg == Leg::Return {
        for phase in &mut state.phases {
            let own = phase.switches;
            phase.switches = Switches {
                high: own.return_high,
                low: own.return_low,
                return_high: own.high,
                return_low: own.low,
            };
        }
    }
    Outcome::Solved(state)
}
