//! Trim loops and current sensors: where the loops settle against closed forms and brute force,
//! what sensors cost, and what they leave as it was.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::sync::atomic::{AtomicBool, Ordering};

use fairphase::converter::{
    Arrangement, AssumedDrift, Converter, Drive, Leg, Measure, OperatingPoint, Parameter, Sensor,
    Sensors, Shared,
};
use fairphase::population::{Population, RandomSource, SensorScatter};
use fairphase::scenario::{Scenario, Shape, Tolerance};
use fairphase::solver::trim::{AGREEMENT, Trim, TrimCase, Trimmed};
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::statistics::{Confidence, Verdict, Yield};
use fairphase::study::common::figures::{Figure, Side, SolvedConverter};
use fairphase::study::common::nominal::baselines;
use fairphase::study::common::progress::{Progress, Silent};
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::{Draws, Settings};
use fairphase::study::common::trials::{ConverterVariant, Solving, trial};
use fairphase::study::sensors::{
    BillOfParts, FactorBounds, NoRating, ScaledQuantity, SensitivityQuestion, SensorStudy,
    TargetComparison, Unfinished, Variant, sensors, survey,
};
use fairphase::units::{Ampere, Ohm, Volt};

/// Three phases in full bridge, above resonance; two in half bridge. Both invented.
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

fn scenario(text: &str) -> Scenario {
    Scenario::parse("test.toml", text).unwrap_or_else(|e| panic!("{e}"))
}

fn with_wider_bands(scenario: &Scenario, factor: f64) -> Scenario {
    let tolerances = scenario.tolerances.scaled(factor);
    Scenario { tolerances, ..scenario.clone() }
}

fn trim(range: f64) -> Trim {
    Trim {
        measured: Shared::MeanTankCurrent,
        parameter: Parameter::ResonantInductance,
        range,
        added_resistance: Ohm(0.0),
    }
}

fn ideal(phases: usize) -> Sensors {
    std::iter::repeat_n(Sensor::IDEAL, phases).collect()
}

/// A case to be solved from nothing.
fn cold(case: &Case) -> Case {
    Case { start: None, ..case.clone() }
}

/// Every case of a scenario, with its loops.
fn each_case(scenario: &Scenario, trim: Trim, mut see: impl FnMut(&TrimCase)) {
    for baseline in baselines(scenario, Method::Exact).unwrap() {
        let case = baseline.case;
        see(&TrimCase { solver: Method::Exact.into(), case: &case, trim });
    }
}

/// The first samples, with their loops settled.
fn settled(
    scenario: &Scenario,
    case: &TrimCase,
    samples: u64,
    sensors: impl Fn(u64) -> Sensors,
) -> Vec<(Converter, Sensors, Trimmed)> {
    let population = Population::new(scenario, 3);
    let start = case.prepare(population.nominal()).1.unwrap();
    (0..samples)
        .map(|k| {
            let (converter, sensors) = (population.draw(k), sensors(k));
            let trimmed = case.settle(&converter, &sensors, &start);
            (converter, sensors, trimmed)
        })
        .collect()
}

fn solved(trimmed: &Trimmed) -> &SteadyState {
    trimmed.outcome.solved().unwrap_or_else(|| panic!("{:?}", trimmed.outcome.reason()))
}

fn currents(state: &SteadyState, share: Shared) -> Vec<f64> {
    state.phases.iter().map(|p| p.shared(share).0).collect()
}

#[test]
fn ideal_sensors_with_a_wide_range_leave_no_error_in_what_they_measure() {
    for text in [LAMPS, PUMP] {
        let scenario = scenario(text);
        for measured in Shared::ALL {
            for parameter in [Parameter::ResonantInductance, Parameter::ResonantCapacitance] {
                let trim = Trim { measured, parameter, ..trim(0.5) };
                each_case(&scenario, trim, |case| {
                    for (_, _, trimmed) in settled(&scenario, case, 40, |_| ideal(scenario.phases))
                    {
                        let state = solved(&trimmed);
                        let error = Measure::Spread.error(currents(state, measured).into_iter());
                        let name =
                            (&case.case.point.name, case.case.arrangement, measured, parameter);
                        // In a chain the loops may lack the authority: then they are at an end.
                        if trimmed.at_end.iter().any(|end| *end) {
                            assert_eq!(case.case.arrangement, Arrangement::Chain, "{name:?}");
                            continue;
                        }
                        assert!(error <= AGREEMENT, "{name:?}: {error}");
                        let sum: f64 = trimmed.trims.iter().sum();
                        assert!(sum.abs() < 1e-12, "the mean trim is zero: {sum}");
                    }
                });
            }
        }
    }
}

