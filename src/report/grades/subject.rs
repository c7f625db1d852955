//! What brief and page of a comparison are made from.

use crate::scenario::{Grades, Scenario};
use crate::study::allocation::StockAllocation;
use crate::study::grades::Ranking;

/// The scenario and its results.
#[derive(Debug, Clone, Copy)]
pub(in crate::report::grades) struct GradesSubject<'a> {
    pub scenario: &'a Scenario,
    pub grades: &'a Grades,
    pub ranking: &'a Ranking,
    pub stocked: Option<&'a StockAllocation>,
}
