//! Two groups of phases at one frequency, which deliver the output together.

use super::case::FaultCase;
use super::group::{GroupAtFrequencies, PhaseGroup, RegulatedPoint};
use super::outcome::FaultOutcome;
use super::voltages::VoltageLaw;
use super::whole::Whole;
use crate::solver::Solver;
use crate::solver::steady_state::{Outcome, Unsolved};
use crate::units::{Hertz, Volt};

/// Share of the output current below which the second group is idle.
const IDLE: f64 = 1e-3;
/// Ratio of neighbouring frequencies on the way down.
const STRIDE: f64 = 1.02;
/// Rounds in which the charge of the first group is closed in on, and how closely, relatively.
const ROUNDS: usize = 40;
const CLOSE: f64 = 1e-9;
/// Width, relatively, to which a frequency is closed in on.
const WIDTH: f64 = 1e-9;

/// Two groups that have one frequency in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair<'a> {
    /// The one that carries nearly all.
    pub(super) first: &'a PhaseGroup,
    /// The other one.
    pub(super) second: &'a PhaseGroup,
    /// What both deliver together.
    pub(super) asked: RegulatedPoint<'a>,
    /// By how much Q₂²/Q₁ lifts what the voltages of the first group sum to, in 1/farad.
    pub(super) lift: f64,
}

impl Pair<'_> {
    /// What becomes of a converter with so many phases. Mostly the second group is idle.
    pub(super) fn outcome(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let alone = self.first.solve(solver);
        let frequency = match &alone {
            Outcome::Solved(state) => state.switching_frequency,
            // What more there is to know is at the lower end, where most conducts.
            Outcome::OutOfRange => self.asked.band.minimum,
            Outcome::NotSolved(Unsolved::ThermalRunaway) => {
                return self.runaway(solver, case, phases, law);
            }
            Outcome::NotSolved(why) => return FaultOutcome::not_solved(*why),
        };
        let Some(more) = self.second.current_at(solver, frequency) else {
            return FaultOutcome::NotSolved(Unsolved::Lost);
        };
        if more.0 < IDLE * self.asked.point.output_current.0 {
            return case.outcome(phases, self.first, alone, law);
        }
        self.search(solver, case, phases, law)
    }

    /// The first group alone has no steady temperature. Where the second one helps, nothing is said: its
    /// share depends on the temperatures.
    fn runaway(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let at_given_temperatures = self.search(solver, case, phases, law);
        let helps = at_given_temperatures.state().is_some_and(|found| {
            let current = |k: &usize| found.state.phases[*k].output_current.0;
            let of_second: f64 = self.second.phases.iter().map(current).sum();
            of_second >= IDLE * self.asked.point.output_current.0
        });
        if helps {
            FaultOutcome::Unknown
        } else {
            FaultOutcome::not_solved(Unsolved::ThermalRunaway)
        }
    }

    /// Down from the highest frequency until both deliver enough.
    fn search(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let mut groups = Groups {
            first: Box::new(GroupAtFrequencies::new(self.first)),
            second: Box::new(GroupAtFrequencies::new(self.second)),
            lift: self.lift,
            base: GroupAtFrequencies::new(self.first).input(),
            idle: IDLE * self.asked.point.output_current.0,
        };
        let wanted = self.asked.point.output_current.0;
        let mut surplus = |frequency: f64| Some(groups.current(solver, Hertz(frequency))? - wanted);
        let frequency = match highest_crossing(self.asked, &mut surplus) {
            Crossing::Unsettled => return FaultOutcome::NotSolved(Unsolved::Lost),
            Crossing::Nowhere => return FaultOutcome::OutOfRange,
            Crossing::At(frequency) => Hertz(frequency),
        };
        if groups.current(solver, frequency).is_none() {
            return FaultOutcome::NotSolved(Unsolved::Lost);
        }
        let mut whole = Whole::idle(phases, frequency);
        for (at, group) in [(&groups.first, self.first), (&groups.second, self.second)] {
            match at.state(solver, frequency) {
                Some(state) => whole.take(&state, &group.phases),
                None => return FaultOutcome::NotSolved(Unsolved::Lost),
            }
        }
        case.runs(whole, law)
    }
}