/// With gain errors alone the loops make `g(k) i(k)` equal, so that the true currents stand as the
/// inverse gains, and the sharing error is that of 1/g(k), whatever the parts.
#[test]
fn gain_errors_alone_leave_the_inverse_gains() {
    let mut scenario = scenario(LAMPS);
    let request = scenario.sensors.as_mut().unwrap();
    (request.offset, request.drift) = (None, None);
    let scatter = SensorScatter::new(request);
    let population = Population::new(&scenario, 3);
    let (mut seen, mut largest) = (0, 0.0_f64);
    each_case(&scenario, trim(0.5), |case| {
        let drawn = |k| population.draw_sensors(&scatter, k);
        for (_, sensors, trimmed) in settled(&scenario, case, 60, drawn) {
            if trimmed.at_end.iter().any(|end| *end) {
                continue;
            }
            let found = currents(solved(&trimmed), Shared::MeanTankCurrent);
            for measure in Measure::ALL {
                let expected = measure.error(sensors.iter().map(|s| 1.0 / s.gain));
                let error = measure.error(found.iter().copied());
                assert!((error - expected).abs() < 1e-6, "{error} against {expected}");
                largest = largest.max(expected);
            }
            seen += 1;
        }
    });
    assert!(seen > 300 && largest > 0.01, "{seen} converters, up to {largest}");
}

#[test]
fn without_a_range_a_converter_is_as_it_was() {
    for text in [LAMPS, PUMP] {
        let scenario = scenario(text);
        let off = |k: u64| -> Sensors {
            let sensor =
                Sensor { gain: 1.0 + 0.01 * k as f64, offset: Ampere(0.1), ..Sensor::IDEAL };
            std::iter::repeat_n(sensor, scenario.phases).collect()
        };
        each_case(&scenario, trim(0.0), |case| {
            let nominal = scenario.nominal_converter();
            let (_, prepared) = case.solver.prepare(&nominal, case.case.clone());
            for (converter, _, trimmed) in settled(&scenario, case, 30, off) {
                let plain = case.solver.solve(&converter, &prepared);
                assert_eq!(trimmed.outcome, plain, "to the bit");
                assert_eq!(trimmed.converter, converter);
                assert!(trimmed.at_end.iter().all(|end| *end), "the range ends at nothing");
            }
        });
    }
}

/// Two phases have one trim, x and −x, and the difference of their readings one root or none
/// within the range: halving finds it, and where there is none the loops stand at their ends.
#[test]
fn two_phases_settle_where_halving_finds_them() {
    for measured in [Shared::MeanTankCurrent, Shared::OutputCurrent] {
        halve(measured);
    }
}

fn halve(measured: Shared) {
    let scenario = scenario(PUMP);
    let range = 0.02;
    let (mut inside, mut at_ends) = (0, 0);
    each_case(&scenario, Trim { measured, ..trim(range) }, |case| {
        if case.case.arrangement == Arrangement::Chain {
            return;
        }
        for (converter, sensors, trimmed) in settled(&scenario, case, 40, |k| {
            let gain = 1.0 + 0.002 * ((k % 5) as f64 - 2.0);
            [Sensor { gain, offset: Ampere(0.02), ..Sensor::IDEAL }, Sensor::IDEAL]
                .into_iter()
                .collect()
        }) {
            let difference = |x: f64| {
                let mut changed = converter.clone();
                changed.tanks[0].resonant_inductance.0 *= 1.0 + x;
                changed.tanks[1].resonant_inductance.0 *= 1.0 - x;
                let outcome = case.solver.solve(&changed, &cold(case.case));
                let Outcome::Solved(state) = outcome else { panic!("{}", outcome.name()) };
                let reading = |k: usize| sensors[k].reading(state.phases[k].shared(measured));
                reading(0) - reading(1)
            };
            // More inductance, less current: the difference falls.
            let (mut low, mut high) = (-range, range);
            let expected = if difference(low) <= 0.0 {
                low
            } else if difference(high) >= 0.0 {
                high
            } else {
                for _ in 0..40 {
                    let middle = f64::midpoint(low, high);
                    if difference(middle) > 0.0 { low = middle } else { high = middle }
                }
                f64::midpoint(low, high)
            };
            solved(&trimmed);
            if expected.abs() == range {
                assert_eq!(trimmed.trims[..], [expected, -expected]);
                assert!(trimmed.at_end.iter().all(|end| *end));
                at_ends += 1;
            } else {
                assert!((trimmed.trims[0] - expected).abs() < 1e-6, "{expected}");
                assert!(trimmed.at_end.iter().all(|end| !*end));
                inside += 1;
            }
        }
    });
    assert!(inside > 10 && at_ends > 10, "{inside} inside, {at_ends} at the ends");
}

