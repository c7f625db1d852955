//! A stock that was allotted, with what its report tells.

use crate::scenario::Scenario;
use crate::study::allocation::StockAllocation;
use crate::study::common::settings::Settings;

/// A stock that was allotted.
#[derive(Debug, Clone, Copy)]
pub struct AllottedStock<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Seed and solver.
    pub settings: Settings,
    /// Driven legs of the converter.
    pub legs: usize,
    /// Whether the scenario's grades were left out on request.
    pub without_grades: bool,
    /// The stock and its allocation.
    pub stocked: &'a StockAllocation,
}
