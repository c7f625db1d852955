//! Loops that trim a part of every phase, settled together with the steady state.
//!
//! One Newton's iteration has the trims among its unknowns, instead of a whole solution for each trial of
//! them. It starts where the first-order response to parts and sensors has the trims. It is left to the
//! slower search where it does not come closer at once from nearby, and where a trim would leave its range.

use arrayvec::ArrayVec;
use smallvec::SmallVec;

use super::approach::{Approach, Detail, NEAR, Near};
use super::cycle::{INPUTS, PerUnitPhase};
use super::phase_response::Move;
use super::settle::{arrived, credible};
use super::solution::{Part, start_of};
use super::start::ExactStart;
use super::system::{ConverterUnknowns, HOLDS, HalfPeriod, Linear, PerUnitConverter, Source};
use super::trim_step::{LinearLoops, PerUnitSensor, TrimStep};
use crate::converter::{Converter, MAX_PHASES, Parameter, Sensor, Tank};
use crate::solver::links::ChainLinks;
use crate::solver::{Case, Effort, SteadyState};

/// Step of the difference quotients, relative.
const NUDGE: f64 = 1e-6;
/// From farther away than this the loops are not settled at once: another rest point may be near.
const FAR: f64 = 0.1;
/// The same of paralleled phases: one that barely conducts is soon so far, and such phases have no other solution
/// where all are on the falling side of their peaks.
const FAR_PARALLELED: f64 = 0.25;
/// By what part of itself a step must make the next one shorter.
const SHORTENS: f64 = 0.2;
/// Trims that are forecast farther off than this are not: the parts are too far from the nominal ones.
const FAR_FORECAST: f64 = 0.05;
/// Rounds of the forecast.
const FORECASTS: usize = 2;
/// Steps at most.
const STEPS: usize = 10;
/// The responses to trims are taken anew after steps longer than this.
const ANEW: f64 = 1e-3;

/// Loops that measure output currents and trim a part.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct OutputLoops<'a> {
    pub(in crate::solver) parameter: Parameter,
    /// Range to either side of the part's value, as a fraction.
    pub(in crate::solver) range: f64,
    pub(in crate::solver) sensors: &'a [Sensor],
    /// Where the trims are expected.
    pub(in crate::solver) expected: &'a [f64],
}

impl OutputLoops<'_> {
    fn trimmed(&self, untrimmed: &Tank, trim: f64) -> Tank {
        let mut tank = *untrimmed;
        if let Some(value) = tank.value_mut(self.parameter) {
            *value *= 1.0 + trim;
        }
        tank
    }
}

/// A converter whose loops have settled within their range.
#[derive(Debug, Clone)]
pub(in crate::solver) struct SettledLoops {
    pub(in crate::solver) state: SteadyState,
    pub(in crate::solver) trims: ArrayVec<f64, MAX_PHASES>,
    /// Row j: by how much the output currents, in ampere, change by a trim of phase j that is taken off the
    /// last one's.
    pub(in crate::solver) answers: Vec<ArrayVec<f64, MAX_PHASES>>,
}

/// A converter close to where its loops settle, within their range.
#[derive(Debug, Clone)]
pub(in crate::solver) struct ApproachedLoops {
    pub(in crate::solver) approach: Approach,
    pub(in crate::solver) trims: ArrayVec<f64, MAX_PHASES>,
    /// As of [`SettledLoops`].
    pub(in crate::solver) answers: Vec<ArrayVec<f64, MAX_PHASES>>,
}

/// What stays as it is.
#[derive(Clone, Copy)]
struct Given<'a> {
    untrimmed: &'a Converter,
    case: &'a Case,
    links: &'a ChainLinks,
    start: &'a ExactStart,
    effort: &'a Effort<'a>,
    loops: &'a OutputLoops<'a>,
}

/// The iteration on one converter.
struct Iteration<'a> {
    given: Given<'a>,
    sensors: SmallVec<[PerUnitSensor; 4]>,
    trims: ArrayVec<f64, MAX_PHASES>,
    system: PerUnitConverter<'a>,
    point: ConverterUnknowns,
    linear: Linear,
    responses: SmallVec<[Move; 4]>,
}

/// Settles the loops of a converter from the start of the case; none where that is left to a slower search.
pub(in crate::solver) fn settle_loops(
    untrimmed: &Converter,
    case: &Case,
    effort: &Effort,
    loops: &OutputLoops,
) -> Option<SettledLoops> {
    let start = start_of(case)?;
    let links = &*case.links_of(untrimmed);
    let given = Given { untrimmed, case, links, start, effort, loops };
    let forecast = Iteration::forecast(given).and_then(Iteration::settle);
    forecast.or_else(|| Iteration::as_expected(given).settle())
}

