//! Paralleled phases, each at a switching frequency of its own, until their sensors agree.
//!
//! A stiff output decouples phases that do not share a bridge: phase k alone delivers its current I(k) at
//! the highest frequency f(k) that does. All readings agree and all currents add up to the output's. Where
//! f(k) would leave the range about the frequency at which all phases together deliver the output, it
//! stays at the end of the range and gives what it gives there; the others agree among themselves.
//!
//! At frequencies that differ the phases do not keep step. Ripples of different frequencies have no
//! product in the mean: the squares of their RMS values add. At the worst instant of the beat their
//! peak-to-peak values add.
//!
//! Where losses are told apart, the tanks see what the solution at the common frequency makes of their
//! resistances and drops. Their switches lose at turn-on what they do there. Frequencies of their own
//! change currents by a few percent, and these resistances far less.

use std::borrow::Cow;

use arrayvec::ArrayVec;

use super::case::Trimmed;
use super::range::{AGREEMENT, PhaseValues, mean};
use super::search::Failure;
use crate::converter::{Converter, FrequencyBand, MAX_PHASES, Sensor, Sensors, Shared};
use crate::solver::case::Case;
use crate::solver::commutation::Commutation;
use crate::solver::dissipation::{Nearby, SelfHeated};
use crate::solver::effort::Effort;
use crate::solver::limited::Solver;
use crate::solver::steady_state::{Outcome, OutputRipple, PhaseState, SteadyState, Unsolved};
use crate::units::{Ampere, Hertz, Ohm, Volt};

/// Searches whose work the frequencies of one converter may take.
const SEARCHES: f64 = 4.0;
/// How far beyond the band a single phase is followed, to tell which end of its range it meets.
const WIDER: f64 = 2.0;
/// Most steps to readings that agree, and to the current at a frequency.
const STEPS: usize = 60;
/// How closely a phase at an end of its range meets that frequency, relatively.
const AT_END: f64 = 1e-9;
/// Least share of its current that a step leaves a phase.
const LEAST: f64 = 0.2;

/// Frequency loops of paralleled phases in a case.
#[derive(Debug, Clone, Copy)]
pub struct FrequencyTrimCase<'a> {
    /// The solver.
    pub solver: Solver<'a>,
    /// What is solved, in the paralleled arrangement; its start is not used.
    pub case: &'a Case,
    /// What the sensors measure.
    pub measured: Shared,
    /// The range to either side, a fraction of the frequency at which all phases together deliver the
    /// output.
    pub range: f64,
    /// What sensor and loop add to every phase's series resistance.
    pub added_resistance: Ohm,
}

/// What every sample is solved from.
#[derive(Debug, Clone)]
pub struct FrequencyTrimStart {
    /// All phases at one frequency.
    common: Case,
    /// A nominal phase alone at its share of the output.
    alone: Case,
}

/// A phase alone at some output current.
#[derive(Debug, Clone)]
struct PhasePoint {
    current: f64,
    frequency: f64,
    measured: f64,
    state: PhaseState,
    ripple: Option<OutputRipple>,
}

/// A phase on its way to agreement.
#[derive(Debug, Clone)]
struct PhaseLoop {
    at: PhasePoint,
    /// How the measured current answers the output current.
    slope: f64,
    is_at_end: bool,
}

