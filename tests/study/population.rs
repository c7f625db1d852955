//! The parts that are drawn: their distributions against those of a general-purpose library, what
//! the phases of a converter have in common, and what the draws depend on.
//!
//! Seeds are fixed. Where a figure is estimated it must lie within four of its standard errors; the
//! probability that a right model fails is 6e-5 for each. What a wrong model gives is shown to fail.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::cast_possible_truncation, reason = "deviations are small")]
#![allow(clippy::float_cmp, reason = "draws that must be equal to the bit are compared so")]

use std::collections::BTreeSet;

use fairphase::converter::{Converter, Parameter};
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand_distr::Distribution;
use rayon::prelude::*;
use statrs::distribution::{
    Beta, Continuous, ContinuousCDF, LogNormal, Normal, Triangular, Uniform,
};

/// Standard errors that an estimate may lie off.
const ERRORS: f64 = 4.0;
const SAMPLES: u64 = 100_000;

/// Nominal values of what may be told apart; invented.
const LOSSES: &str = "
[converter.losses]
on_resistance                = \"10 mΩ\"
primary_winding_resistance   = \"5 mΩ\"
secondary_winding_resistance = \"1 mΩ\"
rectifier_resistance         = \"1 mΩ\"
switch_thermal_resistance    = \"2 K/W\"
rectifier_thermal_resistance = \"2 K/W\"
";

/// The population of three phases with these tolerances; the converter is invented.
fn population(tolerances: &str) -> Population {
    seeded(tolerances, 2024)
}

fn seeded(tolerances: &str, seed: u64) -> Population {
    let shelf = include_str!("../data/shelf.toml");
    let text = format!("{}{LOSSES}{tolerances}", &shelf[..shelf.find("[tolerance").unwrap()]);
    let scenario = Scenario::parse("test.toml", &text).unwrap_or_else(|e| panic!("{e}"));
    Population::new(&scenario, seed)
}

fn tolerance(parameter: Parameter, words: &str) -> String {
    format!("[tolerance.{}]\nband = \"10 %\"\n{words}\n", parameter.key())
}

/// The values of a parameter: one a phase, a flying capacitor of both legs, or a switch.
fn values(converter: &Converter, parameter: Parameter) -> Vec<f64> {
    (0..converter.parts(parameter)).map(|n| converter.part(parameter, n).unwrap()).collect()
}

/// Deviations from the nominal value, in units of the 10 % band, of each sample's parts.
fn deviations(population: &Population, parameter: Parameter, samples: u64) -> Vec<Vec<f64>> {
    let nominal = values(population.nominal(), parameter);
    let of = |sample: u64| {
        let drawn = values(&population.draw(sample), parameter);
        drawn.iter().zip(&nominal).map(|(x, nominal)| (x / nominal - 1.0) / 0.1).collect()
    };
    (0..samples).into_par_iter().map(of).collect()
}

/// A shape in the words of a scenario, and its distribution function by statrs.
struct Shape {
    words: String,
    distribution: Box<dyn Fn(f64) -> f64>,
    variance: f64,
}

fn uniform() -> Shape {
    let of = Uniform::new(-1.0, 1.0).unwrap();
    Shape {
        words: "shape = \"uniform\"".into(),
        distribution: Box::new(move |x| of.cdf(x)),
        variance: 1.0 / 3.0,
    }
}

fn triangular() -> Shape {
    let of = Triangular::new(-1.0, 1.0, 0.0).unwrap();
    Shape {
        words: "shape = \"triangular\"".into(),
        distribution: Box::new(move |x| of.cdf(x)),
        variance: 1.0 / 6.0,
    }
}

/// A normal distribution cut off `s` standard deviations from its mean, there at ±1: with φ and Φ,
/// distribution (Φ(s x) − Φ(−s)) / (2Φ(s) − 1), variance (1 − 2 s φ(s) / (2Φ(s) − 1)) / s²
/// (N. L. Johnson, S. Kotz, N. Balakrishnan, Continuous Univariate Distributions 1 (1994),
/// section 13.10.1; from memory).
fn normal(s: f64) -> Shape {
    let of = Normal::standard();
    let inside = of.cdf(s) - of.cdf(-s);
    Shape {
        words: format!("shape = \"normal\"\nsigmas = {s}"),
        distribution: Box::new(move |x| ((of.cdf(s * x) - of.cdf(-s)) / inside).clamp(0.0, 1.0)),
        variance: (1.0 - 2.0 * s * of.pdf(s) / inside) / (s * s),
    }
}

fn shapes() -> [Shape; 4] {
    [uniform(), triangular(), normal(3.0), normal(1.0)]
}

