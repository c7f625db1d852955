//! How many converters hold a series where parts of one lot fail together.
//!
//! A series is built batch after batch. All converters of a batch share the lots of their parts (`[lots]`),
//! and each batch has lots of its own. Whole series are drawn like that, each up to its last good converter
//! wanted. The number to build is a limit of one more series ([`prediction_rank`]). It covers the luck of the
//! series to build, and that only some series are drawn.

use super::set::GradeSet;
use crate::converter::Parameter;
use crate::scenario::{Failed, Grades, LotSettings, Scenario};
use crate::statistics::{
    Confidence, StatisticsError, Yield, fewest_for_prediction, prediction_rank,
};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::trials::CountPassing;

/// Series drawn from lots.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotSeries {
    /// Converters of a batch, and how many series are drawn.
    pub lots: LotSettings,
    /// Converters built up to the last good one wanted, series by series, the shortest first. Those that
    /// are given up are left out.
    pub lengths: Vec<u64>,
}

/// What a series is to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeriesGoal {
    /// Good converters.
    pub wanted: u64,
    /// The converters that hold these on average.
    pub on_average: u64,
}

/// Why no number follows from series drawn from lots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Undrawn {
    /// The scenario does not say how many converters share their lots.
    NoBatches,
    /// The series drawn are fewer than the confidence needs.
    TooFew(u64),
    /// They would hold more converters than are drawn; so many series would not.
    TooLong(u64),
    /// More of them are given up than the confidence allows.
    GivenUp,
    /// The user asked to stop before.
    Stopped,
}

impl LotSeries {
    /// The most converters that all series may hold on average.
    const MOST: f64 = 1e7;
    /// A series is given up at so many times the converters that it takes on average.
    pub const GIVEN_UP_AT: u64 = 10;

    /// The most series of so many good converters that are drawn at this yield.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "zero or more")]
    pub(super) fn most(wanted: u64, good: f64) -> u64 {
        (Self::MOST * good / wanted as f64) as u64
    }

    /// Draws series.
    ///
    /// # Errors
    ///
    /// Those of `count`.
    pub fn draw(
        lots: LotSettings,
        goal: SeriesGoal,
        count: &mut CountPassing<'_>,
        progress: &mut dyn Progress,
    ) -> Result<Self, StudyError> {
        let most = goal.on_average.saturating_mul(Self::GIVEN_UP_AT);
        let mut batches = BatchSequence { size: lots.converters, next: 0, most };
        let mut lengths = Vec::new();
        for _ in 0..lots.batches {
            lengths.extend(batches.series(goal.wanted, count)?);
            progress.advance(1);
        }
        lengths.sort_unstable();
        Ok(Self { lots, lengths })
    }

    /// The number to build: one more series takes no more with this confidence.
    ///
    /// # Errors
    ///
    /// What is in the way.
    pub fn to_build(&self, confidence: Confidence) -> Result<u64, Undrawn> {
        let rank = prediction_rank(self.lots.batches, confidence)
            .ok_or_else(|| Undrawn::TooFew(fewest_for_prediction(confidence)))?;
        let place = usize::try_from(rank - 1).map_err(|_| Undrawn::GivenUp)?;
        self.lengths.get(place).copied().ok_or(Undrawn::GivenUp)
    }

    /// The share of the series that so many converters are enough for.
    ///
    /// # Errors
    ///
    /// When there are no series.
    pub fn enough(&self, built: u64, confidence: Confidence) -> Result<Yield, StatisticsError> {
        let enough = self.lengths.partition_point(|own| *own <= built) as u64;
        Yield::new(enough, self.lots.batches, confidence)
    }
}