impl FrequencyTrimCase<'_> {
    /// Solves the nominal converter, whose phases agree at one frequency.
    pub fn prepare(&self, nominal: &Converter) -> (Outcome, Option<FrequencyTrimStart>) {
        let nominal = self.with_resistance(nominal);
        let (outcome, common) = self.solver.prepare(&nominal, self.case.clone());
        let Some(state) = outcome.solved() else { return (outcome, None) };
        let seen = seen_at(state, &nominal, &common);
        let share = self.case.point.output_current.0 / nominal.phases() as f64;
        let alone = self.alone(nominal.phases(), share);
        let (_, alone) = self.solver.prepare(&phase(&seen, 0), alone);
        (outcome, Some(FrequencyTrimStart { common, alone }))
    }

    /// Runs the phases of a converter at frequencies at which its sensors agree, both under the condition
    /// of the case.
    pub fn settle(
        &self,
        converter: &Converter,
        sensors: &Sensors,
        from: &FrequencyTrimStart,
    ) -> Trimmed {
        let parts = self.with_resistance(converter);
        let condition = &self.case.point.condition;
        let sensors: Sensors =
            sensors.iter().enumerate().map(|(k, sensor)| sensor.at(condition, k)).collect();
        let effort = self.solver.effort(SEARCHES);
        let mut search = FrequencySearch {
            case: self,
            parts: Cow::Borrowed(&parts),
            sensors: &sensors,
            from,
            effort,
            evaluations: 0,
        };
        let settled = search.settle();
        let (exhaustion, evaluations) = (search.effort.exhaustion(), search.evaluations);
        let phases = parts.phases();
        match settled {
            Ok((common, loops)) => {
                let frequencies: PhaseValues = loops.iter().map(|own| own.at.frequency).collect();
                let common_frequency = common.switching_frequency.0;
                Trimmed {
                    outcome: Outcome::Solved(steady_state(&loops, common.commutation)),
                    converter: parts,
                    trims: frequencies.iter().map(|f| f / common_frequency - 1.0).collect(),
                    at_end: loops.iter().map(|own| own.is_at_end).collect(),
                    // Their pulses come together again once they have slipped by one.
                    beat: Hertz(self.case.point.rectifier.pulses() * spread(&frequencies)),
                    evaluations,
                }
            }
            Err(failure) => Trimmed {
                outcome: exhaustion.map_or(failure.into(), Outcome::NotSolved),
                converter: parts,
                trims: std::iter::repeat_n(0.0, phases).collect(),
                at_end: std::iter::repeat_n(false, phases).collect(),
                beat: Hertz(0.0),
                evaluations,
            },
        }
    }

    fn with_resistance(&self, converter: &Converter) -> Converter {
        let mut changed = converter.at(&self.case.point.condition).into_owned();
        changed.tanks.iter_mut().for_each(|t| t.series_resistance.0 += self.added_resistance.0);
        changed
    }

    /// One of so many phases alone, with this output current.
    fn alone(&self, phases: usize, current: f64) -> Case {
        let mut case = self.case.clone();
        case.point.input_voltage = Volt(case.point.input_voltage.0 / phases as f64);
        case.point.output_current = Ampere(current);
        let FrequencyBand { minimum, maximum } = case.band;
        case.band =
            FrequencyBand { minimum: Hertz(minimum.0 / WIDER), maximum: Hertz(maximum.0 * WIDER) };
        case
    }
}

/// A phase of a converter as a converter of its own.
fn phase(converter: &Converter, k: usize) -> Converter {
    Converter::uniform(1, converter.tanks[k], crate::units::Farad(1.0))
}

fn spread(values: &[f64]) -> f64 {
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(*x), high.max(*x)));
    high - low
}

/// What the tanks see in a solution, where losses make it of their resistances and drops.
fn seen_at<'a>(state: &SteadyState, parts: &'a Converter, case: &Case) -> Cow<'a, Converter> {
    if parts.losses.is_none() {
        return Cow::Borrowed(parts);
    }
    let case = Case { nearby: Some(Box::new(Nearby::new(state.clone()))), ..case.clone() };
    Cow::Owned(SelfHeated::new(parts, &case).first())
}

