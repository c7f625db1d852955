//! What limits a band, and how many samples would decide what is still open.

use super::answer::{ArrangementBands, Bands, WidestBand};
use super::map::{CellVerdict, TradeMap};
use super::rule::VERIFICATION_FACTOR;
use crate::statistics::Verdict;
use crate::study::common::demand::Binding;
use crate::study::common::trials::Trial;

/// More samples than anybody waits for.
const MOST_SAMPLES: u64 = 10_000_000;

/// What keeps a band from being wider.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitedBy<'a> {
    /// The widest band that the scenario asks for.
    WidestAsked,
    /// The limit missed most often at the narrowest band that fails.
    Limit(&'a Binding),
    /// The number of samples: one failure fails a run, and the narrowest band that fails has an
    /// observed yield that meets the target all the same.
    Samples,
}

impl Bands {
    /// What limits a row; none where the search saw no limit and verification found less than the
    /// widest band allowed.
    pub fn limited_by<'a>(&self, row: &'a WidestBand) -> Option<LimitedBy<'a>> {
        let Some(failing) = row.search.failing() else {
            return row.reaches_top().then_some(LimitedBy::WidestAsked);
        };
        let Trial { good, samples, binding } = &failing.trial;
        let seen_to_meet = *good as f64 >= self.rule.target * *samples as f64;
        if seen_to_meet && self.one_failure_fails() {
            return Some(LimitedBy::Samples);
        }
        binding.as_ref().map(LimitedBy::Limit)
    }

    /// Whether the samples of a run are so few that one failure fails it.
    pub fn one_failure_fails(&self) -> bool {
        let samples = self.settings.samples;
        let one = Trial { good: samples.saturating_sub(1), samples, binding: None };
        self.rule.meets(&one).is_ok_and(|meets| !meets)
    }

    /// Samples of a run that may decide all of these open rows, by the yields seen so far, rounded
    /// up to two digits; `None` where ten million would not.
    pub fn samples_to_decide(&self, open: &[&WidestBand]) -> Option<u64> {
        let target = self.rule.target;
        let enough = |row: &&WidestBand| match row.verifications.last() {
            Some(run) => Some(run.good.samples_to_decide(target)?.div_ceil(VERIFICATION_FACTOR)),
            None => row.exact.samples_to_decide(target),
        };
        let all = open.iter().map(enough).collect::<Option<Vec<_>>>()?;
        let most = all.into_iter().max().filter(|most| *most < MOST_SAMPLES)?;
        // Where the last verification run came too close, a search with more samples begins
        // farther in.
        Some(two_digits(most.max(2 * self.settings.samples)))
    }

    /// The confidence with which one statement holds.
    pub fn confidence_of_each(&self) -> f64 {
        1.0 - self.error_each()
    }
}

impl WidestBand {
    /// Share of the samples of the search that pass with the present bands.
    pub fn share_passing_at_present(&self) -> f64 {
        self.passing_at_present() as f64 / self.exact.trials as f64
    }
}

impl ArrangementBands {
    /// Whether a row stays below present bands that were shown to meet the target.
    pub fn is_below_present(&self, row: &WidestBand) -> bool {
        self.verdict == Verdict::Pass && row.margin().is_some_and(|margin| margin < 1.0)
    }
}

impl TradeMap {
    /// Number of grid points of which the samples say this.
    pub fn count(&self, verdict: CellVerdict) -> usize {
        self.cells.iter().filter(|cell| cell.verdict == verdict).count()
    }
}

/// A number rounded up to two digits.
fn two_digits(n: u64) -> u64 {
    let scale = 10_u64.pow(n.max(10).ilog10() - 1);
    n.div_ceil(scale) * scale
}

#[cfg(test)]
mod tests {
    use super::two_digits;

    #[test]
    fn numbers_of_samples_are_rounded_up() {
        for (n, rounded) in [(7, 7), (10, 10), (101, 110), (6000, 6000), (6001, 6100)] {
            assert_eq!(two_digits(n), rounded);
        }
    }
}