/// Whether parts of a set, or others, share what their lot has, so that converters to be scrapped fail
/// together.
pub(super) fn fail_together(scenario: &Scenario, grades: &Grades, set: &GradeSet) -> bool {
    let tolerances = &scenario.tolerances;
    let chosen = grades.offers.iter().zip(&set.grades);
    let offered = chosen.map(|(offer, grade)| (offer.parameter, &offer.grades[*grade].tolerance));
    let is_offered = |part: &Parameter| grades.offers.iter().any(|own| own.parameter == *part);
    let others = tolerances.iter().filter(|(part, _)| !is_offered(part));
    let responses = tolerances.responses().iter().map(|own| &own.scatter);
    let values = offered.chain(others).map(|(_, own)| own);
    let mut all = values.chain(responses);
    grades.failed == Failed::Scrapped && all.any(|own| own.band > 0.0 && own.lot_share > 0.0)
}

/// Batches one after another.
struct BatchSequence {
    /// Converters of a batch.
    size: u64,
    /// Number of the next converter, through all batches.
    next: u64,
    /// A series is given up where it takes more.
    most: u64,
}

impl BatchSequence {
    /// Builds a series, and leaves the rest of its last batch. Gives how many converters it took; none where
    /// it was given up.
    fn series(
        &mut self,
        wanted: u64,
        count: &mut CountPassing<'_>,
    ) -> Result<Option<u64>, StudyError> {
        let (first, mut missing) = (self.next, wanted);
        while missing > 0 && self.next - first < self.most {
            // Never more than are missing: the last one of the series is good.
            let more = missing.min(self.size - self.next % self.size);
            missing -= count(self.next..self.next + more)?;
            self.next += more;
        }
        let built = self.next - first;
        self.next = self.next.next_multiple_of(self.size);
        Ok((missing == 0).then_some(built))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::common::progress::Silent;

    const LOTS: LotSettings = LotSettings { converters: 10, batches: 4 };

    fn goal(wanted: u64, on_average: u64) -> SeriesGoal {
        SeriesGoal { wanted, on_average }
    }

    /// Batches of ten. The first one is good but for its last two, the second one is all bad, the others are
    /// good. A series of 12 takes ten, ten and four; those after it begin with a new batch and take 12.
    #[test]
    fn a_series_goes_on_to_its_last_good_converter() {
        let is_good = |n: u64| !(8..20).contains(&n);
        let mut asked = Vec::new();
        let mut count = |numbers: std::ops::Range<u64>| {
            asked.push(numbers.clone());
            Ok(numbers.filter(|n| is_good(*n)).count() as u64)
        };
        let drawn = LotSeries::draw(LOTS, goal(12, 12), &mut count, &mut Silent).unwrap();
        assert_eq!(drawn.lengths, [12, 12, 12, 24]);
        assert_eq!(
            asked,
            [0..10, 10..14, 14..18, 18..20, 20..24, 30..40, 40..42, 50..60, 60..62, 70..80, 80..82]
        );
    }

    /// Nothing passes: each series is given up, and none is told as enough.
    #[test]
    fn a_series_without_a_good_converter_ends() {
        let mut built = 0;
        let mut count = |numbers: std::ops::Range<u64>| {
            built += numbers.count();
            Ok(0)
        };
        let drawn = LotSeries::draw(LOTS, goal(5, 6), &mut count, &mut Silent).unwrap();
        assert_eq!((drawn.lengths.len(), built), (0, 4 * 60));
        let half = Confidence::new(0.5).unwrap();
        assert_eq!(drawn.to_build(half), Err(Undrawn::GivenUp));
        assert_eq!(drawn.enough(1000, half).unwrap().successes, 0);
    }

    /// By hand: of 200 series the rank is 0.95 × 201 = 190.95, so the 191st; 95 % need 19 series. One that is
    /// given up counts as the longest.
    #[test]
    fn the_number_to_build_by_hand() {
        let of = |batches: u64| LotSeries {
            lots: LotSettings { converters: 10, batches },
            lengths: (1..=batches).collect(),
        };
        let level = |level: f64| Confidence::new(level).unwrap();
        assert_eq!(of(200).to_build(level(0.95)), Ok(191));
        assert_eq!(of(18).to_build(level(0.95)), Err(Undrawn::TooFew(19)));
        let given_up = LotSeries { lengths: (1..=190).collect(), ..of(200) };
        assert_eq!(given_up.to_build(level(0.95)), Err(Undrawn::GivenUp));
    }
}
