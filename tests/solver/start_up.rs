//! Starts of a chain by their laws, against starts integrated with body diodes, independently of this
//! program (`tests/data/startup.json`). Six invented designs, A to F.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{StartedDesign, list, number, started};
use fairphase::converter::Converter;
use fairphase::solver::start_up::{OperatingStart, StartingChain, ladder_lags};
use fairphase::units::{Farad, Hertz, Ohm, Second};
use serde_json::Value;

const DESIGNS: [&str; 6] = ["A", "B", "C", "D", "E", "F"];

fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    let error = (found / expected - 1.0).abs();
    assert!(error <= tolerance, "{what}: {found} against {expected}, {error:.4}");
}

fn chain(started: &Value, design: &str) -> (StartingChain, Hertz) {
    let StartedDesign { phases, tank, flying, point, band } = StartedDesign::new(started, design);
    let converter = Converter::uniform(phases, tank, flying);
    (StartingChain::new(&converter, &point), band.maximum)
}

fn cases<'a>(started: &'a Value, key: &str) -> &'a [Value] {
    started[key].as_array().unwrap()
}

fn name(case: &Value) -> &str {
    case["design"].as_str().unwrap()
}

/// The input on, gates off: what high switch 1 blocks, with equal output capacitances of all switches.
#[test]
fn with_gates_off_high_1_blocks_what_was_integrated() {
    let started = started();
    for case in cases(&started, "gates_off_input_step") {
        let (chain, _) = chain(&started, name(case));
        let blocked = chain.gates_off_factor(1.0) * chain.phase_voltage().0;
        near(name(case), blocked, number(&case["blocking_max_V"], "high11"), 0.003);
    }
    // 3/5, 8/13 and 21/34 of Vin for two, three and four phases, by hand.
    for (design, share) in [("F", 3.0 / 5.0), ("A", 8.0 / 13.0), ("E", 21.0 / 34.0)] {
        let (chain, _) = chain(&started, design);
        near(design, chain.gates_off_factor(1.0), share * chain.phases() as f64, 1e-12);
    }
}

/// Peaks of the tank current at the top of the band are upper ends, and little above what was integrated
/// into a shorted output: empty capacitors, and pre-charged ones.
#[test]
fn tank_currents_peak_as_integrated() {
    let started = started();
    for case in cases(&started, "cold_start_d_and_precharged_c") {
        let (chain, top) = chain(&started, name(case));
        let peak = list(case, "peak_tank_switch")[0];
        let is_cold = case["mode"] == "d";
        let law = if is_cold { chain.cold_peak(top) } else { chain.charged_peak(top) }.unwrap().0;
        assert!(peak < law, "{}: {peak} A, at most {law} A", name(case));
        if number(case, "Vo") == 0.0 {
            assert!(peak > 0.94 * law, "{}: {peak} A, at most {law} A", name(case));
        }
    }
}

/// Resistors of 20 Ω across the high switches, an input ramp of 30 ms.
#[test]
fn pre_charging_resistors_lag_as_integrated() {
    let started = started();
    for case in cases(&started, "other").iter().filter(|case| case["test"] == "precharge") {
        let (chain, _) = chain(&started, name(case));
        let (resistance, ramp) = (number(case, "R"), number(case, "t_ramp"));
        let lags = ladder_lags(chain.phases(), resistance * chain.flying[0].0, ramp);
        for (lag, integrated) in lags.iter().zip(list(case, "lag_sim")) {
            near(name(case), lag * chain.point.input_voltage.0, integrated, 0.003);
        }
    }
}

/// A ramp of that length keeps the factor, and little more than needed: its lag is the end of a long one.
#[test]
fn a_ladder_ramp_keeps_its_factor() {
    let started = started();
    for design in DESIGNS {
        let (chain, _) = chain(&started, design);
        let step = Ohm(20.0);
        let ramp = chain.ladder_ramp(step, 1.2);
        let time_constant = step.0 * chain.flying[0].0;
        // 2.5, 8.33 and 17.5 R C for two, three and four phases at a factor of 1.2, by hand.
        let multiple = [2.5, 10.0 / 1.2, 17.5][chain.phases() - 2];
        near(design, ramp.0, multiple * time_constant, 1e-9);
        let factor = chain.ladder_factor(step, ramp);
        assert!(factor <= 1.2 && factor > 1.19, "{design}: {factor}");
    }
}

