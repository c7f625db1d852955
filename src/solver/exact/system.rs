//! The whole converter: all phases, their common charge and the regulated frequency at once.

use smallvec::SmallVec;

use super::cycle::{Cycle, Equations, Forcing, PerUnitPhase, PhaseUnknowns, Response, Trend};
use super::half::{Hints, Stretch};
use super::settle::{arrived, credible};
use crate::solver::effort::Effort;

/// Joint Newton steps before the search takes over.
const NEWTON_STEPS: usize = 24;
/// By what part of itself a whole step must make the next one shorter, lest it leaps to and fro.
const SHORTENS: f64 = 0.3;
/// Largest change of the half period in one step, as a fraction.
const LONGEST_STRIDE: f64 = 0.2;

/// After a step that leaves at most so much of the unknowns for the next one, none follows if the equations hold
/// as closely as `NO_MISS`, relatively.
const SQUARED: f64 = 1e-11;
const NO_MISS: f64 = 1e-12;

/// How closely the equations must hold, relatively, for a point to count as a solution. Newton's
/// iteration comes far closer; but where brackets have closed on a jump, nothing holds.
pub(super) const HOLDS: f64 = 1e-6;

/// One slot a phase.
pub(super) type PerPhase<T> = Vec<T>;

/// What the phases stand on. Per-unit quantities.
#[derive(Debug, Clone, Copy)]
pub(super) enum Source {
    /// A chain.
    Chain(ChainSource),
    /// Every phase on a source of this amplitude.
    Paralleled { amplitude: f64 },
}

/// What a chain's phases stand on: one charge Q, and amplitudes with `ΣW = input + ripple · Q/2`.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChainSource {
    pub(super) input: f64,
    /// Sum of 1/C over the flying capacitors of the driven legs.
    pub(super) ripple: f64,
}

impl ChainSource {
    /// What the amplitudes sum to when the chain passes a charge.
    pub(super) fn amplitude(self, charge: f64) -> f64 {
        self.input + self.ripple / 2.0 * charge
    }
}

/// A converter to be solved, in per-unit quantities.
#[derive(Debug, Clone)]
pub(super) struct PerUnitConverter<'a> {
    pub(super) phases: PerPhase<PerUnitPhase<'a>>,
    /// Whether a phase runs half a period behind the first one of the healthy converter.
    pub(super) is_late: PerPhase<bool>,
    pub(super) source: Source,
    pub(super) output_current: f64,
    /// Shortest and longest half period allowed.
    pub(super) half_periods: (f64, f64),
    /// The work that may be taken to solve it.
    pub(super) effort: &'a Effort<'a>,
}

/// A point in the space of unknowns; at a steady state, the solution.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ConverterUnknowns {
    pub(super) z: PerPhase<PhaseUnknowns>,
    /// Charge Q a half period; without meaning in the paralleled arrangement.
    pub(super) charge: f64,
    /// Half period.
    pub(super) h: f64,
}

/// Whether the half period is an unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum HalfPeriod {
    /// It stays as it is.
    Given,
    /// It is set so that the output current is met.
    Regulated,
}

/// Where Newton's iteration arrived.
#[derive(Debug, Clone)]
pub(super) struct Converged {
    pub(super) point: ConverterUnknowns,
    pub(super) current: f64,
    /// How the current rises with the half period.
    pub(super) rise: f64,
    /// Whether no higher frequency can deliver this current; when not sure, not.
    pub(super) highest: bool,
}

/// The stretches of a half period: rarely more than four.
pub(super) type Stretches = SmallVec<[Stretch; 4]>;

/// One period of a phase as it was followed.
#[derive(Debug, Clone, Default)]
pub(super) struct Period {
    /// Of both halves; of mirrored ones the first half's alone.
    pub(super) stretches: [Stretches; 2],
    /// Output current.
    pub(super) output: f64,
    /// Amplitude of the source.
    pub(super) amplitude: f64,
    /// By how much, relatively, an equation of the phase does not hold.
    miss: f64,
    /// Where the events of both halves are expected when it is followed again.
    pub(super) hints: [Hints; 2],
}

