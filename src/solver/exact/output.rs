//! The ripple current of the output: what all rectifiers together deliver, less its mean.
//!
//! Odd phases are in step, even phases run half a period later. A rectifier that uses both half waves
//! delivers the same current in both halves of a symmetrical period, so that this shift cancels
//! nothing. Of a voltage doubler each capacitor takes one half wave: there the shift fills the gaps.

use arrayvec::ArrayVec;

use super::half::Stretch;
use super::ring::{Basis, Ring, Signal};
use super::waveform::Wave;
use crate::converter::{MAX_PHASES, Rectifier};

/// Instants that are closer are one, as a share of half a period.
const ROUNDING: f64 = 1e-10;
/// Longest piece, in radian of the fastest ring, that one rule takes: relative error some 1e-6.
const LONGEST_PIECE: f64 = 1.0;
/// Longest piece, likewise, that Simpson's rule takes with that error.
const SHORT_PIECE: f64 = 0.25;

/// What one phase feeds into the output.
pub(super) struct PhaseFeed<'a> {
    /// Both halves of its own period.
    pub(super) halves: &'a [Wave<'a>; 2],
    /// Mean output current for a mean absolute rectified primary current of one.
    pub(super) gain: f64,
    /// Whether it runs half a period behind those that are not.
    pub(super) is_late: bool,
}

/// All phases, with the period and the rectifier.
pub(super) struct OutputFeed<'a> {
    pub(super) phases: ArrayVec<PhaseFeed<'a>, MAX_PHASES>,
    pub(super) half_period: f64,
    pub(super) rectifier: Rectifier,
    /// Whether both halves of every period are alike.
    pub(super) is_mirrored: bool,
}

/// Root mean square and peak-to-peak value of a ripple.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ripple {
    pub(super) rms: f64,
    pub(super) peak_to_peak: f64,
}

/// Which half waves count: of a doubler's capacitor those of one sign.
#[derive(Clone, Copy)]
enum HalfWaves {
    Both,
    /// In phases that are not late stretches of this sign, in the others those of the other.
    OfSign(i8),
}

/// Integrals and extremes of the sum of all feeds.
#[derive(Debug, Clone, Copy)]
struct FeedIntegrals {
    square: f64,
    charge: f64,
    lowest: f64,
    highest: f64,
}

impl FeedIntegrals {
    const NONE: Self =
        Self { square: 0.0, charge: 0.0, lowest: f64::INFINITY, highest: f64::NEG_INFINITY };

    fn add(&mut self, other: Self) {
        self.square += other.square;
        self.charge += other.charge;
        self.lowest = self.lowest.min(other.lowest);
        self.highest = self.highest.max(other.highest);
    }

    fn see(&mut self, value: f64) {
        self.lowest = self.lowest.min(value);
        self.highest = self.highest.max(value);
    }

    fn ripple(self, time: f64) -> Ripple {
        let mean = self.charge / time;
        let rms = (self.square / time - mean * mean).max(0.0).sqrt();
        Ripple { rms, peak_to_peak: self.highest - self.lowest }
    }
}

