//! Phases trimmed by a loop each until their sensors agree.
//!
//! # What the loops settle at
//!
//! Sensor k reads `m(k) = g(k) i(k) + o(k)`. A loop moves the trim x(k), a fraction of the trimmed
//! part's own value within ±R, by an integrator fed with the deviation of its reading from the
//! mean of all. These deviations add up to zero, and so the integrators keep the sum of the trims
//! at the zero that it starts from: **the mean trim is zero**. That is the condition that N − 1
//! differences of readings leave open; moving all trims together would do no more than move the
//! regulated frequency. With s = ±1 for the sense in which the nominal converter's current
//! answers a trim, and y = s m, the loops are at rest where for some c
//!
//! ```text
//! Σ x(k) = 0,   y(k) = c where |x(k)| < R,   y(k) ≤ c at x(k) = R,   y(k) ≥ c at x(k) = −R
//! ```
//!
//! the stationary points of integrators that stop at the ends of their range (a projected
//! dynamical system: A. Nagurney and D. Zhang, Projected Dynamical Systems and Variational
//! Inequalities with Applications, 1996, from memory). A saturated phase stays at its end; the
//! others agree among themselves.
//!
//! # Which of them is stable
//!
//! The loops are that system itself: `dx/dt = −Π(y)`, with Π the projection on the directions that
//! keep the sum and leave no end of the range. All have one common gain and are slow against the
//! converter, which is at its steady state at every instant. A rest point is one that the loops
//! come back to when, over the phases F that are at no end, every eigenvalue of `Π ∂y(F)/∂x(F)` has
//! a positive real part (A. Lyapunov's first method: H. K. Khalil, Nonlinear Systems, 2002,
//! theorem 4.7, from memory). The derivatives are differences of whole steady states, N − 1 of them
//! at most. `loops.rs` has both.
//!
//! # How it is found
//!
//! Each evaluation is a whole steady state at its regulated frequency, by the solver of the run.
//! To first order a trim moves its own reading by a slope σ(k) and all readings alike by way of
//! frequency and charge. So the next trims are `clamp(x(k) + (c − y(k))/σ(k), ±R)`, with the c,
//! unique because the sum rises with it, that makes their sum zero. The slopes follow the secants
//! (`steps.rs`). The start is the nominal converter's first-order response to parts and sensors.
//!
//! Where these steps find nothing, or a rest point that is not stable, the loops are followed in
//! their own small steps from no trim, where real ones start. They may come to rest, or drive the
//! converter to where no frequency in the band delivers: then it is out of range. The same where a
//! rest point took many steps or lies at an end, and the loops do not lead straight to it: near a
//! gain limit there can be two, and the steps may leap over the one that the loops come to. What is narrower than a sixteenth of
//! the range can still be leapt over.

mod loops;
mod range;
mod steps;

use arrayvec::ArrayVec;

use super::{Case, Method, Outcome, SteadyState, Unsolved};
use crate::converter::{Converter, MAX_PHASES, Parameter, Sensor, Sensors, Shared};
use crate::units::Ohm;

/// How closely the readings of phases that are not at an end agree, of their mean.
pub const AGREEMENT: f64 = 1e-7;
/// Step of the difference quotients, relative.
const STEP: f64 = 1e-5;

/// One number a phase.
type PhaseValues = ArrayVec<f64, MAX_PHASES>;

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
    nominal: Converter,
    /// The case, with its solution to start from.
    case: Case,
    /// Mean reading of the nominal converter, without sensor errors.
    mean: f64,
    /// How a phase's share of the current answers the logarithm of each of its parameters: change
    /// of its current above that of the mean, one row a phase.
    answers: ArrayVec<[f64; Parameter::ALL.len()], MAX_PHASES>,
    /// Sense of the loops, and the answer to the trim by itself.
    sense: f64,
    slope: f64,
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
    /// Steady states that it took.
    pub evaluations: usize,
}

/// What stays the same for all samples of a case.
#[derive(Debug, Clone, Copy)]
pub struct TrimCase<'a> {
    /// The solver.
    pub method: Method,
    /// What is solved; its start is not used.
    pub case: &'a Case,
    /// The loops.
    pub trim: Trim,
}

/// A point that was evaluated.
#[derive(Debug, Clone)]
struct Evaluated {
    trims: PhaseValues,
    /// Readings times the sense of the loops.
    y: PhaseValues,
    state: SteadyState,
}

/// Why there is no steady state with some trims.
#[derive(Debug, Clone, Copy)]
enum Failure {
    OutOfRange,
    NotSolved(Unsolved),
}

impl From<Failure> for Outcome {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::OutOfRange => Self::OutOfRange,
            Failure::NotSolved(why) => Self::NotSolved(why),
        }
    }
}