/// Where loops of two phases end up that start from no trim: they move one way until the readings
/// agree, until the range ends, or until the converter no longer works. Found in steps of a 100th
/// of the range, then by halving; `None` where the converter no longer works.
fn followed(case: &TrimCase, converter: &Converter, sensors: &Sensors) -> Option<f64> {
    let (range, sense) = (case.trim.range, f64::from(case.case.arrangement == Arrangement::Chain));
    let difference = |x: f64| {
        let mut changed = converter.clone();
        changed.tanks[0].resonant_inductance.0 *= 1.0 + x;
        changed.tanks[1].resonant_inductance.0 *= 1.0 - x;
        let outcome = case.solver.solve(&changed, &cold(case.case));
        let state = outcome.solved()?;
        let reading = |k: usize| sensors[k].reading(state.phases[k].shared(case.trim.measured));
        Some((2.0 * sense - 1.0) * (reading(0) - reading(1)))
    };
    let way = -difference(0.0)?.signum();
    let (mut last, mut next) = (0.0, 0.0);
    for step in 1..=100 {
        next = way * range * f64::from(step) / 100.0;
        if difference(next)? * way > 0.0 {
            break;
        }
        last = next;
    }
    if last == next {
        return Some(way * range);
    }
    for _ in 0..40 {
        let middle = f64::midpoint(last, next);
        if difference(middle)? * way > 0.0 { next = middle } else { last = middle }
    }
    Some(last)
}

/// With bands twice as wide the averaged solver's half-bridge chain at its gain limit has loops
/// that drive it out of range, and such as have a second rest point, which they would leave.
#[test]
fn loops_end_where_they_lead_from_no_trim() {
    let wide = with_wider_bands(&scenario(PUMP), 2.0);
    let request = scenario(LAMPS).sensors.unwrap();
    let (population, scatter) = (Population::new(&wide, 11), SensorScatter::new(&request));
    let (mut inside, mut out_of_range) = (0, 0);
    for baseline in baselines(&wide, Method::Averaged).unwrap() {
        let own = baseline.case;
        let (point, arrangement) = (&own.point, own.arrangement);
        let trim = Trim { measured: request.measured, ..trim(request.trim_range) };
        let case = TrimCase { solver: Method::Averaged.into(), case: &own, trim };
        let start = case.prepare(population.nominal()).1.unwrap();
        // Those that quick steps alone do not settle, and some others.
        for k in [37, 391, 414, 546, 649].into_iter().chain(0..30) {
            let converter = population.draw(k);
            let sensors = population.draw_sensors(&scatter, k);
            let trimmed = case.settle(&converter, &sensors, &start);
            let name = (&point.name, arrangement, k);
            let untrimmed = case.solver.solve(&converter, &cold(&own));
            if untrimmed.solved().is_none() {
                continue;
            }
            if let Some(expected) = followed(&case, &converter, &sensors) {
                solved(&trimmed);
                let found = trimmed.trims[0];
                assert!((found - expected).abs() < 1e-6, "{name:?}: {found}, not {expected}");
                inside += 1;
            } else {
                assert_eq!(trimmed.outcome, Outcome::OutOfRange, "{name:?}");
                out_of_range += 1;
            }
        }
    }
    assert!(inside > 100 && out_of_range > 1, "{inside} at rest, {out_of_range} out of range");
}

/// A saturated phase stands at its end, and pushes outwards; the others agree among themselves.
#[test]
fn a_saturated_phase_stands_at_its_end() {
    let scenario = scenario(LAMPS);
    let range = 0.015;
    let mut mixed = 0;
    each_case(&scenario, trim(range), |case| {
        if case.case.arrangement == Arrangement::Chain {
            return;
        }
        for (_, _, trimmed) in settled(&scenario, case, 200, |_| ideal(3)) {
            let i = currents(solved(&trimmed), Shared::MeanTankCurrent);
            let at = |end: f64| (0..3).filter(|k| trimmed.trims[*k] == end).map(|k| i[k]).collect();
            let (top, bottom): (Vec<f64>, Vec<f64>) = (at(range), at(-range));
            let free: Vec<f64> = (0..3).filter(|k| !trimmed.at_end[*k]).map(|k| i[k]).collect();
            assert_eq!(top.len() + bottom.len() + free.len(), 3);
            assert!(trimmed.trims.iter().sum::<f64>().abs() < 1e-12);
            // More inductance, less current: at the upper end a phase still has too much of it.
            let least = |x: &[f64]| x.iter().copied().fold(f64::INFINITY, f64::min);
            let most = |x: &[f64]| x.iter().copied().fold(0.0, f64::max);
            let close = 1.0 + 1e-6;
            assert!(most(&free) <= close * least(&top) && most(&bottom) <= close * least(&free));
            mixed += u32::from(!free.is_empty() && free.len() < 3);
        }
    });
    assert!(mixed > 10, "{mixed} with some phases at an end");
}

