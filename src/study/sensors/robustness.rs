//! Up to where the answer holds: what a search for break-even factors says of it.

use super::result::SensorStudy;
use super::sensitivity::{Sensitivity, VerifiedBreakEven};
use super::survey::{BreakEvenFactor, FactorSpan};
use crate::statistics::Verdict;

/// What a search over factors says of the answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Robustness<'a> {
    /// The samples do not secure the variant's verdict even at the assumed values.
    NotSecured {
        /// The break-even, if the estimate crosses the target anywhere; its interval may include 1.
        break_even: Option<&'a VerifiedBreakEven>,
        /// Whether the decision depends on what the verdict turns out to be: what to build, the
        /// verdict on the chain, or what leaves the lowest cost open.
        matters: bool,
    },
    /// Beyond the break-even the answer is another.
    Changes(&'a VerifiedBreakEven),
    /// Beyond the break-even the answer is the same.
    Holds(&'a VerifiedBreakEven),
    /// No break-even within reach. The verdict is decided over this span.
    NoBreakEven(&'a FactorSpan),
}

impl BreakEvenFactor {
    /// Whether the interval includes the assumed values, so that the samples do not tell on which
    /// side of the break-even they are. An end that the search did not reach excludes nothing.
    pub fn includes_assumed(&self) -> bool {
        self.lower.is_none_or(|lower| lower < 1.0) && self.upper.is_none_or(|upper| upper > 1.0)
    }

    /// Whether the target is met on the far side of the break-even, seen from the assumed values.
    pub fn meets_beyond(&self) -> bool {
        self.meets_below != (self.factor >= 1.0)
    }
}

impl Sensitivity {
    /// The factors around the assumed values at which the verdict is the same and decided.
    fn decided_span(&self) -> Option<&FactorSpan> {
        let at_one = |span: &&FactorSpan| (span.from..=span.to).contains(&1.0);
        self.spans.iter().find(at_one).filter(|span| span.comparison.is_decided())
    }
}

impl SensorStudy {
    /// What a search says of the answer, against a yield target.
    ///
    /// A break-even is a statement by itself, at the scenario's confidence. The verdicts share the
    /// permitted error, so they need more. Only what both of them decide counts as secured.
    pub fn robustness<'a>(&self, search: &'a Sensitivity, target: f64) -> Robustness<'a> {
        let variant = search.question.variant;
        let break_even = search.nearest();
        let decided = search.decided_span().filter(|_| {
            let includes_assumed = break_even.is_some_and(|even| even.found.includes_assumed());
            self.variant(variant).verdict != Verdict::NotDecided && !includes_assumed
        });
        let decision_if = |meets| self.decision_if(variant, meets, target);
        match (decided, break_even) {
            (None, _) => {
                let matters = decision_if(true) != decision_if(false);
                Robustness::NotSecured { break_even, matters }
            }
            (Some(span), None) => Robustness::NoBreakEven(span),
            (Some(_), Some(even)) => {
                let beyond = decision_if(even.found.meets_beyond());
                if beyond == self.decision() {
                    Robustness::Holds(even)
                } else {
                    Robustness::Changes(even)
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_excludes_the_assumed_values_only_by_an_end_that_was_reached() {
        let found =
            |lower, upper| BreakEvenFactor { factor: 1.02, lower, upper, meets_below: true };
        for (lower, upper, includes) in [
            (Some(0.98), Some(1.05), true),
            (Some(0.98), None, true),
            (None, Some(1.05), true),
            (None, None, true),
            (Some(1.0), Some(1.05), false),
            (Some(0.9), Some(1.0), false),
        ] {
            assert_eq!(found(lower, upper).includes_assumed(), includes, "{lower:?} {upper:?}");
        }
        assert!(!found(None, None).meets_beyond(), "met below 1.02, so missed above");
        let below = BreakEvenFactor { factor: 0.98, ..found(None, None) };
        assert!(below.meets_beyond(), "met below 0.98");
    }
}
