//! R. W. Erickson and D. Maksimović, Fundamentals of Power Electronics, chapter on resonant conversion, exact
//! characteristics of the series resonant converter above resonance (equations from memory). It is the
//! limit of a large magnetising inductance.

use std::f64::consts::{PI, SQRT_2};

use fairphase::converter::{Drive, OperatingPoint, RatedPart, Stress};

use super::{LoadedConverter, close, lossless, operating};

/// Columns: fs/f0, M, J, peak and RMS current in units of Vg/R0. J from the published relation; peak and RMS
/// recomputed with a general-purpose numerical library at Lm = 1e6 Lr, to half their last digit and as much
/// for the library. The peak of the capacitor's voltage is J γ/2 of Vg with γ = π f0/fs: the charge of a
/// half period, I Ts/2, swings it from one peak to the other.
#[test]
fn loads_of_single_parts_above_resonance() {
    let (f0, volt, ohm) = (100e3, 100.0, 10.0);
    let ampere = volt / ohm;
    for (ratio, m, j, peak, rms) in [
        (1.2, 0.5, 1.820_643_130, 2.883_216, 2.031_640),
        (1.2, 0.8, 1.109_534_331, 1.652_376, 1.220_751),
        (1.5, 0.6, 0.676_854_857, 1.108_800, 0.758_788),
    ] {
        let lr = ohm / (2.0 * PI * f0);
        let tank = lossless(lr, 1.0 / (2.0 * PI * f0 * ohm), 1e6 * lr, 1.0);
        let point = operating(volt, m * volt, j * ampere);
        let point = OperatingPoint { drive: Drive::FullBridge, ..point };
        let one = LoadedConverter::single(tank, point);
        close("frequency", one.state.switching_frequency.0 / f0, ratio, 2e-6);
        let digits = 2e-6 * ampere;
        one.near(RatedPart::ResonantInductor, Stress::PeakCurrent, peak * ampere, digits);
        one.near(RatedPart::ResonantInductor, Stress::RmsCurrent, rms * ampere, digits);
        one.near(RatedPart::Rectifier, Stress::PeakCurrent, peak * ampere, digits);
        one.near(RatedPart::Transformer, Stress::SecondaryRmsCurrent, rms * ampere, digits);
        one.near(RatedPart::Rectifier, Stress::RmsCurrent, rms / SQRT_2 * ampere, digits);
        one.near(RatedPart::Rectifier, Stress::MeanCurrent, 0.5 * j * ampere, 1e-6);
        one.near(RatedPart::Rectifier, Stress::ReverseVoltage, m * volt, 1e-9);
        let capacitor = 0.5 * j * PI / ratio * volt;
        one.near(RatedPart::ResonantCapacitor, Stress::PeakVoltage, capacitor, 3e-6 * capacitor);
        // The winding sees a square wave.
        let flux = m * volt / (4.0 * ratio * f0);
        one.near(RatedPart::Transformer, Stress::VoltSeconds, flux, 3e-6 * flux);
        // Without interruption of the current: the ripple is the RMS less the mean.
        let ripple = (rms * rms - j * j).sqrt() * ampere;
        one.near(RatedPart::OutputCapacitor, Stress::RmsCurrent, ripple, 1e-4 * ripple);
    }
}
