//! What all searches of a case need: converters in the middle of the tolerance box, and beside it.

use super::sensitivities::Sensitivities;
use super::tolerance_box::ToleranceBox;
use crate::converter::Converter;
use crate::engine::EngineError;
use crate::solver::{Case, Outcome};
use crate::study::explanation::explained::Explained;

/// The tolerance box of a case, with the solutions from which the sensitivities of any figure follow.
#[derive(Debug)]
pub(in crate::study::explanation) struct BoxMiddle<'a> {
    pub(super) case: &'a Case,
    pub(super) tolerance_box: ToleranceBox,
    /// One for each of [`Sensitivities::points`].
    outcomes: Vec<Outcome>,
}

impl BoxMiddle<'_> {
    /// Converters with what became of them.
    pub(super) fn solved(&self) -> impl Iterator<Item = (Converter, &Outcome)> {
        let points = Sensitivities::points(self.tolerance_box.size());
        points.map(|point| self.tolerance_box.converter(&point)).zip(&self.outcomes)
    }
}

/// Solves the middles of all cases of a run.
///
/// # Errors
///
/// When the user asks to stop before all are solved.
pub(in crate::study::explanation) fn box_middles(
    explained: Explained<'_>,
) -> Result<Vec<BoxMiddle<'_>>, EngineError> {
    let Explained { session, run, .. } = explained;
    let (nominal, tolerances) = (session.nominal(), &session.scenario().tolerances);
    let cases: Vec<&Case> = run.cases.iter().map(|result| &result.baseline.case).collect();
    session.workers().map(&cases, |case| {
        let tolerance_box = ToleranceBox::new(nominal, tolerances, &case.point, case.arrangement);
        let points = Sensitivities::points(tolerance_box.size());
        let outcomes =
            points.map(|point| session.solve(&tolerance_box.converter(&point), case)).collect();
        BoxMiddle { case, tolerance_box, outcomes }
    })
}