/// Kolmogorov and Smirnov: √n sup |F(n) − F|, for values that are independent.
fn distance(values: impl Iterator<Item = f64>, distribution: &dyn Fn(f64) -> f64) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let gaps = sorted.iter().enumerate().map(|(i, x)| {
        let (f, i) = (distribution(*x), i as f64);
        (f - i / n).max((i + 1.0) / n - f)
    });
    n.sqrt() * gaps.fold(0.0, f64::max)
}

/// Critical value of Kolmogorov's asymptotic distribution at a level of 1 %, K = 1.62762 with
/// 2 Σ (−1)^(i−1) exp(−2 i² K²) = 0.01 (N. Smirnov, Ann. Math. Stat. 19 (1948) 279).
const ONE_PERCENT: f64 = 1.62762;
/// The same at a level of 0.1 %.
const TENTH_OF_A_PERCENT: f64 = 1.94947;

#[test]
fn the_critical_value_is_that_of_kolmogorovs_distribution() {
    for (critical, wanted) in [(ONE_PERCENT, 0.01), (TENTH_OF_A_PERCENT, 0.001)] {
        let term = |i: i32| {
            let sign = if i % 2 == 0 { -1.0 } else { 1.0 };
            sign * (-2.0 * f64::from(i * i) * critical * critical).exp()
        };
        let level: f64 = 2.0 * (1..10).map(term).sum::<f64>();
        assert!((level - wanted).abs() < 1e-6, "{level}");
    }
}

#[test]
fn every_parameter_has_the_shape_asked_for() {
    for parameter in Parameter::ALL {
        for shape in shapes().into_iter().chain([0.5, 1.5, 8.0].map(normal)) {
            let population = population(&tolerance(parameter, &shape.words));
            let drawn = deviations(&population, parameter, 5000);
            let distance = distance(drawn.into_iter().flatten(), &shape.distribution);
            assert!(distance < ONE_PERCENT, "{parameter:?} {}: {distance}", shape.words);
        }
    }
}

/// Smirnov's distance of two samples: √(nm/(n + m)) sup |F(n) − G(m)|, for values that are
/// independent; both sorted.
fn distance_of_samples(a: &[f64], b: &[f64]) -> f64 {
    let (n, m) = (a.len() as f64, b.len() as f64);
    let gaps = a.iter().chain(b).map(|x| {
        let up_to = |sorted: &[f64]| sorted.partition_point(|y| y <= x) as f64;
        (up_to(a) / n - up_to(b) / m).abs()
    });
    (n * m / (n + m)).sqrt() * gaps.fold(0.0, f64::max)
}

/// Values drawn by another general-purpose library, `rand_distr`: sampling against sampling, by
/// other algorithms than quantiles (the ziggurat for the normal shape, cut by rejection).
fn drawn_by_rand_distr(shape: &str, count: usize) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    let triangular = rand_distr::Triangular::new(-1.0, 1.0, 0.0).unwrap();
    let uniform = rand_distr::Uniform::new(-1.0, 1.0).unwrap();
    let normal = rand_distr::Normal::new(0.0, 0.5).unwrap();
    let draw = || match shape {
        "triangular" => triangular.sample(&mut rng),
        "uniform" => uniform.sample(&mut rng),
        _ => normal.sample(&mut rng),
    };
    let inside = std::iter::repeat_with(draw).filter(|x| f64::abs(*x) <= 1.0);
    let mut all: Vec<f64> = inside.take(count).collect();
    all.sort_by(f64::total_cmp);
    all
}

/// Each shape agrees with the library's, and with none of its other shapes.
#[test]
fn drawn_shapes_are_those_that_rand_distr_draws() {
    const NAMES: [&str; 3] = ["uniform", "triangular", "normal"];
    for (name, words) in NAMES.into_iter().zip(["", "", "\nsigmas = 2"]) {
        let population =
            population(&tolerance(Parameter::TurnsRatio, &format!("shape = \"{name}\"{words}")));
        let drawn = deviations(&population, Parameter::TurnsRatio, 7000);
        let mut drawn: Vec<f64> = drawn.into_iter().flatten().collect();
        drawn.sort_by(f64::total_cmp);
        for other in NAMES {
            let distance = distance_of_samples(&drawn, &drawn_by_rand_distr(other, drawn.len()));
            assert_eq!(distance < ONE_PERCENT, name == other, "{name} {other}: {distance}");
        }
    }
}

