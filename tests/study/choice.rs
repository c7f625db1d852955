//! Which configuration is taken where a scenario leaves it open: against a brute-force search.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{Arrangement, Configuration, Converter, Drive, OperatingPoint};
use fairphase::scenario::{PointRequest, Preference, Scenario};
use fairphase::solver::{Case, Method, SteadyState, Unsolved};
use fairphase::study::common::choice::{ConfigurationChoice, Feasibility};
use fairphase::study::common::nominal::{BaselineError, baselines};
use fairphase::units::Volt;

/// Invented: wide output, drive and rectifier left open.
const ELECTROLYSER: &str = include_str!("../../scenarios/electrolyser-supply.toml");

fn scenario() -> Scenario {
    Scenario::parse("electrolyser.toml", ELECTROLYSER).unwrap()
}

fn in_configuration(request: &PointRequest, configuration: Configuration) -> OperatingPoint {
    OperatingPoint {
        name: request.name.clone(),
        input_voltage: request.input_voltage,
        output_voltage: request.output_voltage,
        output_current: request.output_current,
        drive: configuration.drive,
        rectifier: configuration.rectifier,
        condition: fairphase::converter::Condition::default(),
    }
}

/// What a preference wants low, from the steady state alone. The loss is what goes in less what
/// comes out: Q fs of the input in half-bridge, 2 Q fs in full-bridge drive.
fn cost(prefer: Preference, scenario: &Scenario, point: &OperatingPoint, s: &SteadyState) -> f64 {
    let (f, band) = (s.switching_frequency.0, &scenario.frequency);
    match prefer {
        Preference::LowestLoss => {
            let input = point.drive.legs() as f64 * s.phases[0].charge * f;
            point.input_voltage.0 * input - point.output_voltage.0 * point.output_current.0
        }
        Preference::LowestSwitchCurrent => {
            let switches = s.phases.iter().flat_map(|p| p.switches.all());
            switches.map(|current| current.rms.0).fold(0.0, f64::max)
        }
        Preference::FrequencyMargin => -((f / band.minimum.0).ln().min((band.maximum.0 / f).ln())),
    }
}

/// The best of the four, tried one by one in both arrangements.
fn brute_force(
    scenario: &Scenario,
    nominal: &Converter,
    request: &PointRequest,
    prefer: Preference,
) -> Option<Configuration> {
    let mut best = None;
    let mut least = f64::INFINITY;
    for configuration in Configuration::ALL {
        let point = in_configuration(request, configuration);
        let case = |a| Case::new(point.clone(), scenario.frequency, a);
        let solve = |a| Method::Exact.solve(nominal, &case(a));
        let [chain, paralleled] = Arrangement::ALL.map(solve);
        let (Some(state), Some(_)) = (chain.solved(), paralleled.solved()) else { continue };
        let cost = cost(prefer, scenario, &point, state);
        if cost < least {
            (best, least) = (Some(configuration), cost);
        }
    }
    best
}

#[test]
fn the_choice_is_the_brute_force_minimum_over_the_four() {
    let mut scenario = scenario();
    let nominal = scenario.nominal_converter();
    let mut taken = Vec::new();
    for prefer in Preference::ALL {
        scenario.prefer = prefer;
        for (voltage, current) in
            [(16.0, 40.0), (22.0, 8.0), (25.0, 40.0), (35.0, 30.0), (40.0, 40.0), (76.0, 20.0)]
        {
            let request = &mut scenario.operating_points[0];
            (request.output_voltage.0, request.output_current.0) = (voltage, current);
            let request = scenario.operating_points[0].clone();
            let expected = brute_force(&scenario, &nominal, &request, prefer).unwrap();
            let all = baselines(&scenario, Method::Exact).unwrap();
            let found = all[0].case.point.configuration();
            assert_eq!(found, expected, "{} at {voltage} V, {current} A", prefer.name());
            taken.push((prefer.name(), found));
        }
    }
    for configuration in Configuration::ALL {
        assert!(taken.iter().any(|(_, c)| *c == configuration), "{}", configuration.name());
    }
    let of = |prefer: Preference| -> Vec<Configuration> {
        taken.iter().filter(|(p, _)| *p == prefer.name()).map(|(_, c)| *c).collect()
    };
    assert_ne!(
        of(Preference::LowestLoss),
        of(Preference::FrequencyMargin),
        "it makes a difference"
    );
}