/// Approaches the settled loops of a converter; none where they are not reached at once.
pub(in crate::solver) fn approach_loops(
    untrimmed: &Converter,
    case: &Case,
    effort: &Effort,
    loops: &OutputLoops,
    detail: Detail,
) -> Option<ApproachedLoops> {
    let start = start_of(case)?;
    let links = &*case.links_of(untrimmed);
    Iteration::forecast(Given { untrimmed, case, links, start, effort, loops })?.approach(detail)
}

impl<'a> Iteration<'a> {
    fn new(given: Given<'a>) -> Self {
        let Given { untrimmed, case, start, effort, loops, .. } = given;
        let ampere = start.base.ampere();
        let sensor = |own: &Sensor| PerUnitSensor { gain: own.gain, offset: own.offset.0 / ampere };
        let trims: ArrayVec<f64, MAX_PHASES> = loops.expected.iter().copied().collect();
        let mut system = PerUnitConverter::new(untrimmed, case, &start.base, effort);
        system.look_below_rest(true);
        let point = start.point.clone();
        let mut linear = Linear::default();
        linear.expect(&start.hints);
        let sensors = loops.sensors.iter().map(sensor).collect();
        let responses = SmallVec::new();
        let mut all = Self { given, sensors, trims, system, point, linear, responses };
        all.trim();
        all
    }

    /// With trims as expected, and the solution as its response to them has it.
    fn as_expected(given: Given<'a>) -> Self {
        let mut all = Self::new(given);
        all.point = all.system.forecast(given.start).into_owned();
        all
    }

    /// Where the nominal solution's response to parts and trims has both the trims and the solution.
    fn forecast(given: Given<'a>) -> Option<Self> {
        let mut all = Self::new(given);
        let response = given.start.sensitivity.as_ref()?;
        let along = |k: usize| response.along(k, &all.direction(k));
        let responses: SmallVec<[Move; 4]> = (0..all.trims.len()).map(along).collect();
        let mut steps = [0.0; 2];
        for _ in 0..FORECASTS {
            let linear = response.model(&all.system, steps);
            let Self { system, sensors, .. } = &all;
            let (point, linear, responses) = (&given.start.point, &linear, &responses[..]);
            let loops = LinearLoops { system, point, linear, responses, sensors };
            let step = loops.step(&all.trims)?;
            steps = [step.charge, step.h];
            let (point, trims) = (step.taken(&loops), step.added_to(&all.trims));
            all.go_to(point, trims)?;
        }
        let mut moves = all.trims.iter().zip(given.loops.expected).map(|(a, b)| (a - b).abs());
        moves.all(|own| own < FAR_FORECAST).then_some(all)
    }

    fn settle(mut self) -> Option<SettledLoops> {
        let (mut last, mut bound) = (f64::INFINITY, self.far());
        for _ in 0..STEPS {
            let step = self.next_step(last)?;
            if arrived(step.size, last) {
                return self.settled();
            }
            self.take(&step, bound)?;
            (last, bound) = (step.size, (SHORTENS * step.size).max(1e-8));
        }
        None
    }

    /// What is told about a point next to which the loops settle.
    fn approach(mut self, detail: Detail) -> Option<ApproachedLoops> {
        let (mut last, mut bound) = (f64::INFINITY, self.far());
        for _ in 0..STEPS {
            let step = self.next_step(last)?;
            if step.size < NEAR {
                return self.told(&step, detail);
            }
            self.take(&step, bound)?;
            (last, bound) = (step.size, SHORTENS * step.size);
        }
        None
    }

    /// The longest step to begin with.
    const fn far(&self) -> f64 {
        match self.system.source {
            Source::Chain(_) => FAR,
            Source::Paralleled { .. } => FAR_PARALLELED,
        }
    }

    /// The step from where the iteration is, to which the step before led.
    fn next_step(&mut self, last: f64) -> Option<TrimStep> {
        self.system.linearise(&self.point, &mut self.linear)?;
        if last > ANEW {
            self.respond()?;
        }
        self.linear_loops().step(&self.trims)
    }

    /// Goes where a step leads, if it is short enough.
    fn take(&mut self, step: &TrimStep, bound: f64) -> Option<()> {
        if !(step.size < bound && self.point.z.iter().all(credible)) {
            return None;
        }
        let (point, trims) = (step.taken(&self.linear_loops()), step.added_to(&self.trims));
        self.go_to(point, trims)
    }

