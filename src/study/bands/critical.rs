//! Which band is the most critical one: shown on fresh samples, not read off the order of estimates.
//!
//! The search picks a candidate. On its own samples a single converter may have decided that, so the
//! parts are compared anew: fresh samples, the same for all parts, each part varied alone. The
//! candidate counts as the most critical one only if it differs from every other part in the right
//! direction by McNemar's exact test. That is an intersection-union test (R. L. Berger, Technometrics
//! 24 (1982) 295–300, from memory): it needs no correction for the number of parts. Suppose that
//! another part truly is the most critical one. Then the statement is wrong only where the candidate
//! seems to differ from that part, which is one test. For the same reason the parts that are not told
//! apart from the candidate hold the most critical one with the same error.

use crate::converter::Parameter;
use crate::population::RandomSource;
use crate::statistics::{Confidence, Difference, PairedCounts, StatisticsError, Yield};

/// How each part is varied alone to compare it with the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Variation {
    /// Its band is this many times the present one, no wider than the widest asked for: the most
    /// critical part passes least.
    Widened(f64),
    /// It is exact: the most critical part passes most, and more than the present bands do.
    Exact,
}

/// A part against the candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedPart {
    /// The part; none for the present bands.
    pub parameter: Option<Parameter>,
    /// Its yield on the fresh samples.
    pub good: Yield,
    /// Its yield less the candidate's.
    pub difference: Difference,
    /// McNemar p-value, two-sided.
    pub p_value: f64,
    /// Whether the candidate is more critical, at the shared level.
    pub is_told_apart: bool,
}

impl ComparedPart {
    /// From the samples that pass with the part varied first, with the candidate varied second.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`].
    pub fn new(
        parameter: Option<Parameter>,
        counts: PairedCounts,
        variation: Variation,
        level: Confidence,
    ) -> Result<Self, StatisticsError> {
        let PairedCounts { both, first, second, .. } = counts;
        let is_right_way = match variation {
            Variation::Widened(_) => first > second,
            Variation::Exact => second > first,
        };
        let p_value = counts.p_value();
        Ok(Self {
            parameter,
            good: Yield::new(both + first, counts.trials(), level)?,
            difference: counts.difference(level)?,
            p_value,
            is_told_apart: is_right_way && p_value <= level.one_sided_tail(),
        })
    }
}

/// The candidate against all other parts.
#[derive(Debug, Clone, PartialEq)]
pub struct CriticalComparison {
    /// How each part was varied.
    pub variation: Variation,
    /// The part that the search found to be the most critical one.
    pub candidate: Parameter,
    /// Its yield on the fresh samples.
    pub good: Yield,
    /// The fresh samples, used for nothing else.
    pub source: RandomSource,
    /// The other parts that have a band.
    pub others: Vec<ComparedPart>,
    /// The present bands, where parts are made exact.
    pub present: Option<ComparedPart>,
}

impl CriticalComparison {
    /// Whether the candidate is more critical than every other part.
    pub fn is_secured(&self) -> bool {
        self.helps() && self.not_told_apart().next().is_none()
    }

    /// Whether so few samples fail that no other part could differ from the candidate. Each sample on
    /// which they differ fails in one of them. If d differ, p is at least 2^(1 − d).
    pub fn has_too_few_failures(&self) -> bool {
        let failures = |good: &Yield| good.trials - good.successes;
        let is_open_anyway = |other: &ComparedPart| {
            let most = failures(&self.good) + failures(&other.good);
            libm::exp2(1.0 - most as f64) > other.good.confidence.one_sided_tail()
        };
        self.others.iter().all(is_open_anyway)
    }

    /// Whether the candidate made exact was shown to raise the yield; true of bands that are widened.
    pub fn helps(&self) -> bool {
        self.present.as_ref().is_none_or(|present| present.is_told_apart)
    }

    /// The other parts that may be the most critical one too.
    pub fn not_told_apart(&self) -> impl Iterator<Item = Parameter> {
        self.others.iter().filter(|other| !other.is_told_apart).filter_map(|o| o.parameter)
    }
}
