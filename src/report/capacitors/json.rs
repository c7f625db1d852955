//! The summary of `capacitors`: one key a question.

use schemars::JsonSchema;
use serde::Serialize;

use super::drift::json::{DriftEntry, drift_entries};
use super::settling::json::{SettlingEntry, settling_entries};
use super::size::json::{SizeFindings, size_findings};
use super::start_up::json::{StartEntry, start_entries};
use crate::report::format::json::LimitsInForce;
use crate::report::format::summary::SummaryFile;
use crate::report::format::switching::json::SharingShiftEntry;
use crate::report::format::tolerance::{CorrelationInForce, ToleranceInForce, TolerancesInForce};
use crate::scenario::Scenario;
use crate::study::capacitors::CapacitorStudy;

/// How large the flying capacitors must be.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CapacitorsResults {
    /// By how much the dead time shifts sharing of the nominal chain at most, which the yields leave out; null where
    /// that is small, or nothing describes the switches.
    sharing_shift: Option<SharingShiftEntry>,
    limits: LimitsInForce,
    /// Tolerances of the scenario.
    tolerances: TolerancesInForce,
    /// Which parameters vary together; all others scatter independently.
    correlations: Vec<CorrelationInForce>,
    capacitors: CapacitorFindings,
}

/// What is known of the flying capacitors.
#[derive(Debug, Serialize, JsonSchema)]
struct CapacitorFindings {
    #[serde(flatten)]
    size: SizeFindings,
    /// How fast they find their voltages, one an operating point at each age.
    settling: Vec<SettlingEntry>,
    /// How far their voltages drift apart, one an operating point in full-bridge drive at each age.
    drift: Vec<DriftEntry>,
    /// Which start keeps what the switches may block, one an operating point at each age.
    start_up: Vec<StartEntry>,
}

/// The summary.
pub(super) fn summary(
    scenario: &Scenario,
    study: &CapacitorStudy,
) -> SummaryFile<CapacitorsResults> {
    let results = CapacitorsResults {
        sharing_shift: study.sharing_shift.as_ref().map(SharingShiftEntry::new),
        limits: LimitsInForce::new(scenario),
        tolerances: ToleranceInForce::all(&scenario.tolerances),
        correlations: CorrelationInForce::all(&scenario.tolerances),
        capacitors: CapacitorFindings {
            size: size_findings(&study.size),
            settling: settling_entries(&study.settling),
            drift: drift_entries(&study.drift),
            start_up: start_entries(&study.start_up),
        },
    };
    SummaryFile::sampled("capacitors", scenario, &study.settings, results)
}