/// The test above would see a wrong shape, a slightly wrong width, and a missing cut.
#[test]
fn wrong_shapes_are_told_apart() {
    let untruncated = |s: f64| {
        let of = Normal::standard();
        Shape { distribution: Box::new(move |x| of.cdf(s * x)), ..normal(s) }
    };
    for (drawn, wrong) in [
        (uniform(), triangular()),
        (uniform(), normal(0.5)),
        (triangular(), uniform()),
        (triangular(), normal(2.5)),
        (normal(3.0), triangular()),
        (normal(3.0), normal(3.1)),
        (normal(1.5), untruncated(1.5)),
    ] {
        let parameter = Parameter::TurnsRatio;
        let population = population(&tolerance(parameter, &drawn.words));
        let values = deviations(&population, parameter, SAMPLES);
        let from = |shape: &Shape| distance(values.iter().flatten().copied(), &shape.distribution);
        let (right, wrong) = (from(&drawn), from(&wrong));
        assert!(right < ONE_PERCENT, "{}: {right}", drawn.words);
        assert!(wrong > ONE_PERCENT, "{}: {wrong}", drawn.words);
    }
}

/// Mean of independent values and its standard error.
fn estimate(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0) / n).sqrt())
}

/// The intraclass correlation of parts of known mean 0 and known variance: the mean over all
/// converters of the mean product of two of their parts, over the variance. Converters are
/// independent, so the standard error is that of a mean of independent terms.
fn intraclass(drawn: &[Vec<f64>], variance: f64) -> (f64, f64) {
    let of = |parts: &Vec<f64>| {
        let n = parts.len() as f64;
        let (sum, squares) = parts.iter().fold((0.0, 0.0), |(s, q), x| (s + x, q + x * x));
        (sum * sum - squares) / (n * (n - 1.0)) / variance
    };
    estimate(&drawn.iter().map(of).collect::<Vec<_>>())
}

#[test]
fn the_lot_share_is_the_intraclass_correlation() {
    for shape in shapes() {
        for share in [0.0, 0.3, 0.8, 1.0] {
            for parameter in [Parameter::MagnetisingInductance, Parameter::FlyingCapacitance] {
                let words = format!("{}\nlot_share = {share}", shape.words);
                let population = population(&tolerance(parameter, &words));
                let drawn = deviations(&population, parameter, SAMPLES);
                let (found, error) = intraclass(&drawn, shape.variance);
                assert!(error < 0.01);
                assert!((found - share).abs() < ERRORS * error, "{words}: {found} ± {error}");
            }
        }
    }
}

/// K. Pearson (1907): parts that are uniform and share r of their normal scores correlate by
/// (6/π) asin(r/2) only. Taking the lot share for r would be seen.
#[test]
fn a_share_of_the_scores_is_not_a_share_of_the_variance() {
    let parameter = Parameter::ResonantInductance;
    let population = population(&tolerance(parameter, "shape = \"uniform\"\nlot_share = 0.3"));
    let (found, error) = intraclass(&deviations(&population, parameter, SAMPLES), 1.0 / 3.0);
    let wrong = 6.0 / std::f64::consts::PI * (0.3_f64 / 2.0).asin();
    assert!((wrong - 0.2876).abs() < 5e-5 && (found - wrong).abs() > ERRORS * error, "{found}");
}

#[test]
fn parts_of_one_lot_alone_are_equal() {
    for shape in shapes() {
        let parameter = Parameter::ResonantCapacitance;
        let words = format!("{}\nlot_share = 1", shape.words);
        let drawn = deviations(&population(&tolerance(parameter, &words)), parameter, 1000);
        for parts in drawn {
            assert!(parts.iter().all(|x| (x - parts[0]).abs() < 1e-12), "{parts:?}");
        }
    }
}

/// One phase of every converter: these are independent whatever the lot share.
#[test]
fn a_lot_share_leaves_the_shape() {
    for shape in shapes() {
        for share in [0.3, 0.8, 1.0] {
            let parameter = Parameter::SeriesResistance;
            let words = format!("{}\nlot_share = {share}", shape.words);
            let drawn = deviations(&population(&tolerance(parameter, &words)), parameter, SAMPLES);
            for phase in 0..3 {
                let values = drawn.iter().map(|parts| parts[phase]);
                let distance = distance(values, &shape.distribution);
                assert!(distance < ONE_PERCENT, "{words}, phase {phase}: {distance}");
            }
        }
    }
}

/// Common random numbers: studies that differ in one tolerance see the same parts otherwise.
#[test]
fn a_parameters_draws_do_not_depend_on_other_tolerances() {
    let own = |p: Parameter| {
        let words = ["uniform\"", "normal\"\nlot_share = 0.4", "triangular\""][p.index() % 3];
        tolerance(p, &format!("shape = \"{words}"))
    };
    let all = population(&Parameter::ALL.map(own).concat());
    for parameter in Parameter::ALL {
        let alone = population(&own(parameter));
        let others = Parameter::ALL.into_iter().filter(|p| *p != parameter);
        let without = population(&others.clone().map(own).collect::<String>());
        for sample in 0..200 {
            let drawn = all.draw(sample);
            assert_eq!(values(&drawn, parameter), values(&alone.draw(sample), parameter));
            for other in others.clone() {
                assert_eq!(values(&drawn, other), values(&without.draw(sample), other));
                let nominal = values(alone.nominal(), other);
                assert_eq!(values(&alone.draw(sample), other), nominal);
            }
        }
    }
}

