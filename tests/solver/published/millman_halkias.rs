//! J. Millman and C. C. Halkias, Electronic Devices and Circuits (1967), chapter on rectifiers (from memory):
//! form factors 1.57 and 1.11, ripple factors 1.21 and 0.482 of the half-wave and the full-wave rectifier;
//! peak inverse voltages of once the output with a bridge and twice with a tapped winding.

use fairphase::converter::{Arrangement, Converter, OperatingPoint, RatedPart, Rectifier, Stress};
use fairphase::units::Farad;

use super::{LoadedConverter, lossless, operating};

/// A tank with next to no magnetising current, a hair above its resonance: exactly there the load of a
/// phase is undetermined.
fn sine(phases: usize, rectifier: Rectifier, output: f64) -> LoadedConverter {
    let tank = lossless(20e-6, 100e-9, 0.2, 4.0);
    let input = 240.0 * phases as f64;
    let point = operating(input, output * (1.0 - 1e-6), 20.0 * phases as f64);
    let point = OperatingPoint { rectifier, ..point };
    let converter = Converter::uniform(phases, tank, Farad(1.0));
    let arrangement = if phases == 1 { Arrangement::Paralleled } else { Arrangement::Chain };
    LoadedConverter::new(converter, point, arrangement)
}

/// The ripple factor is √(F² − 1) of the form factor F. Its digits: half of the last one of F moves it by
/// F/r times that.
#[test]
fn ripple_of_half_waves_and_of_both() {
    let half_wave = 0.005 * (1.0 + 1.57 / 1.21);
    let full_wave = 0.000_5 + 0.005 * 1.11 / 0.482;
    let ripple = |one: &LoadedConverter, digits: f64, expected: f64| {
        let load = one.point.output_current.0;
        let part = RatedPart::OutputCapacitor;
        one.near(part, Stress::RmsCurrent, expected * load, digits * load);
    };
    // Each capacitor of a doubler takes one half wave: of one phase, with gaps.
    ripple(&sine(1, Rectifier::VoltageDoubler, 60.0), half_wave, 1.21);
    // The second phase, half a period later, fills them: together they are a full-wave rectifier.
    ripple(&sine(2, Rectifier::VoltageDoubler, 60.0), full_wave, 0.482);
    for rectifier in [Rectifier::FullBridge, Rectifier::CentreTap] {
        ripple(&sine(1, rectifier, 30.0), full_wave, 0.482);
        // Both half waves of two phases coincide: half a period between them cancels nothing.
        ripple(&sine(2, rectifier, 30.0), full_wave, 0.482);
    }
}

/// Form factors from the diodes: RMS over mean of one half wave, and of both in the winding.
#[test]
fn form_factors_and_inverse_voltages() {
    for (rectifier, output, inverse) in [
        (Rectifier::FullBridge, 30.0, 30.0),
        (Rectifier::CentreTap, 30.0, 60.0),
        (Rectifier::VoltageDoubler, 60.0, 60.0),
    ] {
        let one = sine(1, rectifier, output);
        let load = |stress| one.load(RatedPart::Rectifier, stress);
        let form = load(Stress::RmsCurrent) / load(Stress::MeanCurrent);
        assert!((form - 1.57).abs() < 0.005, "{form}");
        let found = load(Stress::ReverseVoltage);
        assert!((found / inverse - 1.0).abs() < 2e-6, "{found}");
    }
    let bridge = sine(1, Rectifier::FullBridge, 30.0);
    let winding = bridge.load(RatedPart::Transformer, Stress::SecondaryRmsCurrent);
    assert!((winding / 20.0 - 1.11).abs() < 0.005, "{winding}");
}