/// The output held down: losses alone fill the chain. Diodes pass a little more, so that the linear law
/// lags by up to a third too much.
#[test]
fn into_a_shorted_output_the_chain_lags_as_integrated() {
    let started = started();
    for case in cases(&started, "shorted_output_ladder") {
        let (chain, top) = chain(&started, name(case));
        let step = chain.loss_step(top);
        let lags = ladder_lags(chain.phases(), step.0 * chain.flying[0].0, number(case, "t_ramp"));
        for (lag, integrated) in lags.iter().zip(list(case, "lag_sim")) {
            let ratio = lag * chain.point.input_voltage.0 / integrated;
            assert!(ratio > 1.0 && ratio < 1.35, "{}: {ratio}", name(case));
        }
    }
    for design in DESIGNS {
        let (chain, top) = chain(&started, design);
        let own = &started["designs_and_laws"][design];
        near(
            design,
            chain.ladder_ramp(chain.loss_step(top), 1.2).0,
            number(own, "ramp_for_1p2_shorted_s"),
            2e-3,
        );
    }
}

/// The output held at its voltage, gates at the top of the band: the highest voltage of a phase.
#[test]
fn at_the_top_of_the_band_phases_follow_at_their_threshold() {
    let started = started();
    for case in cases(&started, "stiff_output_lag") {
        let (chain, top) = chain(&started, name(case));
        let factor = chain.threshold_factor(top, Second(number(case, "t_ramp")));
        near(name(case), factor * chain.phase_voltage().0, number(case, "Vmax_sim"), 0.025);
    }
    for design in DESIGNS {
        let (chain, top) = chain(&started, design);
        let own = &started["designs_and_laws"][design];
        near(design, chain.threshold(top).0, number(own, "Vth_top_V"), 1e-4);
        near(design, chain.following(0, top).0, number(own, "K_A"), 1e-4);
        if let Some(ramp) = chain.threshold_ramp(top, 1.2) {
            // As long as the law of small lags says, or up to three times that where it is larger.
            let ratio = ramp.0 / number(own, "ramp_for_1p2_stiff_top_s");
            assert!(ratio > 0.98 && ratio < 3.5, "{design}: {ratio}");
            assert!(chain.threshold_factor(top, Second(1.000_001 * ramp.0)) <= 1.2, "{design}");
            assert!(chain.threshold_factor(top, Second(0.99 * ramp.0)) > 1.2, "{design}");
        }
    }
}

/// What arrives at the output while the chain fills, and whether the output takes it. Without load at the
/// operating frequency, on a ramp of 20 ms.
#[test]
fn a_chain_stays_crooked_where_the_output_cannot_take_the_energy() {
    let started = started();
    let mut compared = 0;
    for case in cases(&started, "ramp_finite_output_capacitor") {
        let (chain, _) = chain(&started, name(case));
        let own = &started["designs_and_laws"][name(case)];
        near(name(case), chain.fill_energy().0, number(own, "E_out_J"), 1e-3);
        let is_asked = case["freq"] == "op"
            && number(case, "load") == 0.0
            && (number(case, "t_ramp") - 0.02).abs() < 1e-9;
        if !is_asked {
            continue;
        }
        let output = Farad(number(case, "Cout"));
        let taken = chain.absorbed_energy(output, 0.0, Second(0.02));
        let margin = taken.0 / chain.fill_energy().0;
        // Close to one, either may be.
        if (margin - 1.0).abs() < 0.2 {
            continue;
        }
        let ratios = case["ratio"].as_object().unwrap().values();
        let factor = ratios.map(|own| own.as_f64().unwrap()).fold(0.0, f64::max);
        assert_eq!(margin < 1.0, factor > 1.1, "{}: {margin}, factor {factor}", name(case));
        compared += 1;
    }
    assert!(compared >= 3, "{compared} compared");
}

/// A longer ramp lags less. At the operating frequency a very long one leaves what the ripple adds alone, whether
/// the output rises or not: phases come in so slowly that each has its equal share.
#[test]
fn a_longer_ramp_never_has_a_larger_factor() {
    let started = started();
    for design in DESIGNS {
        let (chain, top) = chain(&started, design);
        let frequency = number(&started["designs_and_laws"][design], "operating_frequency_Hz");
        let ramps = [1e-3, 1e-2, 0.1, 1.0, 10.0, 60.0, 100.0, 1000.0].map(Second);
        let falls = |what: &str, factor: &dyn Fn(Second) -> f64| {
            let factors = ramps.map(factor);
            for pair in factors.windows(2) {
                assert!(pair[1] <= pair[0] * (1.0 + 1e-4), "{design} {what}: {factors:?}");
            }
            factors[factors.len() - 1]
        };
        let operating = |is_rising: bool| OperatingStart { frequency: Hertz(frequency), is_rising };
        let at_last = [false, true].map(|is_rising| {
            let factor = |ramp| chain.operating_factor(&operating(is_rising), ramp).unwrap();
            falls("operating", &factor)
        });
        assert!(at_last.iter().all(|factor| *factor < 1.03), "{design}: {at_last:?}");
        assert!((at_last[0] - at_last[1]).abs() < 1e-3, "{design}: {at_last:?}");
        falls("top", &|ramp| chain.threshold_factor(top, ramp));
    }
}
