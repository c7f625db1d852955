//! What loads the parts of a phase beyond the tank current: rectifier and magnetising current, and
//! how the charge moves. All from the closed form of each stretch.

use std::f64::consts::PI;

use super::crossing::Descent;
use super::half::{HalfCircuit, Stretch};
use super::ring::{Ring, Signal};
use super::waveform::Wave;

/// More maxima of the rectifier current than any stretch of a sensible half period has.
const MAX_TURNS: usize = 16;

/// Integrals and extremes over a piece of time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct HalfStress {
    /// max |i − im|
    pub(super) rectified_peak: f64,
    /// max |im|
    pub(super) magnetising_peak: f64,
    /// ∫ q dt, where q is the charge moved since the begin.
    pub(super) charge_moment: f64,
}

impl Wave<'_> {
    /// Over the half period.
    pub(super) fn stress(&self) -> HalfStress {
        let (mut sum, mut charge) = (HalfStress::default(), 0.0);
        for stretch in self.stretches {
            let next = stretch.stress(self.circuit);
            sum.rectified_peak = sum.rectified_peak.max(next.rectified_peak);
            sum.magnetising_peak = sum.magnetising_peak.max(next.magnetising_peak);
            sum.charge_moment += charge * stretch.duration + next.charge_moment;
            charge += stretch.charge(self.circuit.ring(stretch.sign));
        }
        sum
    }
}

impl Stretch {
    fn end_voltage(&self, ring: &Ring) -> f64 {
        ring.voltage(self.i, self.u).at(self.end)
    }

    /// Charge moved over this stretch.
    fn charge(&self, ring: &Ring) -> f64 {
        (self.u - self.end_voltage(ring)) / ring.elastance()
    }

    /// Over this stretch. With `u' = −K i` and `L i' = u − R i`,
    ///
    /// ```text
    /// q = (u(0) − u)/K      ∫ u dt = L Δi + R q      ∫ q dt = (u(0) T − ∫ u dt)/K
    /// ```
    fn stress(&self, circuit: &HalfCircuit) -> HalfStress {
        let ring = circuit.ring(self.sign);
        let current = self.current(ring);
        let (t, i_end, charge) = (self.duration, current.at(self.end), self.charge(ring));
        let voltage_moment = ring.inductance() * (i_end - self.i) + ring.resistance() * charge;
        let charge_moment = (self.u * t - voltage_moment) / ring.elastance();
        if self.sign == 0 {
            // The winding is blocked: the magnetising current is the tank current.
            let magnetising_peak = self.peak(ring, current);
            return HalfStress { magnetising_peak, charge_moment, ..HalfStress::default() };
        }
        let slope = circuit.magnetising_slope(self.sign);
        let im_end = self.im + slope * t;
        HalfStress {
            rectified_peak: self.rectified_peak(ring, slope).max((i_end - im_end).abs()),
            magnetising_peak: self.im.abs().max(im_end.abs()),
            charge_moment,
        }
    }

    /// Highest rectifier current at the begin and at its maxima within the stretch.
    fn rectified_peak(&self, ring: &Ring, slope: f64) -> f64 {
        let s = f64::from(self.sign);
        let current = self.current(ring);
        let mut peak = s * (self.i - self.im);
        self.each_rectified_maximum(ring, slope, |t| {
            peak = peak.max(s * (current.at(ring.basis(t)) - self.im - slope * t));
        });
        peak
    }

    /// Shows the times after the begin at which the rectifier current is at a maximum, while the
    /// magnetising current rises by `slope`.
    pub(super) fn each_rectified_maximum(&self, ring: &Ring, slope: f64, mut see: impl FnMut(f64)) {
        let s = f64::from(self.sign);
        let mut rate = {
            let rate = ring.derivative(self.current(ring));
            Signal { a: s * rate.a, b: s * rate.b }
        };
        let (rise, mut t) = (s * slope, 0.0);
        for _ in 0..MAX_TURNS {
            let is_rising = rate.a > rise;
            let left = self.duration - t;
            if !is_rising
                && (t > 0.0 && stays_below(ring, rise, left) || !may_reach(ring, rate, rise))
            {
                break;
            }
            let (sign, offset) = if is_rising { (1.0, -rise) } else { (-1.0, rise) };
            let signal = Signal { a: sign * rate.a, b: sign * rate.b };
            let descent = Descent { ring, signal, offset, slope: 0.0 };
            // Expected about where a chord over the whole stretch meets zero.
            let (begin, end) = (signal.a + offset, signal.at(self.end) + offset);
            let hint = (t == 0.0 && end < 0.0).then(|| left * begin / (begin - end));
            let passage = descent.first_crossing(left, hint);
            if !passage.crossed {
                break;
            }
            t += passage.at.t;
            if is_rising {
                see(t);
            }
            // Exactly on the other side: the sign of what rounding leaves would repeat this crossing.
            rate = ring.shifted(rate, passage.at.basis);
            rate.a = if is_rising { rise.min(rate.a) } else { rise.max(rate.a).next_up() };
        }
    }
}

/// Whether a signal that has just fallen to a level is below it all the time that is left. It falls to zero before
/// it turns, and takes half a turn from there to the next zero.
fn stays_below(ring: &Ring, level: f64, left: f64) -> bool {
    level >= 0.0 && ring.is_lightly_damped() && ring.omega() * left <= PI
}

/// Whether a signal may come up to a level later on: not where its envelope stays below.
fn may_reach(ring: &Ring, signal: Signal, level: f64) -> bool {
    let envelope = signal.a * signal.a + (signal.b / ring.omega()).powi(2);
    !ring.is_lightly_damped() || envelope > level * level
}
