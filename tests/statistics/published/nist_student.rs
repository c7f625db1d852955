//! NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2: critical values of Student's t,
//! three decimals; beyond the table `SciPy` 1.17.1 (scipy.stats.t.ppf), twelve decimals.

use fairphase::statistics::{Confidence, Moments};
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

/// The factor of the standard error in the interval of the mean of `freedom` + 1 values.
fn factor(freedom: u32, level: f64) -> f64 {
    let mut moments = Moments::new();
    (0..=freedom).for_each(|k| moments.push(f64::from(k % 2) * 2.0 - 1.0));
    let interval = moments.mean_interval(Confidence::new(level).unwrap()).unwrap();
    (interval.upper - interval.lower) / 2.0 / moments.standard_error().unwrap()
}

#[test]
fn table_of_critical_values() {
    for (freedom, t975, t995) in [
        (1, 12.706, 63.657),
        (2, 4.303, 9.925),
        (5, 2.571, 4.032),
        (10, 2.228, 3.169),
        (30, 2.042, 2.750),
        (100, 1.984, 2.626),
    ] {
        assert!((factor(freedom, 0.95) - t975).abs() <= 0.5e-3, "{freedom}");
        assert!((factor(freedom, 0.99) - t995).abs() <= 0.5e-3, "{freedom}");
    }
}

#[test]
fn many_degrees_of_freedom() {
    assert!((factor(1000, 0.95) - 1.962_339_080_826).abs() < 1e-11);
    assert!((factor(10_000_000, 0.95) - 1.959_964_221_767).abs() < 1e-9);
}

/// Coverage counted for a skewed population: the mean of an exponential one is 1. With 1000 samples the
/// interval holds it in 95 % of the cases within four standard errors, and its skewness costs less
/// than that. An interval of the scatter of single values would hold it always.
#[test]
fn intervals_hold_the_mean_of_a_skewed_population() {
    const REPEATS: u32 = 4000;
    let mut rng = ChaCha8Rng::seed_from_u64(92);
    let held = (0..REPEATS).filter(|_| {
        let mut moments = Moments::new();
        (0..1000).for_each(|_| moments.push(-(1.0 - rng.random::<f64>()).ln()));
        let interval = moments.mean_interval(Confidence::new(0.95).unwrap()).unwrap();
        (interval.lower..=interval.upper).contains(&1.0)
    });
    let share = held.count() as f64 / f64::from(REPEATS);
    let error = (0.95 * 0.05 / f64::from(REPEATS)).sqrt();
    assert!((share - 0.95).abs() < 4.0 * error, "{share}");
}
