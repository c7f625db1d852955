//! What is compared to find the most critical band, and how: see [`critical`](super::critical) for what
//! is said of it.

use super::answer::{ArrangementBands, Subject, WidestBand};
use super::critical::{ComparedPart, CriticalComparison, Variation};
use super::trials::Trials;
use crate::converter::Parameter;
use crate::population::RandomSource;
use crate::scenario::Tolerances;
use crate::statistics::{StatisticsError, Yield};
use crate::study::common::error::StudyError;

/// A set of bands to be compared, and the part that is varied in it; none in the present ones.
struct VariedSet {
    parameter: Option<Parameter>,
    bands: Tolerances,
}

/// What there is to compare in an arrangement.
pub(super) struct CriticalQuestion<'a> {
    variation: Variation,
    candidate: Parameter,
    present: &'a Tolerances,
    others: Vec<Parameter>,
    widest: f64,
}

impl<'a> CriticalQuestion<'a> {
    /// None where the search found no candidate, or none that raises the yield when it is exact.
    pub(super) fn new(
        part: &ArrangementBands,
        present: &'a Tolerances,
        widest: f64,
    ) -> Option<Self> {
        let row = part.critical()?;
        let Subject::Alone(candidate) = row.subject else { return None };
        let variation = if part.has_room() {
            Variation::Widened(row.search.failing()?.at / row.present)
        } else if row.exact.successes > row.passing_at_present() {
            Variation::Exact
        } else {
            return None;
        };
        let all = part.rows.iter().filter_map(WidestBand::varied_band);
        let others = all.filter(|parameter| *parameter != candidate).collect();
        Some(Self { variation, candidate, present, others, widest })
    }

    /// The candidate first, then the other parts, then the present bands where they are needed.
    fn sets(&self) -> Vec<VariedSet> {
        let parts = std::iter::once(self.candidate).chain(self.others.iter().copied());
        let varied = parts.map(|p| VariedSet { parameter: Some(p), bands: self.varied(p) });
        let unvaried = VariedSet { parameter: None, bands: self.present.clone() };
        let unvaried = (self.variation == Variation::Exact).then_some(unvaried);
        varied.chain(unvaried).collect()
    }

    fn varied(&self, parameter: Parameter) -> Tolerances {
        let band = match (self.variation, self.present.get(parameter)) {
            (Variation::Widened(factor), Some(own)) => {
                (factor * own.band).min(own.widest_band(self.widest))
            }
            _ => 0.0,
        };
        self.present.with_band(parameter, band)
    }

    /// Compares the parts on fresh samples. Without another part there is nothing to compare.
    pub(super) fn answer(
        &self,
        source: RandomSource,
        trials: &mut Trials,
    ) -> Result<Option<CriticalComparison>, StudyError> {
        let sets = self.sets();
        if sets.len() < 2 {
            return Ok(None);
        }
        let bands: Vec<Tolerances> = sets.iter().map(|set| set.bands.clone()).collect();
        let pairs = trials.compare(&bands, source)?;
        let level = trials.rule.shared;
        let compared = |n: usize| {
            ComparedPart::new(sets[n].parameter, pairs.counts(n, 0), self.variation, level)
        };
        let all = (1..sets.len()).map(compared).collect::<Result<Vec<_>, StatisticsError>>()?;
        let (others, present): (Vec<_>, Vec<_>) =
            all.into_iter().partition(|compared| compared.parameter.is_some());
        Ok(Some(CriticalComparison {
            variation: self.variation,
            candidate: self.candidate,
            good: Yield::new(pairs.good(0), pairs.samples(), level)?,
            source,
            others,
            present: present.into_iter().next(),
        }))
    }
}