/// What a phase contributes to its converter's linearisation.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct PhaseTrends {
    /// Amplitude of its source.
    pub(super) amplitude: Trend,
    /// Its output current.
    pub(super) output: Trend,
}

/// The converter followed over one period and linearised about it.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    /// As they were; empty where the linearisation is a forecast.
    pub(super) periods: PerPhase<Period>,
    pub(super) responses: PerPhase<Response>,
    pub(super) trends: PerPhase<PhaseTrends>,
    /// Sums over the phases.
    pub(super) amplitude: Trend,
    pub(super) output: Trend,
    /// The least by which any phase's output current rises with the half period.
    least_rise: f64,
}

impl Default for Linear {
    fn default() -> Self {
        Self {
            periods: PerPhase::new(),
            responses: PerPhase::new(),
            trends: PerPhase::new(),
            amplitude: Trend::default(),
            output: Trend::default(),
            least_rise: f64::INFINITY,
        }
    }
}

impl Linear {
    /// Expects the events where `hints` has them.
    pub(super) fn expect(&mut self, hints: &PerPhase<[Hints; 2]>) {
        for hints in hints {
            self.periods.push(Period::default());
            if let Some(period) = self.periods.last_mut() {
                period.hints.clone_from(hints);
            }
        }
    }

    /// Where the events were.
    pub(super) fn hints(&self) -> PerPhase<[Hints; 2]> {
        self.periods.iter().map(|p| p.hints.clone()).collect()
    }

    /// Empties all but the hints.
    fn clear(&mut self, phases: usize) {
        while self.periods.len() < phases {
            self.periods.push(Period::default());
        }
        self.periods.iter_mut().flat_map(|p| &mut p.stretches).for_each(Stretches::clear);
        self.responses.clear();
        self.trends.clear();
        (self.amplitude, self.output) = (Trend::default(), Trend::default());
        self.least_rise = f64::INFINITY;
    }

    /// Adds a phase.
    pub(super) fn add(&mut self, response: Response, trends: PhaseTrends) {
        self.responses.push(response);
        self.trends.push(trends);
        self.amplitude += trends.amplitude;
        self.output += trends.output;
    }

    /// Output current of the periods followed.
    pub(super) fn current(&self) -> f64 {
        self.periods.iter().map(|p| p.output).sum()
    }
}

/// A step of all unknowns.
pub(super) struct NewtonStep {
    pub(super) charge: f64,
    pub(super) h: f64,
    /// How the output current rises with the half period, all else at its steady state.
    rise: f64,
}