/// The state that is told of settled loops is that of their converter solved from nothing, where the readings
/// agree far more closely than they have to.
#[test]
fn settled_loops_are_full_solutions() {
    let request = scenario(LAMPS).sensors.unwrap();
    let scatter = SensorScatter::new(&request);
    for text in [LAMPS, PUMP] {
        let (mut jointly, mut all) = (0, 0);
        for factor in [1.0, 2.0] {
            let scenario = with_wider_bands(&scenario(text), factor);
            let population = Population::new(&scenario, 3);
            let trim = Trim { measured: Shared::OutputCurrent, ..trim(0.1) };
            each_case(&scenario, trim, |case| {
                let drawn = |k| population.draw_sensors(&scatter, k);
                for (_, sensors, trimmed) in settled(&scenario, case, 60, drawn) {
                    all += 1;
                    // By the first iteration, and not by trials of trims.
                    if trimmed.evaluations > 1 {
                        continue;
                    }
                    jointly += 1;
                    let cold = case.solver.solve(&trimmed.converter, &cold(case.case));
                    let (found, cold) = (solved(&trimmed), cold.solved().unwrap());
                    let [a, b] = [found, cold].map(|state| state.switching_frequency.0);
                    assert!((a / b - 1.0).abs() < 1e-9, "{a} and {b}");
                    let readings: Vec<f64> = cold
                        .phases
                        .iter()
                        .zip(&found.phases)
                        .zip(&sensors)
                        .map(|((cold, found), sensor)| {
                            let (a, b) = (found.rms_current.0, cold.rms_current.0);
                            assert!((a / b - 1.0).abs() < 1e-8, "{a} and {b}");
                            sensor.reading(cold.output_current)
                        })
                        .collect();
                    let error = Measure::Spread.error(readings.iter().copied());
                    assert!(error < 1e-8, "{error}");
                    assert!(trimmed.trims.iter().sum::<f64>().abs() < 1e-12);
                }
            });
        }
        assert!(10 * jointly > 7 * all, "{jointly} of {all}");
    }
}

/// What comes in goes out or is lost, the added resistance and its loss included.
#[test]
fn power_balances_with_the_added_resistance() {
    let scenario = scenario(LAMPS);
    for added in [Ohm(0.0), Ohm(0.02)] {
        each_case(&scenario, Trim { added_resistance: added, ..trim(0.05) }, |case| {
            for (converter, _, trimmed) in settled(&scenario, case, 20, |_| ideal(3)) {
                let state = solved(&trimmed);
                let tanks = trimmed.converter.tanks.iter().zip(&converter.tanks);
                for (with, without) in tanks {
                    let more = with.series_resistance.0 - without.series_resistance.0;
                    assert!((more - added.0).abs() < 1e-15);
                }
                let loss = loss(state, &trimmed.converter, case);
                let out = case.case.point.output_voltage.0 * case.case.point.output_current.0;
                let input = input_power(state, &case.case.point, case.case.arrangement);
                assert!((input / (out + loss) - 1.0).abs() < 1e-6, "{input} {out} {loss}");
            }
        });
    }
}

fn loss(state: &SteadyState, converter: &Converter, case: &TrimCase) -> f64 {
    SolvedConverter::new(
        state,
        converter,
        &case.case.point,
        case.case.arrangement,
        &AssumedDrift::Stated(Volt(0.0)),
    )
    .value(Figure::Loss)
}

/// A chain draws the first phase's charge from the input, a leg and period; paralleled, every
/// phase draws its own from an N-th of it.
fn input_power(state: &SteadyState, point: &OperatingPoint, arrangement: Arrangement) -> f64 {
    let legs = if point.drive == Drive::FullBridge { 2.0 } else { 1.0 };
    let all: f64 = state.phases.iter().map(|p| p.charge).sum();
    let charge = match arrangement {
        Arrangement::Chain => state.phases[0].charge,
        Arrangement::Paralleled => all / state.phases.len() as f64,
    };
    legs * charge * state.switching_frequency.0 * point.input_voltage.0
}

