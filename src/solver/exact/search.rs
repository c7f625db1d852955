//! The slow and certain way to a steady state: down from the highest frequency.
//!
//! At each frequency the phases are settled one by one; in a chain the charge is found so that
//! the amplitudes sum to the input. Both are monotone, so brackets hold.

use super::cycle::{Forcing, PerUnitPhase, PhaseUnknowns, Trend};
use super::settle::{Passing, SettledPhase};
use super::system::{
    ChainSource, Converged, ConverterUnknowns, HOLDS, HalfPeriod, Linear, PerPhase,
    PerUnitConverter, Source,
};

/// Ratio of neighbouring half periods on the way down.
pub(super) const STRIDE: f64 = 1.02;
/// Step aside, relatively, from a half period at which nothing settles.
const ASIDE: f64 = 3e-4;
/// A chain that cannot pass this share of the wanted charge is far from delivering the output,
/// and counts as idle.
const IDLE: f64 = 1e-3;
/// Growth of a phase's current over a stride, relatively, from which on its peak may hide between
/// two strides.
const STEEP: f64 = 0.1;
/// Width of a peak, relatively, that a frequency cannot be set to.
const NARROWEST: f64 = 1e-9;

/// Turns of the slowest tank in a half period down to which the search goes.
pub(super) const LAST_TURN: f64 = 8.0;

/// When a stride is looked into for a cusp: share of the wanted current from which on; share of it
/// by which the ends may depart from a straight line; narrowest stride, relatively.
const CLOSE: f64 = 0.85;
const STRAIGHT: f64 = 2e-3;
const NARROW: f64 = 5e-4;

/// What the search found.
#[derive(Debug, Clone)]
pub(super) enum SearchResult {
    /// A steady state at the highest frequency that delivers the output.
    Solved(Box<ConverterUnknowns>),
    /// None inside the band of frequencies.
    OutOfRange,
    /// The search could not settle the converter somewhere; the last point where it did.
    Lost(Option<Box<ConverterUnknowns>>),
}

/// A settled converter and the current it delivers.
#[derive(Debug, Clone)]
pub(super) struct Delivered {
    pub(super) point: ConverterUnknowns,
    pub(super) current: f64,
    /// How the current rises with the half period; NaN where that is not determined.
    rise: f64,
}

/// By how much the amplitudes that a charge asks for surpass the chain's input.
#[allow(clippy::large_enum_variant, reason = "it is taken apart at once, where it arises")]
enum Surplus {
    /// By this much; below zero there is room for more charge.
    Of(f64, Delivered),
    /// One phase alone asks for more than all of it.
    Beyond,
}

impl From<Converged> for Delivered {
    fn from(at: Converged) -> Self {
        Self { point: at.point, current: at.current, rise: at.rise }
    }
}