impl PerUnitConverter<'_> {
    pub(super) fn forcing(&self, point: &ConverterUnknowns) -> Forcing {
        match self.source {
            Source::Chain(_) => Forcing::Charge(point.charge),
            Source::Paralleled { amplitude } => Forcing::Amplitude(amplitude),
        }
    }

    /// Follows all phases over a period, into `linear`, without its responses.
    pub(super) fn observe(&self, point: &ConverterUnknowns, linear: &mut Linear) -> Option<()> {
        self.follow_phases(point, linear, |_, _, _| Some(()))
    }

    /// Follows all phases over a period and linearises them, into `linear`.
    pub(super) fn linearise(&self, point: &ConverterUnknowns, linear: &mut Linear) -> Option<()> {
        self.follow_phases(point, linear, |phase, (cycle, equations), linear| {
            let response = equations.respond()?;
            let output = cycle.output_trend(&response);
            let amplitude = cycle.amplitude_trend(&response);
            let stays_idle = cycle.output.value == 0.0 && phase.stays_idle_above(point.h);
            if !stays_idle {
                linear.least_rise = linear.least_rise.min(output.by_period);
            }
            linear.add(response, PhaseTrends { amplitude, output });
            Some(())
        })
    }

    fn follow_phases(
        &self,
        point: &ConverterUnknowns,
        linear: &mut Linear,
        mut and: impl FnMut(&PerUnitPhase, (&Cycle, &Equations), &mut Linear) -> Option<()>,
    ) -> Option<()> {
        let forcing = self.forcing(point);
        linear.clear(self.phases.len());
        for (k, (phase, z)) in self.phases.iter().zip(&point.z).enumerate() {
            // Filled where it stays: it is large.
            let Period { stretches, hints, .. } = &mut linear.periods[k];
            let see = |half: usize, stretch| stretches[half].push(stretch);
            let cycle = phase.trace(z, point.h, hints, see)?;
            for (hints, stretches) in hints.iter_mut().zip(stretches) {
                hints.expect(stretches);
            }
            let equations = cycle.equations(forcing, phase.elastance());
            let period = &mut linear.periods[k];
            (period.output, period.amplitude) = (cycle.output.value, cycle.amplitude.value);
            period.miss = equations.miss() / (1.0 + z.amax());
            and(phase, (&cycle, &equations), linear)?;
        }
        Some(())
    }

    /// Largest relative residual of the equations at the point that was followed: those of each
    /// phase, the sum of the amplitudes and, where it is regulated, the output current.
    pub(super) fn miss(
        &self,
        point: &ConverterUnknowns,
        linear: &Linear,
        period: HalfPeriod,
    ) -> f64 {
        let phases = linear.periods.iter().map(|p| p.miss).fold(0.0, f64::max);
        let current = match period {
            HalfPeriod::Given => 0.0,
            HalfPeriod::Regulated => (linear.current() / self.output_current - 1.0).abs(),
        };
        let sources = match self.source {
            Source::Paralleled { .. } => 0.0,
            Source::Chain(ChainSource { input, ripple }) => {
                let amplitude: f64 = linear.periods.iter().map(|p| p.amplitude).sum();
                ((amplitude - input - ripple / 2.0 * point.charge) / input).abs()
            }
        };
        phases.max(current).max(sources)
    }

    /// Takes all phases' slopes at a start without rectifier current just below it, or as they are.
    pub(super) fn look_below_rest(&mut self, below: bool) {
        self.phases.iter_mut().for_each(|phase| phase.look_below_rest(below));
    }

    /// The step of charge and half period that meets the sum of the amplitudes and the output
    /// current. A given half period stays, and only the charge is found.
    pub(super) fn step(
        &self,
        point: &ConverterUnknowns,
        linear: &Linear,
        period: HalfPeriod,
    ) -> Option<NewtonStep> {
        let (w, i) = (linear.amplitude, linear.output);
        let missing = self.output_current - i.value;
        // Charge as a linear function of the half period's step: dQ = at_rest + follow · dh.
        let (at_rest, follow) = match self.source {
            Source::Paralleled { .. } => (0.0, 0.0),
            Source::Chain(ChainSource { input, ripple }) => {
                let slope = w.by_forcing - ripple / 2.0;
                let surplus = w.value - input - ripple / 2.0 * point.charge;
                (-surplus / slope, -w.by_period / slope)
            }
        };
        let rise = i.by_period + i.by_forcing * follow;
        let h = match period {
            HalfPeriod::Given => 0.0,
            HalfPeriod::Regulated => (missing - i.by_forcing * at_rest) / rise,
        };
        let charge = at_rest + follow * h;
        (h.is_finite() && charge.is_finite()).then_some(NewtonStep { charge, h, rise })
    }

    /// Newton's iteration on everything at once. `None` where it does not converge; where it does,
    /// `linear` holds the period at the point that it arrived at.
    pub(super) fn newton(
        &self,
        start: &ConverterUnknowns,
        period: HalfPeriod,
        linear: &mut Linear,
    ) -> Option<Converged> {
        self.clone().newton_revised(start, period, linear, |_, _, _| false)
    }

    /// The same for a converter whose parts depend on its currents. Between the steps `revise` may change
    /// the phases, and adds what that makes to the linearisation; whether it did.
    pub(super) fn newton_revised(
        &mut self,
        start: &ConverterUnknowns,
        period: HalfPeriod,
        linear: &mut Linear,
        mut revise: impl FnMut(&mut Self, &ConverterUnknowns, &mut Linear) -> bool,
    ) -> Option<Converged> {
        let mut point = start.clone();
        let (mut last, mut share) = (f64::INFINITY, 1.0);
        for _ in 0..NEWTON_STEPS {
            self.linearise(&point, linear)?;
            let is_revised = revise(self, &point, linear);
            let step = self.step(&point, linear, period)?;
            let size = point.size_of(linear, &step);
            if arrived(size, last) && self.miss(&point, linear, period) < HOLDS {
                if !point.z.iter().all(credible) {
                    return None;
                }
                let highest = self.is_highest(linear, &step);
                let (current, rise) = (linear.current(), step.rise);
                return Some(Converged { point, current, rise, highest });
            }
            // Where a phase just begins or ceases to conduct through the switching instant the
            // equations have a kink, and whole steps can leap to and fro across it for ever.
            // What is left after a share of a step is no sign of that.
            let expected = (1.0 - SHORTENS * share) * last;
            share = if size > expected { 0.5 * share } else { (2.0_f64 * share).min(1.0) };
            let taken = share.min(step.trusted(&point));
            point.advance(linear, &step, taken);
            // A whole step that squares the error leaves nothing. Then the equations are seen to hold, which takes
            // less than to linearise them again.
            let squares = taken >= 1.0 && size * (size / last).powi(2) < SQUARED;
            if squares && !is_revised && last.is_finite() {
                let highest = self.is_highest(linear, &step);
                self.observe(&point, linear)?;
                if self.miss(&point, linear, period) < NO_MISS && point.z.iter().all(credible) {
                    let (current, rise) = (linear.current(), step.rise);
                    return Some(Converged { point, current, rise, highest });
                }
            }
            last = size;
        }
        None
    }

    /// How the output current of a settled converter rises with the half period; NaN where that
    /// is not determined.
    pub(super) fn rise(&self, point: &ConverterUnknowns) -> f64 {
        let mut linear = Linear::default();
        let step = self
            .linearise(point, &mut linear)
            .and_then(|()| self.step(point, &linear, HalfPeriod::Given));
        step.map_or(f64::NAN, |step| step.rise)
    }

    /// Whether the phases could share the current in other ways as well. That is so where at least
    /// two are, within `tolerance`, shorts between their source and an output of the same voltage.
    pub(super) fn leaves_split_open(&self, h: f64, tolerance: f64) -> bool {
        let Source::Paralleled { amplitude } = self.source else { return false };
        let shorts = self.phases.iter().filter(|phase| phase.is_short(amplitude, h, tolerance));
        shorts.count() > 1
    }

    /// Whether no higher frequency can deliver the output as well.
    ///
    /// The current of a paralleled phase alone has one peak over frequency. If every phase is on
    /// the falling side, so is their sum from here upward.
    pub(super) fn is_highest(&self, linear: &Linear, step: &NewtonStep) -> bool {
        match self.source {
            Source::Chain(_) => step.rise > 0.0,
            Source::Paralleled { .. } => linear.least_rise > 0.0,
        }
    }
}

