//! R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven
//! methods", Statistics in Medicine 17 (1998) 857–872, table I: the rows of the exact (Clopper–Pearson)
//! method. Values from memory; `SciPy` 1.17.1 (scipy.stats.beta.ppf) gives the same four digits.

use fairphase::statistics::{Confidence, Yield};

#[test]
fn exact_intervals_of_table_one() {
    const HALF_DIGIT: f64 = 0.5e-4;
    for (successes, trials, lower, upper) in [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ] {
        let y = Yield::new(successes, trials, Confidence::new(0.95).unwrap()).unwrap();
        assert!((y.lower - lower).abs() <= HALF_DIGIT, "{successes}/{trials}: {}", y.lower);
        assert!((y.upper - upper).abs() <= HALF_DIGIT, "{successes}/{trials}: {}", y.upper);
    }
}
