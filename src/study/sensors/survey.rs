//! How a yield stands to its target at which factor on all tolerance bands, or on all errors of
//! the sensors.

use schemars::JsonSchema;
use serde::Serialize;

use crate::scenario::{Scenario, SensorRequest, Tolerance};
use crate::statistics::{Verdict, Yield};

/// Ratio of neighbouring factors of the survey.
const STRIDE: f64 = std::f64::consts::SQRT_2;
/// Strides to either side: a factor of 8.
const STRIDES: i32 = 6;
/// How close borders are closed in, as a ratio.
const CLOSE: f64 = 1.01;
/// No band may reach the nominal value itself.
const WIDEST_BAND: f64 = 0.95;

/// How a yield compares with its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TargetComparison {
    /// The whole interval meets it.
    Meets,
    /// The estimate meets it, the interval does not decide.
    LikelyMeets,
    /// The estimate misses it, the interval does not decide.
    LikelyMisses,
    /// The whole interval misses it.
    Misses,
}

impl TargetComparison {
    /// That of a yield.
    pub fn new(good: &Yield, target: f64) -> Self {
        match good.verdict(target) {
            Verdict::Pass => Self::Meets,
            Verdict::NotDecided if good.estimate >= target => Self::LikelyMeets,
            Verdict::NotDecided => Self::LikelyMisses,
            Verdict::Fail => Self::Misses,
        }
    }

    /// Whether the estimate meets the target.
    pub fn meets(self) -> bool {
        matches!(self, Self::Meets | Self::LikelyMeets)
    }

    /// Whether the interval tells.
    pub fn is_decided(self) -> bool {
        matches!(self, Self::Meets | Self::Misses)
    }
}

/// Factors between which a yield stands alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FactorSpan {
    /// How it stands.
    pub comparison: TargetComparison,
    /// Least factor looked at.
    pub from: f64,
    /// Greatest factor looked at.
    pub to: f64,
}

/// A factor at which a yield crosses its target.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BreakEvenFactor {
    /// Where the estimate does, to 1 %.
    pub factor: f64,
    /// Lower end of its interval: up to there the answer is sure. `None` where the search stopped
    /// before it was.
    pub lower: Option<f64>,
    /// Upper end, from which on the contrary is sure.
    pub upper: Option<f64>,
    /// Whether the target is met below it, as with errors that grow, or above it.
    pub meets_below: bool,
}

/// Which way a survey goes from 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FactorBounds {
    /// Least factor; 1 for none below.
    pub least: f64,
    /// Greatest factor; 1 for none above.
    pub greatest: f64,
}

/// Most evaluations: strides to both sides, and six borders' halvings.
pub(super) const EVALUATIONS: u64 = 1 + 2 * 6 + 6 * 6;

/// Goes outward from 1, either way until the answer is sure and not that at 1, and closes in on
/// every border between two answers until its ends are 1 % apart.
///
/// # Errors
///
/// Those of `find`.
pub fn survey<E>(
    reach: FactorBounds,
    mut find: impl FnMut(f64) -> Result<TargetComparison, E>,
) -> Result<Vec<FactorSpan>, E> {
    let at_one = find(1.0)?;
    let mut seen = vec![(1.0, at_one)];
    for sign in [1, -1] {
        for stride in 1..=STRIDES {
            let factor = STRIDE.powi(sign * stride).clamp(reach.least, reach.greatest);
            if seen.iter().any(|(x, _)| close(*x, factor)) {
                break;
            }
            let comparison = find(factor)?;
            seen.push((factor, comparison));
            if comparison != at_one && comparison.is_decided() {
                break;
            }
        }
    }
    close_in(&mut seen, find)?;
    Ok(spans(&seen))
}

fn close(a: f64, b: f64) -> bool {
    (a / b).max(b / a) <= CLOSE
}

