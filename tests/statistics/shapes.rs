//! Shapes fitted to values: against `SciPy`, statrs, and by simulation.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made has failed")]

use fairphase::statistics::shapes::{FittedShape, NoFit, ShapeFamily, SortedValues};
use fairphase::statistics::{
    Capability, Confidence, FitDistances, Interval, PearsonCorrelation, expected_far_out, far_out,
    neighbours_depend, normal, sd_interval,
};
use rand::rngs::ChaCha8Rng;
use rand::{Rng, RngExt as _, SeedableRng};
use serde_json::Value;
use statrs::distribution::{
    Beta, Continuous, ContinuousCDF, LogNormal, Normal, Triangular, Uniform,
};

/// Made by `tests/reference/shapes.py` with `SciPy`.
const REFERENCE: &str = include_str!("../data/shapes.json");

fn reference() -> Value {
    serde_json::from_str(REFERENCE).unwrap()
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect()
}

/// The two parameters of a shape, as the reference has them.
fn parameters(shape: &FittedShape) -> [f64; 2] {
    match shape {
        FittedShape::Uniform(ends) => [ends.lower, ends.upper],
        FittedShape::Normal(normal) | FittedShape::Lognormal(normal) => [normal.mean, normal.sigma],
        FittedShape::Triangular(triangle) => [triangle.middle, triangle.half_width],
        FittedShape::Beta(beta) => [beta.alpha, beta.beta],
    }
}

