//! Reads what the samples tell of parts and switches.

use super::part_tally::PartTally;
use super::result::PartLoadResults;
use super::sampling::Sampling;
use super::tally::SampleTally;
use crate::statistics::{Distribution, Estimator, StatisticsError};
use crate::study::common::figures::Figure;
use crate::study::common::ratings::{PopulationRatings, RatingReader};
use crate::study::common::soft_switching::PopulationSwitching;

/// Reads what the samples tell of parts and switches.
pub(super) struct PartReader<'a> {
    pub sampling: &'a Sampling<'a>,
    pub sampled: &'a SampleTally,
    pub estimator: Estimator,
}

impl PartReader<'_> {
    fn distribution(&self, case: usize, column: usize) -> &Distribution {
        &self.sampled.cases.cases[case].distributions[column]
    }

    /// Of converters without sensors, or with them.
    pub(super) fn results(&self, with_sensors: bool) -> Result<PartLoadResults, StatisticsError> {
        let tally = &self.sampled.parts[usize::from(with_sensors)];
        Ok(PartLoadResults { ratings: self.ratings(tally)?, switching: self.switching(tally)? })
    }

    /// What every part must be rated for.
    fn ratings(&self, tally: &PartTally) -> Result<PopulationRatings, StatisticsError> {
        let session = self.sampling.session;
        let nominal = |case: usize, figure: Figure| {
            let own = self.sampling.variant_cases[case];
            let measurement = own.measurement(session, &[]);
            measurement.solved(&own.nominal, &own.nominal_parts, &own.case).value(figure)
        };
        RatingReader {
            cases: &self.sampling.cases(),
            tally: &tally.ratings,
            of_case: &|case, column| self.distribution(case, column),
            nominal: &nominal,
            target: session.scenario().limits.yield_target,
            estimator: &self.estimator,
        }
        .read()
    }

    /// How the switches turn on, the operating points in their order; none where that is not asked.
    fn switching(&self, tally: &PartTally) -> Result<Option<PopulationSwitching>, StatisticsError> {
        let Some(tally) = &tally.switching else { return Ok(None) };
        let (session, samples) = (self.sampling.session, self.sampled.samples);
        let of_case = |case, column| self.distribution(case, column);
        let mut found = tally.shares(session, &self.estimator, samples, &of_case)?;
        // They come variant by variant.
        let paralleled = found.cases.split_off(0);
        let (paralleled, chain) = paralleled.split_at(paralleled.len() / 2);
        let pairs = chain.iter().zip(paralleled);
        found.cases = pairs.flat_map(|(chain, other)| [chain.clone(), other.clone()]).collect();
        Ok(Some(found))
    }
}
