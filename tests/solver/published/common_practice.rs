//! Facts of the trade: common practice, no source.

use fairphase::converter::{Arrangement, Converter, Drive, Measure, Rectifier, Tank};
use fairphase::solver::{SteadyState, chain_voltages};
use fairphase::units::{Farad, Ohm};

use super::{close, exactly, lossless, operating};

fn tank() -> Tank {
    Tank { series_resistance: Ohm(0.2), ..lossless(60e-6, 27.3e-9, 210e-6, 16.0) }
}

/// Capacitors so large that there is no ripple.
fn converter(phases: usize) -> Converter {
    Converter::uniform(phases, tank(), Farad(1.0))
}

#[test]
fn flying_capacitors_settle_in_equal_steps() {
    for drive in Drive::ALL {
        for phases in [2_u8, 3, 6, 12] {
            let n = f64::from(phases);
            let (converter, mut point) =
                (converter(phases.into()), operating(390.0 * n, 11.5, 20.0 * n));
            point.drive = drive;
            point.output_voltage.0 *= 2.0 * drive.amplitude();
            let state = exactly(&converter, &point, Arrangement::Chain);
            for leg in chain_voltages(&state, &converter, &point).legs {
                for (k, v) in (1_u8..).zip(leg.flying) {
                    let expected = 390.0 * (n - f64::from(k));
                    close("flying", v.middle.0 / expected, 1.0, 1e-6);
                }
            }
        }
    }
}

/// The same tank current at the same frequency gives 1 : 2 : 2 : 4 times the output voltage.
#[test]
fn gains_of_the_four_configurations_are_as_1_2_2_4() {
    let mut frequencies = Vec::new();
    for (drive, rectifier, gain) in [
        (Drive::HalfBridge, Rectifier::FullBridge, 1.0),
        (Drive::FullBridge, Rectifier::FullBridge, 2.0),
        (Drive::HalfBridge, Rectifier::VoltageDoubler, 2.0),
        (Drive::FullBridge, Rectifier::VoltageDoubler, 4.0),
    ] {
        // Twice the source makes twice the current; the doubler passes half of it.
        let current = 50.0 * 4.0 * drive.amplitude().powi(2) / gain;
        let mut point = operating(780.0, 11.5 * gain, current);
        (point.drive, point.rectifier) = (drive, rectifier);
        frequencies
            .push(exactly(&converter(2), &point, Arrangement::Paralleled).switching_frequency.0);
    }
    for f in &frequencies {
        close("frequency", f / frequencies[0], 1.0, 1e-9);
    }
}

/// Sum over the switches of peak voltage times peak current. A paralleled bridge blocks the whole
/// input in every switch.
#[test]
fn a_chain_needs_one_nth_of_the_switch_rating_at_equal_phase_current() {
    for phases in [2_u8, 3, 5] {
        let n = f64::from(phases);
        let (converter, point) = (converter(phases.into()), operating(390.0 * n, 11.5, 20.0 * n));
        let chain = exactly(&converter, &point, Arrangement::Chain);
        let leg = &chain_voltages(&chain, &converter, &point).legs[0];
        let rating: f64 = (chain.phases.iter().enumerate())
            .map(|(k, p)| {
                let (high, low) = (leg.high_blocking[k].0, leg.low_blocking[k].0);
                high * p.switches.high.peak.0 + low * p.switches.low.peak.0
            })
            .sum();
        let paralleled = exactly(&converter, &point, Arrangement::Paralleled);
        let whole: f64 = (paralleled.phases.iter())
            .map(|p| 390.0 * n * (p.switches.high.peak.0 + p.switches.low.peak.0))
            .sum();
        close("rating", rating / whole * n, 1.0, 1e-6);
    }
}

fn deviation(state: &SteadyState) -> f64 {
    Measure::Deviation.error(state.phases.iter().map(|p| p.output_current.0))
}

/// Lr 5 % up and down in a two-phase converter above resonance: a few percent of deviation with
/// the chain, and most of the current in one phase without.
#[test]
fn a_few_percent_of_mismatch_leave_a_few_percent_of_error_in_a_chain() {
    let mut two = converter(2);
    two.tanks[0].resonant_inductance.0 *= 1.05;
    two.tanks[1].resonant_inductance.0 *= 0.95;
    let point = operating(780.0, 10.824, 50.0);
    let chain = deviation(&exactly(&two, &point, Arrangement::Chain));
    let paralleled = deviation(&exactly(&two, &point, Arrangement::Paralleled));
    assert!(chain > 0.005 && chain < 0.05, "{chain}");
    assert!(paralleled > 0.5 && paralleled > 10.0 * chain, "{paralleled} against {chain}");
}
