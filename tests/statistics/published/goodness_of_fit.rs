//! Critical values of Anderson-Darling and Kolmogorov-Smirnov distances.

use fairphase::statistics::shapes::{FittedShape, ShapeFamily, SortedValues};
use fairphase::statistics::{FitDistances, Moments, neighbour_correlation, normal};
use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

use super::nist_strd::read;

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}

fn known(count: usize, anderson_darling: f64, kolmogorov_smirnov: f64) -> FitDistances {
    FitDistances { count, anderson_darling, kolmogorov_smirnov }
}

/// Points of the exact distribution at 5 % (tables of Massey 1951 and later, here with six digits):
/// half a unit of the last digit moves the probability by less than 1e-5.
#[test]
fn kolmogorov_smirnov_at_five_percent() {
    for (n, d) in [(10, 0.409_246), (20, 0.294_075), (50, 0.188_406), (100, 0.134_028)] {
        let beyond = known(n, 1.0, d).probabilities_when_known().kolmogorov_smirnov;
        assert!((beyond - 0.05).abs() < 1e-5, "{n}: {beyond}");
    }
}

/// Kolmogorov's limit for many values at 10, 5 and 1 %: 1.22385, 1.35810, 1.62762 for D√n.
#[test]
fn kolmogorov_smirnov_of_many_values() {
    let n = 1_000_000_usize;
    for (x, level) in [(1.223_85, 0.10), (1.358_10, 0.05), (1.627_62, 0.01)] {
        let d = x / (n as f64).sqrt();
        let beyond = known(n, 1.0, d).probabilities_when_known().kolmogorov_smirnov;
        assert!((beyond / level - 1.0).abs() < 2e-3, "{x}: {beyond}");
    }
}

/// The limit for many values at 10, 5, 2.5 and 1 %. The formula in use is off by 2e-6 at most, half a
/// unit of the last digit of a point moves the probability by less than 1e-6.
#[test]
fn anderson_darling_of_a_known_distribution() {
    for (a, level) in [(1.933_04, 0.10), (2.492_23, 0.05), (3.077_50, 0.025), (3.878_36, 0.01)] {
        let beyond = known(1_000_000, a, 0.01).probabilities_when_known().anderson_darling;
        assert!((beyond - level).abs() < 4e-6, "{a}: {beyond}");
    }
}

/// Shares of simulated files whose probability lies below a level, in standard errors of their
/// number; the seed is fixed.
fn excess(files: u32, level: f64, is_below: impl Fn(&mut ChaCha8Rng) -> bool) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let below = (0..files).filter(|_| is_below(&mut rng)).count() as f64;
    let (n, expected) = (f64::from(files), f64::from(files) * level);
    (below - expected) / (n * level * (1.0 - level)).sqrt()
}

/// Files of 5 to 60 values from a distribution that is known: both probabilities keep every level.
#[test]
fn probabilities_of_a_known_distribution_are_uniform() {
    for n in [5, 12, 60] {
        for level in [0.01, 0.05, 0.5] {
            let found = |rng: &mut ChaCha8Rng| {
                let mut z: Vec<f64> = (0..n).map(|_| uniform(rng)).collect();
                z.sort_by(f64::total_cmp);
                FitDistances::new(&z).unwrap().probabilities_when_known()
            };
            let anderson = excess(20_000, level, |rng| found(rng).anderson_darling < level);
            let kolmogorov = excess(20_000, level, |rng| found(rng).kolmogorov_smirnov < level);
            assert!(
                anderson.abs() < 3.5 && kolmogorov.abs() < 3.5,
                "{n} {level}: {anderson} {kolmogorov}"
            );
        }
    }
}

fn normal_values(n: usize, rng: &mut ChaCha8Rng) -> SortedValues {
    SortedValues::new((0..n).map(|_| normal::quantile(uniform(rng))).collect()).unwrap()
}

/// R. B. D'Agostino and M. A. Stephens, Goodness-of-Fit Techniques, 1986, table 4.7 (from memory): mean
/// and standard deviation fitted. A² (1 + 0.75/n + 2.25/n²) and D (√n − 0.01 + 0.85/√n) at 10, 5, 2.5
/// and 1 %. Their points have three digits, which leaves 0.3 % of a level at most. The points of a
/// known distribution, taken here, would be exceeded in far too few files.
#[test]
fn distances_of_a_fitted_normal_distribution_agree_with_stephens() {
    const FILES: u32 = 6_000;
    let points =
        [(0.10, 0.631, 0.819), (0.05, 0.752, 0.895), (0.025, 0.873, 0.955), (0.01, 1.035, 1.035)];
    for (level, a, d) in points {
        for n in [20, 50] {
            let count = f64::from(n);
            let distances = |rng: &mut ChaCha8Rng| {
                let values = normal_values(usize::try_from(n).unwrap(), rng);
                let shape = FittedShape::fit(ShapeFamily::Normal, &values, None).unwrap();
                shape.distances(&values).unwrap()
            };
            let anderson = excess(FILES, level, |rng| {
                let factor = 1.0 + 0.75 / count + 2.25 / (count * count);
                distances(rng).anderson_darling * factor > a
            });
            let kolmogorov = excess(FILES, level, |rng| {
                let factor = count.sqrt() - 0.01 + 0.85 / count.sqrt();
                distances(rng).kolmogorov_smirnov * factor > d
            });
            assert!(
                anderson.abs() < 3.5 && kolmogorov.abs() < 3.5,
                "{n} {level}: {anderson} {kolmogorov}"
            );
        }
    }
    let wrong = excess(FILES, 0.05, |rng| {
        let values = normal_values(20, rng);
        let shape = FittedShape::fit(ShapeFamily::Normal, &values, None).unwrap();
        shape.distances(&values).unwrap().probabilities_when_known().anderson_darling < 0.05
    });
    assert!(wrong < -10.0, "points of a known distribution would not do: {wrong}");
}

/// NIST Statistical Reference Datasets: mean, standard deviation (n − 1) and autocorrelation of lag 1.
/// The values of `NumAcc3` and `NumAcc4` are no doubles, so that fewer digits are left.
#[test]
fn sorted_values_and_neighbours_agree_with_nist() {
    for (name, digits) in [
        ("Lew", 13.0),
        ("Lottery", 13.0),
        ("Mavro", 12.0),
        ("Michelso", 12.0),
        ("NumAcc2", 12.0),
        ("NumAcc3", 8.0),
        ("NumAcc4", 7.0),
    ] {
        let data = read(name);
        let sorted = SortedValues::new(data.values.clone()).unwrap();
        let mut moments = Moments::new();
        data.values.iter().for_each(|value| moments.push(*value));
        assert!((sorted.mean() / data.mean - 1.0).abs() < 1e-14, "{name}");
        assert!((sorted.sd() / data.sd - 1.0).abs() < 10_f64.powf(-digits), "{name}");
        let found = neighbour_correlation(&data.values).unwrap();
        let off = (found / data.autocorrelation - 1.0).abs();
        assert!(off < 10_f64.powf(-digits), "{name}: {found}, off by {off:e}");
    }
}
