//! Two groups of phases at one frequency, which deliver the output together.

use super::case::FaultCase;
use super::group::{GroupAtFrequencies, PhaseGroup, RegulatedPoint};
use super::outcome::FaultOutcome;
use super::voltages::VoltageLaw;
use super::whole::Whole;
use crate::solver::Solver;
use crate::solver::steady_state::{Outcome, Unsolved};
use crate::units::Hertz;

/// Share of the output current below which the second group is idle.
const IDLE: f64 = 1e-3;
/// Ratio of neighbouring frequencies on the way down.
const STRIDE: f64 = 1.02;
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
            Outcome::NotSolved(why) => return FaultOutcome::NotSolved(*why),
        };
        let Some(more) = self.second.current_at(solver, frequency) else {
            return FaultOutcome::NotSolved(Unsolved::Lost);
        };
        if more.0 < IDLE * self.asked.point.output_current.0 {
            return case.outcome(phases, self.first, alone, law);
        }
        self.search(solver, case, phases, law)
    }

    /// Down from the highest frequency until both deliver enough.
    fn search(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        // On the heap: they are large.
        let mut groups: Vec<GroupAtFrequencies> =
            [self.first, self.second].into_iter().map(GroupAtFrequencies::new).collect();
        let mut surplus = |frequency: f64| {
            let mut sum = -self.asked.point.output_current.0;
            for group in &mut groups {
                sum += group.current(solver, Hertz(frequency))?.0;
            }
            Some(sum)
        };
        let frequency = match highest_crossing(self.asked, &mut surplus) {
            Crossing::Unsettled => return FaultOutcome::NotSolved(Unsolved::Lost),
            Crossing::Nowhere => return FaultOutcome::OutOfRange,
            Crossing::At(frequency) => Hertz(frequency),
        };
        let mut whole = Whole::idle(phases, frequency);
        for (at, group) in groups.iter_mut().zip([self.first, self.second]) {
            match at.state(solver, frequency) {
                Some(state) => whole.take(&state, &group.phases),
                None => return FaultOutcome::NotSolved(Unsolved::Lost),
            }
        }
        case.runs(whole, law)
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
