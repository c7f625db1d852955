//! The ripple current of the output: what all rectifiers together deliver, less its mean.
//!
//! Odd phases are in step, even phases run half a period later. A rectifier that uses both half waves
//! delivers the same current in both halves of a symmetrical period, so that this shift cancels
//! nothing. Of a voltage doubler each capacitor takes one half wave: there the shift fills the gaps.

use arrayvec::ArrayVec;

use super::half::Stretch;
use super::ring::{Basis, Ring, Signal};
use super::waveform::{NODES, WEIGHTS, Wave};
use crate::converter::{MAX_PHASES, Rectifier};

/// Longest piece, in radian of the fastest ring, that one rule takes: relative error some 1e-6.
const LONGEST_PIECE: f64 = 1.0;

/// What one phase feeds into the output.
pub(super) struct PhaseFeed<'a> {
    /// Both halves of its own period.
    pub(super) halves: &'a [Wave<'a>; 2],
    /// Mean output current for a mean absolute rectified primary current of one.
    pub(super) gain: f64,
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
    /// In phases 1, 3, … stretches of this sign, in the others those of the other.
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

    /// Over one half of the period of phase 1.
    fn over_half(&self, half: usize, waves: HalfWaves) -> FeedIntegrals {
        let mut feeds: ArrayVec<Feed<'_>, MAX_PHASES> = self
            .phases
            .iter()
            .enumerate()
            .map(|(k, phase)| {
                let (wave, gain) = (&phase.halves[(half + k) % 2], phase.gain);
                match waves {
                    HalfWaves::Both => Feed { wave, gain, only: None, passed: 0 },
                    HalfWaves::OfSign(sign) => {
                        let only = Some(if k % 2 == 0 { sign } else { -sign });
                        Feed { wave, gain: 2.0 * gain, only, passed: 0 }
                    }
                }
            })
            .collect();
        let (mut sum, mut begin) = (FeedIntegrals::NONE, 0.0);
        loop {
            let ends = feeds.iter().filter_map(Feed::end);
            let Some(end) = ends.reduce(f64::min) else { return sum };
            let mut conducting: ArrayVec<Conducting<'_>, MAX_PHASES> =
                feeds.iter().filter_map(|feed| feed.conducting(begin)).collect();
            sum.add(integrals(&mut conducting, end - begin));
            feeds.iter_mut().for_each(|feed| feed.pass(end));
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
}

impl<'a> Feed<'a> {
    fn stretch(&self) -> Option<&'a Stretch> {
        self.wave.stretches.get(self.passed)
    }

    fn end(&self) -> Option<f64> {
        self.stretch().map(|stretch| stretch.begin + stretch.duration)
    }

    fn pass(&mut self, time: f64) {
        if self.end().is_some_and(|end| end <= time) {
            self.passed += 1;
        }
    }

    /// What it delivers from `begin` on, if it does.
    fn conducting(&self, begin: f64) -> Option<Conducting<'a>> {
        let stretch = self.stretch().filter(|stretch| stretch.sign != 0)?;
        if self.only.is_some_and(|sign| sign != stretch.sign) {
            return None;
        }
        let factor = self.gain * f64::from(stretch.sign);
        let ring = self.wave.circuit.ring(stretch.sign);
        let current = self.wave.current_from(stretch, begin);
        let slope = self.wave.circuit.magnetising_slope(stretch.sign);
        let magnetising = stretch.im + slope * (begin - stretch.begin);
        Some(Conducting {
            ring,
            current: Signal { a: factor * current.a, b: factor * current.b },
            magnetising: factor * magnetising,
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

    fn go_on(&mut self, basis: Basis, time: f64) {
        self.current = self.ring.shifted(self.current, basis);
        self.magnetising += self.slope * time;
    }
}

/// Over `length`, in pieces as short as the fastest rate asks for. That of an overdamped ring fades.
fn integrals(feeds: &mut [Conducting<'_>], length: f64) -> FeedIntegrals {
    if feeds.is_empty() {
        return FeedIntegrals { lowest: 0.0, highest: 0.0, ..FeedIntegrals::NONE };
    }
    let fastest = |pace: fn(&Ring) -> f64| feeds.iter().map(|f| pace(f.ring)).fold(0.0, f64::max);
    let (pace, later) = (fastest(Ring::pace), fastest(Ring::pace_after_fading));
    let fading = feeds.iter().filter_map(|feed| feed.ring.fading()).fold(0.0, f64::max);
    if fading == 0.0 || fading >= 0.5 * length {
        return at_pace(feeds, length, pace);
    }
    let mut sum = at_pace(feeds, fading, pace);
    sum.add(at_pace(feeds, length - fading, later));
    sum
}

fn at_pace(feeds: &mut [Conducting<'_>], length: f64, pace: f64) -> FeedIntegrals {
    let mut pieces = (pace * length / LONGEST_PIECE).ceil().max(1.0);
    let spacing = length / (pieces * (NODES - 1) as f64);
    let steps: ArrayVec<Basis, MAX_PHASES> =
        feeds.iter().map(|feed| feed.ring.basis(spacing)).collect();
    let total = |feeds: &[Conducting<'_>]| feeds.iter().map(Conducting::value).sum::<f64>();
    let (mut sum, mut last) = (FeedIntegrals::NONE, total(feeds));
    let mut before = last;
    sum.see(last);
    while pieces > 0.0 {
        pieces -= 1.0;
        let (mut square, mut charge) = (WEIGHTS[0] * last * last, WEIGHTS[0] * last);
        for weight in &WEIGHTS[1..] {
            for (feed, step) in feeds.iter_mut().zip(&steps) {
                feed.go_on(*step, spacing);
            }
            let next = total(feeds);
            square += weight * next * next;
            charge += weight * next;
            sum.see(vertex([before, last, next]));
            sum.see(next);
            (before, last) = (last, next);
        }
        sum.square += square * spacing / 140.0;
        sum.charge += charge * spacing / 140.0;
    }
    sum
}

/// The extreme of the parabola through three values at equal distances, where the middle one is the
/// largest or smallest of them; else the middle one.
fn vertex([before, middle, after]: [f64; 3]) -> f64 {
    let is_extreme = (middle - before) * (middle - after) > 0.0;
    let bend = before - 2.0 * middle + after;
    if is_extreme { middle - (after - before).powi(2) / (8.0 * bend) } else { middle }
}
