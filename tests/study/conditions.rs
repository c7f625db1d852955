//! Temperature and age: what is drawn, what the parts become, and what follows for verdicts, against a
//! general-purpose library, hand calculations and scenarios whose nominal parts are moved instead.
//!
//! The converters are invented. Where a figure is estimated it must lie within four of its standard
//! errors.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "draws that must be equal to the bit are compared so")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::{
    Age, Arrangement, Condition, Converter, Influence, Parameter, Property,
};
use fairphase::population::{Population, SensorScatter};
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::explanation::{explain, samples_to_keep};
use fairphase::study::run::{AgeYield, CaseResult, NoSink, Run, SampleSize, run};
use statrs::distribution::{ContinuousCDF, Uniform};

const SHELF: &str = include_str!("../data/shelf.toml");
const LR: Parameter = Parameter::ResonantInductance;
const CR: Parameter = Parameter::ResonantCapacitance;
const CF: Parameter = Parameter::FlyingCapacitance;

fn scenario(text: &str) -> Scenario {
    Scenario::parse("shelf.toml", text).unwrap_or_else(|errors| panic!("{errors}"))
}

/// The shelf at 85 °C in its first phase and 5 K more in each phase that follows.
fn warm(further: &str) -> Scenario {
    let warm = SHELF.replace(
        "name = \"full load\"",
        "name = \"full load\"\ntemperature = \"85 °C\"\nphase_rise = \"5 K\"",
    );
    assert_ne!(warm, SHELF);
    scenario(&format!("{warm}{further}"))
}

fn property(parameter: Parameter, influence: Influence) -> Property {
    Property { parameter, influence: Some(influence) }
}