#[test]
fn sensors_and_parts_do_not_depend_on_each_other() {
    let with = scenario(LAMPS);
    let request = with.sensors.clone().unwrap();
    let bare = Scenario { sensors: None, ..with.clone() };
    let parts = |s: &Scenario| (0..50).map(|k| Population::new(s, 9).draw(k)).collect::<Vec<_>>();
    assert_eq!(parts(&with), parts(&bare), "parts with and without sensors");
    let fewer = Scenario {
        tolerances: with.tolerances.with(Parameter::ResonantInductance, None),
        ..with.clone()
    };
    assert_ne!(parts(&with), parts(&fewer));
    let drawn = |s: &Scenario, scatter: &SensorScatter| {
        (0..50).map(|k| Population::new(s, 9).draw_sensors(scatter, k)).collect::<Vec<_>>()
    };
    let all = SensorScatter::new(&request);
    assert_eq!(drawn(&with, &all), drawn(&fewer, &all), "sensors whatever the parts");
    let mut steady = request;
    steady.gain_error = None;
    let steady = drawn(&with, &SensorScatter::new(&steady));
    for (a, b) in drawn(&with, &all).iter().flatten().zip(steady.iter().flatten()) {
        assert_eq!(a.offset, b.offset, "an error dropped leaves the others as they were");
        assert_ne!(a.gain, b.gain);
    }
}

/// The uniform distribution on ±b has the mean 0 and the standard deviation b/√3 (closed form);
/// five standard errors of each, of 30 000 draws.
#[test]
fn sensor_errors_have_the_shapes_stated() {
    let mut with = scenario(LAMPS);
    let request = with.sensors.as_mut().unwrap();
    let band = |band| Some(Tolerance::new(Shape::Uniform, band));
    (request.gain_error, request.drift, request.offset) = (band(0.02), None, band(0.3));
    let scatter = SensorScatter::new(request);
    let population = Population::new(&with, 5);
    let all: Vec<Sensor> = (0..10_000).flat_map(|k| population.draw_sensors(&scatter, k)).collect();
    let check = |values: Vec<f64>, band: f64| {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let sd = band / 3.0_f64.sqrt();
        assert!(mean.abs() < 5.0 * sd / n.sqrt(), "{mean}");
        // Var(s²) = σ⁴ (κ − 1)/n with the kurtosis κ = 9/5 of the uniform distribution.
        assert!((variance / sd.powi(2) - 1.0).abs() < 5.0 * (0.8 / n).sqrt(), "{variance}");
        let most = values.iter().fold(0.0, |a, x| f64::max(a, x.abs()));
        assert!(most <= band && most > 0.999 * band, "{most}");
    };
    check(all.iter().map(|s| s.gain - 1.0).collect(), 0.02);
    check(all.iter().map(|s| s.offset.0).collect(), 0.3);
}

fn study(scenario: &Scenario, samples: u64) -> SensorStudy {
    let settings = Settings { samples, seed: 4, method: Method::Exact, threads: 0 };
    let request = scenario.sensors.clone().unwrap();
    sensors(scenario, &request, settings, &AtomicBool::new(false), &mut Silent).unwrap()
}

/// Sensors that do nothing and add nothing leave (a) and (b) as they were.
#[test]
fn loops_without_range_give_the_variants_without_sensors() {
    let mut still = scenario(LAMPS);
    let request = still.sensors.as_mut().unwrap();
    request.trim_range = 0.0;
    request.added_resistance = Ohm(0.0);
    request.standing_loss.0 = 0.0;
    let study = study(&still, 300);
    for (plain, with) in [
        (Variant::Paralleled, Variant::ParalleledWithSensors),
        (Variant::Chain, Variant::ChainWithSensors),
    ] {
        assert_eq!(study.good_in_one_alone(plain, with), 0);
        assert_eq!(study.good_in_one_alone(with, plain), 0);
        let (a, b) = (study.variant(plain), study.variant(with));
        assert_eq!((a.good, a.counts), (b.good, b.counts));
        assert_eq!(a.sharing, b.sharing);
        assert_eq!((a.rms, a.peak, a.loss), (b.rms, b.peak, b.loss));
        assert_eq!(a.ratings, b.ratings);
        let rise = b.bill.price / a.bill.price;
        assert!(rise > 1.0, "they cost all the same");
    }
}

