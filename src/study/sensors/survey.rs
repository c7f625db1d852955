//! How a yield compares with its target, factor by factor on all tolerance bands or on all errors of
//! the sensors, and the break-even factors.

use itertools::Itertools as _;
use schemars::JsonSchema;
use serde::Serialize;

use crate::statistics::{Verdict, Yield};

/// Ratio of neighbouring factors of the survey.
const STRIDE: f64 = std::f64::consts::SQRT_2;
/// Strides to either side: a factor of 8.
const STRIDES: i32 = 6;
/// How close borders are bisected, as a ratio.
const CLOSE: f64 = 1.01;

/// How a yield compares with its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TargetComparison {
    /// The whole interval meets the target.
    Meets,
    /// The estimate meets the target; the interval does not decide.
    LikelyMeets,
    /// The estimate misses the target; the interval does not decide.
    LikelyMisses,
    /// The whole interval misses the target.
    Misses,
}

impl TargetComparison {
    /// The comparison of a yield.
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

    /// Whether the interval decides.
    pub fn is_decided(self) -> bool {
        matches!(self, Self::Meets | Self::Misses)
    }
}

/// Neighbouring factors at which a yield compares in the same way with its target.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FactorSpan {
    /// How the yield compares.
    pub comparison: TargetComparison,
    /// Least factor evaluated.
    pub from: f64,
    /// Greatest factor evaluated.
    pub to: f64,
}

/// A factor at which a yield crosses its target.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BreakEvenFactor {
    /// Where the estimate crosses, to 1 %.
    pub factor: f64,
    /// Lower end of its interval: the greatest factor below at which the interval of the yield
    /// decides. `None` where the search ended before there was one.
    pub lower: Option<f64>,
    /// Upper end: the least factor above at which the interval of the yield decides.
    pub upper: Option<f64>,
    /// Whether the target is met below it, as with errors that grow, or above it.
    pub meets_below: bool,
}

/// How far a survey goes from 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FactorBounds {
    /// Least factor; 1 for none below.
    pub least: f64,
    /// Greatest factor; 1 for none above.
    pub greatest: f64,
}

/// Most evaluations: strides to both sides, and the bisections of six borders.
pub(super) const EVALUATIONS: u64 = 1 + 2 * 6 + 6 * 6;

/// An evaluated factor.
#[derive(Debug, Clone, Copy)]
struct EvaluatedFactor {
    factor: f64,
    comparison: TargetComparison,
}

/// Goes outward from 1, either way until the interval decides and the comparison is not that at 1.
/// Then it bisects every border between two comparisons until its ends are 1 % apart.
///
/// # Errors
///
/// Those of `compare`.
pub fn survey<E>(
    bounds: FactorBounds,
    mut compare: impl FnMut(f64) -> Result<TargetComparison, E>,
) -> Result<Vec<FactorSpan>, E> {
    let at_one = compare(1.0)?;
    let mut evaluated = vec![EvaluatedFactor { factor: 1.0, comparison: at_one }];
    for sign in [1, -1] {
        for stride in 1..=STRIDES {
            let factor = STRIDE.powi(sign * stride).clamp(bounds.least, bounds.greatest);
            if evaluated.iter().any(|e| are_close(e.factor, factor)) {
                break;
            }
            let comparison = compare(factor)?;
            evaluated.push(EvaluatedFactor { factor, comparison });
            if comparison != at_one && comparison.is_decided() {
                break;
            }
        }
    }
    bisect_borders(&mut evaluated, compare)?;
    Ok(spans(&evaluated))
}

fn are_close(a: f64, b: f64) -> bool {
    (a / b).max(b / a) <= CLOSE
}

/// Evaluates the middle of every border until its ends are close.
fn bisect_borders<E>(
    evaluated: &mut Vec<EvaluatedFactor>,
    mut compare: impl FnMut(f64) -> Result<TargetComparison, E>,
) -> Result<(), E> {
    loop {
        evaluated.sort_by(|a, b| a.factor.total_cmp(&b.factor));
        let is_open = |(a, b): &(&EvaluatedFactor, &EvaluatedFactor)| {
            a.comparison != b.comparison && !are_close(a.factor, b.factor)
        };
        let border = evaluated.iter().tuple_windows().find(is_open);
        let Some(factor) = border.map(|(a, b)| (a.factor * b.factor).sqrt()) else {
            return Ok(());
        };
        evaluated.push(EvaluatedFactor { factor, comparison: compare(factor)? });
    }
}