fn close_in<E>(
    seen: &mut Vec<(f64, TargetComparison)>,
    mut find: impl FnMut(f64) -> Result<TargetComparison, E>,
) -> Result<(), E> {
    loop {
        seen.sort_by(|a, b| a.0.total_cmp(&b.0));
        let apart = |pair: &&[(f64, TargetComparison)]| {
            pair[0].1 != pair[1].1 && !close(pair[0].0, pair[1].0)
        };
        let Some(middle) = seen.windows(2).find(apart).map(|p| (p[0].0 * p[1].0).sqrt()) else {
            return Ok(());
        };
        let comparison = find(middle)?;
        seen.push((middle, comparison));
    }
}

fn spans(seen: &[(f64, TargetComparison)]) -> Vec<FactorSpan> {
    let runs = seen.chunk_by(|a, b| a.1 == b.1);
    runs.map(|run| FactorSpan { comparison: run[0].1, from: run[0].0, to: run[run.len() - 1].0 })
        .collect()
}

/// Where the estimate goes from one side of the target to the other, by rising factors.
///
/// With common random numbers and a yield that falls with the factor, the ends are those of a
/// confidence interval: the inversion of a test at every factor. Sound as far as no answer comes
/// and goes again within a stride.
pub fn break_evens(spans: &[FactorSpan]) -> Vec<BreakEvenFactor> {
    let crosses = |n: &usize| spans[*n].comparison.meets() != spans[n + 1].comparison.meets();
    let borders = (0..spans.len().saturating_sub(1)).filter(crosses);
    let each = borders.map(|n| {
        let (before, after) = (&spans[..=n], &spans[n + 1..]);
        let meets_below = before[n].comparison.meets();
        let same = |side: bool| move |span: &&FactorSpan| span.comparison.meets() == side;
        let sure = |span: &&FactorSpan| span.comparison.is_decided();
        let lower = before.iter().rev().take_while(same(meets_below)).find(sure).map(|s| s.to);
        let upper = after.iter().take_while(same(!meets_below)).find(sure).map(|s| s.from);
        BreakEvenFactor { factor: (before[n].to * after[0].from).sqrt(), lower, upper, meets_below }
    });
    each.collect()
}

fn scaled(tolerance: Tolerance, factor: f64) -> Tolerance {
    Tolerance { band: tolerance.band * factor, ..tolerance }
}

/// The scenario with all bands of the parts multiplied by a factor; sensors stay as they are.
#[must_use]
pub fn widened(scenario: &Scenario, factor: f64) -> Scenario {
    let mut wider = scenario.clone();
    for (parameter, tolerance) in scenario.tolerances.iter() {
        wider.tolerances = wider.tolerances.with(parameter, Some(scaled(tolerance, factor)));
    }
    wider
}

/// The sensors with all their errors multiplied by a factor.
#[must_use]
pub(super) fn blurred(request: &SensorRequest, factor: f64) -> SensorRequest {
    let scale = |error: Option<Tolerance>| error.map(|t| scaled(t, factor));
    SensorRequest {
        gain_error: scale(request.gain_error),
        drift: scale(request.drift),
        offset: scale(request.offset),
        ..*request
    }
}