/// Parameters and distances of every fit. What follows from mean and standard deviation agrees to
/// rounding. The two that are searched agree as far as the searches go: a distance is at its
/// stationary point in neither, so that it has the digits of its parameters.
#[test]
fn fits_agree_with_scipy() {
    let data = reference();
    let limits = numbers(&data["limits"]);
    let limits = Interval { lower: limits[0], upper: limits[1] };
    let mut seen = 0;
    for (column, content) in data["columns"].as_object().unwrap() {
        let values = SortedValues::new(numbers(&content["values"])).unwrap();
        for (fit, expected) in content["fits"].as_object().unwrap() {
            let (family, limits, digits) = match fit.as_str() {
                "uniform" => (ShapeFamily::Uniform, None, 1e-12),
                "normal" => (ShapeFamily::Normal, None, 1e-11),
                "lognormal" => (ShapeFamily::Lognormal, None, 1e-11),
                "triangular" => (ShapeFamily::Triangular, None, 1e-5),
                "beta" => (ShapeFamily::Beta, Some(limits), 1e-11),
                "cut normal" => (ShapeFamily::Normal, Some(limits), 1e-6),
                other => panic!("{other}"),
            };
            let shape = FittedShape::fit(family, &values, limits).unwrap();
            for (found, wanted) in
                parameters(&shape).into_iter().zip(numbers(&expected["parameters"]))
            {
                assert!(
                    (found - wanted).abs() < digits * wanted.abs(),
                    "{column} {fit}: {found} {wanted}"
                );
            }
            let FitDistances { anderson_darling, kolmogorov_smirnov, .. } =
                shape.distances(&values).unwrap();
            for (found, name) in
                [(anderson_darling, "anderson_darling"), (kolmogorov_smirnov, "kolmogorov_smirnov")]
            {
                let wanted = expected[name].as_f64().unwrap();
                assert!(
                    (found - wanted).abs() < 1e2 * digits,
                    "{column} {fit} {name}: {found} {wanted}"
                );
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 36, "six fits of three columns were compared");
}

#[test]
fn kolmogorov_probabilities_agree_with_scipy() {
    for point in reference()["kolmogorov"].as_array().unwrap() {
        let (n, d) = (point["n"].as_u64().unwrap(), point["d"].as_f64().unwrap());
        let count = usize::try_from(n).unwrap();
        let distances = FitDistances { count, anderson_darling: 1.0, kolmogorov_smirnov: d };
        let found = distances.probabilities_when_known().kolmogorov_smirnov;
        let wanted = point["beyond"].as_f64().unwrap();
        // Exact up to 500 values, where the library approximates from 140 on; then the limit with
        // Stephens' correction.
        let slack = if n <= 140 {
            1e-7
        } else if n <= 500 {
            1e-6
        } else {
            6e-3
        };
        assert!((found - wanted).abs() < slack, "{n} {d}: {found} {wanted}");
    }
}

/// Probability and density at a value.
type Library = Box<dyn Fn(f64) -> [f64; 2]>;

/// Parameters by which each family is tried, and the same distribution of the library statrs.
fn libraries() -> Vec<(FittedShape, Library)> {
    fn of<D: ContinuousCDF<f64, f64> + Continuous<f64, f64> + 'static>(library: D) -> Library {
        Box::new(move |x| [library.cdf(x), library.pdf(x)])
    }
    let shape = |family, values: &[f64], limits| {
        FittedShape::fit(family, &SortedValues::new(values.to_vec()).unwrap(), limits).unwrap()
    };
    let values = [0.97, 0.985, 0.99, 1.0, 1.004, 1.02, 1.05];
    let limits = Interval { lower: 0.94, upper: 1.08 };
    let all = ShapeFamily::ALL
        .map(|family| shape(family, &values, Some(limits).filter(|_| family == ShapeFamily::Beta)));
    all.into_iter()
        .map(|shape| {
            let [a, b] = parameters(&shape);
            let library = match shape.family() {
                ShapeFamily::Uniform => of(Uniform::new(a, b).unwrap()),
                ShapeFamily::Normal => of(Normal::new(a, b).unwrap()),
                ShapeFamily::Triangular => of(Triangular::new(a - b, a + b, a).unwrap()),
                ShapeFamily::Lognormal => of(LogNormal::new(a, b).unwrap()),
                ShapeFamily::Beta => {
                    let library = Beta::new(a, b).unwrap();
                    let width = limits.upper - limits.lower;
                    let scaled = move |x: f64| ((x - limits.lower) / width).clamp(0.0, 1.0);
                    let both = move |x| [library.cdf(scaled(x)), library.pdf(scaled(x)) / width];
                    Box::new(both) as Library
                }
            };
            (shape, library)
        })
        .collect()
}

#[test]
fn probabilities_densities_and_quantiles_agree_with_statrs() {
    for (shape, library) in libraries() {
        let name = shape.family().name();
        for k in 0..=200 {
            let x = 0.93 + 0.15 * f64::from(k) / 200.0;
            let [probability, density] = library(x);
            assert!((shape.probability(x) - probability).abs() < 1e-10, "{name} {x}");
            assert!((shape.density(x) - density).abs() < 1e-8 * density.max(1.0), "{name} {x}");
        }
        for k in 1..100 {
            let p = f64::from(k) / 100.0;
            let [back, _] = library(shape.quantile(p));
            assert!((back - p).abs() < 1e-9, "{name} {p}: {back}");
        }
    }
}

fn generator(seed: u64) -> impl FnMut() -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    move || ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}

/// 4000 draws of each shape, a beta shape with an exponent near 1 among them, against its distribution
/// function: A² stays below its 0.1 % point of a known distribution, 5.97 (from the formula that the
/// published points hold).
#[test]
fn draws_have_the_distribution() {
    let limits = Interval { lower: -0.05, upper: 0.05 };
    let mut shapes: Vec<FittedShape> = libraries().into_iter().map(|(shape, _)| shape).collect();
    let values = SortedValues::new(vec![-0.045, -0.03, -0.025, -0.02, -0.01, 0.01]).unwrap();
    shapes.push(FittedShape::fit(ShapeFamily::Beta, &values, Some(limits)).unwrap());
    let [alpha, _] = parameters(&shapes[5]);
    assert!((1.0..2.0).contains(&alpha), "{alpha}");
    for (seed, shape) in (0..).zip(shapes) {
        let mut random = generator(seed);
        let drawn: Vec<f64> = (0..4000).map(|_| shape.draw(&mut random)).collect();
        let found = shape.distances(&SortedValues::new(drawn).unwrap()).unwrap();
        assert!(found.anderson_darling < 5.97, "{shape:?}: {found:?}");
    }
}

