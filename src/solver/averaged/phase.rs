//! Phasors of one phase: voltages and currents of the fundamental, as complex amplitudes.
//!
//! `libm` forms their lengths: `norm` of the complex type would take its square root from the
//! platform, and results would depend on it.

use std::f64::consts::FRAC_2_PI;

use num_complex::Complex64;

use crate::solver::bracket::sign_change;

/// Amplitude of the fundamental of a square wave of amplitude one, 4/π.
const SQUARE_WAVE: f64 = 2.0 * FRAC_2_PI;

/// How far below the resonance a peak is looked for: where it lies farther it is wide.
const FARTHEST: f64 = 0.02;

/// One phase. SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct HarmonicPhase {
    /// Resonant inductance, Lr.
    pub(super) inductance: f64,
    /// 1/C of the resonant capacitor and its share of the flying ones.
    pub(super) elastance: f64,
    /// Magnetising inductance, Lm.
    pub(super) magnetising_inductance: f64,
    /// Series resistance, R.
    pub(super) resistance: f64,
    /// Amplitude of the winding's voltage, Vw.
    pub(super) winding: f64,
    /// Output current for a rectified amplitude I of one ampere.
    pub(super) gain: f64,
}

/// Impedances of a phase at one angular frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Impedances {
    /// Angular frequency.
    w: f64,
    /// R + j X.
    series: Complex64,
    /// dX/dw.
    reactance_rate: f64,
    /// Xm.
    magnetising: f64,
}

/// What a rectified amplitude asks of the source, with derivatives by that amplitude and by the
/// angular frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct SourceDemand {
    /// Squared amplitude of the source, |Vs|².
    pub(super) source: f64,
    pub(super) source_by_i: f64,
    pub(super) source_by_w: f64,
    /// Input power.
    pub(super) power: f64,
    pub(super) power_by_i: f64,
    pub(super) power_by_w: f64,
}

/// Squared amplitude of the fundamental of a square wave.
pub(super) fn square_wave_squared(amplitude: f64) -> f64 {
    (SQUARE_WAVE * amplitude).powi(2)
}

impl Impedances {
    /// Amplitude W, for each ampere of mean input current, of a phase that does not conduct: what its
    /// resistance takes is P = q W. Infinite without resistance.
    pub(super) fn idle_amplitude(&self) -> f64 {
        let reactance = self.series.im + self.magnetising;
        let squared = self.series.re * self.series.re + reactance * reactance;
        2.0 * squared / (self.series.re * square_wave_squared(1.0))
    }

    /// Amplitude of the tank current, under a source of amplitude W, while the rectifier does not
    /// conduct.
    pub(super) fn idle_current(&self, amplitude: f64) -> f64 {
        SQUARE_WAVE * amplitude / libm::hypot(self.series.re, self.series.im + self.magnetising)
    }
}

impl HarmonicPhase {
    /// Where a stiff output leaves little but R to limit the current of a phase whose source has the amplitude V = 4W/π: close to the series
    /// resonance ω₀. None where it needs the magnetising inductance to boost, which makes a wide peak.
    ///
    /// A little below, with the reactance −X, the magnetising current lifts the winding: `V² = (Vw (1 − X/ωLm) + R I)² +
    /// (X I)²`. To first order the current is highest where X = Vw V/(ωLm I²), with I = (V − Vw)/R.
    pub(super) fn narrow_peak(&self, amplitude: f64) -> Option<f64> {
        let source = SQUARE_WAVE * amplitude;
        let excess = source - self.winding;
        let resonance = (self.elastance / self.inductance).sqrt();
        let current = excess / self.resistance;
        let reactance =
            self.winding * source / (resonance * self.magnetising_inductance * current * current);
        let below = reactance / (2.0 * resonance * self.inductance);
        (excess > 0.0).then(|| resonance * (1.0 - below.min(FARTHEST)))
    }

    pub(super) fn impedances(&self, w: f64) -> Impedances {
        let capacitive = self.elastance / w;
        Impedances {
            w,
            series: Complex64::new(self.resistance, w * self.inductance - capacitive),
            reactance_rate: self.inductance + capacitive / w,
            magnetising: w * self.magnetising_inductance,
        }
    }

    /// Phasor of the magnetising current, Vw/(j Xm).
    fn magnetising_current(&self, z: &Impedances) -> Complex64 {
        Complex64::new(0.0, -self.winding / z.magnetising)
    }

    /// Amplitude of the tank current at rectified amplitude `i`.
    pub(super) fn tank_current(&self, z: &Impedances, i: f64) -> f64 {
        let current = i + self.magnetising_current(z);
        libm::hypot(current.re, current.im)
    }

    /// What rectified amplitude `i` asks of the source.
    pub(super) fn demand(&self, z: &Impedances, i: f64) -> SourceDemand {
        let magnetising = self.magnetising_current(z);
        let tank = i + magnetising;
        let source = self.winding + z.series * tank;
        // The magnetising current falls as 1/w.
        let source_by_w =
            Complex64::new(0.0, z.reactance_rate) * tank - z.series * magnetising / z.w;
        let change = |rate: Complex64| 2.0 * (source.re * rate.re + source.im * rate.im);
        SourceDemand {
            source: source.norm_sqr(),
            source_by_i: change(z.series),
            source_by_w: change(source_by_w),
            power: 0.5 * (self.winding * i + self.resistance * tank.norm_sqr()),
            power_by_i: 0.5 * self.winding + self.resistance * i,
            power_by_w: -self.resistance * magnetising.norm_sqr() / z.w,
        }
    }

    /// Rectified amplitude under a source of amplitude W: the positive root of |Vs|² = (4W/π)²,
    /// or none.
    pub(super) fn rectified(&self, z: &Impedances, amplitude: f64) -> Option<f64> {
        let without_load = self.winding + z.series * self.magnetising_current(z);
        let surplus = square_wave_squared(amplitude) - without_load.norm_sqr();
        // The real part of conj(Vs without load) · (R + j X).
        let half_b = self.resistance * self.winding;
        // Written so that it stays exact where R + j X vanishes, at resonance without resistance.
        let root = half_b + (half_b * half_b + z.series.norm_sqr() * surplus).max(0.0).sqrt();
        (surplus > 0.0 && root > 0.0).then(|| surplus / root)
    }

    /// Input power under a source of amplitude W, also of a phase that does not conduct.
    pub(super) fn power(&self, z: &Impedances, amplitude: f64) -> f64 {
        match self.rectified(z, amplitude) {
            Some(i) => self.demand(z, i).power,
            None => 0.5 * self.resistance * z.idle_current(amplitude).powi(2),
        }
    }

    /// Amplitude, at most `most`, at which the phase draws the mean current `q`: P(W) = q W. It is
    /// the only one, because P/W rises with W.
    pub(super) fn amplitude_for(&self, z: &Impedances, q: f64, most: f64) -> f64 {
        let surplus = |w: f64| self.power(z, w) / w - q;
        let least = 1e-12 * most;
        if surplus(most) <= 0.0 {
            most
        } else if surplus(least) > 0.0 {
            0.0
        } else {
            sign_change(surplus, [least, most])[1]
        }
    }
}