/// What one parameter takes from another sample, or an exact part, changes that parameter alone.
#[test]
fn scores_exchange_one_parameter_and_leave_the_others() {
    let own = |p: Parameter| tolerance(p, "shape = \"uniform\"\nlot_share = 0.4");
    let population = population(&Parameter::ALL.map(own).concat());
    for (sample, other) in (0..50).map(|n| (n, n + 1000)) {
        let [scores, others] = [sample, other].map(|n| population.scores(n));
        assert_eq!(population.build(&scores), population.draw(sample));
        for parameter in Parameter::ALL {
            let [mut common, mut parts] = [scores.clone(), scores.clone()];
            common.take_common(parameter, &others);
            parts.take_parts(parameter, &others);
            let mut both = common.clone();
            both.take_parts(parameter, &others);
            let exact = population.with_exact(parameter);
            let built = [&common, &parts, &both].map(|scores| population.build(scores));
            for p in Parameter::ALL {
                let [drawn, of_other] = [sample, other].map(|n| values(&population.draw(n), p));
                let found = built.each_ref().map(|converter| values(converter, p));
                let nominal = values(population.nominal(), p);
                let of_exact = values(&exact.draw(sample), p);
                if p == parameter {
                    assert_eq!((&found[2], &of_exact), (&of_other, &nominal));
                    assert!(found[0] != drawn && found[0] != of_other && found[0] != found[1]);
                } else {
                    assert!(found.iter().all(|values| *values == drawn) && of_exact == drawn);
                }
            }
        }
    }
}

#[test]
fn draws_depend_on_seed_and_sample_alone() {
    let words = tolerance(Parameter::TurnsRatio, "shape = \"uniform\"");
    let (one, same, other) = (seeded(&words, 1), seeded(&words, 1), seeded(&words, 2));
    for sample in (0..1000).rev() {
        assert_eq!(one.draw(sample), same.draw(sample));
        assert_ne!(one.draw(sample), other.draw(sample));
        assert_ne!(one.draw(sample), one.draw(sample + 1));
    }
}

/// Neighbouring samples, neighbouring seeds and different parameters have nothing in common.
#[test]
fn draws_are_uncorrelated() {
    let words: String = [Parameter::ResonantInductance, Parameter::ResonantCapacitance]
        .map(|p| tolerance(p, "shape = \"uniform\""))
        .concat();
    let first = |seed: u64, parameter: Parameter| -> Vec<f64> {
        let drawn = deviations(&seeded(&words, seed), parameter, SAMPLES);
        drawn.iter().map(|parts| parts[0]).collect()
    };
    let inductances = first(1, Parameter::ResonantInductance);
    let next: Vec<f64> = inductances.iter().skip(1).copied().collect();
    for (what, others) in [
        ("next sample", next),
        ("next seed", first(2, Parameter::ResonantInductance)),
        ("other parameter", first(1, Parameter::ResonantCapacitance)),
    ] {
        let products: Vec<f64> =
            inductances.iter().zip(&others).map(|(a, b)| 3.0 * a * b).collect();
        let (found, error) = estimate(&products);
        assert!(error < 0.004 && found.abs() < ERRORS * error, "{what}: {found} ± {error}");
    }
}

#[test]
fn every_flying_capacitor_of_both_legs_has_its_own_draw() {
    let parameter = Parameter::FlyingCapacitance;
    let population = population(&tolerance(parameter, "shape = \"uniform\""));
    let drawn = deviations(&population, parameter, SAMPLES);
    for parts in &drawn[..1000] {
        assert_eq!(parts.len(), 4, "two a leg between three phases");
        for (k, x) in parts.iter().enumerate() {
            assert!(parts[..k].iter().all(|y| x != y), "{parts:?}");
        }
    }
    for (a, b) in [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)] {
        let products: Vec<f64> = drawn.iter().map(|parts| 3.0 * parts[a] * parts[b]).collect();
        let (found, error) = estimate(&products);
        assert!(found.abs() < ERRORS * error, "{a} {b}: {found} ± {error}");
    }
}