/// The greatest factor at which each of these bands stays below the nominal value; 1, and so no
/// search upwards, where one of them is wider than that by itself.
pub(super) fn greatest_factor(bands: impl Iterator<Item = f64>) -> f64 {
    (WIDEST_BAND / bands.fold(0.0, f64::max)).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::TargetComparison::{LikelyMeets, LikelyMisses, Meets, Misses};
    use super::*;

    /// A stand-in that crosses at `at` and is sure up to `lower` and from `upper` on.
    fn crossing(lower: f64, at: f64, upper: f64) -> impl Fn(f64) -> Result<TargetComparison, ()> {
        move |x| {
            Ok(if x <= lower {
                Meets
            } else if x <= at {
                LikelyMeets
            } else if x < upper {
                LikelyMisses
            } else {
                Misses
            })
        }
    }

    const ALL: FactorBounds = FactorBounds { least: 0.0, greatest: 1e3 };

    /// A stand-in whose borders are known: each lies within 1 % of what is found.
    #[test]
    fn known_borders_are_found() {
        for (lower, at, upper) in [
            (0.3, 0.305, 0.31),
            (0.9, 1.1, 1.2),
            (1.3, 1.4, 1.5),
            (0.5, 0.6, 0.9),
            (1.0, 1.0005, 1.001),
            (0.9, 2.0, 3.0),
        ] {
            let spans = survey(ALL, crossing(lower, at, upper)).unwrap();
            let [found] = break_evens(&spans)[..] else { panic!("{spans:?}") };
            let (low, high) = (found.lower.unwrap(), found.upper.unwrap());
            assert!(low <= lower && lower < low * CLOSE, "{found:?}");
            assert!(high >= upper && upper > high / CLOSE, "{found:?}");
            assert!(close(found.factor, at) && found.meets_below, "{found:?}");
            assert!(low < found.factor && found.factor < high, "{found:?}");
        }
    }

    /// Where the search stops before it is sure, the end is missing and not made up.
    #[test]
    fn an_end_that_was_not_reached_is_none() {
        let short = FactorBounds { least: 0.0, greatest: 1.5 };
        let found = break_evens(&survey(short, crossing(1.1, 1.3, 1.7)).unwrap());
        assert_eq!(found[0].upper, None);
        assert!(close(found[0].lower.unwrap(), 1.1));
        let none = break_evens(&survey(short, crossing(1.1, 1.6, 1.7)).unwrap());
        assert!(none.is_empty(), "the estimate does not cross within reach");
        let flipped = |x: f64| crossing(0.6, 0.7, 0.8)(1.0 / x);
        let [found] = break_evens(&survey(ALL, flipped).unwrap())[..] else { panic!() };
        assert!(!found.meets_below && close(found.factor, 1.0 / 0.7));
    }

    #[test]
    fn standings_are_those_of_the_interval_and_of_the_estimate() {
        let confidence = crate::statistics::Confidence::new(0.95).unwrap();
        // 990 of 1000: 0.98169 to 0.99519.
        let good = Yield::new(990, 1000, confidence).unwrap();
        let found =
            [0.98, 0.985, 0.99, 0.992, 0.996].map(|target| TargetComparison::new(&good, target));
        assert_eq!(found, [Meets, LikelyMeets, LikelyMeets, LikelyMisses, Misses]);
    }

    /// A band may be as wide as it likes: the survey then looks at the bands as they are.
    #[test]
    fn no_band_is_too_wide_to_be_looked_at() {
        for (band, factor) in [(0.97, 1.0), (0.95, 1.0), (0.5, 1.9)] {
            let found = greatest_factor([0.0, band].into_iter());
            assert!((found - factor).abs() < 1e-12, "{band}: {found}");
        }
        assert!(greatest_factor(std::iter::empty()).is_infinite());
        let reach = FactorBounds { least: 1.0, greatest: greatest_factor([0.97].into_iter()) };
        assert_eq!(survey(reach, crossing(2.0, 2.5, 3.0)).unwrap().len(), 1);
    }

    #[test]
    fn it_goes_no_farther_than_it_must() {
        let mut asked = Vec::new();
        let reach = FactorBounds { least: 1.0, ..ALL };
        let spans = survey::<()>(reach, |x| {
            asked.push(x);
            crossing(1.1, 1.15, 1.2)(x)
        });
        assert_eq!(spans.unwrap().len(), 4);
        assert!(asked.iter().all(|x| (1.0..1.5).contains(x)) && asked.len() < 17, "{asked:?}");
        let few =
            survey(FactorBounds { least: 0.0, greatest: 1.2 }, crossing(1.3, 1.35, 1.4)).unwrap();
        assert_eq!((few.len(), few[0].comparison, few[0].to), (1, Meets, 1.2));
        assert_eq!(survey(ALL, |_| Err("stopped")), Err("stopped"));
    }
}
