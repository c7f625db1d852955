//! How the switches of converters without sensors turn on.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::switching::json::{
    CaseSwitchingEntry, PopulationSwitchingEntry, SoftSharesEntry,
};
use crate::study::common::soft_switching::{CaseSwitching, PopulationSwitching};

/// How the switches turn on.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct SoftSwitchingSummary {
    /// At each operating point in each arrangement.
    cases: Vec<PointSwitchingEntry>,
    /// Shares of converters over all operating points together.
    chain: SoftSharesEntry,
    /// The same.
    paralleled: SoftSharesEntry,
    /// What else is known; dead times are searched by `run` alone.
    population: Option<PopulationSwitchingEntry>,
}

/// How they turn on at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct PointSwitchingEntry {
    operating_point: String,
    arrangement: Arrangement,
    soft_switching: CaseSwitchingEntry,
}

impl SoftSwitchingSummary {
    pub(super) fn new(own: &PopulationSwitching) -> Self {
        let [chain, paralleled] = own.joint.each_ref().map(SoftSharesEntry::new);
        let point = |case: &CaseSwitching| PointSwitchingEntry {
            operating_point: case.operating_point.clone(),
            arrangement: case.arrangement,
            soft_switching: CaseSwitchingEntry::new(case),
        };
        Self {
            cases: own.cases.iter().map(point).collect(),
            chain,
            paralleled,
            population: PopulationSwitchingEntry::new(Some(own), None),
        }
    }
}