fn finished(scenario: &Scenario, samples: u64) -> Run {
    let settings = Settings { samples, seed: 5, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(scenario, settings, &stop).unwrap();
    run(&session, 5.into(), SampleSize::Fixed(samples), &mut NoSink, &mut Silent).unwrap()
}

/// Coefficients of −200 ± 80 ppm/K, uniform, half of the variance from a lot: the distribution of each
/// part by statrs and the test of Kolmogorov and Smirnov (1 %: 1.628/√n), and Pearson's correlation of
/// two phases.
#[test]
fn coefficients_scatter_as_stated() {
    let coefficient = "[temperature_coefficient.resonant_capacitance]\nvalue = \"-200 ppm/K\"\n\
        band = \"80 ppm/K\"\nshape = \"uniform\"\nlot_share = 0.5\n";
    let population = Population::new(&warm(coefficient), 7);
    let own = property(CR, Influence::Temperature);
    let samples = 20_000;
    let drawn: Vec<[f64; 2]> = (0..samples)
        .map(|k| {
            let converter = population.draw(k);
            [0, 1].map(|index| converter.property(own, index).unwrap())
        })
        .collect();
    let uniform = Uniform::new(-280e-6, -120e-6).unwrap();
    let mut first: Vec<f64> = drawn.iter().map(|pair| pair[0]).collect();
    first.sort_by(f64::total_cmp);
    let n = first.len() as f64;
    let gaps = first.iter().enumerate().map(|(i, x)| {
        let p = uniform.cdf(*x);
        (p - i as f64 / n).abs().max(((i + 1) as f64 / n - p).abs())
    });
    let distance = gaps.fold(0.0, f64::max) * n.sqrt();
    assert!(distance < 1.628, "{distance}");
    let deviation = |x: f64| x + 200e-6;
    let variance = (80e-6_f64).powi(2) / 3.0;
    let product = drawn.iter().map(|[a, b]| deviation(*a) * deviation(*b)).sum::<f64>();
    let correlation = product / n / variance;
    assert!((correlation - 0.5).abs() < 4.0 / n.sqrt(), "{correlation}");
}

/// Whatever scatters with temperature and age, the parts themselves are those of a scenario that says
/// nothing of it; and the draws of one response do not depend on another.
#[test]
fn parts_are_drawn_as_before() {
    let aged = "[ageing]\nservice_life = \"1000 h\"\n[ageing.flying_capacitance]\ndrift = \"-8 %\"\n\
        band = \"4 %\"\nshape = \"normal\"\n";
    let coefficient = "[temperature_coefficient.resonant_capacitance]\nvalue = \"0 ppm/K\"\n\
        band = \"30 ppm/K\"\nshape = \"uniform\"\n";
    let populations = ["", aged, coefficient, &format!("{aged}{coefficient}")]
        .map(|further| Population::new(&warm(further), 3));
    for k in [0, 1, 2, 1_000_000] {
        let [plain, aged, hot, both] = populations.each_ref().map(|population| population.draw(k));
        for other in [&aged, &hot, &both] {
            assert_eq!((&plain.tanks, &plain.flying), (&other.tanks, &other.flying));
            assert_eq!(plain.flying_return, other.flying_return);
        }
        for index in 0..4 {
            let drift = property(CF, Influence::Age);
            assert_eq!(aged.property(drift, index), both.property(drift, index));
            let coefficient = property(CR, Influence::Temperature);
            assert_eq!(hot.property(coefficient, index), both.property(coefficient, index));
        }
        let exact = populations[3].with_exact(property(CF, Influence::Age)).draw(k);
        assert_eq!(exact.property(property(CF, Influence::Age), 0), Some(-0.08));
        assert_eq!(exact.responses[0], both.responses[0]);
    }
}

/// Delivered batches share the lots of their coefficients as they share those of their parts.
#[test]
fn a_batch_shares_the_lots_of_its_coefficients() {
    let coefficient = "[temperature_coefficient.resonant_capacitance]\nvalue = \"0 ppm/K\"\n\
        band = \"30 ppm/K\"\nshape = \"uniform\"\nlot_share = 1\n";
    let population = Population::new(&warm(coefficient), 3).in_batches(10);
    let own = property(CR, Influence::Temperature);
    let coefficient = |k| population.draw(k).property(own, 0).unwrap();
    for k in 1..10 {
        assert_eq!(coefficient(0), coefficient(k));
    }
    assert_ne!(coefficient(0), coefficient(10));
}

/// By hand, against a scenario at the reference temperature whose nominal parts are moved: without a
/// rise from phase to phase, −200 ppm/K at 60 K more is a factor of 0.988, and a drift of −3 % one of
/// 0.97 more at the end of life.
#[test]
fn a_run_sees_the_parts_as_they_are() {
    let lines = "[temperature_coefficient.resonant_capacitance]\nvalue = \"-200 ppm/K\"\n[ageing]\n\
        service_life = \"1000 h\"\n[ageing.resonant_capacitance]\ndrift = \"-3 %\"\n";
    let text =
        SHELF.replace("name = \"full load\"", "name = \"full load\"\ntemperature = \"85 °C\"");
    let both = finished(&scenario(&format!("{text}{lines}")), 40);
    let names: Vec<&str> = both.cases.iter().map(CaseResult::operating_point).collect();
    let [new, old] = ["full load, new", "full load, end of life"];
    assert_eq!(names, [new, new, old, old]);
    for (place, factor) in [0.988, 0.988 * 0.97].into_iter().enumerate() {
        let mut moved = scenario(SHELF);
        moved.nominal.resonant_capacitance.0 *= factor;
        let moved = finished(&moved, 40);
        for n in 0..2 {
            let figure = Figure::SwitchingFrequency;
            let [own, other] = [(&both, 2 * place + n), (&moved, n)]
                .map(|(run, case)| run.key_figures(case, figure).unwrap());
            assert!((own.mean / other.mean - 1.0).abs() < 1e-9, "{own:?} {other:?}");
            assert_eq!(both.cases[2 * place + n].good.successes, moved.cases[n].good.successes);
        }
    }
}

/// A good converter is good at both ages: the joint count lies between what the counts at each age
/// allow, and each of these is the count of a run of that age alone.
#[test]
fn both_ages_are_judged_jointly() {
    let drift = "[ageing]\nservice_life = \"1000 h\"\n[ageing.resonant_inductance]\ndrift = \"0 %\"\n\
        band = \"4 %\"\nshape = \"uniform\"\n";
    let text = SHELF.replace("sharing_error = \"5 %\"", "sharing_error = \"1.2 %\"");
    assert_ne!(text, SHELF);
    let (plain, aged) =
        (finished(&scenario(&text), 400), finished(&scenario(&format!("{text}{drift}")), 400));
    let at = |age: Age| {
        let own = |y: &&AgeYield| (y.age, y.arrangement) == (age, Arrangement::Chain);
        aged.by_age.iter().find(own).unwrap().good.successes
    };
    let (new, old, joint) = (at(Age::New), at(Age::EndOfLife), aged.joint[0].good.successes);
    assert_eq!(new, plain.joint[0].good.successes);
    assert!(plain.by_age.is_empty());
    assert!(joint <= new.min(old) && joint + 400 >= new + old, "{new} {old} {joint}");
    // Drifts that scatter make sharing worse, and not for the same converters alone.
    assert!(old < new && joint < old, "{new} {old} {joint}");
}

/// Where coefficients of Cr are all that scatters, they explain all of the variance and all failures;
/// the worst case lies at the ends of their band.
#[test]
fn coefficients_explain_what_they_cause() {
    let coefficient = "[temperature_coefficient.resonant_capacitance]\nvalue = \"0 ppm/K\"\n\
        band = \"600 ppm/K\"\nshape = \"uniform\"\n";
    let mut scenario = warm(coefficient);
    scenario.tolerances = scenario.tolerances.with(LR, None);
    let figure = Figure::SharingError(scenario.limits.sharing);
    // One converter in twenty fails.
    let settings = Settings { samples: 2000, seed: 5, method: Method::Exact, threads: 0 };
    scenario.limits.sharing_error = finished(&scenario, 500).key_figures(0, figure).unwrap().p95;
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let mut kept = samples_to_keep(&scenario);
    let size = SampleSize::Fixed(2000);
    let run = run(&session, 5.into(), size, &mut kept, &mut Silent).unwrap();
    let explained =
        fairphase::study::explanation::Explained { session: &session, run: &run, kept: &kept };
    let explanation = explain(explained, &mut Silent).unwrap();
    let own = property(CR, Influence::Temperature);
    let drivers = explanation.drivers.as_ref().unwrap();
    let shares = &drivers.cases[0].figures[0].shares;
    assert_eq!(shares.len(), 1);
    assert_eq!(shares[0].driver.properties, [own]);
    assert!((shares[0].shares.total.estimate - 1.0).abs() < 0.1, "{:?}", shares[0].shares.total);
    let failures = &explanation.failure_drivers[0];
    let failed = 2000 - run.joint[0].good.successes;
    assert!(failed > 20);
    assert_eq!((failures.parts.len(), failures.parts[0].property), (1, own));
    assert_eq!(failures.parts[0].saved(), failed);
    let worst = &explanation.worst_cases.as_ref().unwrap()[0];
    assert_eq!(worst.parts, 3);
    let extreme = worst.extreme.as_ref().unwrap();
    assert!(extreme.value >= worst.largest_sample.unwrap().value);
    // The converter of the file has coefficients of nominal parts: its values hold what is needed.
    let again = session.solve(&extreme.converter, &run.cases[0].baseline.case);
    let measured = session.measurement(&[]);
    let case = &run.cases[0].baseline.case;
    let value = measured.solved(again.solved().unwrap(), &extreme.converter, case);
    let found = value.value(Figure::SharingError(scenario.limits.sharing));
    assert!((found / extreme.value - 1.0).abs() < 1e-6, "{found} {}", extreme.value);
}

/// A dielectric of class 2 has its change at any temperature but the reference (EIA-198: X7R ±15 %).
#[test]
fn a_dielectric_of_class_2_changes_off_the_reference() {
    let lines = "[temperature_coefficient.flying_capacitance]\ncode = \"X7R\"\n";
    let population = Population::new(&warm(lines), 1);
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    let warm = warm(lines).operating_points[0].condition;
    for k in 0..4000 {
        let converter = population.draw(k);
        let ratio = |condition: &Condition| {
            let of = |c: &Converter| c.part(CF, 0).unwrap();
            of(&converter.at(condition)) / of(&converter)
        };
        assert_eq!(ratio(&Condition::default()), 1.0);
        let hot = ratio(&warm);
        (lowest, highest) = (lowest.min(hot), highest.max(hot));
    }
    assert!((0.85..0.851).contains(&lowest) && (1.149..1.15).contains(&highest));
}

/// Sensors drift at the end of life where there is one, and always where there is none.
#[test]
fn sensors_drift_with_age() {
    let sensors = include_str!("../../scenarios/greenhouse-lamps.toml");
    let life = format!("{sensors}\n[ageing]\nservice_life = \"1000 h\"\n");
    let [always, aged] = [sensors, &life].map(scenario);
    let drawn = |scenario: &Scenario, k| {
        let request = scenario.sensors.as_ref().unwrap();
        Population::new(scenario, 1).draw_sensors(&SensorScatter::new(request), k)
    };
    let (new, old) = (Condition::default(), Condition::default().aged(Age::EndOfLife));
    for k in 0..20 {
        for (n, (plain, own)) in drawn(&always, k).iter().zip(drawn(&aged, k)).enumerate() {
            assert_eq!(own.at(&old, n).gain, plain.at(&old, n).gain);
            assert_eq!(plain.at(&new, n).gain, plain.at(&old, n).gain);
            assert_ne!(own.at(&new, n).gain, own.at(&old, n).gain);
        }
    }
}