/// The chain's yield as a run has it, the bills by hand, and the break-even prices from the costs
/// per good converter.
#[test]
fn a_study_agrees_with_a_run_and_with_its_own_bills() {
    let mut lamps = scenario(LAMPS);
    lamps.limits.yield_target = 0.98;
    let study = study(&lamps, 400);
    assert_eq!(study.variant(Variant::ParalleledWithSensors).verdict, Verdict::Pass);
    let settings = Settings { samples: 400, seed: 4, method: Method::Exact, threads: 0 };
    for variant in [Variant::Paralleled, Variant::Chain] {
        let stop = AtomicBool::new(false);
        let tolerances = lamps.tolerances.clone();
        let entry = ConverterVariant { tolerances, arrangement: variant.arrangement() };
        let alone = trial(
            &Session::new(&lamps, settings, &stop).unwrap(),
            entry,
            settings.draws(),
            Solving::ToTheEnd,
        )
        .unwrap();
        assert_eq!(study.variant(variant).good.successes, alone.good);
    }
    // 112 and 360 FIT without all that is compared; a chain has 29.5 and 62 of its own, paralleled bridges
    // 28 and 60. 4 flying capacitors at 0.9 and 3 FIT, 3 sensors at 2.4 and 14, 3 trim elements at 3.1 and 22.
    let expected = [
        (Variant::Paralleled, 0, 140.0, 420.0),
        (Variant::Chain, 4, 145.1, 434.0),
        (Variant::ParalleledWithSensors, 6, 156.5, 528.0),
        (Variant::ChainWithSensors, 10, 161.6, 542.0),
    ];
    let chain = study.variant(Variant::Chain);
    for (variant, added, price, fit) in expected {
        let result = study.variant(variant);
        assert_eq!(result.bill.added(), added);
        assert!((result.bill.price - price).abs() < 1e-9);
        assert!((result.bill.failure_rate - fit).abs() < 1e-9);
        let compared = variant.has_sensors() && result.verdict == Verdict::Pass;
        assert_eq!(result.break_even.is_some(), compared);
        if let Some(even) = result.break_even {
            assert!((even.today - 5.5).abs() < 1e-12 && !even.is_met_today());
            let at = (price - 3.0 * 5.5 + 3.0 * even.estimate) / result.good.estimate;
            assert!((at / (145.1 / chain.good.estimate) - 1.0).abs() < 1e-12);
            let interval = even.interval.unwrap();
            assert!(interval.lower <= even.estimate && even.estimate <= interval.upper);
            // The straight line of cost over that price passes through today's and the break-even.
            let line = result.cost_over_price().unwrap();
            let cost = |price: f64| line.at_zero + line.per_unit * price;
            assert!((cost(even.today) / result.price_per_good().unwrap() - 1.0).abs() < 1e-12);
            assert!((cost(even.estimate) / chain.price_per_good().unwrap() - 1.0).abs() < 1e-12);
        }
    }
}

/// What only one arrangement has may be left out: then both cost the same but for what is added.
#[test]
fn own_parts_of_an_arrangement_are_optional() {
    let own = [
        "chain            = 29.5",
        "paralleled       = 28 ",
        "chain            = 62",
        "paralleled       = 60",
    ];
    let text = own.iter().fold(LAMPS.to_owned(), |text, line| {
        assert_eq!(text.matches(line).count(), 1, "{line}");
        text.replace(line, &format!("# {line}"))
    });
    let without = scenario(&text);
    let request = without.sensors.as_ref().unwrap();
    let price = |variant| BillOfParts::new(variant, &without, request, 2).price;
    assert!((price(Variant::Paralleled) - 112.0).abs() < 1e-12);
    assert!((price(Variant::Chain) - 115.6).abs() < 1e-12, "four flying capacitors at 0.9");
}

/// Where the study finds that a variant's yield crosses the target, trials in one arrangement find
/// it too, factor by factor, and the ends of the interval are sure.
#[test]
fn the_break_even_factors_are_those_of_trials() {
    let lamps = scenario(LAMPS);
    let study = study(&lamps, 600);
    let settings = Settings { samples: 600, seed: 4, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&lamps, settings, &stop).unwrap();
    let find = |factor: f64, source: RandomSource| {
        let wider = with_wider_bands(&lamps, factor);
        let entry =
            ConverterVariant { tolerances: wider.tolerances, arrangement: Arrangement::Chain };
        let good =
            trial(&session, entry, Draws { source, samples: 600 }, Solving::ToTheEnd).unwrap().good;
        Yield::new(good, 600, Confidence::new(0.95).unwrap()).unwrap()
    };
    let target = lamps.limits.yield_target;
    let turn = &study.sensitivities[0];
    assert_eq!(
        turn.question,
        SensitivityQuestion { variant: Variant::Chain, scaled: ScaledQuantity::Bands }
    );
    let [checked] = &turn.break_evens[..] else { panic!("{:?}", turn.break_evens) };
    let found = checked.found;
    let (lower, upper) = (found.lower.unwrap(), found.upper.unwrap());
    assert!(found.meets_below && lower < found.factor && found.factor < upper);
    assert!(find(lower, 4.into()).lower >= target && find(lower * 1.0101, 4.into()).lower < target);
    assert!(find(upper, 4.into()).upper < target && find(upper / 1.0101, 4.into()).upper >= target);
    assert!(find(found.factor / 1.006, 4.into()).estimate >= target);
    assert!(find(found.factor * 1.006, 4.into()).estimate < target);
    let again = survey(FactorBounds { least: 1.0, greatest: 9.5 }, |x| {
        Ok::<_, ()>(TargetComparison::new(&find(x, 4.into()), target))
    });
    assert_eq!(again.unwrap(), turn.spans);
    let fresh: Vec<_> = checked.fresh.iter().map(|f| (f.factor, f.good)).collect();
    assert_eq!(fresh, [lower, upper].map(|x| (x, find(x, study.verification))));
}

