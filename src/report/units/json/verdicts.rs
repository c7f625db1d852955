//! Units against the limits, in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::missed::MissedEntry;
use crate::study::units::{DemandMisses, LimitsMet, UnitResult};

/// Units in one arrangement against the limits.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct LimitsMetEntry {
    arrangement: Arrangement,
    /// Number of units.
    units: usize,
    /// Those that meet every limit at every operating point.
    meet_limits: usize,
    /// Limits that others miss, the one missed by the largest ratio first.
    missed: Vec<LimitMissesEntry>,
}

/// A limit that units miss.
#[derive(Debug, Serialize, JsonSchema)]
struct LimitMissesEntry {
    /// Units that miss it at any operating point.
    units: usize,
    /// The unit that misses it by the largest ratio.
    worst_unit: String,
    /// The operating point where it does.
    worst_operating_point: String,
    /// The limit with the value there.
    worst: MissedEntry,
}

/// One unit at one operating point in one arrangement, against every limit.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct UnitVerdictEntry {
    /// Name of the unit in the parts file.
    unit: String,
    arrangement: Arrangement,
    /// Name of the operating point.
    operating_point: String,
    /// A fraction; null where not solved.
    sharing_error: Option<f64>,
    /// Whether it is solved and meets every limit here.
    meets_limits: bool,
    /// The limits that it misses here.
    missed: Vec<MissedEntry>,
}

impl LimitsMetEntry {
    pub(super) fn new(met: &LimitsMet) -> Self {
        Self {
            arrangement: met.arrangement,
            units: met.units,
            meet_limits: met.meeting,
            missed: met.missed.iter().map(LimitMissesEntry::new).collect(),
        }
    }
}

impl LimitMissesEntry {
    fn new(misses: &DemandMisses) -> Self {
        Self {
            units: misses.units,
            worst_unit: misses.worst.unit.clone(),
            worst_operating_point: misses.worst.operating_point.clone(),
            worst: MissedEntry::new(&misses.worst.missed),
        }
    }
}

impl UnitVerdictEntry {
    pub(super) fn new(result: &UnitResult) -> Self {
        Self {
            unit: result.name.clone(),
            arrangement: result.arrangement,
            operating_point: result.point.name.clone(),
            sharing_error: result.solved.as_ref().map(|solved| solved.sharing_error),
            meets_limits: result.meets_limits(),
            missed: result.missed.iter().map(MissedEntry::new).collect(),
        }
    }
}
