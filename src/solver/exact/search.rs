//! The slow and certain way to a steady state: down from the highest frequency.
//!
//! At each frequency the phases are settled one by one; in a chain the charge is found so that
//! the amplitudes sum to the input. Both are monotone, so brackets hold.

use super::cycle::Unknowns;
use super::settle::{Passing, Settled};
use super::system::{Converged, HOLDS, HalfPeriod, Linear, PerPhase, Point, Source, System};

/// Ratio of neighbouring half periods on the way down.
const STRIDE: f64 = 1.02;
/// A chain that cannot pass this share of the wanted charge is far from delivering the output,
/// and counts as idle.
const IDLE: f64 = 1e-3;

/// What the search found.
#[derive(Debug, Clone)]
pub(super) enum Found {
    /// A steady state at the highest frequency that delivers the output.
    Solved(Box<Point>),
    /// None inside the band of frequencies.
    OutOfRange,
    /// The search could not settle the converter somewhere.
    Lost,
}

/// A settled converter and the current it delivers.
#[derive(Debug, Clone)]
pub(super) struct Delivered {
    pub(super) point: Point,
    pub(super) current: f64,
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
        Self { point: at.point, current: at.current }
    }
}

impl System {
    /// The steady state with the wanted output current at the highest frequency that has one.
    pub(super) fn search(&self) -> Found {
        let (shortest, longest) = self.half_periods;
        let mut guess = self.cold(shortest);
        let mut trail: [Option<Delivered>; 2] = [None, None];
        let mut h = shortest;
        loop {
            let Some(now) = self.deliver(&guess, h) else { return Found::Lost };
            if now.current >= self.output_current {
                return match trail[1].take() {
                    // Already too much at the highest frequency.
                    None => Found::OutOfRange,
                    Some(before) => self.close_in(before, now),
                };
            }
            if let [Some(first), Some(middle)] = &trail
                && middle.current > first.current
                && middle.current >= now.current
                && let Some(peak) = self.reach_peak(first, middle, &now)
            {
                let before = first.clone();
                return self.close_in(before, peak);
            }
            if h >= longest {
                return Found::OutOfRange;
            }
            h = (h * STRIDE).min(longest);
            guess = now.point.clone();
            trail = [trail[1].take(), Some(now)];
        }
    }

    /// A start without current.
    pub(super) fn cold(&self, h: f64) -> Point {
        let amplitude = match self.source {
            Source::Chain { input, .. } => input / self.phases.len() as f64,
            Source::Paralleled { amplitude } => amplitude,
        };
        let z = Unknowns::new(0.0, 0.0, amplitude, amplitude);
        Point { z: self.phases.iter().map(|_| z).collect(), charge: self.full_charge(h), h }
    }

    /// The charge with which the wanted output current would be delivered without loss, roughly.
    fn full_charge(&self, h: f64) -> f64 {
        self.output_current * h / self.phases.len() as f64
    }

    /// Settles the converter at half period `h`.
    pub(super) fn deliver(&self, guess: &Point, h: f64) -> Option<Delivered> {
        let start = Point { h, ..guess.clone() };
        if start.charge > IDLE * self.full_charge(h)
            && let Some(at) = self.newton(&start, HalfPeriod::Given, &mut Linear::default())
        {
            return Some(at.into());
        }
        match self.source {
            Source::Paralleled { amplitude } => {
                let settled =
                    self.settle_all(&start, |phase, z| phase.settle_at_amplitude(z, amplitude, h))?;
                Some(collect(&settled, start.charge, h))
            }
            Source::Chain { input, ripple } => self.balance(&start, input, ripple),
        }
    }

    fn settle_all(
        &self,
        start: &Point,
        settle: impl Fn(&super::cycle::Phase, &Unknowns) -> Option<Settled>,
    ) -> Option<PerPhase<Settled>> {
        self.phases.iter().zip(&start.z).map(|(phase, z)| settle(phase, z)).collect()
    }

    /// Settles a chain whose charge is given.
    fn pass(&self, start: &Point, charge: f64, (input, ripple): (f64, f64)) -> Option<Surplus> {
        let needed = input + ripple / 2.0 * charge;
        let mut settled: PerPhase<Settled> = PerPhase::new();
        for (phase, z) in self.phases.iter().zip(&start.z) {
            match phase.settle_at_charge(z, (charge, start.h), needed)? {
                Passing::Settled(one) => settled.push(one),
                Passing::Beyond => return Some(Surplus::Beyond),
            }
        }
        let amplitude: f64 = settled.iter().map(|s| s.cycle.amplitude.value).sum();
        Some(Surplus::Of(amplitude - needed, collect(&settled, charge, start.h)))
    }

    /// Finds the charge of a chain at a fixed half period by bisection on its logarithm.
    fn balance(&self, start: &Point, input: f64, ripple: f64) -> Option<Delivered> {
        let full = self.full_charge(start.h);
        let (mut low, mut high) = (IDLE * full, f64::INFINITY);
        let mut best = match self.pass(start, low, (input, ripple))? {
            Surplus::Of(excess, delivered) if excess <= 0.0 => delivered,
            Surplus::Of(_, idle) => return Some(idle),
            Surplus::Beyond => return Some(Delivered { point: start.clone(), current: 0.0 }),
        };
        let (mut charge, mut missed) = (full, f64::INFINITY);
        loop {
            match self.pass(&best.point, charge, (input, ripple))? {
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
                return (missed < HOLDS * input).then_some(best);
            }
            charge = if high.is_finite() { (low * high).sqrt() } else { 4.0 * charge };
            if charge > 1e9 * full {
                return None;
            }
        }
    }

    /// Golden-section search for a point that delivers enough between three half periods of which
    /// the middle one has the highest current.
    fn reach_peak(&self, a: &Delivered, b: &Delivered, c: &Delivered) -> Option<Delivered> {
        const GOLDEN: f64 = 0.381_966_011_250_105_1;
        let (mut low, mut high) = (a.point.h, c.point.h);
        let mut best = b.clone();
        for _ in 0..60 {
            let wider_right = high - best.point.h > best.point.h - low;
            let h = if wider_right {
                best.point.h + GOLDEN * (high - best.point.h)
            } else {
                best.point.h - GOLDEN * (best.point.h - low)
            };
            let now = self.deliver(&best.point, h)?;
            if now.current >= self.output_current {
                return Some(now);
            }
            if now.current > best.current {
                if wider_right {
                    low = best.point.h;
                } else {
                    high = best.point.h;
                }
                best = now;
            } else if wider_right {
                high = h;
            } else {
                low = h;
            }
            if high - low < 1e-9 * high {
                return None;
            }
        }
        None
    }

    /// Closes in on the wanted current between a half period with too little and one with enough.
    pub(super) fn close_in(&self, mut below: Delivered, mut above: Delivered) -> Found {
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
                return Found::Solved(Box::new(point));
            }
            let h = 0.5 * (below.point.h + above.point.h);
            if h <= below.point.h || h >= above.point.h {
                break;
            }
            let Some(now) = self.deliver(&nearer.point, h) else { return Found::Lost };
            if now.current >= self.output_current { above = now } else { below = now }
        }
        let excess = above.current / self.output_current - 1.0;
        if excess < HOLDS { Found::Solved(Box::new(above.point)) } else { Found::Lost }
    }
}

fn collect(settled: &PerPhase<Settled>, charge: f64, h: f64) -> Delivered {
    Delivered {
        point: Point { z: settled.iter().map(|s| s.z).collect(), charge, h },
        current: settled.iter().map(|s| s.cycle.output.value).sum(),
    }
}
