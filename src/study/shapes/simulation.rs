//! How far files from a fitted shape lie from their own fit.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::statistics::shapes::{FittedShape, SortedValues};
use crate::statistics::{FitDistances, FitProbabilities, Interval};

/// Simulated files for each shape: a probability has steps of a thousandth.
pub const REPLICATES: u64 = 999;

/// Most values of a simulated file. The distribution of A², and of D in its scaled form, does not change
/// with more values by as much as the simulation scatters.
pub const MOST_SIMULATED: usize = 1000;

/// The stream of these numbers, apart from all samples and verification runs.
const STREAM: u64 = 0x0073_6861_7065_7321;

/// A fit to be judged.
#[derive(Debug, Clone, Copy)]
pub(super) struct FitQuestion {
    pub(super) shape: FittedShape,
    pub(super) distances: FitDistances,
    /// Limits of inspection that the fit knew.
    pub(super) limits: Option<Interval>,
}

/// The probability of distances as large or larger, where the parameters were fitted: files are drawn
/// from the fitted shape, and each is fitted again in the same way (parametric bootstrap: W. Stute,
/// W. González-Manteiga and M. Presedo-Quindimil, Metrika 40 (1993) 243). Exact for uniform,
/// triangular, whole normal and lognormal shapes, whose distances do not depend on the parameters; with
/// limits, and for beta, the better the more values there are.
pub(super) fn probabilities(
    question: FitQuestion,
    replicates: u64,
    stop: &AtomicBool,
) -> Result<FitProbabilities, EngineError> {
    // Same values, same numbers; other values, other numbers: over all files the level is exact.
    let seed = question.distances.anderson_darling.to_bits();
    let source = RandomSource::from(seed).with_stream(STREAM);
    let farther = |number: u64| {
        if stop.load(Ordering::Relaxed) {
            return Err(EngineError::Stopped);
        }
        Ok(question.farther(&mut source.numbers(number)))
    };
    let all: Vec<Farther> =
        (0..replicates).into_par_iter().map(farther).collect::<Result<_, _>>()?;
    let share = |is_farther: fn(&Farther) -> bool| {
        let count = all.iter().filter(|farther| is_farther(farther)).count() as f64;
        (count + 1.0) / (replicates as f64 + 1.0)
    };
    Ok(FitProbabilities {
        anderson_darling: share(|farther| farther.anderson_darling),
        kolmogorov_smirnov: share(|farther| farther.kolmogorov_smirnov),
    })
}

/// Whether a simulated file lies as far from its fit as the values do from theirs.
#[derive(Debug, Clone, Copy)]
struct Farther {
    anderson_darling: bool,
    kolmogorov_smirnov: bool,
}

