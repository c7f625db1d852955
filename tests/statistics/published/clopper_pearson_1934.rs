//! C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404–413 defined the exact interval; the
//! digits here were computed for this project with general-purpose libraries: mpmath 1.3.0 in 60
//! decimal digits (roots of its incomplete beta function up to 20 000 trials, its quadrature of the
//! beta density in 40 digits beyond), and rounded to 16 digits.

use fairphase::statistics::{Confidence, Yield, lower_bound, upper_bound};

/// Half a unit of the last of 16 digits, and a few roundings of an f64.
const ROUNDING: f64 = 1e-15;

fn confidence() -> Confidence {
    Confidence::new(0.95).unwrap()
}

#[test]
fn two_sided() {
    for (successes, trials, lower, upper) in [
        (81, 263, 0.252_736_745_585_271_2, 0.367_621_922_601_351_4),
        (15, 148, 0.057_844_010_083_448_56, 0.161_650_490_349_479),
        (0, 20, 0.0, 0.168_433_470_983_085_3),
        (1, 29, 0.000_872_646_883_579_922, 0.177_644_295_488_722_9),
        (990, 1000, 0.981_686_756_944_887_5, 0.995_194_489_308_950_7),
        (1000, 1000, 0.996_317_916_103_134_3, 1.0),
        (9973, 10_000, 0.996_074_055_024_563_8, 0.998_219_952_145_352_8),
        (19_812, 20_000, 0.989_163_876_102_022_2, 0.991_890_655_596_154_3),
    ] {
        let y = Yield::new(successes, trials, confidence()).unwrap();
        assert!((y.lower - lower).abs() < ROUNDING, "{successes}/{trials}: {:.17}", y.lower);
        assert!((y.upper - upper).abs() < ROUNDING, "{successes}/{trials}: {:.17}", y.upper);
    }
}

#[test]
fn one_sided() {
    for (successes, trials, lower, upper) in [
        (990, 1000, 0.983_096_824_879_437_5, 0.994_564_859_855_293_2),
        (1000, 1000, 0.997_008_750_454_904_7, 1.0),
        (59, 59, 0.950_492_390_111_773_1, 1.0),
        (299, 299, 0.990_030_853_207_100_7, 1.0),
    ] {
        let low = lower_bound(successes, trials, confidence()).unwrap();
        let high = upper_bound(successes, trials, confidence()).unwrap();
        assert!((low - lower).abs() < ROUNDING, "{successes}/{trials}: {low:.17}");
        assert!((high - upper).abs() < ROUNDING, "{successes}/{trials}: {high:.17}");
    }
}

/// Many trials, where logarithms of gamma functions cancel: digits must not be lost.
#[test]
fn many_trials() {
    for (successes, trials, lower) in [
        (500_000, 1_000_000, 0.499_019_519_195_311_8),
        (999_000, 1_000_000, 0.998_936_081_892_684_8),
        (500_002_000_000, 1_000_000_000_000, 0.500_001_020_017_507_7),
        (999_990_000_000, 1_000_000_000_000, 0.999_989_993_800_133_3),
    ] {
        let y = Yield::new(successes, trials, confidence()).unwrap();
        assert!((y.lower - lower).abs() < ROUNDING, "{successes}/{trials}: {:.17}", y.lower);
    }
}
