//! NIST Statistical Reference Datasets, univariate: certified values from the head of each file
//! in tests/data/nist (see the README there).

use fairphase::statistics::{Distribution, Moments};

pub(super) struct Certified {
    pub(super) values: Vec<f64>,
    pub(super) mean: f64,
    pub(super) sd: f64,
    pub(super) autocorrelation: f64,
}

pub(super) fn read(name: &str) -> Certified {
    let path = format!("{}/tests/data/nist/{name}.dat", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let certified = |label: &str| -> f64 {
        let line = text.lines().find(|line| line.starts_with(label)).unwrap();
        line.rsplit(' ').next().unwrap().parse().unwrap()
    };
    let mut numbers = text.lines().skip_while(|line| !line.starts_with("---")).skip(1);
    let values: Vec<f64> = numbers.by_ref().map(|line| line.trim().parse().unwrap()).collect();
    assert_eq!(values.len() as f64, certified("Number of Observations"), "{name}");
    Certified {
        values,
        mean: certified("Sample Mean"),
        sd: certified("Sample Standard Deviation"),
        autocorrelation: certified("Sample Autocorrelation"),
    }
}

fn moments(values: &[f64]) -> Moments {
    let mut moments = Moments::new();
    for value in values {
        moments.push(*value);
    }
    moments
}

/// Decimal digits on which two numbers agree, at most the 15 of the certified ones; NaN for a NaN.
fn agreeing_digits(value: f64, certified: f64) -> f64 {
    -(((value - certified) / certified).abs() + 1e-15).log10()
}

/// Digits of the standard deviation that double precision leaves. A value v, the running mean and
/// their difference are each rounded within v · 2⁻⁵³, and deviations are smaller than the values by
/// the factor v / sd: of the 15.95 digits of 2⁻⁵³ go log₁₀ 3 and log₁₀ (v / sd), which is 8 in `NumAcc4`;
/// at least one, for the certified values are rounded too.
fn attainable(data: &Certified) -> f64 {
    let largest = data.values.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
    15.95 - 3.0_f64.log10() - (largest / data.sd).log10().max(1.0)
}

fn check(name: &str) {
    let data = read(name);
    let m = moments(&data.values);
    let (mean, sd) = (m.mean().unwrap(), m.sd().unwrap());
    let digits = agreeing_digits(mean, data.mean);
    assert!(digits >= 14.0, "{name}: mean {mean}, {digits:.1} digits");
    let digits = agreeing_digits(sd, data.sd);
    assert!(digits >= attainable(&data), "{name}: sd {sd}, {digits:.1} digits");

    let offset: Vec<f64> = data.values.iter().map(|v| v - mean).collect();
    let products: f64 = offset.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let r1 = products / (sd * sd * (data.values.len() - 1) as f64);
    let digits = agreeing_digits(r1, data.autocorrelation);
    assert!(digits >= attainable(&data) - 1.0, "{name}: r1 {r1}, {digits:.1} digits");
}

#[test]
fn lower_difficulty() {
    ["Lew", "Lottery", "Mavro", "Michelso", "NumAcc1", "NumAcc2"].into_iter().for_each(check);
}

#[test]
fn average_and_higher_difficulty() {
    ["NumAcc3", "NumAcc4"].into_iter().for_each(check);
}

/// The usual shortcut Σx² − n x̄² fails the hardest set: the check tells a bad method.
#[test]
fn the_textbook_shortcut_would_fail() {
    let data = read("NumAcc4");
    let n = data.values.len() as f64;
    let sum: f64 = data.values.iter().sum();
    let squares: f64 = data.values.iter().map(|v| v * v).sum();
    let sd = ((squares - sum * sum / n) / (n - 1.0)).sqrt();
    let digits = agreeing_digits(sd, data.sd); // NaN where the difference turns out negative
    assert!(digits.is_nan() || digits < attainable(&data), "{sd}");
}

#[test]
fn merged_parts_meet_the_certified_values_too() {
    for name in ["Lew", "Lottery", "Michelso", "NumAcc2", "NumAcc4"] {
        let data = read(name);
        let mut merged = Moments::new();
        data.values.chunks(17).for_each(|part| merged.merge(&moments(part)));
        assert!(agreeing_digits(merged.mean().unwrap(), data.mean) >= 14.0, "{name}");
        assert!(agreeing_digits(merged.sd().unwrap(), data.sd) >= attainable(&data), "{name}");
    }
}

#[test]
fn a_distribution_tells_the_same() {
    let data = read("Lottery");
    let mut distribution = Distribution::exact_up_to(1000);
    data.values.iter().zip(0..).for_each(|(value, sample)| distribution.push(sample, *value));
    let m = distribution.moments();
    assert!(agreeing_digits(m.mean().unwrap(), data.mean) >= 14.0);
    assert!(agreeing_digits(m.sd().unwrap(), data.sd) >= 13.5);
    let by_hand = data.values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let max = distribution.max().unwrap();
    assert_eq!((max.value, data.values[usize::try_from(max.sample).unwrap()]), (by_hand, by_hand));
}
