//! Starts other than the nominal converter's: the same solution, with little work.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::converter::{Arrangement, Converter};
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Effort, Method, Outcome, SteadyState};
use fairphase::study::common::nominal::baselines;
use fairphase::units::Farad;

/// Work of some hundred usual solutions, in stretches. A search may take a thousand times as much.
const LITTLE: f64 = 4000.0;

/// Invented scenarios: half and full bridge.
const SCENARIOS: [&str; 2] = [
    include_str!("../../scenarios/telecom-shelf.toml"),
    include_str!("../../scenarios/electrolyser-supply.toml"),
];

fn solved(converter: &Converter, case: &Case, work: f64) -> SteadyState {
    match Method::Exact.solve_within(&Effort::new(work, None), converter, case) {
        Outcome::Solved(state) => state,
        other => panic!("{other:?}"),
    }
}

/// The largest relative difference of the tanks' RMS currents.
fn apart(a: &SteadyState, b: &SteadyState) -> f64 {
    let currents = a.phases.iter().zip(&b.phases);
    let apart = currents.map(|(a, b)| (a.rms_current.0 / b.rms_current.0 - 1.0).abs());
    apart.fold(0.0, f64::max)
}

/// The converter with the flying capacitors of all legs alike, so that both halves of a period are alike.
fn with_equal_halves(converter: &Converter) -> Converter {
    let mut equal = converter.clone();
    for capacitance in equal.flying.iter_mut().chain(&mut equal.flying_return) {
        *capacitance = Farad(40e-6);
    }
    equal
}

/// From the solution of a converter with unequal halves to one with equal halves, and to any other of the
/// population: every one is found with little work, and is the solution from the nominal start.
#[test]
fn a_start_at_any_converter_serves_its_neighbours() {
    for text in SCENARIOS {
        let scenario = Scenario::parse("demo.toml", text).unwrap();
        let population = Population::new(&scenario, 1);
        for case in baselines(&scenario, Method::Exact).unwrap().into_iter().map(|own| own.case) {
            for sample in (0..40).step_by(2) {
                let [here, there] = [0, 1].map(|next| population.draw(sample + next));
                let effort = Effort::default();
                let (_, near) = Method::Exact.prepare_nearby(&effort, &here, case.clone());
                assert!(near.start.is_some());
                for other in [with_equal_halves(&there), with_equal_halves(&here), there] {
                    let (own, known) =
                        (solved(&other, &near, LITTLE), solved(&other, &case, f64::INFINITY));
                    let apart = apart(&own, &known);
                    assert!(apart < 1e-8, "{} {sample}: {apart}", case.point.name);
                }
            }
        }
    }
}

/// Paralleled phases of which one has its peak of current above the switching frequency: slopes do not tell
/// that no higher frequency delivers the output, a look at those frequencies does. Followed step by step
/// as one resonance rises and the others fall, every converter has the answer of the slow search, with less
/// work. Without that look a step takes up to twice the work of the search.
#[test]
fn a_phase_below_its_peak_needs_no_slow_search() {
    let scenario = Scenario::parse("demo.toml", SCENARIOS[1]).unwrap();
    for case in baselines(&scenario, Method::Exact).unwrap().into_iter().map(|own| own.case) {
        if case.arrangement == Arrangement::Chain {
            continue;
        }
        let (cold, mut near) = (Case { start: None, ..case.clone() }, case);
        for step in 0..60 {
            let mut converter = scenario.nominal_converter();
            for (k, tank) in converter.tanks.iter_mut().enumerate() {
                let direction = if k == 0 { -1.0 } else { 1.0 };
                let factor = 1.0 + direction * 0.004 * f64::from(step);
                tank.resonant_inductance.0 *= factor;
                tank.resonant_capacitance.0 *= factor;
            }
            let [(led, little), (searched, much)] = [&near, &cold].map(|case| {
                let effort = Effort::default();
                let outcome = Method::Exact.solve_within(&effort, &converter, case);
                (outcome.solved().cloned().unwrap(), effort.share_taken())
            });
            assert!(apart(&led, &searched) < 1e-7, "{step}");
            assert!(little < much, "{step}: {little:.1e} of {much:.1e}");
            near = Method::Exact.prepare_nearby(&Effort::default(), &converter, near).1;
        }
    }
}
