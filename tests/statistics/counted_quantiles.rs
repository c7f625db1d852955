//! Values beyond the cap of [`Quantiles`] are counted in bins: what that costs, and what it does not.
#![allow(clippy::unwrap_used, reason = "a check that cannot be made has failed")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use fairphase::statistics::{Confidence, Edges, Histogram, Ordered, QuantileInterval, Quantiles};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng, seq::SliceRandom};

const SIZE: usize = 50_000;
/// A value stands within this fraction of the middle of its bin.
const WIDTH: f64 = 1.0 / 8192.0;
/// What is smaller than this fraction of the largest magnitude counts as zero.
const ZERO: f64 = 1.0 / 65_536.0;

fn of(values: &[f64], cap: usize) -> Quantiles {
    let mut quantiles = Quantiles::exact_up_to(cap);
    for value in values {
        quantiles.push(*value);
    }
    quantiles
}

fn ordered(values: &[f64], cap: usize) -> Ordered {
    of(values, cap).ordered().unwrap()
}

fn ends(interval: QuantileInterval) -> [f64; 2] {
    [interval.lower, interval.upper].map(|end| end.value().unwrap())
}

/// Invented populations of several shapes.
fn shapes() -> Vec<(&'static str, Vec<f64>)> {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut draw = |shape: fn(f64, f64) -> f64| -> Vec<f64> {
        (0..SIZE).map(|_| shape(rng.random(), rng.random())).collect()
    };
    vec![
        ("uniform around zero", draw(|u, _| 2.0 * u - 1.0)),
        ("exponential", draw(|u, _| -(1.0 - u).ln() * 1e-3)),
        (
            "normal, far from zero",
            draw(|u, v| 400.0 + (-2.0 * (1.0 - u).ln()).sqrt() * (6.3 * v).cos()),
        ),
        ("negative, log-uniform over four decades", draw(|u, _| -10.0_f64.powf(4.0 * u - 20.0))),
        ("mostly zero", draw(|u, v| if u < 0.7 { 0.0 } else { v - 0.2 })),
        ("few distinct values", draw(|u, _| (u * 5.0).floor() * 0.1 - 0.2)),
        ("of both signs, heavy tails", draw(|u, v| (v - 0.5).signum() / (1.0 - u))),
    ]
}

#[test]
fn agree_with_sorting_within_half_a_bin() {
    for (name, values) in shapes() {
        let counted = ordered(&values, 1000);
        let mut sorted = values.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        let largest = sorted[SIZE - 1].abs().max(sorted[0].abs());
        for thousandth in 0..=1000_usize {
            let exact = sorted[(thousandth * SIZE / 1000).max(1) - 1];
            let value = counted.quantile(thousandth as f64 / 1000.0).unwrap();
            let allowed = exact.abs() * WIDTH + largest * ZERO;
            assert!((value - exact).abs() <= allowed, "{name}: {thousandth}: {value} {exact}");
        }
        assert_eq!((counted.min(), counted.max()), (sorted[0], sorted[SIZE - 1]), "{name}");
        assert_eq!(counted.count(), SIZE as u64);
    }
}

#[test]
fn counts_at_most_x_are_exact_but_for_values_beside_x() {
    for (name, values) in shapes() {
        let counted = ordered(&values, 1000);
        let largest = values.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
        for x in values.iter().copied().step_by(997) {
            let slack = x.abs() * 2.0 * WIDTH + largest * ZERO;
            let at_most = |limit: f64| values.iter().filter(|v| **v <= limit).count() as u64;
            let count = counted.count_at_most(x);
            assert!(at_most(x - slack) <= count && count <= at_most(x + slack), "{name}: {x}");
        }
    }
}

#[test]
fn nothing_depends_on_the_order_or_on_merging() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    for (name, mut values) in shapes() {
        let first = ordered(&values, 1000);
        let edges = Edges::covering(&[&first]).unwrap();
        values.shuffle(&mut rng);
        let mut merged = Quantiles::exact_up_to(1000);
        let (left, right) = values.split_at(700); // an exact part and a counted one
        for part in [left, right] {
            merged.merge(&of(part, 1000));
        }
        for other in [ordered(&values, 1000), merged.ordered().unwrap()] {
            let all = |o: &Ordered| -> Vec<Option<u64>> {
                (0..=2000).map(|i| o.quantile(f64::from(i) / 2000.0).map(f64::to_bits)).collect()
            };
            assert_eq!(all(&other), all(&first), "{name}");
            assert_eq!(Edges::covering(&[&other]), Some(edges.clone()), "{name}");
            assert_eq!(Histogram::new(&other, &edges), Histogram::new(&first, &edges), "{name}");
        }
    }
}

#[test]
fn histograms_hold_every_value() {
    for (name, values) in shapes() {
        for cap in [1000, SIZE] {
            let ordered = ordered(&values, cap);
            let edges = Edges::covering(&[&ordered]).unwrap();
            let h = Histogram::new(&ordered, &edges);
            let inside: u64 = h.counts.iter().sum();
            assert_eq!(inside + h.below + h.above, SIZE as u64, "{name}");
            assert!(inside >= SIZE as u64 * 995 / 1000, "{name}: {} outside", h.below + h.above);
            assert_eq!(h.counts.len() + 1, edges.values().len());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(5), ..ProptestConfig::default() })]

    /// Any finite numbers at all: quantiles stand within half a bin, intervals enclose.
    #[test]
    fn any_numbers_keep_the_promises(
        values in prop::collection::vec(prop::num::f64::NORMAL | prop::num::f64::ZERO, 20..200),
        p in 0.0..=1.0_f64,
    ) {
        let (exact, counted) = (ordered(&values, 1000), ordered(&values, 0));
        let largest = exact.max().abs().max(exact.min().abs());
        let (e, c) = (exact.quantile(p).unwrap(), counted.quantile(p).unwrap());
        prop_assert!((e - c).abs() <= e.abs() * WIDTH + largest * ZERO, "{e} {c}");
        let confidence = Confidence::new(0.9).unwrap();
        let inner = ends(exact.quantile_interval(0.5, confidence));
        let outer = ends(counted.quantile_interval(0.5, confidence));
        prop_assert!(outer[0] <= inner[0] && inner[1] <= outer[1]);
    }
}