impl OutputFeed<'_> {
    /// The ripple; of a doubler's two capacitors the larger one.
    pub(super) fn ripple(&self) -> Ripple {
        match self.rectifier {
            Rectifier::FullBridge | Rectifier::CentreTap => self.over_period(HalfWaves::Both),
            Rectifier::VoltageDoubler => {
                let upper = self.over_period(HalfWaves::OfSign(1));
                if self.is_mirrored {
                    return upper;
                }
                let lower = self.over_period(HalfWaves::OfSign(-1));
                let peak_to_peak = upper.peak_to_peak.max(lower.peak_to_peak);
                Ripple { rms: upper.rms.max(lower.rms), peak_to_peak }
            }
        }
    }

    fn over_period(&self, waves: HalfWaves) -> Ripple {
        let mut sum = self.over_half(0, waves);
        let (second, halves) = match waves {
            HalfWaves::Both if self.is_mirrored => return sum.ripple(self.half_period),
            HalfWaves::Both => (HalfWaves::Both, 2.0),
            // Each wave is stored in the direction of its own half: the other sign now counts.
            HalfWaves::OfSign(sign) => (HalfWaves::OfSign(-sign), 2.0),
        };
        sum.add(self.over_half(1, second));
        sum.ripple(halves * self.half_period)
    }

    /// Over one half of the period of those that are not late.
    fn over_half(&self, half: usize, waves: HalfWaves) -> FeedIntegrals {
        let mut feeds: ArrayVec<Feed<'_>, MAX_PHASES> = self
            .phases
            .iter()
            .map(|phase| {
                let own_half = (half + usize::from(phase.is_late)) % 2;
                let (wave, gain) = (&phase.halves[own_half], phase.gain);
                match waves {
                    HalfWaves::Both => Feed::new(wave, gain, None),
                    HalfWaves::OfSign(sign) => {
                        let only = Some(if phase.is_late { -sign } else { sign });
                        Feed::new(wave, 2.0 * gain, only)
                    }
                }
            })
            .collect();
        let (mut sum, mut begin) = (FeedIntegrals::NONE, 0.0);
        loop {
            let ends = feeds.iter().filter_map(Feed::end);
            let Some(end) = ends.reduce(f64::min) else { return sum };
            sum.add(integrals(&mut feeds, end - begin));
            // Ends that differ by rounding are one: what is left of a feed that ends later delivers nothing else.
            let rounded = end + ROUNDING * self.half_period;
            feeds.iter_mut().for_each(|feed| feed.pass(rounded));
            begin = end;
        }
    }
}

/// One phase on its way through a half period.
struct Feed<'a> {
    wave: &'a Wave<'a>,
    gain: f64,
    /// The sign of the stretches that count; none where all do.
    only: Option<i8>,
    /// Stretches that are over.
    passed: usize,
    /// What it delivers from here on, if it does.
    conducting: Option<Conducting<'a>>,
}

impl<'a> Feed<'a> {
    fn new(wave: &'a Wave<'a>, gain: f64, only: Option<i8>) -> Self {
        let feed = Self { wave, gain, only, passed: 0, conducting: None };
        Self { conducting: feed.conducting_stretch(), ..feed }
    }

    fn stretch(&self) -> Option<&'a Stretch> {
        self.wave.stretches.get(self.passed)
    }

    fn end(&self) -> Option<f64> {
        self.stretch().map(|stretch| stretch.begin + stretch.duration)
    }

    fn pass(&mut self, time: f64) {
        while self.end().is_some_and(|end| end <= time) {
            self.passed += 1;
            self.conducting = self.conducting_stretch();
        }
    }

    /// What it delivers in the stretch that begins, if it does.
    fn conducting_stretch(&self) -> Option<Conducting<'a>> {
        let stretch = self.stretch().filter(|stretch| stretch.sign != 0)?;
        if self.only.is_some_and(|sign| sign != stretch.sign) {
            return None;
        }
        let factor = self.gain * f64::from(stretch.sign);
        let ring = self.wave.circuit.ring(stretch.sign);
        let current = stretch.current(ring);
        let slope = self.wave.circuit.magnetising_slope(stretch.sign);
        Some(Conducting {
            ring,
            current: Signal { a: factor * current.a, b: factor * current.b },
            magnetising: factor * stretch.im,
            slope: factor * slope,
        })
    }
}

/// Output current of a conducting phase: `current − magnetising − slope · t`.
struct Conducting<'a> {
    ring: &'a Ring,
    current: Signal,
    magnetising: f64,
    slope: f64,
}

impl Conducting<'_> {
    fn value(&self) -> f64 {
        self.current.a - self.magnetising
    }

    /// Goes on by a time; gives what it delivers then.
    fn go_on(&mut self, basis: Basis, time: f64) -> f64 {
        self.current = self.ring.shifted(self.current, basis);
        self.magnetising += self.slope * time;
        self.value()
    }
}

/// A conducting phase, and how its ring goes on from point to point.
struct ConductingStep<'a, 'b> {
    basis: Basis,
    own: &'a mut Conducting<'b>,
}