    /// What is told one step away from where the loops settle, if they do within their range.
    fn told(self, step: &TrimStep, detail: Detail) -> Option<ApproachedLoops> {
        let own = self.linear_loops();
        let Self { system, point, linear, trims, given, .. } = &self;
        let Given { case, start, loops, .. } = *given;
        let size = step.size;
        let is_inside = trims.iter().all(|trim| trim.abs() + 2.0 * size < loops.range);
        let rise = system.step(point, linear, HalfPeriod::Regulated)?;
        if !(is_inside && system.is_next_to(point, size) && system.is_sure_of(linear, &rise, point))
        {
            return None;
        }
        let after = step.output_currents(&own);
        let near = Near { point, linear, case, base: &start.base, size };
        let approach = system.approached(&near, &after, detail)?;
        let answers = self.answers()?;
        Some(ApproachedLoops { approach, trims: self.trims, answers })
    }

    fn linear_loops(&self) -> LinearLoops<'_> {
        let Self { system, point, linear, responses, sensors, .. } = self;
        LinearLoops { system, point, linear, responses, sensors }
    }

    /// Gives the phases their trims.
    fn trim(&mut self) {
        for k in 0..self.trims.len() {
            self.system.phases[k] = self.phase(k, self.trims[k]);
        }
    }

    /// Phase `k` with a trim.
    fn phase(&self, k: usize, trim: f64) -> PerUnitPhase<'a> {
        let Given { untrimmed, case, links, start, effort, loops } = self.given;
        let tank = &loops.trimmed(&untrimmed.tanks[k], trim);
        let mut phase = Part { tank, case, links, k }.phase(&start.base, effort);
        phase.look_below_rest(true);
        phase
    }

    /// How the inputs of phase `k` move with its trim.
    fn direction(&self, k: usize) -> [f64; INPUTS] {
        let (own, nudged) =
            (self.system.phases[k].inputs(), self.phase(k, self.trims[k] + NUDGE).inputs());
        std::array::from_fn(|n| (nudged[n] - own[n]) / NUDGE)
    }

    /// How the phases respond to their trims, by difference quotients.
    fn respond(&mut self) -> Option<()> {
        let forcing = self.system.forcing(&self.point);
        self.responses.clear();
        for k in 0..self.trims.len() {
            let phase = self.phase(k, self.trims[k] + NUDGE);
            let hints = &self.linear.periods[k].hints;
            let cycle = phase.trace(&self.point.z[k], self.point.h, hints, |_, _| {})?;
            let moved = cycle.equations(forcing, phase.elastance()).respond()?;
            let trends = &self.linear.trends[k];
            let (amplitude, output) =
                (cycle.amplitude_trend(&moved).value, cycle.output_trend(&moved).value);
            self.responses.push(Move {
                z: (moved.base - self.linear.responses[k].base) / NUDGE,
                amplitude: (amplitude - trends.amplitude.value) / NUDGE,
                output: (output - trends.output.value) / NUDGE,
            });
        }
        Some(())
    }

    /// Goes on from other unknowns; not where a trim leaves its range.
    fn go_to(&mut self, point: ConverterUnknowns, trims: ArrayVec<f64, MAX_PHASES>) -> Option<()> {
        if !trims.iter().all(|own| own.abs() < self.given.loops.range) {
            return None;
        }
        (self.point, self.trims) = (point, trims);
        self.trim();
        Some(())
    }

    /// What is told where the iteration has arrived, if that is a solution at the highest frequency in the band.
    fn settled(&self) -> Option<SettledLoops> {
        let Self { system, point, linear, .. } = self;
        let Given { case, start, .. } = self.given;
        let step = system.step(point, linear, HalfPeriod::Regulated)?;
        let is_solution = system.miss(point, linear, HalfPeriod::Regulated) < HOLDS
            && system.allows(point.h)
            && system.is_sure_of(linear, &step, point);
        if !is_solution {
            return None;
        }
        let answers = self.answers()?;
        let state = system.state_in(case, &start.base, point, linear);
        Some(SettledLoops { state, trims: self.trims.clone(), answers })
    }

    /// By how much the output currents, in ampere, change by the trim of each phase but the last one, which is
    /// taken off that one's.
    fn answers(&self) -> Option<Vec<ArrayVec<f64, MAX_PHASES>>> {
        let (own, last) = (self.linear_loops(), self.trims.len() - 1);
        let ampere = self.given.start.base.ampere();
        let answer = |up: usize| {
            let mut answer = own.answer(up, last)?;
            answer.iter_mut().for_each(|own| *own *= ampere);
            Some(answer)
        };
        (0..last).map(answer).collect()
    }
}