impl PerUnitConverter<'_> {
    /// The steady state with the wanted output current at the highest frequency that has one.
    pub(super) fn search(&self) -> SearchResult {
        let shortest = self.half_periods.0;
        let longest = self.half_periods.1.min(self.last_turn());
        if shortest >= longest {
            return SearchResult::OutOfRange;
        }
        let mut guess = self.cold(shortest);
        let mut before: Option<Delivered> = None;
        let mut h = shortest;
        loop {
            let Some(now) = self.deliver_about(&guess, h) else {
                return SearchResult::Lost(before.map(|b| Box::new(b.point)));
            };
            let enough = now.current >= self.output_current;
            if let Some(before) = before {
                let peak =
                    self.reach_peak(&before, &now).or_else(|| self.reach_cusp(&before, &now));
                if let Some(mut above) = peak.or_else(|| enough.then(|| now.clone())) {
                    // Several peaks may lie in one stride: on to the first.
                    while let Some(nearer) = self.reach_peak(&before, &above) {
                        above = nearer;
                    }
                    return self.close_in(before, above);
                }
            }
            // Already too much at the highest frequency, or too little at the lowest.
            if enough || h >= longest {
                return SearchResult::OutOfRange;
            }
            h = (h * STRIDE).min(longest);
            guess = now.point.clone();
            before = Some(now);
        }
    }

    /// The half period in which the slowest tank without load makes its last turn that counts. From
    /// there on nothing new is found: see "How far down" in the folder's description.
    pub(super) fn last_turn(&self) -> f64 {
        LAST_TURN * self.phases.iter().map(PerUnitPhase::unloaded_turn).fold(0.0, f64::max)
    }

    /// A start without current.
    pub(super) fn cold(&self, h: f64) -> ConverterUnknowns {
        let amplitude = match self.source {
            Source::Chain(chain) => chain.input / self.phases.len() as f64,
            Source::Paralleled { amplitude } => amplitude,
        };
        let z = PhaseUnknowns::new(0.0, 0.0, amplitude, amplitude);
        ConverterUnknowns {
            z: self.phases.iter().map(|_| z).collect(),
            charge: self.full_charge(h),
            h,
        }
    }

    /// The charge with which the wanted output current would be delivered without loss, roughly.
    fn full_charge(&self, h: f64) -> f64 {
        self.output_current * h / self.phases.iter().map(PerUnitPhase::gain).sum::<f64>()
    }

    /// Settles the converter at half period `h`.
    pub(super) fn deliver(&self, guess: &ConverterUnknowns, h: f64) -> Option<Delivered> {
        let start = ConverterUnknowns { h, ..guess.clone() };
        if start.charge > IDLE * self.full_charge(h)
            && let Some(at) = self.newton(&start, HalfPeriod::Given, &mut Linear::default())
        {
            return Some(at.into());
        }
        match self.source {
            Source::Paralleled { amplitude } => {
                let settled =
                    self.settle_all(&start, |phase, z| phase.settle_at_amplitude(z, amplitude, h))?;
                Some(self.collect(&settled, start.charge, h))
            }
            Source::Chain(chain) => self.balance(&start, chain),
        }
    }

    /// Settles the converter at half period `h` or, where that fails, as it does without loss at
    /// places of no width, close by.
    fn deliver_about(&self, guess: &ConverterUnknowns, h: f64) -> Option<Delivered> {
        let (shortest, longest) = self.half_periods;
        [1.0, 1.0 - ASIDE, 1.0 + ASIDE]
            .into_iter()
            .find_map(|ratio| self.deliver(guess, (h * ratio).clamp(shortest, longest)))
    }

    fn settle_all(
        &self,
        start: &ConverterUnknowns,
        settle: impl Fn(&PerUnitPhase, &PhaseUnknowns) -> Option<SettledPhase>,
    ) -> Option<PerPhase<SettledPhase>> {
        self.phases.iter().zip(&start.z).map(|(phase, z)| settle(phase, z)).collect()
    }

    /// Settles a chain whose charge is given.
    fn pass(&self, start: &ConverterUnknowns, charge: f64, chain: ChainSource) -> Option<Surplus> {
        let needed = chain.amplitude(charge);
        let mut settled: PerPhase<SettledPhase> = PerPhase::new();
        for (phase, z) in self.phases.iter().zip(&start.z) {
            match phase.settle_at_charge(z, charge, start.h, needed)? {
                Passing::Settled(one) => settled.push(one),
                Passing::Beyond => return Some(Surplus::Beyond),
            }
        }
        let amplitude: f64 = settled.iter().map(|s| s.cycle.amplitude.value).sum();
        Some(Surplus::Of(amplitude - needed, self.collect(&settled, charge, start.h)))
    }

    /// Finds the charge of a chain at a fixed half period by bisection on its logarithm.
    fn balance(&self, start: &ConverterUnknowns, chain: ChainSource) -> Option<Delivered> {
        let full = self.full_charge(start.h);
        let (mut low, mut high) = (IDLE * full, f64::INFINITY);
        let mut best = match self.pass(start, low, chain)? {
            Surplus::Of(excess, delivered) if excess <= 0.0 => delivered,
            // It asks for more than there is: what it would deliver is none.
            Surplus::Of(_, idle) => return Some(Delivered::nothing(idle.point)),
            Surplus::Beyond => return Some(Delivered::nothing(start.clone())),
        };
        let (mut charge, mut missed) = (full, f64::INFINITY);
        loop {
            match self.pass(&best.point, charge, chain)? {
                Surplus::Beyond => high = charge,
                Surplus::Of(excess, delivered) => {
                    if let Some(at) =
                        self.newton(&delivered.point, HalfPeriod::Given, &mut Linear::default())
                    {
                        return Some(at.into());
                    }
                    if excess < 0.0 {
                        low = charge;
                    } else {
                        high = charge;
                    }
                    (best, missed) = (delivered, excess.abs());
                }
            }
            if high / low < 1.0 + 1e-13 {
                return (missed < HOLDS * chain.input).then_some(best);
            }
            charge = if high.is_finite() { (low * high).sqrt() } else { 4.0 * charge };
            if charge > 1e9 * full {
                return None;
            }
        }
    }

    /// A point between two neighbouring half periods that delivers enough although the first does
    /// not, and the second perhaps neither.
    ///
    /// Where the current rises at the first and falls at the second there is a peak between them. A
    /// phase with little loss has one near its own resonance that is far narrower than a stride.
    /// Paralleled phases have sources of their own, so that each alone tells of its peak: it rises
    /// steeply, or begins to conduct, at one end, and falls at the other.
    pub(super) fn reach_peak(&self, before: &Delivered, now: &Delivered) -> Option<Delivered> {
        // Without current: before the rise where it begins so, else beyond the fall.
        let rises =
            |at: &Delivered| if at.current == 0.0 { before.current == 0.0 } else { at.rise > 0.0 };
        let falls = if now.current == 0.0 { before.current > 0.0 } else { now.rise < 0.0 };
        let of_all = (rises(before) && falls)
            .then(|| self.climb(before, now, |at| Some(rises(at))))
            .flatten();
        let alone = matches!(self.source, Source::Paralleled { .. });
        let hidden = (0..self.phases.len())
            .filter(|k| alone && self.hides_peak(*k, before, now).unwrap_or(false))
            .filter_map(|k| self.climb(before, now, |at| self.phase_rises(k, &at.point)));
        of_all.into_iter().chain(hidden).min_by(|a, b| a.point.h.total_cmp(&b.point.h))
    }

    /// A point that delivers enough between two neighbouring half periods of which neither does.
    /// The current may have a cusp there: a phase of a chain that begins or ceases to conduct
    /// through the switching instant can make one. Where the current is close to the wanted one and
    /// not nearly straight, both halves are looked into.
    fn reach_cusp(&self, before: &Delivered, now: &Delivered) -> Option<Delivered> {
        let stride = now.point.h - before.point.h;
        let bend = (before.current + before.rise * stride - now.current)
            .abs()
            .max((now.current - now.rise * stride - before.current).abs());
        let close = before.current.max(now.current) > CLOSE * self.output_current;
        let straight = bend < STRAIGHT * self.output_current;
        if !close || straight || stride < NARROW * now.point.h {
            return None;
        }
        let middle = self.deliver(&before.point, before.point.h + 0.5 * stride)?;
        if middle.current >= self.output_current {
            return Some(middle);
        }
        self.reach_cusp(before, &middle).or_else(|| self.reach_cusp(&middle, now))
    }

    fn hides_peak(&self, k: usize, before: &Delivered, now: &Delivered) -> Option<bool> {
        let stride = now.point.h - before.point.h;
        let (a, b) = (self.trend(k, &before.point)?, self.trend(k, &now.point)?);
        let rising = a.by_period * stride >= STEEP * a.value;
        Some(b.value > 0.0 && b.by_period < 0.0 && rising)
    }

    fn phase_rises(&self, k: usize, at: &ConverterUnknowns) -> Option<bool> {
        let trend = self.trend(k, at)?;
        Some(trend.value == 0.0 || trend.by_period > 0.0)
    }

    /// How the output current of a phase under its own source moves.
    fn trend(&self, k: usize, at: &ConverterUnknowns) -> Option<Trend> {
        let (phase, z) = (&self.phases[k], &at.z[k]);
        let cycle = phase.evaluate(z, at.h)?;
        let forcing = Forcing::Amplitude(cycle.amplitude.value);
        let response = cycle.equations(forcing, phase.elastance()).respond()?;
        let trend = cycle.output_trend(&response);
        Some(Trend { value: cycle.output.value, ..trend })
    }

    /// Closes in on a peak by bisection of what rises before it, until the converter delivers
    /// enough.
    fn climb(
        &self,
        before: &Delivered,
        now: &Delivered,
        rises: impl Fn(&Delivered) -> Option<bool>,
    ) -> Option<Delivered> {
        let (mut low, mut high) = (before.point.h, now.point.h);
        let mut start = before.point.clone();
        while high - low > NARROWEST * high {
            let h = 0.5 * (low + high);
            let Some(at) = self.deliver(&start, h) else {
                // Next to a resonance without loss nothing settles: the peak is about here.
                high = h;
                continue;
            };
            if at.current >= self.output_current {
                return Some(at);
            }
            if rises(&at)? {
                (low, start) = (h, at.point);
            } else {
                high = h;
            }
        }
        None
    }

    /// Closes in on the wanted current between a half period with too little and one with enough.
    pub(super) fn close_in(&self, mut below: Delivered, mut above: Delivered) -> SearchResult {
        for _ in 0..80 {
            let nearer =
                if (above.current - self.output_current) < (self.output_current - below.current) {
                    &above
                } else {
                    &below
                };
            let newton = self.newton(&nearer.point, HalfPeriod::Regulated, &mut Linear::default());
            if let Some(Converged { point, .. }) = newton
                && point.h >= below.point.h * (1.0 - 1e-12)
                && point.h <= above.point.h * (1.0 + 1e-12)
            {
                return SearchResult::Solved(Box::new(point));
            }
            let h = 0.5 * (below.point.h + above.point.h);
            if h <= below.point.h || h >= above.point.h {
                break;
            }
            let Some(now) = self.deliver(&nearer.point, h) else {
                return SearchResult::Lost(Some(Box::new(nearer.point.clone())));
            };
            if now.current >= self.output_current { above = now } else { below = now }
        }
        let excess = above.current / self.output_current - 1.0;
        let at = Box::new(above.point);
        if excess < HOLDS { SearchResult::Solved(at) } else { SearchResult::Lost(Some(at)) }
    }

    fn collect(&self, settled: &PerPhase<SettledPhase>, charge: f64, h: f64) -> Delivered {
        let point = ConverterUnknowns { z: settled.iter().map(|s| s.z).collect(), charge, h };
        let current = settled.iter().map(|s| s.cycle.output.value).sum();
        Delivered { current, rise: self.rise(&point), point }
    }
}

impl Delivered {
    fn nothing(point: ConverterUnknowns) -> Self {
        Self { point, current: 0.0, rise: f64::NAN }
    }
}
