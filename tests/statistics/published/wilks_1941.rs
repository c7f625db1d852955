//! S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
//! Statistics 12 (1941) 91–96: numbers of samples for distribution-free tolerance limits. Values
//! from memory; each agrees with the binomial sums of `SciPy` 1.17.1.

use fairphase::statistics::{Confidence, samples_with_failures, samples_without_failure};

fn confidence(level: f64) -> Confidence {
    Confidence::new(level).unwrap()
}

#[test]
fn one_sided_first_order() {
    for (content, level, samples) in [
        (0.90, 0.95, 29),
        (0.95, 0.90, 45),
        (0.95, 0.95, 59),
        (0.95, 0.99, 90),
        (0.99, 0.90, 230),
        (0.99, 0.95, 299),
        (0.99, 0.99, 459),
        (0.999, 0.95, 2995),
    ] {
        assert_eq!(samples_without_failure(content, confidence(level)), Ok(samples));
    }
}

/// The definition, on numbers that no table holds: n samples show the content when it is less
/// likely than 1 − level that all of them lie inside a smaller one, and n is the least such number.
#[test]
fn the_number_of_samples_is_the_least_that_shows_the_content() {
    for content in [0.5, 0.61, 0.777, 0.9271, 0.983, 0.99913] {
        for level in [0.31, 0.632, 0.876, 0.9723, 0.99971] {
            let samples = samples_without_failure(content, confidence(level)).unwrap();
            let shown = |n: u64| 1.0 - content.powf(n as f64) >= level;
            assert!(shown(samples), "{content} {level}: {samples} are too few");
            assert!(!shown(samples - 1), "{content} {level}: {samples} are not the least");
        }
    }
}

#[test]
fn one_sided_higher_orders() {
    for (failures, samples) in (0..).zip([59, 93, 124, 153, 181]) {
        assert_eq!(samples_with_failures(failures, 0.95, confidence(0.95)), Ok(samples));
    }
}

/// Two-sided limits of first order, smallest and largest value: as one-sided ones of second order.
#[test]
fn two_sided_first_order() {
    for (content, samples) in [(0.90, 46), (0.95, 93), (0.99, 473)] {
        assert_eq!(samples_with_failures(1, content, confidence(0.95)), Ok(samples));
    }
}
