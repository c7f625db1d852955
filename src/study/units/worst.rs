//! What the worst of the listed converters carries over one period.

use super::unit_result::UnitResult;
use crate::converter::{Arrangement, Converter};
use crate::scenario::Scenario;
use crate::study::common::point_case::case_at;
use crate::study::common::waveforms::ArrangementWaveforms;

/// The waveforms of the worst unit.
#[derive(Debug)]
pub struct WorstUnitWaveforms {
    /// Its name.
    pub unit: String,
    /// The operating point where its sharing error in the chain is largest.
    pub operating_point: String,
    /// Chain, paralleled; none where it is not solved.
    pub arrangements: [Option<ArrangementWaveforms>; 2],
}

impl WorstUnitWaveforms {
    /// Of the unit with this result in the chain, by the exact solver.
    pub(super) fn new(scenario: &Scenario, worst: &UnitResult, converter: &Converter) -> Self {
        let solved = |arrangement| {
            let case = case_at(scenario, &worst.point, arrangement);
            ArrangementWaveforms::solve(converter, &case, scenario.limits.sharing)
        };
        Self {
            unit: worst.name.clone(),
            operating_point: worst.point.name.clone(),
            arrangements: Arrangement::ALL.map(solved),
        }
    }
}