/// Over `length`, in pieces as short as the fastest rate asks for. That of an overdamped ring fades.
fn integrals(feeds: &mut [Feed<'_>], length: f64) -> FeedIntegrals {
    let rings = || feeds.iter().filter_map(|feed| feed.conducting.as_ref()).map(|own| own.ring);
    if rings().next().is_none() {
        return FeedIntegrals { lowest: 0.0, highest: 0.0, ..FeedIntegrals::NONE };
    }
    let fastest = |pace: fn(&Ring) -> f64| rings().map(pace).fold(0.0, f64::max);
    let (pace, later) = (fastest(Ring::pace), fastest(Ring::pace_after_fading));
    let fading = rings().filter_map(Ring::fading).fold(0.0, f64::max);
    if fading == 0.0 || fading >= 0.5 * length {
        return at_pace(feeds, length, pace);
    }
    let mut sum = at_pace(feeds, fading, pace);
    sum.add(at_pace(feeds, length - fading, later));
    sum
}

fn at_pace(feeds: &mut [Feed<'_>], length: f64, pace: f64) -> FeedIntegrals {
    let angle = pace * length;
    let rule = if angle <= SHORT_PIECE { &SIMPSON } else { &NEWTON_COTES };
    let mut pieces = (angle / LONGEST_PIECE).ceil().max(1.0);
    let spacing = length / (pieces * (rule.weights.len() - 1) as f64);
    let conducting = feeds.iter_mut().filter_map(|feed| feed.conducting.as_mut());
    let mut steps: ArrayVec<ConductingStep<'_, '_>, MAX_PHASES> =
        conducting.map(|own| ConductingStep { basis: own.ring.basis(spacing), own }).collect();
    let now = steps.iter().map(|step| step.own.value()).sum::<f64>();
    let (mut sum, mut before, mut last) = (FeedIntegrals::NONE, f64::NAN, now);
    sum.see(last);
    while pieces > 0.0 {
        pieces -= 1.0;
        let [first, further @ ..] = rule.weights else { break };
        let (mut square, mut charge) = (first * last * last, first * last);
        for weight in further {
            let next =
                steps.iter_mut().map(|step| step.own.go_on(step.basis, spacing)).sum::<f64>();
            square += weight * next * next;
            charge += weight * next;
            sum.see(vertex([before, last, next]));
            sum.see(next);
            (before, last) = (last, next);
        }
        sum.square += square * spacing / rule.divisor;
        sum.charge += charge * spacing / rule.divisor;
    }
    sum
}

/// A rule for an integral from values at equal distances.
struct Rule {
    weights: &'static [f64],
    divisor: f64,
}

/// The seven-point Newton–Cotes rule; Abramowitz and Stegun (1964), section 25.4. Exact to degree 7.
const NEWTON_COTES: Rule =
    Rule { weights: &[41.0, 216.0, 27.0, 272.0, 27.0, 216.0, 41.0], divisor: 140.0 };
const SIMPSON: Rule = Rule { weights: &[1.0, 4.0, 1.0], divisor: 3.0 };

/// The extreme of the parabola through three values at equal distances, where it lies between the outer two; else the
/// middle one.
fn vertex([before, middle, after]: [f64; 3]) -> f64 {
    let (rise, bend) = (after - before, before - 2.0 * middle + after);
    if rise.abs() < 2.0 * bend.abs() { middle - rise * rise / (8.0 * bend) } else { middle }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 3 − (x − x₀)² at −1, 0, 1.
    #[test]
    fn parabolas_come_out_and_lines_have_none() {
        for extreme in [-0.9, -0.5, 0.0, 0.3, 0.99] {
            let at = |x: f64| 3.0 - (x - extreme).powi(2);
            assert!((vertex([-1.0, 0.0, 1.0].map(at)) - 3.0).abs() < 1e-12, "{extreme}");
        }
        assert!((vertex([-1.0, 0.0, 1.0].map(|x: f64| (x - 1.5).powi(2))) - 2.25).abs() < 1e-12);
        assert!((vertex([1.0, 2.0, 3.0]) - 2.0).abs() < 1e-12);
        assert!((vertex([f64::NAN, 2.0, 3.0]) - 2.0).abs() < 1e-12, "no value before the first");
    }
}
