//! The laws of a start, for one converter at one operating point.

use std::f64::consts::{FRAC_2_PI, FRAC_PI_4, TAU};

use super::cold_tank::ColdTank;
use super::followers::{Followers, FollowingPhase};
use super::ladder::{first_high_share, ladder_lags};
use crate::converter::{Converter, Drive, OperatingPoint, Tank, neighbours};
use crate::units::{Ampere, Farad, Hertz, Joule, Ohm, Second, Volt};

/// Share of what its fundamental passes that a phase passes far above its threshold: fitted to integrated
/// ramps of six designs.
const OF_FUNDAMENTAL: f64 = 0.85;

/// A chain that starts empty. Where its parts differ, the worst of them decides, or those that the law
/// speaks of.
#[derive(Debug, Clone)]
pub struct StartingChain {
    /// The tank of each phase.
    pub tanks: Vec<Tank>,
    /// The flying capacitor after each phase but the last; of both legs the larger.
    pub flying: Vec<Farad>,
    /// What it starts for.
    pub point: OperatingPoint,
}

/// A start at the operating frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingStart {
    /// That frequency.
    pub frequency: Hertz,
    /// Whether the output rises with the input; else it is at its voltage.
    pub is_rising: bool,
}

impl StartingChain {
    /// A converter whose parts are those under the condition of an operating point.
    pub fn new(converter: &Converter, point: &OperatingPoint) -> Self {
        let Converter { tanks, flying, flying_return, .. } = converter;
        let returned = if point.drive.legs() > 1 { flying_return } else { flying };
        let larger = |(a, b): (&Farad, &Farad)| Farad(a.0.max(b.0));
        Self {
            tanks: tanks.to_vec(),
            flying: flying.iter().zip(returned).map(larger).collect(),
            point: point.clone(),
        }
    }

    /// Number of phases.
    pub fn phases(&self) -> usize {
        self.tanks.len()
    }

    /// Normal voltage of a phase, Vin/N.
    pub fn phase_voltage(&self) -> Volt {
        Volt(self.point.input_voltage.0 / self.count())
    }

    /// Ideal voltages of the flying capacitors, v(k) = Vin (N−k)/N.
    pub fn ideal_voltages(&self) -> Vec<Volt> {
        let n = self.count();
        let share = |k: usize| Volt(self.point.input_voltage.0 * (n - k as f64) / n);
        (1..self.phases()).map(share).collect()
    }

    fn count(&self) -> f64 {
        self.phases() as f64
    }

    /// The largest flying capacitor.
    fn largest_flying(&self) -> f64 {
        self.flying.iter().map(|own| own.0).fold(0.0, f64::max)
    }

    fn legs(&self) -> f64 {
        self.point.drive.legs() as f64
    }

    /// a = 2/π in half-bridge, 4/π in full-bridge drive.
    fn amplitude(&self) -> f64 {
        self.point.drive.amplitude() / FRAC_PI_4
    }

    /// Vp of a tank.
    fn clamp(&self, tank: &Tank) -> f64 {
        let Tank { turns_ratio, rectifier_drop, .. } = *tank;
        self.point.rectifier.clamp_voltage(turns_ratio, self.point.output_voltage, rectifier_drop)
    }

    /// Vth of a tank.
    fn threshold_of(&self, tank: &Tank, frequency: Hertz) -> f64 {
        let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
        let slow = ((lr + lm) * tank.resonant_capacitance.0).sqrt();
        let rise = libm::cos(1.0 / (4.0 * frequency.0 * slow));
        self.clamp(tank) / self.point.drive.amplitude() * (1.0 + lr / lm) * rise
    }

    /// Conduction threshold Vth: the voltage of a phase below which its rectifier passes nothing. The
    /// highest of all phases.
    pub fn threshold(&self, frequency: Hertz) -> Volt {
        let all = self.tanks.iter().map(|tank| self.threshold_of(tank, frequency));
        Volt(all.fold(0.0, f64::max))
    }

    /// Factor of high switch 1 with gates off: what it blocks over Vin/N. `ratio` is the output
    /// capacitance of a low over that of a high switch.
    pub fn gates_off_factor(&self, ratio: f64) -> f64 {
        match self.point.drive {
            Drive::HalfBridge => self.count(),
            Drive::FullBridge => self.count() * first_high_share(self.phases(), ratio),
        }
    }