/// All four are needed over the operating points of the example, and what is dropped is told.
#[test]
fn the_example_needs_all_four_configurations() {
    let all = baselines(&scenario(), Method::Exact).unwrap();
    let mut taken: Vec<String> = Vec::new();
    for b in all.iter().filter(|b| b.case.arrangement == Arrangement::Chain) {
        let choice = b.choice.as_ref().unwrap();
        assert_eq!(choice.candidates.len(), 4);
        let chosen = choice.chosen.unwrap();
        for (n, candidate) in choice.candidates.iter().enumerate() {
            let expected = match candidate.feasibility {
                Feasibility::Works(_) if n == chosen => "chosen",
                Feasibility::Works(_) => "higher loss",
                _ => "out of range",
            };
            assert_eq!(choice.reason(n), expected);
        }
        taken.push(b.case.point.configuration().name());
    }
    taken.sort();
    taken.dedup();
    assert_eq!(taken.len(), 4, "{taken:?}");
}

#[test]
fn what_is_given_stays_as_given() {
    let mut scenario = scenario();
    scenario.operating_points.truncate(1);
    scenario.operating_points[0].drive = Some(Drive::FullBridge);
    let b = &baselines(&scenario, Method::Exact).unwrap()[0];
    assert_eq!(b.case.point.drive, Drive::FullBridge);
    assert_eq!(b.choice.as_ref().unwrap().candidates.len(), 2, "the rectifier is still open");
    scenario.operating_points[0].rectifier = Some(b.case.point.rectifier);
    let b = &baselines(&scenario, Method::Exact).unwrap()[0];
    assert!(b.choice.is_none());
}

/// Without loss an idle phase draws nothing, and the chain's input current has no scale. At
/// resonance the paralleled phases' split is undetermined, which is no failure of the solver.
#[test]
fn a_converter_without_loss_is_weighed_by_both_solvers() {
    let mut scenario = scenario();
    scenario.nominal.series_resistance.0 = 0.0;
    scenario.nominal.rectifier_drop.0 = 0.0;
    let nominal = scenario.nominal_converter();
    for method in [Method::Exact, Method::Averaged] {
        for request in &scenario.operating_points {
            let choice = ConfigurationChoice::for_request(&scenario, &nominal, request, method);
            assert!(
                choice
                    .candidates
                    .iter()
                    .any(|c| matches!(c.feasibility, Feasibility::OutOfRange(_)))
            );
            for candidate in &choice.candidates {
                assert!(
                    !matches!(candidate.feasibility, Feasibility::NotSolved(_, Unsolved::Lost)),
                    "{candidate:?}"
                );
            }
        }
    }
}

#[test]
fn what_none_can_reach_is_refused_with_what_each_can() {
    let mut scenario = scenario();
    scenario.operating_points[1].output_voltage = Volt(150.0);
    let error = baselines(&scenario, Method::Exact).unwrap_err();
    assert!(matches!(error, BaselineError::NoConfiguration { .. }));
    let text = error.to_string();
    for words in ["\"18 cells, full current\"", "150.0 V", "40.00 A", "100.0 kHz to 280.0 kHz"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    // Where the solver begins and ceases to reach the output: 1 % inside it solves the nominal
    // converter, 1 % outside it does not.
    let (request, nominal) = (&scenario.operating_points[1], scenario.nominal_converter());
    let lines: Vec<&str> = text.lines().skip(1).map(str::trim).collect();
    assert_eq!(lines.len(), Configuration::ALL.len(), "{text}");
    for configuration in Configuration::ALL {
        let name = format!("{} (chain): ", configuration.name());
        let range = lines.iter().find_map(|line| line.strip_prefix(&name)).unwrap();
        let ends: Vec<f64> = range.split(' ').filter_map(|word| word.parse().ok()).collect();
        let is_reached = |voltage: f64| {
            let mut point = in_configuration(request, configuration);
            point.output_voltage = Volt(voltage);
            let case = Case::new(point, scenario.frequency, Arrangement::Chain);
            Method::Exact.solve(&nominal, &case).solved().is_some()
        };
        let highest = *ends.last().unwrap();
        assert!(is_reached(0.99 * highest) && !is_reached(1.01 * highest), "{name}{range}");
        if let [lowest, _] = ends[..] {
            assert!(is_reached(1.01 * lowest) && !is_reached(0.99 * lowest), "{name}{range}");
        } else {
            assert!(range.starts_with("up to ") && is_reached(0.1 * highest), "{name}{range}");
        }
    }
}
