//! What is trimmed, in which case, and how the nominal converter answers its parts.

use arrayvec::ArrayVec;

use super::range::{PhaseValues, mean};
use crate::converter::{Converter, MAX_PHASES, Parameter, Shared};
use crate::solver::case::Case;
use crate::solver::limited::Solver;
use crate::solver::steady_state::{Outcome, SteadyState};
use crate::units::{Hertz, Ohm};

/// Step of the difference quotients, relative.
const STEP: f64 = 1e-5;

/// The loops: what they measure, what they trim, and how far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trim {
    /// What the sensors measure.
    pub measured: Shared,
    /// The trimmed part.
    pub parameter: Parameter,
    /// Its range to either side, a fraction of the part's own value, below 1.
    pub range: f64,
    /// What sensor and trim element add to every phase's series resistance.
    pub added_resistance: Ohm,
}

/// What every sample is solved from: the nominal converter with its sensors.
#[derive(Debug, Clone)]
pub struct TrimStart {
    pub(super) nominal: Converter,
    /// The case, with its solution to start from. Its steady states do not tell what loads every part.
    pub(super) case: Case,
    /// The same; its steady states do.
    pub(super) case_with_stress: Case,
    /// Mean reading of the nominal converter, without sensor errors.
    pub(super) mean: f64,
    /// How a phase's current, above the mean of all, answers the logarithm of each of its
    /// parameters; one row a phase.
    pub(super) answers: ArrayVec<[f64; Parameter::ALL.len()], MAX_PHASES>,
    /// Sense of the loops, and the answer to the trim by itself.
    pub(super) sense: f64,
    pub(super) slope: f64,
}

/// A converter whose loops have settled.
#[derive(Debug, Clone)]
pub struct Trimmed {
    /// Its steady state, or why there is none.
    pub outcome: Outcome,
    /// Its parts as trimmed, with the added resistance.
    pub converter: Converter,
    /// The trims, fractions of the part's own value.
    pub trims: PhaseValues,
    /// Which phases are at an end of their range.
    pub at_end: ArrayVec<bool, MAX_PHASES>,
    /// Highest frequency at which the pulses of two phases into the output beat: the difference of their
    /// switching frequencies, times the pulses a period.
    pub beat: Hertz,
    /// Steady states that it took.
    pub evaluations: usize,
}

/// What stays the same for all samples of a case.
#[derive(Debug, Clone, Copy)]
pub struct TrimCase<'a> {
    /// The solver. The search for one converter's trims may take the work of many of its searches.
    pub solver: Solver<'a>,
    /// What is solved; its start is not used. Where it asks what loads every part, that is told of the
    /// settled state.
    pub case: &'a Case,
    /// The loops.
    pub trim: Trim,
}

/// One part of a converter.
#[derive(Clone, Copy)]
struct Part {
    /// The phase, counted from 0.
    phase: usize,
    parameter: Parameter,
}

impl TrimCase<'_> {
    /// Solves the nominal converter with its sensors, and how it answers its parts.
    pub fn prepare(&self, nominal: &Converter) -> (Outcome, Option<TrimStart>) {
        let nominal = self.with_resistance(nominal);
        let (outcome, case_with_stress) =
            self.solver.prepare(&nominal, self.case.clone().with_stress());
        // Loops without range give the figures of a converter without loops, to the last digit.
        let case_with_stress = if self.trim.range > 0.0 {
            self.solver.method.bent(&nominal, case_with_stress)
        } else {
            case_with_stress
        };
        let case = Case { with_stress: false, ..case_with_stress.clone() };
        let Some(state) = outcome.solved() else { return (outcome, None) };
        let currents = self.currents(state);
        let mean = mean(&currents);
        let mut answers = ArrayVec::new();
        for k in 0..nominal.phases() {
            answers.push(Parameter::ALL.map(|parameter| {
                let part = Part { phase: k, parameter };
                self.answer(&nominal, &currents, &case, part)
            }));
        }
        let trim = self.trim.parameter.index();
        let slope: f64 = answers.iter().map(|a| a[trim]).sum::<f64>() / nominal.phases() as f64;
        let sense = if slope < 0.0 { -1.0 } else { 1.0 };
        let slope = slope.abs().max(1e-3 * mean);
        let prepared = TrimStart { nominal, case, case_with_stress, mean, answers, sense, slope };
        (outcome, Some(prepared))
    }

    /// How the current of a phase above the mean answers one of its own parts; zero where it
    /// cannot be told.
    fn answer(&self, nominal: &Converter, currents: &PhaseValues, case: &Case, part: Part) -> f64 {
        let mut changed = nominal.clone();
        let Some(value) = changed.tanks[part.phase].value_mut(part.parameter) else { return 0.0 };
        *value *= 1.0 + STEP;
        let moved = self.solver.solve(&changed, case);
        let after = moved.solved().map(|state| self.currents(state));
        after.map_or(0.0, |after| {
            let above = |x: &PhaseValues| x[part.phase] - mean(x);
            (above(&after) - above(currents)) / STEP
        })
    }

    /// The converter under the condition of the case, with what sensors and trim elements add to its
    /// resistance.
    pub(super) fn with_resistance(&self, converter: &Converter) -> Converter {
        let mut changed = converter.at(&self.case.point.condition).into_owned();
        changed
            .tanks
            .iter_mut()
            .for_each(|t| t.series_resistance.0 += self.trim.added_resistance.0);
        changed
    }

    /// The converter with its phases trimmed.
    pub(super) fn trimmed(&self, untrimmed: &Converter, trims: &[f64]) -> Converter {
        let mut trimmed = untrimmed.clone();
        for (tank, x) in trimmed.tanks.iter_mut().zip(trims) {
            if let Some(value) = tank.value_mut(self.trim.parameter) {
                *value *= 1.0 + x;
            }
        }
        trimmed
    }

    fn currents(&self, state: &SteadyState) -> PhaseValues {
        state.phases.iter().map(|p| p.shared(self.trim.measured).0).collect()
    }
}