    /// Peak tank current of a start at this frequency with the input on and empty capacitors, at most: that of
    /// phase 1, which has the whole input, into a shorted output. None at or below resonance, where flying
    /// capacitors fill before it is reached.
    pub fn cold_peak(&self, frequency: Hertz) -> Option<Ampere> {
        self.peak(self.tanks.first()?, self.point.input_voltage, frequency)
    }

    /// The same with charged capacitors: that of the phase with the highest.
    pub fn charged_peak(&self, frequency: Hertz) -> Option<Ampere> {
        let voltage = self.phase_voltage();
        let peak = |tank: &Tank| self.peak(tank, voltage, frequency);
        let all: Option<Vec<Ampere>> = self.tanks.iter().map(peak).collect();
        all?.into_iter().reduce(|a, b| if b > a { b } else { a })
    }

    fn peak(&self, tank: &Tank, Volt(high): Volt, frequency: Hertz) -> Option<Ampere> {
        if reactance(tank, frequency) <= 0.0 {
            return None;
        }
        let cold = ColdTank {
            inductance: tank.resonant_inductance.0,
            capacitance: tank.resonant_capacitance.0,
            resistance: tank.series_resistance.0,
            high,
            low: if self.point.drive == Drive::FullBridge { -high } else { 0.0 },
        };
        cold.peak(frequency.0).map(Ampere)
    }

    /// Highest factor of a ladder whose steps have this resistance, with an input ramp of so long: that of
    /// high switch 1, 1 + N lag(1)/Vin.
    pub fn ladder_factor(&self, step: Ohm, ramp: Second) -> f64 {
        let lags = ladder_lags(self.phases(), step.0 * self.largest_flying(), ramp.0);
        1.0 + self.count() * lags.first().copied().unwrap_or(0.0)
    }

    /// Ramp time with which a ladder keeps a factor: R C (N−1)(2N−1)/(6 (F−1)).
    pub fn ladder_ramp(&self, step: Ohm, factor: f64) -> Second {
        let n = self.count();
        Second(
            step.0 * self.largest_flying() * (n - 1.0) * (2.0 * n - 1.0) / (6.0 * (factor - 1.0)),
        )
    }

    /// Resistance of a step of the ladder that phases are into a shorted output, where losses alone pass
    /// charge: 1/G = 2 X² legs/(a² R). The largest of all phases; infinite without losses.
    pub fn loss_step(&self, frequency: Hertz) -> Ohm {
        let step = |tank: &Tank| {
            let loss = self.amplitude().powi(2) * tank.series_resistance.0;
            2.0 * reactance(tank, frequency).powi(2) * self.legs() / loss
        };
        Ohm(self.tanks.iter().map(step).fold(0.0, f64::max))
    }

    /// K: how strongly a phase, counted from 0, follows once it passes its threshold, in ampere.
    pub fn following(&self, phase: usize, frequency: Hertz) -> Ampere {
        let Some(tank) = self.tanks.get(phase) else { return Ampere(0.0) };
        let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
        let ratio = (lr + lm).powi(2) / (lr * lm);
        let charge = 9.0 * self.clamp(tank).powi(2) * tank.resonant_capacitance.0 * ratio;
        Ampere(charge * frequency.0 / (self.threshold_of(tank, frequency) * self.legs()))
    }

    /// What a phase passes at a frequency above resonance with the output held, in ampere: K ε² just above its
    /// threshold Vth, with ε = V/Vth − 1, and far above what its fundamental passes. Nothing below.
    fn threshold_current(&self, at: FollowingPhase, frequency: Hertz) -> f64 {
        let Some(tank) = self.tanks.get(at.phase) else { return 0.0 };
        let threshold = self.threshold_of(tank, frequency);
        let excess = at.voltage / threshold - 1.0;
        if excess <= 0.0 {
            return 0.0;
        }
        let near = self.following(at.phase, frequency).0 * excess * excess;
        // Mean of the rectified current, 2/π of √((a V)² − (a Vth)²)/X, and its power over V and the legs.
        let reactance = reactance(tank, frequency);
        let share = (1.0 - (threshold / at.voltage).powi(2)).sqrt();
        let rectified = OF_FUNDAMENTAL * FRAC_2_PI * self.amplitude() * share / reactance;
        let far = self.clamp(tank) * rectified / self.legs();
        if reactance > 0.0 { near * far / (near + far) } else { near }
    }

    fn followers(&self) -> Followers {
        let flying = self.flying.iter().map(|own| own.0).collect();
        Followers { flying, input: self.point.input_voltage.0 }
    }