/// Fits of 2000 values find the parameters again, within four standard errors. Those come from 60
/// other files of the same shape.
#[test]
fn fits_find_known_parameters_again() {
    let limits = Interval { lower: 0.95, upper: 1.05 };
    let values = vec![0.962, 0.985, 0.99, 1.0, 1.005, 1.01, 1.02, 1.038];
    let values = SortedValues::new(values).unwrap();
    for family in ShapeFamily::ALL {
        // Ends of a triangle at a limit can only err to the inside: its limits are not reached.
        let limits = match family {
            ShapeFamily::Triangular => Interval { lower: 0.9, upper: 1.1 },
            _ => limits,
        };
        for limits in [None, Some(limits)] {
            let Ok(truth) = FittedShape::fit(family, &values, limits) else {
                assert_eq!((family, limits), (ShapeFamily::Beta, None));
                continue;
            };
            let fitted: Vec<[f64; 2]> = (0..60)
                .map(|seed| {
                    let mut random = generator(100 + seed);
                    let drawn = (0..2000).map(|_| truth.draw(&mut random)).collect();
                    let drawn = SortedValues::new(drawn).unwrap();
                    parameters(&FittedShape::fit(family, &drawn, limits).unwrap())
                })
                .collect();
            for (k, wanted) in parameters(&truth).into_iter().enumerate() {
                let found = SortedValues::new(fitted.iter().map(|all| all[k]).collect()).unwrap();
                let off = (fitted[0][k] - wanted).abs() / found.sd();
                let bias = (found.mean() - wanted).abs() / found.sd();
                assert!(off < 4.0 && bias < 0.55, "{family:?} {limits:?} {k}: {off} {bias}");
                let narrow = if family == ShapeFamily::Beta { 0.1 * wanted } else { 0.006 };
                assert!(found.sd() < narrow, "{family:?} {limits:?} {k}: {}", found.sd());
            }
        }
    }
}

#[test]
fn what_cannot_be_fitted_is_told() {
    let values = |list: &[f64]| SortedValues::new(list.to_vec()).unwrap();
    let limits = Some(Interval { lower: 0.95, upper: 1.05 });
    let fit =
        |family, list: &[f64], limits| FittedShape::fit(family, &values(list), limits).unwrap_err();
    let some = [0.96, 1.0, 1.01];
    assert_eq!(fit(ShapeFamily::Normal, &[1.0; 5], None), NoFit::AllEqual);
    assert_eq!(fit(ShapeFamily::Lognormal, &[0.0, 1.0], None), NoFit::NotPositive);
    assert_eq!(fit(ShapeFamily::Beta, &some, None), NoFit::NoLimits);
    assert_eq!(fit(ShapeFamily::Normal, &[0.9, 1.0], limits), NoFit::OutsideLimits);
    assert_eq!(fit(ShapeFamily::Beta, &[1.0, 1.06], limits), NoFit::OutsideLimits);
    let ends: Vec<f64> = (0..20).map(|k| if k % 2 == 0 { 0.951 } else { 1.049 }).collect();
    assert_eq!(fit(ShapeFamily::Normal, &ends, limits), NoFit::NoPeakInside);
    assert_eq!(fit(ShapeFamily::Beta, &ends, limits), NoFit::Rising);
    let narrow = [1.0, 1.0005, 0.9995, 1.0003];
    assert_eq!(fit(ShapeFamily::Beta, &narrow, limits), NoFit::Narrow);
    assert_eq!(SortedValues::new(vec![1.0, f64::NAN]), None);
    assert_eq!(SortedValues::new(vec![1.0]), None);
}

/// Share of files in which something holds, with its standard error; the seeds are fixed.
fn share(files: u64, holds: impl Fn(&mut dyn FnMut() -> f64) -> bool) -> [f64; 2] {
    let held = (0..files).filter(|seed| holds(&mut generator(7000 + seed))).count() as f64;
    let share = held / files as f64;
    [share, (share * (1.0 - share) / files as f64).sqrt()]
}

/// The quantile of a shape.
type Draw = fn(f64) -> f64;