fn spans(evaluated: &[EvaluatedFactor]) -> Vec<FactorSpan> {
    let span = |run: &[EvaluatedFactor]| FactorSpan {
        comparison: run[0].comparison,
        from: run[0].factor,
        to: run[run.len() - 1].factor,
    };
    evaluated.chunk_by(|a, b| a.comparison == b.comparison).map(span).collect()
}

/// Where the estimate goes from one side of the target to the other, by rising factors.
///
/// With common random numbers and a yield that falls with the factor, the ends are those of a
/// confidence interval: the inversion of a test at every factor. It holds as long as no comparison
/// comes and goes again within a stride.
pub fn break_evens(spans: &[FactorSpan]) -> Vec<BreakEvenFactor> {
    let crosses = |n: &usize| spans[*n].comparison.meets() != spans[n + 1].comparison.meets();
    let borders = (0..spans.len().saturating_sub(1)).filter(crosses);
    let break_even = |n: usize| {
        let (before, after) = (&spans[..=n], &spans[n + 1..]);
        let meets_below = before[n].comparison.meets();
        let same = |side: bool| move |span: &&FactorSpan| span.comparison.meets() == side;
        let decided = |span: &&FactorSpan| span.comparison.is_decided();
        let lower = before.iter().rev().take_while(same(meets_below)).find(decided).map(|s| s.to);
        let upper = after.iter().take_while(same(!meets_below)).find(decided).map(|s| s.from);
        BreakEvenFactor { factor: (before[n].to * after[0].from).sqrt(), lower, upper, meets_below }
    };
    borders.map(break_even).collect()
}

#[cfg(test)]
mod tests {
    use super::TargetComparison::{LikelyMeets, LikelyMisses, Meets, Misses};
    use super::*;

    /// A stand-in that crosses at `at` and is decided up to `lower` and from `upper` on.
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
            assert!(are_close(found.factor, at) && found.meets_below, "{found:?}");
            assert!(low < found.factor && found.factor < high, "{found:?}");
        }
    }

    /// Where the search stops before it is sure, the end is missing and not made up.
    #[test]
    fn an_end_that_was_not_reached_is_none() {
        let short = FactorBounds { least: 0.0, greatest: 1.5 };
        let found = break_evens(&survey(short, crossing(1.1, 1.3, 1.7)).unwrap());
        assert_eq!(found[0].upper, None);
        assert!(are_close(found[0].lower.unwrap(), 1.1));
        let none = break_evens(&survey(short, crossing(1.1, 1.6, 1.7)).unwrap());
        assert!(none.is_empty(), "the estimate does not cross within reach");
        let inverse = |x: f64| crossing(0.6, 0.7, 0.8)(1.0 / x);
        let [found] = break_evens(&survey(ALL, inverse).unwrap())[..] else { panic!() };
        assert!(!found.meets_below && are_close(found.factor, 1.0 / 0.7));
    }

    #[test]
    fn comparisons_are_those_of_the_interval_and_of_the_estimate() {
        let confidence = crate::statistics::Confidence::new(0.95).unwrap();
        // 990 of 1000: 0.98169 to 0.99519.
        let good = Yield::new(990, 1000, confidence).unwrap();
        let found =
            [0.98, 0.985, 0.99, 0.992, 0.996].map(|target| TargetComparison::new(&good, target));
        assert_eq!(found, [Meets, LikelyMeets, LikelyMeets, LikelyMisses, Misses]);
    }

    #[test]
    fn without_room_the_bands_are_evaluated_as_they_are() {
        let bounds = FactorBounds { least: 1.0, greatest: 1.0 };
        assert_eq!(survey(bounds, crossing(2.0, 2.5, 3.0)).unwrap().len(), 1);
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