/// All phases together, whose switches turn on so; the frequency is their mean.
fn steady_state(loops: &[PhaseLoop], commutation: Option<Commutation>) -> SteadyState {
    let frequencies: PhaseValues = loops.iter().map(|own| own.at.frequency).collect();
    let ripples: Option<ArrayVec<OutputRipple, MAX_PHASES>> =
        loops.iter().map(|own| own.at.ripple).collect();
    SteadyState {
        switching_frequency: Hertz(mean(&frequencies)),
        phases: loops.iter().map(|own| own.at.state).collect(),
        commutation,
        dissipation: None,
        output_ripple: ripples.map(|all| OutputRipple {
            rms: Ampere(all.iter().map(|own| own.rms.0.powi(2)).sum::<f64>().sqrt()),
            peak_to_peak: Ampere(all.iter().map(|own| own.peak_to_peak.0).sum()),
        }),
    }
}

/// The search for one converter's frequencies.
struct FrequencySearch<'a> {
    case: &'a FrequencyTrimCase<'a>,
    /// As the tanks see them.
    parts: Cow<'a, Converter>,
    sensors: &'a [Sensor],
    from: &'a FrequencyTrimStart,
    effort: Effort<'a>,
    evaluations: usize,
}

impl FrequencySearch<'_> {
    /// The solution at the common frequency without loops, and all phases with them.
    fn settle(&mut self) -> Result<(SteadyState, ArrayVec<PhaseLoop, MAX_PHASES>), Failure> {
        let common = self.common()?;
        if let Cow::Owned(seen) = seen_at(&common, &self.parts, &self.from.common) {
            self.parts = Cow::Owned(seen);
        }
        let (frequency, band) = (common.switching_frequency.0, self.case.case.band);
        let ends = [
            (frequency * (1.0 - self.case.range)).max(band.minimum.0),
            (frequency * (1.0 + self.case.range)).min(band.maximum.0),
        ];
        let share = self.case.case.point.output_current.0 / self.parts.phases() as f64;
        let mut loops = ArrayVec::new();
        for k in 0..self.parts.phases() {
            let at = self.at(k, share)?;
            loops.push(PhaseLoop { slope: at.measured / at.current, at, is_at_end: false });
        }
        // Each round holds one more phase at an end of its range.
        for _ in 0..=loops.len() {
            self.agree(&mut loops)?;
            let Some((k, end)) = farthest_outside(&loops, ends) else {
                return Ok((common, loops));
            };
            loops[k].at = self.at_frequency(k, &loops[k].at, end)?;
            loops[k].is_at_end = true;
        }
        Err(Failure::OutOfRange)
    }

    /// All phases together, at one frequency.
    fn common(&mut self) -> Result<SteadyState, Failure> {
        self.evaluations += 1;
        let solver = &self.case.solver;
        match solver.method.solve_within(&self.effort, &self.parts, &self.from.common) {
            Outcome::Solved(state) => Ok(state),
            Outcome::OutOfRange => Err(Failure::OutOfRange),
            Outcome::NotSolved(why) => Err(Failure::NotSolved(why)),
        }
    }

    /// Phase `k` alone at an output current.
    fn at(&mut self, k: usize, current: f64) -> Result<PhasePoint, Failure> {
        self.evaluations += 1;
        let mut case = self.from.alone.clone();
        case.point.output_current = Ampere(current);
        let solver = &self.case.solver;
        match solver.method.solve_within(&self.effort, &phase(&self.parts, k), &case) {
            Outcome::Solved(state) => Ok(PhasePoint {
                current,
                frequency: state.switching_frequency.0,
                measured: state.phases[0].shared(self.case.measured).0,
                state: state.phases[0],
                ripple: state.output_ripple,
            }),
            Outcome::OutOfRange => Err(Failure::OutOfRange),
            Outcome::NotSolved(why) => Err(Failure::NotSolved(why)),
        }
    }

    /// Leads the phases that are at no end to equal readings; all currents add up to the output's.
    fn agree(&mut self, loops: &mut [PhaseLoop]) -> Result<(), Failure> {
        for _ in 0..STEPS {
            let steps = steps(loops, self.sensors, self.case.case.point.output_current.0);
            let Some(steps) = steps else { return Err(Failure::OutOfRange) };
            let readings = loops.iter().zip(self.sensors).filter(|(own, _)| !own.is_at_end);
            let readings: PhaseValues =
                readings.map(|(own, s)| s.reading(Ampere(own.at.measured))).collect();
            let moved = steps.iter().zip(&*loops).map(|(step, own)| (step / own.at.current).abs());
            let agrees = spread(&readings) <= AGREEMENT * mean(&readings).abs();
            if agrees && moved.fold(0.0, f64::max) <= AGREEMENT {
                return Ok(());
            }
            for (k, step) in steps.into_iter().enumerate() {
                if loops[k].is_at_end || step == 0.0 {
                    continue;
                }
                let old = loops[k].at.clone();
                let new = self.at(k, (old.current + step).max(LEAST * old.current))?;
                let slope = (new.measured - old.measured) / (new.current - old.current);
                if slope.is_finite() && slope > 0.0 {
                    loops[k].slope = slope;
                }
                loops[k].at = new;
            }
        }
        Err(Failure::NotSolved(Unsolved::TrimsAdrift))
    }

    /// Phase `k` at a frequency, from where it is: secants on its current.
    fn at_frequency(&mut self, k: usize, at: &PhasePoint, end: f64) -> Result<PhasePoint, Failure> {
        let mut old = at.clone();
        // A phase delivers less at a higher frequency.
        let mut new = self.at(k, old.current * if old.frequency < end { 0.95 } else { 1.05 })?;
        for _ in 0..STEPS {
            if (new.frequency / end - 1.0).abs() <= AT_END {
                return Ok(new);
            }
            let slope = (new.current - old.current) / (new.frequency - old.frequency);
            if !slope.is_finite() {
                return Ok(new);
            }
            let next = new.current + slope * (end - new.frequency);
            let next = next.clamp(LEAST * new.current, new.current / LEAST);
            old = std::mem::replace(&mut new, self.at(k, next)?);
        }
        Err(Failure::NotSolved(Unsolved::TrimsAdrift))
    }
}