/// Bonett's interval holds the standard deviation about as often as it says, also where values are
/// not normal.
#[test]
fn the_interval_of_a_standard_deviation_holds_it() {
    let confidence = Confidence::new(0.95).unwrap();
    let shapes: [(&str, Draw, f64); 4] = [
        ("normal", normal::quantile, 1.0),
        ("uniform", |p| p, (1.0_f64 / 12.0).sqrt()),
        (
            "triangular",
            |p| if p < 0.5 { (2.0 * p).sqrt() } else { 2.0 - (2.0 * (1.0 - p)).sqrt() },
            (1.0_f64 / 6.0).sqrt(),
        ),
        ("lognormal, 20 %", |p| (0.2 * normal::quantile(p)).exp(), {
            let square = 0.04_f64;
            (square.exp_m1() * square.exp()).sqrt()
        }),
    ];
    for (name, quantile, truth) in shapes {
        for n in [15, 50, 200] {
            let [held, error] = share(3000, |random| {
                let values: Vec<f64> = (0..n).map(|_| quantile(random())).collect();
                let found = sd_interval(&values, confidence).unwrap();
                (found.lower..=found.upper).contains(&truth)
            });
            assert!((0.93..0.975).contains(&held), "{name}, {n}: {held} ± {error}");
        }
    }
}

/// Normal values that lie far out by chance, as the rule counts them in files of any size.
#[test]
fn so_many_normal_values_lie_far_out() {
    let mut rng = ChaCha8Rng::seed_from_u64(35);
    for (count, files) in [(5, 20_000), (8, 20_000), (20, 20_000), (120, 10_000), (600, 3000)] {
        let mut found = 0;
        for _ in 0..files {
            let draw = |_| normal::quantile(rng.random::<f64>().max(1e-12));
            found += far_out(&(0..count).map(draw).collect::<Vec<f64>>()).len();
        }
        let (found, told) = (found as f64 / f64::from(files), expected_far_out(count));
        assert!((told / found - 1.0).abs() < 0.25, "{count} values: {found}, told {told}");
    }
}

/// The interval of Cpk, of normal values: about as often as it says (it is approximate).
#[test]
fn the_interval_of_a_capability_holds_it() {
    let confidence = Confidence::new(0.95).unwrap();
    let limits = Interval { lower: -3.0, upper: 5.0 };
    for n in [25, 100] {
        let [held, error] = share(4000, |random| {
            let values: Vec<f64> = (0..n).map(|_| normal::quantile(random())).collect();
            let found = Capability::new(&values, limits, confidence).unwrap().cpk_interval.unwrap();
            (found.lower..=found.upper).contains(&1.0)
        });
        assert!((0.935..0.965).contains(&held), "{n}: {held} ± {error}");
    }
}

/// Independent rows are seldom said to depend on their neighbours, and rows that drift are seen.
#[test]
fn rows_that_are_independent_are_seldom_called_dependent() {
    for n in [20, 100, 500] {
        let [called, error] = share(4000, |random| {
            let values: Vec<f64> = (0..n).map(|_| normal::quantile(random())).collect();
            neighbours_depend(&values)
        });
        assert!(called < 0.01 + 3.5 * error.max(0.0016), "{n}: {called}");
    }
    let [seen, _] = share(200, |random| {
        let drifting = |k: u32| normal::quantile(random()) + 0.03 * f64::from(k);
        neighbours_depend(&(0..100).map(drifting).collect::<Vec<_>>())
    });
    assert!(seen > 0.9, "{seen}");
}

/// Fisher's interval, for normal values, holds a correlation about as often as it says.
#[test]
fn the_interval_of_a_correlation_holds_it() {
    let confidence = Confidence::new(0.95).unwrap();
    for truth in [0.0_f64, 0.7, -0.95] {
        for n in [12, 60] {
            let [held, error] = share(4000, |random| {
                let pair = |_| {
                    let (a, b) = (normal::quantile(random()), normal::quantile(random()));
                    (a, truth * a + (1.0 - truth * truth).sqrt() * b)
                };
                let (first, second): (Vec<f64>, Vec<f64>) = (0..n).map(pair).unzip();
                let found = PearsonCorrelation::new(&first, &second, confidence).unwrap().interval;
                (found.lower..=found.upper).contains(&truth)
            });
            assert!((held - 0.95).abs() < 0.004 + 3.5 * error, "{truth} {n}: {held}");
        }
    }
}
