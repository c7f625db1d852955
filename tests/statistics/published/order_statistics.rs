//! Distribution-free intervals of quantiles: H. A. David and H. N. Nagaraja, Order Statistics, 3rd
//! edition (2003), section 7.1. Ranks and coverages were computed for this project with `SciPy` 1.17.1
//! (scipy.stats.binom), the coverages to twelve decimals.

use fairphase::statistics::{Confidence, Distribution, QuantileEnd, QuantileInterval, Ranks};
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

fn confidence() -> Confidence {
    Confidence::new(0.95).unwrap()
}

#[test]
fn central_ranks_and_their_coverage() {
    for (count, p, lower, upper, coverage) in [
        (100, 0.5, 40, 61, 0.964_799_799_782),
        (100, 0.95, 90, 100, 0.982_607_060_712),
        (1000, 0.95, 936, 964, 0.958_095_268_223),
        (1000, 0.99, 983, 997, 0.976_094_763_498),
        (10_000, 0.999, 9983, 9997, 0.975_457_461_854),
        (20_000, 0.05, 940, 1062, 0.952_208_881_227),
        (1_000_000, 0.99, 989_805, 990_196, 0.950_571_124_355),
    ] {
        let ranks = Ranks::central(count, p, confidence());
        assert_eq!([ranks.lower, ranks.upper], [lower, upper].map(Some), "{count} {p}");
        let found = ranks.coverage(count, p);
        assert!((found - coverage).abs() < 1e-12, "{count} {p}: {found}");
    }
}

/// Repeated draws of an exponential population, whose quantile is −ln(1 − p): intervals hold it as
/// often as the ranks promise, within four standard errors. With the lower end one rank higher they
/// hold it as often as P(91 ≤ K ≤ 99) = 0.965891 (`SciPy` 1.17.1), eight standard errors less.
#[test]
fn intervals_hold_the_quantile_of_a_known_population() {
    const REPEATS: u32 = 4000;
    const COUNT: u64 = 100;
    let p = 0.95_f64;
    let truth = -(1.0 - p).ln();
    let mut rng = ChaCha8Rng::seed_from_u64(20_341);
    let (mut held, mut held_from_next_rank) = (0_u32, 0_u32);
    for _ in 0..REPEATS {
        let mut distribution = Distribution::exact_up_to(1000);
        let mut values: Vec<f64> = (0..COUNT).map(|_| -(1.0 - rng.random::<f64>()).ln()).collect();
        values.iter().zip(0..).for_each(|(value, k)| distribution.push(k, *value));
        let summary = distribution.key_figures(confidence()).unwrap();
        let interval = summary.p95_interval;
        let [lower, upper] = [interval.lower, interval.upper].map(|end| end.value().unwrap());
        held += u32::from(lower <= truth && truth <= upper);
        values.sort_by(f64::total_cmp);
        let next = values.partition_point(|value| *value <= lower);
        held_from_next_rank += u32::from(values[next] <= truth && truth <= upper);
    }
    for (held, promised) in [(held, 0.982_607_060_712_f64), (held_from_next_rank, 0.965_891)] {
        let share = f64::from(held) / f64::from(REPEATS);
        let error = (promised * (1.0 - promised) / f64::from(REPEATS)).sqrt();
        assert!((share - promised).abs() < 4.0 * error, "{share}, not {promised}");
    }
}

/// The same where 4 % of the population have no value, so that the 95 % quantile is close to the end
/// of the values: the interval of all samples, whose upper end is then often beyond, holds it as often as
/// the ranks promise. That of the values alone is one of another quantile, and mostly misses it.
#[test]
fn intervals_hold_the_quantile_where_some_samples_have_no_value() {
    const REPEATS: u32 = 2000;
    const COUNT: u64 = 1000;
    let (p, failing) = (0.95_f64, 0.04);
    let truth = -(1.0 - p / (1.0 - failing)).ln();
    let mut rng = ChaCha8Rng::seed_from_u64(20_342);
    let (mut held, mut held_by_values_alone, mut beyond) = (0_u32, 0_u32, 0_u32);
    for _ in 0..REPEATS {
        let (mut all, mut values) =
            (Distribution::exact_up_to(1000), Distribution::exact_up_to(1000));
        for k in 0..COUNT {
            let fails = rng.random::<f64>() < failing;
            let value = if fails { f64::NAN } else { -(1.0 - rng.random::<f64>()).ln() };
            all.push(k, value);
            if !fails {
                values.push(k, value);
            }
        }
        let held_by = |distribution: &Distribution| {
            let figures = distribution.key_figures(confidence()).unwrap();
            let QuantileInterval { lower, upper } = figures.p95_interval;
            let holds = lower.value().is_some_and(|lower| lower <= truth)
                && upper.value().is_none_or(|upper| truth <= upper);
            (u32::from(holds), u32::from(upper == QuantileEnd::Beyond))
        };
        let (holds, is_beyond) = held_by(&all);
        held += holds;
        beyond += is_beyond;
        held_by_values_alone += held_by(&values).0;
    }
    let promised: f64 = 0.958_095_268_223;
    let error = (promised * (1.0 - promised) / f64::from(REPEATS)).sqrt();
    let share = f64::from(held) / f64::from(REPEATS);
    assert!((share - promised).abs() < 4.0 * error, "{share}, not {promised}");
    assert!(beyond > REPEATS / 2, "{beyond}");
    assert!(held_by_values_alone < REPEATS / 10, "{held_by_values_alone}");
}

/// 300 samples give no upper end of the 99 % quantile. The lower end by itself is above the quantile in
/// 2.5 % of the studies at most: P(K ≤ 292) = 0.011474 (computed for this project, in fractions), within
/// four standard errors. One rank higher it would be in 0.032751 of them.
#[test]
fn an_end_that_stands_alone_holds_as_often_as_it_says() {
    const REPEATS: u32 = 20_000;
    let mut rng = ChaCha8Rng::seed_from_u64(20_343);
    let mut wrong = [0_u32; 2];
    for _ in 0..REPEATS {
        let mut values: Vec<f64> = (0..300).map(|_| rng.random()).collect();
        let mut distribution = Distribution::exact_up_to(300);
        values.iter().zip(0..).for_each(|(value, k)| distribution.push(k, *value));
        let interval = distribution.key_figures(confidence()).unwrap().p99_interval;
        assert_eq!(interval.upper, QuantileEnd::TooFewSamples);
        let lower = interval.lower.value().unwrap();
        values.sort_by(f64::total_cmp);
        let next = values[values.partition_point(|value| *value <= lower)];
        wrong = [wrong[0] + u32::from(lower > 0.99), wrong[1] + u32::from(next > 0.99)];
    }
    for (wrong, promised) in wrong.into_iter().zip([0.011_474_078_634_9_f64, 0.032_750_946_402_8]) {
        let share = f64::from(wrong) / f64::from(REPEATS);
        let error = (promised * (1.0 - promised) / f64::from(REPEATS)).sqrt();
        assert!((share - promised).abs() < 4.0 * error, "{share}, not {promised}");
    }
}
