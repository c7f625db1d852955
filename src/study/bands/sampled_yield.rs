//! The yields that a search asks for, from solved converters.

use super::trials::YieldEvaluator;
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::scenario::Tolerances;
use crate::study::common::error::StudyError;
use crate::study::common::pairs::Pairs;
use crate::study::common::progress::Silent;
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;
use crate::study::common::trials::{ConverterVariant, Solving, Trial, paired_trials, trial};

/// Yields of the converters of a session.
pub(super) struct SampledYield<'a> {
    pub session: &'a Session<'a>,
}

impl YieldEvaluator for SampledYield<'_> {
    fn trial(
        &mut self,
        arrangement: Arrangement,
        bands: &Tolerances,
        draws: Draws,
        solving: Solving,
    ) -> Result<Trial, StudyError> {
        let variant = ConverterVariant { tolerances: bands.clone(), arrangement };
        trial(self.session, variant, draws, solving)
    }

    fn pairs(
        &mut self,
        arrangement: Arrangement,
        sets: &[Tolerances],
        draws: Draws,
    ) -> Result<Pairs, StudyError> {
        let sets = sets.iter().cloned();
        let variants: Vec<_> =
            sets.map(|tolerances| ConverterVariant { tolerances, arrangement }).collect();
        let all = paired_trials(self.session, &variants, draws, Solving::ToTheEnd, &mut Silent)?;
        if all.interrupted {
            return Err(EngineError::Interrupted(all.pairs.samples()).into());
        }
        Ok(all.pairs)
    }
}
