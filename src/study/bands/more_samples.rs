//! How much wider a band could become with more samples. All of this is an estimate from the samples of
//! the search, and no statement about the population.
//!
//! A search gives the widest band whose whole interval meets the target. Where the yield *seen* falls
//! below the target, the band is wider: no number of samples is likely to show more than that. Failures
//! between two places tried are taken to rise in a straight line. A place at which fresh samples were seen
//! below the target bounds that too.

use super::answer::{Bands, WidestBand};
use super::line_search::TriedBand;
use super::verification::rounded_down;
use crate::statistics::Yield;
use crate::study::common::demand::Binding;

/// More samples than anybody waits for.
pub(super) const MOST_SAMPLES: u64 = 10_000_000;

/// What more samples may show of a row, by the samples of its search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoreSamples<'a> {
    /// Where the yield seen falls below the target: a band, or a factor. Three digits, rounded down.
    pub limit_at: f64,
    /// Whether nothing tried misses the target, so that it may lie beyond.
    pub is_open_ended: bool,
    /// What is missed most often there.
    pub binding: Option<&'a Binding>,
    /// Halfway there, in ratio, from the confirmed place.
    pub shown_at: f64,
    /// Samples of a run that may show that; none where ten million would not.
    pub samples: Option<u64>,
}

impl MoreSamples<'_> {
    /// How many times as wide as the confirmed place, at most.
    pub fn gain(&self, confirmed: f64) -> f64 {
        if confirmed > 0.0 { self.limit_at / confirmed } else { f64::INFINITY }
    }
}

impl Bands {
    /// What more samples may show of a row; none where no place is confirmed, or where nothing that was
    /// tried fails.
    pub fn more_samples<'a>(&self, row: &'a WidestBand) -> Option<MoreSamples<'a>> {
        let confirmed = row.confirmed()?.at;
        row.search.failing()?;
        let target = self.rule.target;
        let points = &row.search.points;
        let misses = |point: &TriedBand| point.good.estimate < target;
        let beyond = points.iter().position(misses);
        let on_search = match beyond {
            Some(n) => crossing(&points[n.checked_sub(1)?], &points[n], target),
            None => points.last()?.at,
        };
        let refuted = row.refuted(target).filter(|run| run.at < on_search);
        let limit_at = rounded_down(refuted.map_or(on_search, |run| run.at)).max(confirmed);
        let halfway = if confirmed > 0.0 { (confirmed * limit_at).sqrt() } else { limit_at / 2.0 };
        let shown_at = rounded_down(halfway).max(confirmed);
        let point = beyond.map_or(points.last(), |n| points.get(n));
        let missed = point.and_then(|point| point.trial.binding.as_ref());
        Some(MoreSamples {
            limit_at,
            is_open_ended: beyond.is_none() && refuted.is_none(),
            binding: refuted.and_then(|run| run.binding.as_ref()).or(missed),
            shown_at,
            samples: self.samples_to_show(points, shown_at),
        })
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a count between two counts"
    )]
    /// Samples of a run that may show a place between those tried, rounded up to two digits.
    fn samples_to_show(&self, points: &[TriedBand], at: f64) -> Option<u64> {
        let n = points.iter().position(|point| point.at >= at)?;
        let (low, high) = (&points[n.saturating_sub(1)], &points[n]);
        let span = high.at - low.at;
        let share = if span > 0.0 { (at - low.at) / span } else { 1.0 };
        let [from, to] = [low, high].map(|point| point.trial.good as f64);
        // The whole number below is the sadder one.
        let passing = (from + share * (to - from)).floor() as u64;
        let seen = Yield::new(passing, high.trial.samples, self.rule.shared).ok()?;
        self.samples_that_may_show(&seen)
    }

    /// Samples of a run that may show a yield as it was seen, rounded up to two digits.
    pub(super) fn samples_that_may_show(&self, seen: &Yield) -> Option<u64> {
        let samples = seen.samples_to_decide(self.rule.target)?;
        Some(two_digits(samples)).filter(|samples| *samples < MOST_SAMPLES)
    }
}

/// Where the yield falls below the target between two places, the first of which does meet it.
fn crossing(low: &TriedBand, high: &TriedBand, target: f64) -> f64 {
    let [from, to] = [low, high].map(|point| point.good.estimate);
    low.at + (from - target) / (from - to) * (high.at - low.at)
}

/// A number rounded up to two digits.
pub(super) fn two_digits(n: u64) -> u64 {
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
