//! How many samples a search takes, and when so many soft ones show the target.

use crate::statistics::{Confidence, StatisticsError, Yield, samples_without_failure};

/// Samples that choose where to look.
const PILOT: u64 = 100;
/// Samples that may fail while the target is still shown, if the run has as many as that takes.
const TOLERATED: u64 = 3;
/// Samples counted, at most.
const MOST_COUNTED: u64 = 8192;

/// The samples of a search: the run's first ones.
#[derive(Debug, Clone, Copy)]
pub struct SearchSamples {
    /// Those that choose where to look. They are not counted, so that the choice does not bias the
    /// counts.
    pub pilot: u64,
    /// Those that are counted, from the next one on.
    pub counted: u64,
    /// What the counts must show.
    pub rule: CountRule,
}

/// When a count of soft samples shows the target: the lower end of its two-sided interval reaches it.
#[derive(Debug, Clone, Copy)]
pub struct CountRule {
    /// The share of all converters.
    pub target: f64,
    /// Its confidence.
    pub confidence: Confidence,
}

impl CountRule {
    /// The interval of the share after so many soft samples.
    ///
    /// # Errors
    ///
    /// When more are soft than counted.
    pub fn share(&self, soft: u64, counted: u64) -> Result<Yield, StatisticsError> {
        Yield::new(soft, counted, self.confidence)
    }

    /// Whether so many soft samples show the target.
    pub fn shows(&self, soft: u64, counted: u64) -> bool {
        self.share(soft, counted).is_ok_and(|share| share.lower >= self.target)
    }

    /// The fewest samples that show it with so many that fail, up to the most that are counted.
    fn fewest(&self, failures: u64) -> Option<u64> {
        let shows = |counted: u64| self.shows(counted - failures, counted);
        let (mut fails, mut does) = (failures, MOST_COUNTED);
        if !shows(does) {
            return None;
        }
        while does - fails > 1 {
            let middle = fails + (does - fails) / 2;
            (fails, does) = if shows(middle) { (fails, middle) } else { (middle, does) };
        }
        Some(does)
    }
}

impl SearchSamples {
    /// The fewest samples of a run that can show the target: without any failure.
    ///
    /// # Errors
    ///
    /// When there is no such number.
    pub(super) fn needed(rule: CountRule) -> Result<u64, StatisticsError> {
        // One side of a two-sided interval.
        let one_sided = Confidence::new(0.5 + 0.5 * rule.confidence.get())?;
        Ok(PILOT + samples_without_failure(rule.target, one_sided)?)
    }

    /// Of a run with so many samples; none where they cannot show the target. A few samples more than
    /// needed tolerate some failures.
    pub fn of_run(samples: u64, rule: CountRule) -> Option<Self> {
        let fewest = rule.fewest(0)?;
        let wanted = rule.fewest(TOLERATED).unwrap_or(MOST_COUNTED);
        let counted = wanted.min(samples.saturating_sub(PILOT));
        (counted >= fewest).then_some(Self { pilot: PILOT, counted, rule })
    }

    /// Numbers of the samples that choose where to look.
    pub(super) fn pilot_numbers(&self) -> Vec<u64> {
        (0..self.pilot).collect()
    }

    /// Numbers of those that are counted.
    pub(super) fn counted_numbers(&self) -> Vec<u64> {
        (self.pilot..self.pilot + self.counted).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without a failure the lower end of a two-sided 95 % interval is 0.025^(1/n): by hand 368 samples
    /// show 99 % (Clopper and Pearson 1934). With three, 0.01 n must reach the 97.5 % quantile of a Poisson
    /// count, 8.767 (from memory), but for a little.
    #[test]
    fn samples_follow_from_the_target() {
        let rule = |target| CountRule { target, confidence: Confidence::new(0.95).unwrap() };
        let rule_99 = rule(0.99);
        assert!(0.99_f64.powi(368) <= 0.025 && 0.99_f64.powi(367) > 0.025);
        assert_eq!(SearchSamples::needed(rule_99).unwrap(), 100 + 368);
        assert!(SearchSamples::of_run(467, rule_99).is_none());
        assert_eq!(SearchSamples::of_run(468, rule_99).unwrap().counted, 368);
        let counted = SearchSamples::of_run(20_000, rule_99).unwrap().counted;
        assert!((870..878).contains(&counted), "{counted}");
        assert!(rule_99.shows(counted - 3, counted) && !rule_99.shows(counted - 4, counted));
        assert!(SearchSamples::of_run(20_000, rule(0.9999)).is_none(), "more than a search takes");
        assert!(SearchSamples::needed(rule(0.9999)).unwrap() > MOST_COUNTED);
    }
}