/// The bounds hold but for the rounding of the quotient, and uniform parts come close to them: that
/// of 3e5 none is within 1e-4 of an end has a probability of exp(−15).
#[test]
fn no_part_leaves_its_band() {
    for shape in shapes().into_iter().chain([0.5, 8.0].map(normal)) {
        for share in [0.0, 0.5] {
            let parameter = Parameter::ResonantInductance;
            let words = format!("{}\nlot_share = {share}", shape.words);
            let drawn = deviations(&population(&tolerance(parameter, &words)), parameter, SAMPLES);
            let all = || drawn.iter().flatten().copied();
            let (low, high) = (all().fold(0.0, f64::min), all().fold(0.0, f64::max));
            assert!(low >= -1.0 - 1e-14 && high <= 1.0 + 1e-14, "{words}: {low} {high}");
            if shape.words.contains("uniform") {
                assert!(low < -0.9999 && high > 0.9999, "{words}: {low} {high}");
            }
        }
    }
}

/// The series resonance of Lr and Cr, each uniform within b = ±5 %: f/f0 = 1/√(xy), so
/// E f/f0 = ((√(1+b) − √(1−b)) / b)² and E (f/f0)² = (ln((1+b)/(1−b)) / (2b))². A linear model
/// has no shift of the mean; half the sum of the bands is far too wide.
#[test]
fn the_resonance_scatters_as_its_closed_form_says() {
    let words: String = [Parameter::ResonantInductance, Parameter::ResonantCapacitance]
        .map(|p| tolerance(p, "shape = \"uniform\"").replace("10 %", "5 %"))
        .concat();
    let population = population(&words);
    let nominal = population.nominal().tanks[0].series_resonance().0;
    let ratios: Vec<f64> = (0..SAMPLES)
        .into_par_iter()
        .flat_map_iter(|n| population.draw(n).tanks)
        .map(|tank| tank.series_resonance().0 / nominal)
        .collect();
    let b = 0.05_f64;
    let mean = (((1.0 + b).sqrt() - (1.0 - b).sqrt()) / b).powi(2);
    let square = (((1.0 + b) / (1.0 - b)).ln() / (2.0 * b)).powi(2);
    let sd = (square - mean * mean).sqrt();
    assert!((mean - 1.000_625_782_5).abs() < 5e-11 && (sd - 0.020_442_874_6).abs() < 5e-11);

    let (found, error) = estimate(&ratios);
    assert!((found - mean).abs() < ERRORS * error, "{found} ± {error}");
    assert!((found - 1.0).abs() > ERRORS * error, "a linear model");
    // The mean square deviation from the known mean is a mean of independent terms too.
    let squares: Vec<f64> = ratios.iter().map(|x| (x - mean).powi(2)).collect();
    let (found, error) = estimate(&squares);
    assert!((found - sd * sd).abs() < ERRORS * error, "{found} ± {error}");
    assert!((found - b * b / 3.0).abs() > ERRORS * error, "half the sum of the bands");
    // The published bounds −4.762 % and +5.263 % are those of two parts at the same end.
    let (low, high) = (1.0 / (1.0 + b), 1.0 / (1.0 - b));
    assert!((low - 1.0 + 0.04762).abs() < 5e-6 && (high - 1.0 - 0.05263).abs() < 5e-6);
    assert!(ratios.iter().all(|x| (low - 1e-14..=high + 1e-14).contains(x)));
}

/// A tolerance in the words of a scenario, and the distribution function of the deviation by statrs.
struct Process {
    words: &'static str,
    distribution: Box<dyn Fn(f64) -> f64>,
    /// Share of the process outside the band.
    screened: Option<f64>,
}

/// A distribution that is cut at two ends.
fn cut(cdf: impl Fn(f64) -> f64 + 'static, [low, high]: [f64; 2]) -> Box<dyn Fn(f64) -> f64> {
    let (below, up_to) = (cdf(low), cdf(high));
    Box::new(move |x| ((cdf(x) - below) / (up_to - below)).clamp(0.0, 1.0))
}