/// What is asked depends on what may turn: the chain and the loops always, the bare converter
/// where it is taken, the sensors' errors where some are stated.
#[test]
fn only_what_may_turn_the_decision_is_asked() {
    let mut request = scenario(LAMPS).sensors.unwrap();
    let asked = |cheapest, request: &_| {
        let all = SensitivityQuestion::all(cheapest, request);
        let each = all.iter().map(|q| {
            format!(
                "{}{}",
                q.variant.letter(),
                if q.scaled == ScaledQuantity::Bands { "" } else { "!" }
            )
        });
        each.collect::<Vec<_>>().join(" ")
    };
    assert_eq!(asked(Some(Variant::Chain), &request), "b c c!");
    assert_eq!(asked(Some(Variant::Paralleled), &request), "a b c c!");
    assert_eq!(asked(Some(Variant::ChainWithSensors), &request), "b d d!");
    (request.gain_error, request.drift, request.offset) = (None, None, None);
    assert_eq!(asked(None, &request), "b c", "no errors, nothing to multiply");
}

/// Sensors that err far more miss the target where good ones meet it.
#[test]
fn larger_sensor_errors_cost_the_target() {
    let lamps = scenario(LAMPS);
    let study = study(&lamps, 600);
    let turn = study
        .sensitivities
        .iter()
        .find(|t| t.question.scaled == ScaledQuantity::SensorErrors)
        .unwrap();
    assert_eq!(turn.question.variant, Variant::ParalleledWithSensors);
    let checked = turn.nearest().unwrap();
    assert!(checked.found.factor > 1.0 && checked.found.meets_below && !checked.contradicted);
    let cost = study.variant(Variant::ParalleledWithSensors).bill.price;
    let chain = study.decision();
    assert!(cost > study.variant(Variant::Chain).price_per_good().unwrap());
    let next = study.decision_if(turn.question.variant, false, lamps.limits.yield_target);
    assert_eq!(next, chain, "(c) is not taken anyway");
}

/// With the rating as the limit the chain surely meets the target in all, and with a current
/// just below it does not: it is not enough that the current by itself keeps to it.
#[test]
fn the_rating_delivers_the_joint_yield() {
    let mut lamps = scenario(LAMPS);
    lamps.limits.sharing_error = Some(0.0159);
    lamps.limits.yield_target = 0.95;
    let rated = study(&lamps, 900);
    let rating = rated.variant(Variant::Chain).ratings[0].unwrap().required_rating().unwrap();
    let meets = |scenario: &Scenario, limit: f64| {
        let mut limited = scenario.clone();
        limited.limits.chain.rms_current = Some(Ampere(limit));
        let tolerances = limited.tolerances.clone();
        let entry = ConverterVariant { tolerances, arrangement: Arrangement::Chain };
        let settings = Settings { samples: 900, seed: 4, method: Method::Exact, threads: 0 };
        let stop = AtomicBool::new(false);
        let session = Session::new(&limited, settings, &stop).unwrap();
        let good = trial(&session, entry, settings.draws(), Solving::ToTheEnd).unwrap().good;
        Yield::new(good, 900, Confidence::new(0.95).unwrap()).unwrap().lower >= 0.95
    };
    let with = |limit: f64| meets(&lamps, limit);
    assert!(with(rating) && !with(rating * (1.0 - 1e-9)), "{rating}");
    let alone = rated.variant(Variant::Chain).currents[0].unwrap().required_rating().unwrap();
    assert!(alone < rating && !with(alone), "{alone} is enough for the current by itself");
    // RMS and peak rating together: the same, with both limits.
    let [rms, peak] = rated.variant(Variant::Chain).joint_rating.unwrap();
    let with_both = |rms: f64, peak: f64| {
        let mut limited = lamps.clone();
        limited.limits.chain.peak_current = Some(Ampere(peak));
        meets(&limited, rms)
    };
    assert!(rms >= rating && with_both(rms, peak), "{rms} {peak}");
    let less = 1.0 - 1e-9;
    assert!(!with_both(rms * less, peak * less), "{rms} {peak}");
    lamps.limits.sharing_error = Some(0.001);
    let none = study(&lamps, 100);
    assert_eq!(none.variant(Variant::Chain).ratings, [None; 2], "no rating makes them good");
    assert_eq!(none.variant(Variant::Chain).joint_rating, Err(NoRating::Misses));
}

