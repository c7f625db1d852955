//! Units over load, in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::study::units::{Listed, LoadCurrents, LoadResult, OverLoad};
use crate::units::Watt;

/// A unit over load. The currents are in `over_load.csv`.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct LoadCurrentsEntry {
    /// Name of the unit in the parts file.
    unit: String,
    /// Name of the operating point at full power.
    operating_point: String,
    arrangement: Arrangement,
    /// From the lowest load to the highest.
    loads: Vec<LoadEntry>,
}

/// A unit at one load.
#[derive(Debug, Serialize, JsonSchema)]
struct LoadEntry {
    #[serde(rename = "output_power_W")]
    output_power: Watt,
    /// `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// A fraction; null where not solved.
    sharing_error: Option<f64>,
}

impl LoadCurrentsEntry {
    pub(super) fn all(listed: &Listed) -> Vec<Self> {
        let over_load = listed.over_load.as_ref();
        over_load
            .map_or_else(Vec::new, |all| all.curves.iter().map(|c| Self::new(all, c)).collect())
    }

    fn new(over_load: &OverLoad, curves: &LoadCurrents) -> Self {
        Self {
            unit: curves.name.clone(),
            operating_point: over_load.ranges[curves.range].point.name.clone(),
            arrangement: curves.arrangement,
            loads: curves.loads.iter().map(LoadEntry::new).collect(),
        }
    }
}

impl LoadEntry {
    fn new(load: &LoadResult) -> Self {
        Self {
            output_power: load.output_power,
            status: load.outcome.status,
            sharing_error: load.solved.as_ref().map(|solved| solved.sharing_error),
        }
    }
}