/// Unequal bands, processes and further shapes, by the general library statrs; fractions of nominal.
fn processes() -> Vec<Process> {
    let normal = Normal::new(0.01, 0.02).unwrap();
    // Of a value with mean 1.02 and standard deviation 0.09: μ and s of its logarithm by moments.
    let variance = f64::ln(1.0 + (0.09_f64 / 1.02).powi(2));
    let log = LogNormal::new(1.02_f64.ln() - 0.5 * variance, variance.sqrt()).unwrap();
    let beta = Beta::new(2.0, 5.0).unwrap();
    let triangular = Triangular::new(-0.03, 0.08, 0.01).unwrap();
    let uniform = Uniform::new(-0.2, 0.8).unwrap();
    let outside = |below: f64, up_to: f64| Some(1.0 - up_to + below);
    vec![
        Process {
            words: "shape = \"normal\"\nband = [\"-3 %\", \"+4 %\"]\nmean = \"+1 %\"\nsigma = \"2 %\"",
            screened: outside(normal.cdf(-0.03), normal.cdf(0.04)),
            distribution: cut(move |x| normal.cdf(x), [-0.03, 0.04]),
        },
        Process {
            words: "shape = \"lognormal\"\nband = [\"-20 %\", \"+30 %\"]\nmean = \"+2 %\"\nsigma = \"9 %\"",
            screened: outside(log.cdf(0.8), log.cdf(1.3)),
            distribution: cut(move |x| log.cdf(1.0 + x), [-0.2, 0.3]),
        },
        Process {
            words: "shape = \"beta\"\nband = [\"-5 %\", \"+15 %\"]\nalpha = 2\nbeta = 5",
            screened: None,
            distribution: Box::new(move |x| beta.cdf(((x + 0.05) / 0.2).clamp(0.0, 1.0))),
        },
        Process {
            words: "shape = \"triangular\"\nband = [\"-3 %\", \"+8 %\"]\nmode = \"+1 %\"",
            screened: None,
            distribution: Box::new(move |x| triangular.cdf(x)),
        },
        Process {
            words: "shape = \"uniform\"\nband = \"Z\"",
            screened: None,
            distribution: Box::new(move |x| uniform.cdf(x)),
        },
    ]
}

fn with_words(parameter: Parameter, words: &str) -> String {
    format!("[tolerance.{}]\n{words}\n", parameter.key())
}

/// Deviations as fractions of nominal.
fn fractions(population: &Population, parameter: Parameter, samples: u64) -> Vec<Vec<f64>> {
    let mut drawn = deviations(population, parameter, samples);
    drawn.iter_mut().flatten().for_each(|x| *x *= 0.1);
    drawn
}

