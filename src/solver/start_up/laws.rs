//! The laws of a start, for one converter at one operating point.

use std::f64::consts::{FRAC_PI_4, TAU};

use super::ladder::{first_high_share, ladder_lags};
use crate::converter::{Drive, OperatingPoint, Tank};
use crate::units::{Ampere, Farad, Hertz, Joule, Ohm, Second, Volt};

/// Peak of the first periods over a V/X, into a shorted output: by integration of six designs within 1 %.
const SHORTED_PEAK: f64 = 2.33;
/// The same at most with the output at its voltage; 1.2 to 2.0 were found.
const HELD_PEAK: f64 = 2.0;
/// Lag ε up to which the threshold law holds within 1 %.
const SMALL_LAG: f64 = 0.05;
/// Above, the lag is that of a ramp so many times as fast, within 4 % of what was integrated.
const FASTER: f64 = 3.0;

/// A chain of equal phases that starts empty.
#[derive(Debug, Clone)]
pub struct StartingChain {
    /// Number of phases.
    pub phases: usize,
    /// The tank of each phase.
    pub tank: Tank,
    /// Each flying capacitor.
    pub flying: Farad,
    /// What it starts for.
    pub point: OperatingPoint,
}

impl StartingChain {
    /// Normal voltage of a phase, Vin/N.
    pub fn phase_voltage(&self) -> Volt {
        Volt(self.point.input_voltage.0 / self.count())
    }

    fn count(&self) -> f64 {
        self.phases as f64
    }

    fn legs(&self) -> f64 {
        self.point.drive.legs() as f64
    }

    /// a = 2/π in half-bridge, 4/π in full-bridge drive.
    fn amplitude(&self) -> f64 {
        self.point.drive.amplitude() / FRAC_PI_4
    }

    /// Vp.
    fn clamp(&self) -> f64 {
        let Tank { turns_ratio, rectifier_drop, .. } = self.tank;
        self.point.rectifier.clamp_voltage(turns_ratio, self.point.output_voltage, rectifier_drop)
    }

    /// X = 2πf Lr − 1/(2πf Cr), in ohm.
    pub fn reactance(&self, frequency: Hertz) -> f64 {
        let w = TAU * frequency.0;
        w * self.tank.resonant_inductance.0 - 1.0 / (w * self.tank.resonant_capacitance.0)
    }

    /// Conduction threshold Vth: the voltage of a phase below which its rectifier passes nothing.
    pub fn threshold(&self, frequency: Hertz) -> Volt {
        let (lr, lm) = (self.tank.resonant_inductance.0, self.tank.magnetising_inductance.0);
        let tank = ((lr + lm) * self.tank.resonant_capacitance.0).sqrt();
        let rise = libm::cos(1.0 / (4.0 * frequency.0 * tank));
        Volt(self.clamp() / self.point.drive.amplitude() * (1.0 + lr / lm) * rise)
    }

    /// Factor of high switch 1 with gates off: what it blocks over Vin/N. `ratio` is the output
    /// capacitance of a low over that of a high switch.
    pub fn gates_off_factor(&self, ratio: f64) -> f64 {
        match self.point.drive {
            Drive::HalfBridge => self.count(),
            Drive::FullBridge => self.count() * first_high_share(self.phases, ratio),
        }
    }

    /// Peak tank current of a start at this frequency with `voltage` across each phase, into a shorted
    /// output. None at or below resonance, where the law does not hold.
    pub fn shorted_peak(&self, voltage: Volt, frequency: Hertz) -> Option<Ampere> {
        self.peak(SHORTED_PEAK, voltage, frequency)
    }

    /// The same at most with the output at its voltage.
    pub fn held_peak(&self, voltage: Volt, frequency: Hertz) -> Option<Ampere> {
        self.peak(HELD_PEAK, voltage, frequency)
    }

    fn peak(&self, factor: f64, Volt(voltage): Volt, frequency: Hertz) -> Option<Ampere> {
        let reactance = self.reactance(frequency);
        (reactance > 0.0).then(|| Ampere(factor * self.amplitude() * voltage / reactance))
    }