impl FitQuestion {
    /// Of one simulated file. One that cannot be fitted counts as farther: then the shape is called
    /// possible rather than not.
    fn farther(&self, random: &mut impl FnMut() -> f64) -> Farther {
        let count = self.distances.count.min(MOST_SIMULATED);
        let drawn = SortedValues::new((0..count).map(|_| self.shape.draw(random)).collect());
        let found = drawn.and_then(|values| {
            FittedShape::fit(self.shape.family(), &values, self.limits).ok()?.distances(&values)
        });
        let is_farther = |measure: fn(&FitDistances) -> f64| {
            found.is_none_or(|found| measure(&found) >= measure(&self.distances))
        };
        Farther {
            anderson_darling: is_farther(|d| d.anderson_darling),
            kolmogorov_smirnov: is_farther(FitDistances::kolmogorov_scaled),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::normal;
    use crate::statistics::shapes::ShapeFamily;

    /// Fewer than in use, so that many files can be judged; the level of 5 % stays exact.
    const FEW_REPLICATES: u64 = 199;

    fn band() -> Interval {
        Interval { lower: 0.96, upper: 1.04 }
    }

    /// One that the values of [`truth`] nearly fill.
    fn narrow_band() -> Interval {
        Interval { lower: 0.97, upper: 1.027 }
    }

    /// The share of files whose shape is called not fitting at 5 %, by A² and by D. File by file the
    /// values come from a stream of their own.
    fn refused(
        files: u64,
        count: usize,
        family: ShapeFamily,
        limits: Option<Interval>,
        quantile: impl Fn(f64) -> f64,
    ) -> [f64; 2] {
        let (stop, source) = (AtomicBool::new(false), RandomSource::from(1).with_stream(3));
        let mut refused = [0.0, 0.0];
        for file in 0..files {
            let mut random = source.numbers(file);
            let values = (0..count).map(|_| quantile(random())).collect();
            let values = SortedValues::new(values).unwrap();
            let Ok(shape) = FittedShape::fit(family, &values, limits) else { continue };
            let distances = shape.distances(&values).unwrap();
            let question = FitQuestion { shape, distances, limits };
            let found = probabilities(question, FEW_REPLICATES, &stop).unwrap();
            let both = [found.anderson_darling, found.kolmogorov_smirnov];
            for (sum, p) in refused.iter_mut().zip(both) {
                *sum += f64::from(u8::from(p <= 0.05)) / files as f64;
            }
        }
        refused
    }

    /// A shape that is fitted to 20 or 60 values.
    fn truth(family: ShapeFamily, limits: Option<Interval>) -> FittedShape {
        let values = vec![0.973, 0.985, 0.99, 0.995, 1.0, 1.002, 1.008, 1.015, 1.024];
        FittedShape::fit(family, &SortedValues::new(values).unwrap(), limits).unwrap()
    }

    /// Files from a shape are said not to fit it in 5 % of the cases, within 3.5 standard errors:
    /// exactly so where the distances do not depend on the parameters, else (with limits, beta) about
    /// so, where one point more is left.
    #[test]
    fn files_of_a_shape_are_seldom_said_not_to_fit_it() {
        let files = 300;
        let error = 3.5 * (0.05 * 0.95 / files as f64).sqrt();
        let cases = [
            (ShapeFamily::Uniform, None),
            (ShapeFamily::Triangular, None),
            (ShapeFamily::Normal, None),
            (ShapeFamily::Lognormal, None),
            (ShapeFamily::Normal, Some(band())),
            (ShapeFamily::Lognormal, Some(band())),
            (ShapeFamily::Beta, Some(band())),
            (ShapeFamily::Uniform, Some(narrow_band())),
            (ShapeFamily::Triangular, Some(narrow_band())),
        ];
        for (family, limits) in cases {
            let shape = truth(family, limits);
            let slack = if limits.is_some() { 0.01 } else { 0.0 };
            for count in [20, 60] {
                let found = refused(files, count, family, limits, |p| shape.quantile(p));
                for share in found {
                    let off = (share - 0.05).abs();
                    assert!(off < error + slack, "{family:?} {limits:?} {count}: {found:?}");
                }
            }
        }
    }

    /// Probabilities of a distribution that was known before, taken for a fitted one, would hardly ever
    /// refuse it: the simulation is needed.
    #[test]
    fn probabilities_of_a_known_distribution_would_not_do() {
        let source = RandomSource::from(1).with_stream(3);
        let refused = (0..400).filter(|file| {
            let mut random = source.numbers(*file);
            let values = (0..40).map(|_| normal::quantile(random())).collect();
            let values = SortedValues::new(values).unwrap();
            let shape = FittedShape::fit(ShapeFamily::Normal, &values, None).unwrap();
            let known = shape.distances(&values).unwrap().probabilities_when_known();
            known.anderson_darling <= 0.05
        });
        assert!(refused.count() < 4, "5 % would be 20");
    }

    /// Other shapes are seen, mostly: 60 to 120 values of one shape tried for another.
    #[test]
    fn other_shapes_are_refused() {
        let two_lots = |p: f64| {
            let z = normal::quantile((2.0 * p).fract().clamp(1e-12, 1.0 - 1e-12));
            if p < 0.5 { 0.97 + 0.006 * z } else { 1.03 + 0.006 * z }
        };
        for family in [
            ShapeFamily::Uniform,
            ShapeFamily::Normal,
            ShapeFamily::Triangular,
            ShapeFamily::Lognormal,
        ] {
            let [anderson, _] = refused(40, 60, family, None, two_lots);
            assert!(anderson > 0.95, "two lots are not {family:?}: {anderson}");
        }
        let uniform = |p: f64| 0.95 + 0.1 * p;
        let normal = |p: f64| 1.0 + 0.02 * normal::quantile(p);
        let skewed = |p: f64| libm::exp(0.6 * normal::quantile(p));
        for (family, count, quantile) in [
            (ShapeFamily::Normal, 120, &uniform as &dyn Fn(f64) -> f64),
            (ShapeFamily::Uniform, 100, &normal),
            (ShapeFamily::Normal, 60, &skewed),
            (ShapeFamily::Triangular, 60, &skewed),
        ] {
            let [anderson, kolmogorov] = refused(60, count, family, None, quantile);
            assert!(anderson > 0.8, "{family:?}: {anderson} {kolmogorov}");
        }
    }

    /// A thousand values stand for more: the distances of files of 4000 have the same probabilities.
    #[test]
    fn distances_of_many_values_have_those_of_a_thousand() {
        let shape = truth(ShapeFamily::Normal, None);
        let [anderson, kolmogorov] =
            refused(150, 4 * MOST_SIMULATED, ShapeFamily::Normal, None, |p| shape.quantile(p));
        let error = 3.5 * (0.05 * 0.95 / 150.0_f64).sqrt();
        assert!((anderson - 0.05).abs() < error && (kolmogorov - 0.05).abs() < error);
    }

    #[test]
    fn the_wish_to_stop_is_heard() {
        let stop = AtomicBool::new(true);
        let shape = truth(ShapeFamily::Normal, None);
        let distances = FitDistances { count: 20, anderson_darling: 0.3, kolmogorov_smirnov: 0.1 };
        let question = FitQuestion { shape, distances, limits: None };
        let stopped = probabilities(question, FEW_REPLICATES, &stop);
        assert!(matches!(stopped, Err(EngineError::Stopped)));
    }
}