fn scenario_of(tolerances: &str) -> Scenario {
    let shelf = include_str!("../data/shelf.toml");
    let text = format!("{}{tolerances}", &shelf[..shelf.find("[tolerance").unwrap()]);
    Scenario::parse("tests/data/test.toml", &text).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn processes_are_drawn_and_screened_as_statrs_has_them() {
    let parameter = Parameter::SeriesResistance;
    let all = processes();
    for (n, process) in all.iter().enumerate() {
        let scenario = scenario_of(&with_words(parameter, process.words));
        let own = scenario.tolerances.get(parameter).unwrap();
        assert_eq!(own.screened.is_some(), process.screened.is_some(), "{}", process.words);
        let off = own.screened.unwrap_or(0.0) - process.screened.unwrap_or(0.0);
        assert!(off.abs() < 1e-9, "{}: {:?}", process.words, own.screened);
        let population = Population::new(&scenario, 2024);
        let drawn = fractions(&population, parameter, 20_000);
        for (m, other) in all.iter().enumerate() {
            let found = distance(drawn.iter().flatten().copied(), &other.distribution);
            assert_eq!(found < ONE_PERCENT, n == m, "{} {}: {found}", process.words, other.words);
        }
    }
}

/// With equal lots a share of the variance is gone, and phases have nothing in common: by hand, with 6 σ
/// in the band and 0.6 of the variance in common, 0.4/36 is left.
#[test]
fn equal_lots_leave_what_each_part_has_by_itself() {
    let parameter = Parameter::ResonantInductance;
    let words = "shape = \"normal\"\nsigmas = 6\nlot_share = 0.6\n";
    let own = seeded(&tolerance(parameter, words), 5);
    let all = deviations(&own.with_exact_lots(parameter), parameter, 20_000);
    let phase = |n: usize| all.iter().map(|own| own[n]).collect::<Vec<f64>>();
    let (first, second) = (phase(0), phase(1));
    let squares: Vec<f64> = first.iter().map(|x| 36.0 * x * x).collect();
    let (mean, error) = estimate(&squares);
    assert!((mean - 0.4).abs() < ERRORS * error, "{mean} {error}");
    let (rho, error) = pearson(&first, &second);
    assert!(rho.abs() < ERRORS * error, "{rho} {error}");
    let other = Parameter::ResonantCapacitance;
    assert_eq!(own.with_exact_lots(other).draw(7), own.draw(7), "other lots are as they were");
}

/// All values of a file are drawn, no others, each as often as the rest: Kolmogorov and Smirnov,
/// conservative where there are ties (W. J. Conover, JASA 67 (1972) 591; from memory). With a band,
/// the values outside it never come.
#[test]
fn measured_parts_are_drawn_as_the_file_has_them() {
    let parameter = Parameter::MagnetisingInductance;
    let file = include_str!("../../scenarios/incoming-cores.csv");
    let nominal = 22.8;
    let in_file: Vec<f64> = file
        .lines()
        .skip(1)
        .map(|line| line.rsplit(',').next().unwrap().parse::<f64>().unwrap() / nominal - 1.0)
        .collect();
    assert_eq!(in_file.len(), 64);
    let words = "shape = \"measured\"\nfile = \"../../scenarios/incoming-cores.csv\"\n\
                 column = \"magnetising_inductance_uH\"\n";
    for (band, ends) in [("", [-1.0, 3.0]), ("band = [\"+52 %\", \"+60.4 %\"]\n", [0.52, 0.604])] {
        let scenario = scenario_of(&with_words(parameter, &format!("{words}{band}")));
        let inside: Vec<f64> =
            in_file.iter().copied().filter(|x| (ends[0]..=ends[1]).contains(x)).collect();
        let own = scenario.tolerances.get(parameter).unwrap();
        let screened = (!band.is_empty()).then(|| 1.0 - inside.len() as f64 / 64.0);
        let off = own.screened.unwrap_or(0.0) - screened.unwrap_or(0.0);
        assert!(off.abs() < 1e-12 && own.screened.is_some() == screened.is_some());
        assert_eq!(scenario.measured_files.len(), 1);
        let drawn = fractions(&Population::new(&scenario, 7), parameter, 10_000);
        let rounded = |x: f64| (x * 1e9).round();
        let known: BTreeSet<i64> = inside.iter().map(|x| rounded(*x) as i64).collect();
        let found: BTreeSet<i64> = drawn.iter().flatten().map(|x| rounded(*x) as i64).collect();
        assert_eq!(found, known, "{band}");
        let steps = |values: &[f64], x: f64| {
            let below = values.iter().filter(|y| rounded(**y) <= rounded(x)).count();
            below as f64 / values.len() as f64
        };
        let drawn: Vec<f64> = drawn.into_iter().flatten().collect();
        let largest = |of: &[f64]| {
            let gaps = in_file.iter().map(|x| (steps(&drawn, *x) - steps(of, *x)).abs());
            (drawn.len() as f64).sqrt() * gaps.fold(0.0, f64::max)
        };
        assert!(largest(&inside) < ONE_PERCENT, "{band}: {}", largest(&inside));
        assert!(largest(&inside[1..inside.len() - 9]) > ONE_PERCENT, "a file without ten parts");
    }
}

/// Pearson's correlation and its standard error, by its influence function: with standardised u and v
/// the mean of u v − ρ (u² + v²)/2 has the variance of ρ's estimate times n.
fn pearson(a: &[f64], b: &[f64]) -> (f64, f64) {
    let standardised = |values: &[f64]| -> Vec<f64> {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        values.iter().map(|x| (x - mean) / sd).collect()
    };
    let (u, v) = (standardised(a), standardised(b));
    let n = u.len() as f64;
    let rho = u.iter().zip(&v).map(|(u, v)| u * v).sum::<f64>() / n;
    let terms: Vec<f64> =
        u.iter().zip(&v).map(|(u, v)| u * v - rho * (u * u + v * v) / 2.0).collect();
    (rho, estimate(&terms).1)
}

/// The shapes of the correlated parts, in the words of a scenario.
fn correlated_shapes() -> Vec<String> {
    let measured = "shape = \"measured\"\nfile = \"../../scenarios/incoming-cores.csv\"\n\
                    column = \"magnetising_inductance_uH\"\n";
    let plain = ["shape = \"uniform\"\nband = \"5 %\"", "shape = \"normal\"\nband = \"5 %\""];
    let processes = processes().into_iter().map(|process| process.words.to_owned());
    plain.map(str::to_owned).into_iter().chain(processes).chain([measured.to_owned()]).collect()
}

fn correlation(pair: [Parameter; 2], words: &str) -> String {
    let [first, second] = pair.map(Parameter::key);
    format!("[[correlation]]\nbetween = [\"{first}\", \"{second}\"]\n{words}\n")
}

/// Phase `k` of every sample.
fn phase(drawn: &[Vec<f64>], k: usize) -> Vec<f64> {
    drawn.iter().map(|parts| parts[k]).collect()
}

const PAIR: [Parameter; 2] = [Parameter::MagnetisingInductance, Parameter::SeriesResistance];

/// Every pair of shapes gets the correlation asked for, in one phase and in different ones. The file
/// of measured cores fits one parameter only, the magnetising inductance.
#[test]
fn every_pair_of_shapes_has_the_correlation_asked_for() {
    let shapes = correlated_shapes();
    for (n, first) in shapes.iter().enumerate() {
        for second in shapes[..=n].iter().filter(|words| !words.contains("measured")) {
            let wanted = [0.6, -0.3][n % 2];
            let tolerances = with_words(PAIR[0], &format!("{first}\nlot_share = 0.4"))
                + &with_words(PAIR[1], &format!("{second}\nlot_share = 0.3"));
            let asked = format!("coefficient = {wanted}\ncoefficient_across = 0.2");
            let text = tolerances + &correlation(PAIR, &asked);
            let population = Population::new(&scenario_of(&text), 31);
            let [a, b] = PAIR.map(|parameter| deviations(&population, parameter, 30_000));
            for (phases, wanted) in [([0, 0], wanted), ([1, 1], wanted), ([0, 2], 0.2)] {
                let (found, error) = pearson(&phase(&a, phases[0]), &phase(&b, phases[1]));
                assert!(error < 0.01);
                let off = (found - wanted).abs();
                assert!(off < ERRORS * error, "{first} {second} {phases:?}: {found} ± {error}");
            }
        }
    }
}

/// K. Pearson (1907): scores that correlate by 0.5 make uniform parts correlate by 0.4826 only. The
/// test above would see that, with as many samples.
#[test]
fn a_correlation_of_the_scores_is_not_one_of_the_values() {
    let text = PAIR.map(|p| with_words(p, "shape = \"uniform\"\nband = \"5 %\"")).concat()
        + &correlation(PAIR, "coefficient = 0.5");
    let population = Population::new(&scenario_of(&text), 5);
    let [a, b] = PAIR.map(|parameter| phase(&deviations(&population, parameter, SAMPLES), 0));
    let (found, error) = pearson(&a, &b);
    let wrong = 6.0 / std::f64::consts::PI * (0.25_f64).asin();
    assert!((found - 0.5).abs() < ERRORS * error, "{found} ± {error}");
    assert!((wrong - 0.4826).abs() < 5e-5 && (found - wrong).abs() > ERRORS * error, "{found}");
}

/// Correlated parts keep their shapes and lot shares, and those without a correlation their draws.
#[test]
fn a_correlation_leaves_shapes_lots_and_other_parts() {
    let process = &processes()[0];
    let words = |p: Parameter| with_words(p, &format!("{}\nlot_share = 0.5", process.words));
    let other = Parameter::ResonantCapacitance;
    let plain = PAIR.map(words).concat() + &words(other);
    let text = format!("{plain}{}", correlation(PAIR, "coefficient = -0.7"));
    let population = Population::new(&scenario_of(&text), 12);
    let without = Population::new(&scenario_of(&plain), 12);
    for parameter in PAIR {
        let drawn = fractions(&population, parameter, SAMPLES);
        for k in 0..3 {
            // Six distances: each at a level of 0.1 %.
            let found = distance(phase(&drawn, k).into_iter(), &process.distribution);
            assert!(found < TENTH_OF_A_PERCENT, "{parameter:?} {k}: {found}");
            let wrong = distance(phase(&drawn, k).into_iter(), &processes()[1].distribution);
            assert!(wrong > TENTH_OF_A_PERCENT, "another shape: {wrong}");
        }
        let (found, error) = pearson(&phase(&drawn, 0), &phase(&drawn, 1));
        assert!((found - 0.5).abs() < ERRORS * error, "{parameter:?}: {found} ± {error}");
    }
    for sample in 0..100 {
        let [own, alone] = [&population, &without].map(|p| values(&p.draw(sample), other));
        assert_eq!(own, alone);
    }
}

/// Tables in another order, and pairs named the other way round, draw the same parts.
#[test]
fn the_order_of_a_file_does_not_matter() {
    let parameters =
        [Parameter::ResonantInductance, Parameter::MagnetisingInductance, Parameter::TurnsRatio];
    let own = parameters.map(|p| with_words(p, "shape = \"uniform\"\nband = \"5 %\""));
    let [a, b, c] = parameters;
    let pairs = |turned: bool| {
        let pair = |x, y| if turned { [y, x] } else { [x, y] };
        [
            correlation(pair(a, b), "coefficient = 0.6"),
            correlation(pair(b, c), "coefficient = -0.3"),
        ]
    };
    let [first, second] = pairs(false);
    let forwards = own.concat() + &first + &second;
    let [first, second] = pairs(true);
    let backwards = second + &first + &own[2] + &own[0] + &own[1];
    let [one, other] = [forwards, backwards].map(|t| Population::new(&scenario_of(&t), 3));
    for sample in 0..200 {
        assert_eq!(one.draw(sample), other.draw(sample));
    }
    // A parameter that is made exact leaves the correlation of the others.
    let exact = one.with_exact(a);
    for sample in 0..50 {
        assert_eq!(values(&exact.draw(sample), c), values(&one.draw(sample), c));
        assert_eq!(values(&exact.draw(sample), a), values(one.nominal(), a));
    }
}