/// Both groups on the way through the frequencies.
struct Groups<'a> {
    first: Box<GroupAtFrequencies<'a>>,
    second: Box<GroupAtFrequencies<'a>>,
    lift: f64,
    /// What the voltages of the first group sum to without the second one.
    base: Volt,
    /// Output current below which the second group is idle, in ampere.
    idle: f64,
}

impl Groups<'_> {
    /// Output current of both in ampere. None where one does not settle.
    fn current(&mut self, solver: &Solver, frequency: Hertz) -> Option<f64> {
        let second = self.second.current(solver, frequency)?.0;
        self.first.set_input(self.base);
        let mut first = self.first.current(solver, frequency)?.0;
        if self.lift == 0.0 || second < self.idle {
            return Some(first + second);
        }
        let passed = self.second.charge(solver, frequency)?;
        self.lift_first(solver, frequency, passed)?;
        first = self.first.current(solver, frequency)?.0;
        Some(first + second)
    }

    /// Lifts the first group's voltages as its own charge and that of the second one ask. More charge lifts
    /// them less, so that both ends of the first bracket hold the answer between them.
    fn lift_first(&mut self, solver: &Solver, frequency: Hertz, passed: f64) -> Option<()> {
        let mut low = self.first.charge(solver, frequency)?;
        let mut high = self.lifted_charge(solver, frequency, passed, low)?;
        let (mut above, mut below) = (high - low, f64::NAN);
        for _ in 0..ROUNDS {
            if (high - low).abs() <= CLOSE * high.abs() {
                break;
            }
            let middle =
                if below.is_nan() { high } else { low + (high - low) * above / (above - below) };
            let rest = self.lifted_charge(solver, frequency, passed, middle)? - middle;
            if rest.abs() <= CLOSE * middle.abs() {
                break;
            }
            // An end that stays twice counts half (Illinois).
            if rest > 0.0 {
                (low, above) = (middle, rest);
                below *= 0.5;
            } else {
                (high, below) = (middle, rest);
                above *= 0.5;
            }
        }
        Some(())
    }

    /// Charge of the first group whose voltages are lifted as if it were `charge`.
    fn lifted_charge(
        &mut self,
        solver: &Solver,
        frequency: Hertz,
        passed: f64,
        charge: f64,
    ) -> Option<f64> {
        let lift = if charge > 0.0 { self.lift * passed * passed / charge } else { 0.0 };
        self.first.set_input(Volt(self.base.0 + lift));
        self.first.charge(solver, frequency)
    }
}

/// Where the surplus turns from below zero to above on the way down.
enum Crossing {
    /// At this frequency first.
    At(f64),
    /// Nowhere inside the band.
    Nowhere,
    /// Something does not settle on the way.
    Unsettled,
}

fn highest_crossing(
    asked: RegulatedPoint<'_>,
    surplus: &mut dyn FnMut(f64) -> Option<f64>,
) -> Crossing {
    let (highest, lowest) = (asked.band.maximum.0, asked.band.minimum.0);
    let mut above = highest;
    loop {
        let is_enough = match surplus(above) {
            None => return Crossing::Unsettled,
            Some(surplus) => surplus >= 0.0,
        };
        if is_enough && above >= highest {
            return Crossing::Nowhere;
        }
        if is_enough {
            return close_in(above, above * STRIDE, surplus)
                .map_or(Crossing::Unsettled, Crossing::At);
        }
        if above <= lowest {
            return Crossing::Nowhere;
        }
        above = (above / STRIDE).max(lowest);
    }
}

fn close_in(
    mut low: f64,
    mut high: f64,
    surplus: &mut dyn FnMut(f64) -> Option<f64>,
) -> Option<f64> {
    while high - low > WIDTH * high {
        let middle = 0.5 * (low + high);
        if surplus(middle)? >= 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}