/// The largest ratio over the demands: paralleled switches block all of the 400 V.
#[test]
fn a_limit_that_nominal_parts_miss_is_told() {
    let mut lamps = scenario(LAMPS);
    let sound = study(&lamps, 20);
    assert!(sound.variants.iter().all(|v| v.nominal_miss.is_none()));
    lamps.limits.paralleled = lamps.limits.chain;
    let study = study(&lamps, 20);
    for variant in Variant::ALL {
        let miss = study.variant(variant).nominal_miss.as_ref();
        let expected =
            (variant.arrangement() == Arrangement::Paralleled).then_some((Some(400.0), 320.0));
        let found = miss.map(|m| (m.missed.value, m.missed.demand.limit));
        assert_eq!(found, expected, "{variant:?}");
        if let Some(miss) = miss {
            assert_eq!(miss.missed.demand.figure, Some(Figure::WorstBlocking));
            assert_eq!(miss.operating_point, "midsummer fill-in");
        }
    }
}

/// In half bridge the return leg's low side is on throughout and carries the whole tank current
/// (an identity); in full bridge all four carry half a period each.
#[test]
fn the_worst_switches_are_named_where_not_all_are_alike() {
    let mut pump = scenario(PUMP);
    pump.sensors = scenario(LAMPS).sensors;
    assert!(pump.operating_points.iter().any(|p| p.drive == Some(Drive::HalfBridge)));
    for (scenario, expected) in
        [(&pump, vec![(Leg::Return, Side::Low)]), (&scenario(LAMPS), Vec::new())]
    {
        let study = study(scenario, 10);
        assert!(study.variants.iter().all(|v| v.worst_switches == expected));
    }
}

#[test]
fn a_study_that_is_stopped_at_once_has_nothing_to_tell() {
    let lamps = scenario(LAMPS);
    let settings = Settings { samples: 4000, seed: 4, method: Method::Exact, threads: 0 };
    let request = lamps.sensors.clone().unwrap();
    let stopped = sensors(&lamps, &request, settings, &AtomicBool::new(true), &mut Silent);
    assert!(stopped.unwrap_err().to_string().contains("interrupted"));
}

/// Asks to stop once a stage has told of its first samples.
struct Stopper<'a> {
    stop: &'a AtomicBool,
    stage: &'static str,
    at: &'static str,
}

impl Progress for Stopper<'_> {
    fn stage(&mut self, name: &'static str, _: u64) {
        self.stage = name;
    }

    fn advance(&mut self, _: u64) {
        if self.stage == self.at {
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    fn expect(&mut self, _: u64) {}
}

/// What is finished of a study that is stopped is given, and says what it is.
#[test]
fn a_study_that_is_stopped_tells_what_is_done() {
    let lamps = scenario(LAMPS);
    let settings = Settings { samples: 5000, seed: 4, method: Method::Averaged, threads: 0 };
    for (at, unfinished, answered) in [
        ("four variants", Unfinished::Samples, 0),
        ("(b) over the bands", Unfinished::Factors, 0),
        ("loops over the bands", Unfinished::Factors, 1),
        ("loops over the sensors' errors", Unfinished::Factors, 2),
    ] {
        let stop = AtomicBool::new(false);
        let mut stopper = Stopper { stop: &stop, stage: "", at };
        let request = lamps.sensors.clone().unwrap();
        let study = sensors(&lamps, &request, settings, &stop, &mut stopper).unwrap();
        assert_eq!(study.unfinished, Some(unfinished), "{at}");
        assert_eq!(study.sensitivities.len(), answered, "{at}");
        let all = study.samples == 5000;
        assert_eq!(all, unfinished == Unfinished::Factors, "{at}: {}", study.samples);
        assert!(study.variants.iter().all(|v| v.good.trials == study.samples));
    }
}
