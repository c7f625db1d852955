//! What loads every part of converters without sensors, and how their switches turn on.

use crate::engine::Batch;
use crate::solver::Case;
use crate::statistics::{Confidence, Estimator, HeldOutPlan};
use crate::study::common::figures::Figure;
use crate::study::common::ratings::RatingTally;
use crate::study::common::session::Session;
use crate::study::common::soft_switching::SwitchingTally;

/// The samples so far; nothing where parts are not asked for.
#[derive(Debug, Default)]
pub(super) struct PartTally {
    pub ratings: RatingTally,
    pub switching: Option<SwitchingTally>,
}

impl PartTally {
    /// Nothing yet, of so many samples to come in these cases, which come first in every sample.
    pub(super) fn new(
        session: &Session,
        cases: &[Case],
        figures: &[Figure],
        samples: u64,
        confidence: Confidence,
    ) -> Self {
        let target = session.scenario().limits.yield_target;
        let plan = HeldOutPlan::of_quantiles(samples, target, &Estimator::Fixed(confidence));
        Self {
            ratings: RatingTally::new(cases, figures, plan),
            switching: SwitchingTally::new(session, cases, figures),
        }
    }

    /// Takes a batch.
    pub(super) fn take(&mut self, batch: &Batch) {
        self.ratings.take(batch);
        if let Some(switching) = &mut self.switching {
            switching.take(batch);
        }
    }
}