/// By how much each current is to change so that, to first order, all readings agree and all currents add
/// up to `output`; none for phases at an end. `None` where the phases at their ends leave nothing.
fn steps(loops: &[PhaseLoop], sensors: &[Sensor], output: f64) -> Option<PhaseValues> {
    let fixed: f64 = loops.iter().filter(|own| own.is_at_end).map(|own| own.at.current).sum();
    let free = || loops.iter().zip(sensors).filter(|(own, _)| !own.is_at_end);
    if output - fixed <= 0.0 || free().next().is_none() {
        return None;
    }
    // Reading r asks phase k for a current of I + ((r − o)/g − x)/s.
    let rate: f64 = free().map(|(own, s)| 1.0 / (s.gain * own.slope)).sum();
    let at_zero: f64 = free()
        .map(|(own, s)| own.at.current - (s.offset.0 / s.gain + own.at.measured) / own.slope)
        .sum();
    let reading = (output - fixed - at_zero) / rate;
    let step = |(own, s): (&PhaseLoop, &Sensor)| {
        if own.is_at_end {
            return 0.0;
        }
        ((reading - s.offset.0) / s.gain - own.at.measured) / own.slope
    };
    Some(loops.iter().zip(sensors).map(step).collect())
}

/// The free phase farthest outside the range, with the end that it meets.
fn farthest_outside(loops: &[PhaseLoop], [low, high]: [f64; 2]) -> Option<(usize, f64)> {
    let outside = loops.iter().enumerate().filter(|(_, own)| !own.is_at_end).map(|(k, own)| {
        let f = own.at.frequency;
        if f < low { (k, low, low / f - 1.0) } else { (k, high, f / high - 1.0) }
    });
    let farthest = outside.reduce(|a, b| if b.2 > a.2 { b } else { a })?;
    (farthest.2 > AT_END).then_some((farthest.0, farthest.1))
}