    /// Highest factor of a ladder whose steps have this resistance, with an input ramp of so long: that of
    /// high switch 1, 1 + N lag(1)/Vin.
    pub fn ladder_factor(&self, step: Ohm, ramp: Second) -> f64 {
        let lags = ladder_lags(self.phases, step.0 * self.flying.0, ramp.0);
        1.0 + self.count() * lags.first().copied().unwrap_or(0.0)
    }

    /// Ramp time with which a ladder keeps a factor: R C (N−1)(2N−1)/(6 (F−1)).
    pub fn ladder_ramp(&self, step: Ohm, factor: f64) -> Second {
        let n = self.count();
        Second(step.0 * self.flying.0 * (n - 1.0) * (2.0 * n - 1.0) / (6.0 * (factor - 1.0)))
    }

    /// Resistance of a step of the ladder that phases are into a shorted output, where losses alone pass
    /// charge: 1/G = 2 X² legs/(a² R). Infinite without losses.
    pub fn loss_step(&self, frequency: Hertz) -> Ohm {
        let loss = self.amplitude().powi(2) * self.tank.series_resistance.0;
        Ohm(2.0 * self.reactance(frequency).powi(2) * self.legs() / loss)
    }

    /// K: how strongly a phase follows once it passes its threshold, in ampere.
    pub fn following(&self, frequency: Hertz) -> Ampere {
        let (lr, lm) = (self.tank.resonant_inductance.0, self.tank.magnetising_inductance.0);
        let ratio = (lr + lm).powi(2) / (lr * lm);
        let charge = 9.0 * self.clamp().powi(2) * self.tank.resonant_capacitance.0 * ratio;
        Ampere(charge * frequency.0 / (self.threshold(frequency).0 * self.legs()))
    }

    /// Current that fills the chain on a ramp, (N−1) m C.
    fn filling_current(&self, ramp: Second) -> f64 {
        (self.count() - 1.0) * self.point.input_voltage.0 / ramp.0 * self.flying.0
    }

    /// Factor with gates on at a frequency and the output held: N Vth (1 + ε)/Vin, at least 1 and at most
    /// N.
    pub fn threshold_factor(&self, frequency: Hertz, ramp: Second) -> f64 {
        let law = (self.filling_current(ramp) / self.following(frequency).0).sqrt();
        let lag = if law > SMALL_LAG { FASTER.sqrt() * law } else { law };
        let factor = self.threshold(frequency).0 * (1.0 + lag) / self.phase_voltage().0;
        factor.clamp(1.0, self.count())
    }

    /// Ramp time with which it keeps a factor; none where the threshold alone exceeds it.
    pub fn threshold_ramp(&self, frequency: Hertz, factor: f64) -> Option<Second> {
        let allowed = factor * self.phase_voltage().0 / self.threshold(frequency).0 - 1.0;
        let lag = (allowed / FASTER.sqrt()).max(allowed.min(SMALL_LAG));
        let slope_charge = self.following(frequency).0 * lag * lag;
        let charge = (self.count() - 1.0) * self.point.input_voltage.0 * self.flying.0;
        (lag > 0.0).then(|| Second(charge / slope_charge))
    }

    /// Rated charge of a phase and leg per time, Q f: the output power over Vin and legs.
    fn rated_current(&self) -> f64 {
        let power = self.point.output_voltage.0 * self.point.output_current.0;
        power / (self.point.input_voltage.0 * self.legs())
    }

    /// Ramp time with which the current that fills the chain is this share of the rated Q f.
    pub fn filling_ramp(&self, share: f64) -> Second {
        Second(self.filling_current(Second(1.0)) / (share * self.rated_current()))
    }

    /// Energy that the chain delivers to the output while it fills: legs C Vin² (N²−1)/(12 N).
    pub fn fill_energy(&self) -> Joule {
        let n = self.count();
        let square = self.flying.0 * self.point.input_voltage.0.powi(2);
        Joule(self.legs() * square * (n * n - 1.0) / (12.0 * n))
    }

    /// Energy that an output takes while it rises to its voltage: that of its capacitor, and of a resistive
    /// load of this share of the rated one on a ramp.
    pub fn absorbed_energy(&self, output: Farad, load: f64, ramp: Second) -> Joule {
        let volt = self.point.output_voltage.0;
        let load_energy = load * volt * self.point.output_current.0 * ramp.0 / 3.0;
        Joule(0.5 * output.0 * volt * volt + load_energy)
    }
}