impl TrimCase<'_> {
    /// Solves the nominal converter with its sensors, and how it answers its parts.
    pub fn prepare(&self, nominal: &Converter) -> (Outcome, Option<TrimStart>) {
        let nominal = self.with_resistance(nominal);
        let (outcome, case) = self.method.prepare(&nominal, self.case.clone());
        let Some(state) = outcome.solved() else { return (outcome, None) };
        let mean = mean(&self.currents(state));
        let mut answers = ArrayVec::new();
        for k in 0..nominal.phases() {
            let answer = |p| self.answer(&nominal, state, &case, (k, p));
            answers.push(Parameter::ALL.map(answer));
        }
        let trim = self.trim.parameter.index();
        let slope: f64 = answers.iter().map(|a| a[trim]).sum::<f64>() / nominal.phases() as f64;
        let sense = if slope < 0.0 { -1.0 } else { 1.0 };
        let slope = slope.abs().max(1e-3 * mean);
        let prepared = TrimStart { nominal, case, mean, answers, sense, slope };
        (outcome, Some(prepared))
    }

    /// How the current of phase `k` above the mean answers one of its parameters; zero where it
    /// cannot be told.
    fn answer(
        &self,
        nominal: &Converter,
        state: &SteadyState,
        case: &Case,
        (k, parameter): (usize, Parameter),
    ) -> f64 {
        let mut changed = nominal.clone();
        let Some(value) = changed.tanks[k].value_mut(parameter) else { return 0.0 };
        *value *= 1.0 + STEP;
        let moved = self.method.solve(&changed, case);
        let (before, after) = (self.currents(state), moved.solved().map(|s| self.currents(s)));
        after.map_or(0.0, |after| {
            let above = |x: &PhaseValues| x[k] - mean(x);
            (above(&after) - above(&before)) / STEP
        })
    }

    /// Trims the phases of a converter until its sensors agree.
    pub fn settle(&self, converter: &Converter, sensors: &Sensors, from: &TrimStart) -> Trimmed {
        let own = self.with_resistance(converter);
        let mut search = TrimSearch { case: self, own: &own, sensors, from, evaluations: 0 };
        let settled = search.settle();
        let evaluations = search.evaluations;
        let nothing = || own.tanks.iter().map(|_| 0.0).collect();
        let (outcome, trims) = match settled {
            Ok(at) => (Outcome::Solved(at.state), at.trims),
            Err(failure) => (failure.into(), nothing()),
        };
        let solved = outcome.solved().is_some();
        Trimmed {
            outcome,
            converter: self.trimmed(&own, &trims),
            at_end: trims.iter().map(|x| solved && x.abs() >= self.trim.range).collect(),
            trims,
            evaluations,
        }
    }

    fn with_resistance(&self, converter: &Converter) -> Converter {
        let mut own = converter.clone();
        own.tanks.iter_mut().for_each(|t| t.series_resistance.0 += self.trim.added_resistance.0);
        own
    }

    fn trimmed(&self, own: &Converter, trims: &[f64]) -> Converter {
        let mut trimmed = own.clone();
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

/// The search for one converter's trims.
struct TrimSearch<'a> {
    case: &'a TrimCase<'a>,
    /// Its parts, not trimmed.
    own: &'a Converter,
    sensors: &'a [Sensor],
    from: &'a TrimStart,
    evaluations: usize,
}

impl TrimSearch<'_> {
    fn range(&self) -> f64 {
        self.case.trim.range
    }

    /// Where the loops are at rest and stable.
    fn settle(&mut self) -> Result<Evaluated, Failure> {
        let start = self.first_solved()?;
        match self.close_in(start.clone()) {
            Some(rest) if self.is_stable(&rest) && self.is_reached(&rest) => Ok(rest),
            _ => self.follow(start),
        }
    }

    /// The trims that the nominal converter's first-order response asks for, less of them, or
    /// none: the first that the converter works with.
    fn first_solved(&mut self) -> Result<Evaluated, Failure> {
        let first = self.first();
        let part = |share: f64| first.iter().map(|x| share * x).collect::<PhaseValues>();
        let tried = self.evaluate(&first).or_else(|_| self.evaluate(&part(0.5)));
        tried.or_else(|_| self.evaluate(&part(0.0)))
    }

    /// The trims that the nominal converter's first-order response asks for.
    fn first(&self) -> PhaseValues {
        let trim = self.case.trim.parameter;
        let mean = self.from.mean;
        let tanks = self.own.tanks.iter().zip(&self.from.nominal.tanks);
        let wanted: PhaseValues = tanks
            .zip(&self.from.answers)
            .zip(self.sensors)
            .map(|(((tank, nominal), answers), sensor)| {
                let parts: f64 = Parameter::of_tank()
                    .filter_map(|p| {
                        let ratio = tank.value(p)? / nominal.value(p)?;
                        let far = if ratio > 0.0 { libm::log(ratio) } else { 0.0 };
                        far.is_finite().then_some(answers[p.index()] * far)
                    })
                    .sum();
                let error = sensor.reading(crate::units::Ampere(mean)) - mean;
                let step = -(parts + error) / answers[trim.index()];
                if step.is_finite() { libm::exp(step.clamp(-1.0, 1.0)) - 1.0 } else { 0.0 }
            })
            .collect();
        let slopes: PhaseValues = wanted.iter().map(|_| 1.0).collect();
        range::balanced(&wanted, &slopes, self.range())
    }

    fn evaluate(&mut self, trims: &PhaseValues) -> Result<Evaluated, Failure> {
        self.evaluations += 1;
        let trimmed = self.case.trimmed(self.own, trims);
        match self.case.method.solve(&trimmed, &self.from.case) {
            Outcome::Solved(state) => {
                let currents = state.phases.iter().map(|p| p.shared(self.case.trim.measured));
                let y = currents.zip(self.sensors);
                let y = y.map(|(i, s)| self.from.sense * s.reading(i)).collect();
                Ok(Evaluated { trims: trims.clone(), y, state })
            }
            Outcome::OutOfRange => Err(Failure::OutOfRange),
            Outcome::NotSolved(why) => Err(Failure::NotSolved(why)),
        }
    }
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}