    /// Factor with gates on at a frequency and the output held, at least 1 and at most N.
    pub fn threshold_factor(&self, frequency: Hertz, ramp: Second) -> f64 {
        let current = |at: FollowingPhase| self.threshold_current(at, frequency);
        let highest = self.followers().highest_voltage(ramp.0, &current);
        (highest / self.phase_voltage().0).clamp(1.0, self.count())
    }

    /// Ramp time with which it keeps a factor; none where the threshold alone exceeds it.
    pub fn threshold_ramp(&self, frequency: Hertz, factor: f64) -> Option<Second> {
        let current = |at: FollowingPhase| self.threshold_current(at, frequency);
        let most = factor * self.phase_voltage().0;
        self.followers().shortest_ramp(most, &current).map(Second)
    }

    /// Rated charge of a phase and leg per time, Q f: the output power over Vin and legs.
    fn rated_current(&self) -> f64 {
        let power = self.point.output_voltage.0 * self.point.output_current.0;
        power / (self.point.input_voltage.0 * self.legs())
    }

    /// What a phase passes at the operating frequency, in ampere: nothing below its threshold, its rated Q f
    /// at Vin/N, and else in proportion to what its voltage exceeds the threshold by.
    fn rated_line(&self, at: FollowingPhase, operating: &OperatingStart) -> f64 {
        let Some(tank) = self.tanks.get(at.phase) else { return 0.0 };
        let full = self.threshold_of(tank, operating.frequency);
        let now = if operating.is_rising { at.input_share * full } else { full };
        let excess = (at.voltage - now).max(0.0);
        self.rated_current() * excess / (self.phase_voltage().0 - full)
    }

    /// Share of a phase's voltage by which its ripple raises it at the operating point: ½ Q κ, where κ sums
    /// the elastances of its neighbours.
    fn ripple(&self, frequency: Hertz) -> f64 {
        let elastance = |phase: usize| neighbours(&self.flying, phase);
        let largest = (0..self.phases()).map(elastance).fold(0.0, f64::max);
        0.5 * self.rated_current() / frequency.0 * largest / self.phase_voltage().0
    }

    /// Factor with gates on at the operating frequency, at most N; none where the threshold of a phase is not
    /// below its voltage there.
    pub fn operating_factor(&self, operating: &OperatingStart, ramp: Second) -> Option<f64> {
        if self.threshold(operating.frequency) >= self.phase_voltage() {
            return None;
        }
        let current = |at: FollowingPhase| self.rated_line(at, operating);
        let highest = self.followers().highest_voltage(ramp.0, &current);
        let factor = (highest / self.phase_voltage().0).max(1.0) + self.ripple(operating.frequency);
        Some(factor.min(self.count()))
    }

    /// Ramp time with which it keeps a factor; none where no ramp does.
    pub fn operating_ramp(&self, operating: &OperatingStart, factor: f64) -> Option<Second> {
        if self.threshold(operating.frequency) >= self.phase_voltage() {
            return None;
        }
        let current = |at: FollowingPhase| self.rated_line(at, operating);
        let most = (factor - self.ripple(operating.frequency)) * self.phase_voltage().0;
        self.followers().shortest_ramp(most, &current).map(Second)
    }

    /// Energy that the chain delivers to the output while it fills: legs (Vin/2N) Σ j C(j) U(j).
    pub fn fill_energy(&self) -> Joule {
        let n = self.count();
        let charges = self.flying.iter().zip(self.ideal_voltages()).enumerate();
        let sum: f64 = charges.map(|(j, (c, u))| (j as f64 + 1.0) * c.0 * u.0).sum();
        Joule(self.legs() * self.point.input_voltage.0 / (2.0 * n) * sum)
    }

    /// Energy that an output takes while it rises to its voltage: that of its capacitor, and of a resistive
    /// load of this share of the rated one on a ramp.
    pub fn absorbed_energy(&self, output: Farad, load: f64, ramp: Second) -> Joule {
        let volt = self.point.output_voltage.0;
        let load_energy = load * volt * self.point.output_current.0 * ramp.0 / 3.0;
        Joule(0.5 * output.0 * volt * volt + load_energy)
    }
}

/// X = 2πf Lr − 1/(2πf Cr), in ohm.
fn reactance(tank: &Tank, frequency: Hertz) -> f64 {
    let w = TAU * frequency.0;
    w * tank.resonant_inductance.0 - 1.0 / (w * tank.resonant_capacitance.0)
}
