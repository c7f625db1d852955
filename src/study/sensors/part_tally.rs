//! What loads every part, and how the switches turn on, without and with sensors.

use std::ops::Range;

use crate::engine::Batch;
use crate::solver::Case;
use crate::statistics::HeldOutPlan;
use crate::study::common::figures::Figure;
use crate::study::common::ratings::RatingTally;
use crate::study::common::session::Session;
use crate::study::common::soft_switching::SwitchingTally;

/// What is asked of the parts.
pub(super) struct AskedParts<'a> {
    pub session: &'a Session<'a>,
    /// A row each.
    pub cases: &'a [Case],
    pub figures: &'a [Figure],
    /// How samples are counted that keep to all ratings at once; none where there are too few for ratings.
    pub plan: Option<HeldOutPlan>,
}

/// The samples so far, in some rows; nothing where parts are not asked for.
#[derive(Debug, Default)]
pub(super) struct PartTally {
    pub ratings: RatingTally,
    pub switching: Option<SwitchingTally>,
}

impl PartTally {
    /// Nothing yet, in these rows.
    pub(super) fn new(asked: &AskedParts, rows: Range<usize>) -> Self {
        let AskedParts { session, cases, figures, plan } = *asked;
        Self {
            ratings: RatingTally::new(cases, rows.clone(), figures, plan),
            switching: SwitchingTally::new(session, cases, rows, figures),
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