impl NewtonStep {
    /// A quantity after the step, by its trend.
    pub(super) fn leads_to(&self, trend: &Trend) -> f64 {
        trend.value + trend.by_forcing * self.charge + trend.by_period * self.h
    }

    /// The share of a step that a linearisation can be trusted with.
    pub(super) fn trusted(&self, point: &ConverterUnknowns) -> f64 {
        (LONGEST_STRIDE * point.h / self.h.abs()).min(1.0)
    }
}

impl ConverterUnknowns {
    /// Size of a whole step, relative to the unknowns.
    pub(super) fn size_of(&self, linear: &Linear, step: &NewtonStep) -> f64 {
        let size = (step.h / self.h).abs().max((step.charge / self.charge).abs());
        self.z.iter().zip(&linear.responses).fold(size, |size, (z, r)| {
            let dz = r.base + r.forcing * step.charge + r.period * step.h;
            size.max(dz.amax() / (1.0 + z.amax()))
        })
    }

    /// Takes a share of a step. The charge stays positive.
    pub(super) fn advance(&mut self, linear: &Linear, step: &NewtonStep, share: f64) {
        for (z, r) in self.z.iter_mut().zip(&linear.responses) {
            *z += (r.base + r.forcing * step.charge + r.period * step.h) * share;
        }
        self.charge = (self.charge + step.charge * share).max(0.1 * self.charge);
        self.h += step.h * share;
    }
}
