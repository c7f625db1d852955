//! The summary of `faults`.

use schemars::JsonSchema;
use serde::Serialize;

use super::findings::findings;
use super::words;
use crate::converter::{Arrangement, FailedLegs};
use crate::report::format::json::{Counts, LimitsInForce};
use crate::report::format::missed::MissedEntry;
use crate::report::format::numbers::plain;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::solver::fault::{
    BlockingRange, FaultOutcome, FirstSigns, Periods, StoppedChain, SwitchVoltages, Trap,
};
use crate::statistics::Yield;
use crate::study::common::demand::Demand;
use crate::study::faults::{
    FaultResult, FaultStudy, HealthyConverter, not_always_judged, not_judged,
};
use crate::units::{Ampere, Hertz, Volt};

/// What `faults` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct FaultsResults {
    /// Limits that the remaining converter was judged by.
    limits: LimitsInForce,
    /// Limits of the scenario that are not judged after every fault: some leave open what they bound.
    limits_not_judged: Vec<String>,
    /// Forward drop of the body diode of a switch.
    #[serde(rename = "body_diode_drop_V")]
    body_diode_drop: Volt,
    /// What stands out, in words.
    findings: Vec<String>,
    /// The converter before a fault: one an operating point and arrangement.
    healthy: Vec<HealthyEntry>,
    /// Every fault, at every operating point in both arrangements.
    faults: Vec<FaultEntry>,
    /// What the model leaves unknown.
    unknown: Vec<&'static str>,
}

/// The nominal converter before a fault.
#[derive(Debug, Serialize, JsonSchema)]
struct HealthyEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    /// RMS current of the tank that carries most.
    #[serde(rename = "tank_rms_current_A")]
    tank_rms_current: Ampere,
    /// Highest voltage across any switch.
    #[serde(rename = "highest_blocking_voltage_V")]
    blocking: Volt,
}

/// One fault of the nominal converter at one operating point in one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct FaultEntry {
    /// What has failed, and how.
    kind: &'static str,
    /// The phase from 1; of a flying capacitor the phase before it.
    place: usize,
    /// The legs in which it failed; null where the part belongs to no leg.
    leg: Option<FailedLegs>,
    /// Share of the capacitance that an aged capacitor has left, else null.
    remaining: Option<f64>,
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// `runs`, `out of range`, `stops`, `no steady state`, `unknown` or `not solved`.
    outcome: &'static str,
    /// Why there is no steady state, or none is known, in words; else null.
    cause: Option<&'static str>,
    /// Null unless it runs.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    /// Of every phase; zero where all stop, empty where nothing is known.
    #[serde(rename = "phase_output_current_A")]
    output_currents: Vec<Ampere>,
    /// Phases that carry current, from 1.
    carrying_phases: Vec<usize>,
    /// Sharing error of all phases, a fraction; null unless it runs.
    sharing_error: Option<f64>,
    /// Sharing error of the phases that carry current, which is judged; null unless it runs.
    sharing_error_of_carrying_phases: Option<f64>,
    /// RMS current of the tank that carries most; null unless it runs.
    #[serde(rename = "tank_rms_current_A")]
    tank_rms_current: Option<Ampere>,
    /// The same as a multiple of the value before the fault.
    tank_current_factor: Option<f64>,
    /// RMS current of the low switch that carries most, of those that switch; null unless it runs.
    #[serde(rename = "low_switch_rms_current_A")]
    low_switch_rms_current: Option<Ampere>,
    /// Highest voltage across any switch, whatever happened before; null where the breakdown of a switch
    /// alone bounds it, and where there is no steady state.
    #[serde(rename = "highest_blocking_voltage_V")]
    highest_blocking: Option<Volt>,
    /// The least that the switch that blocks most sees; null where there is no steady state.
    #[serde(rename = "lowest_blocking_voltage_V")]
    lowest_blocking: Option<Volt>,
    /// What every switch of a chain blocks; empty unless it runs.
    switch_voltages: Vec<SwitchVoltageEntry>,
    /// Whether it runs and meets every judged limit.
    limits_met: bool,
    /// Judged limits that it misses.
    missed: Vec<MissedEntry>,
    /// Limits of its arrangement that are not judged, because the fault leaves open what they bound.
    limits_not_judged: Vec<String>,
    /// Where a controller ends that starts from the healthy frequency; null where it finds the output.
    trap: Option<TrapEntry>,
    /// Where a stopped chain ends; null where that is not told.
    end: Option<EndEntry>,
    /// When the fault shows.
    first_signs: SignsEntry,
    /// Drawn converters; null where the nominal one does not run.
    counts: Option<Counts>,
    /// Share of the drawn converters that meet every judged limit. Where parts are measured, of the whole
    /// production that they come from.
    #[serde(rename = "yield")]
    good: Option<Yield>,
    /// The same of the measured parts alone; null where no part is measured.
    yield_of_measured_parts: Option<Yield>,
    /// Share of the first drawn converters in which an aged flying capacitor traps the controller. Null of
    /// other faults, and where the nominal converter does not run. Measured parts count as the population.
    trapped: Option<Yield>,
}

/// What a switch blocks.
#[derive(Debug, Serialize, JsonSchema)]
struct SwitchVoltageEntry {
    /// `high_1`, `low_2`, `return_high_1` and so on.
    switch: String,
    /// The least that it can be, by what happened before.
    #[serde(rename = "lowest_V")]
    lowest: Volt,
    /// The highest that it can be; null where the breakdown of the switch alone bounds it.
    #[serde(rename = "highest_V")]
    highest: Option<Volt>,
}

/// Where a controller ends that starts from the healthy frequency.
#[derive(Debug, Serialize, JsonSchema)]
struct TrapEntry {
    #[serde(rename = "switching_frequency_Hz")]
    frequency: Hertz,
    #[serde(rename = "output_current_A")]
    current: Ampere,
}

/// Where a stopped chain ends.
#[derive(Debug, Serialize, JsonSchema)]
struct EndEntry {
    #[serde(rename = "switching_frequency_Hz")]
    frequency: Hertz,
    /// Voltage that each phase receives.
    #[serde(rename = "phase_voltage_V")]
    phases: Vec<Volt>,
}

/// When a fault shows, in switching periods; null where it never does for certain.
#[derive(Debug, Serialize, JsonSchema)]
struct SignsEntry {
    /// The output current is too high, or below a tenth.
    output_current: Option<PeriodsEntry>,
    /// The same of the input current.
    input_current: Option<PeriodsEntry>,
    /// The currents of the phases differ widely.
    sharing_error: Option<PeriodsEntry>,
    /// A flying capacitor is a tenth of a phase voltage off.
    capacitor_voltage: Option<PeriodsEntry>,
    /// A switch sees a voltage that its breakdown alone bounds.
    switch_voltage: Option<PeriodsEntry>,
}

/// A span of switching periods after the fault.
#[derive(Debug, Serialize, JsonSchema)]
struct PeriodsEntry {
    /// No sooner than this.
    from: f64,
    /// By then; null where nothing is certain.
    to: Option<f64>,
}

/// Every fault at every operating point.
pub(super) fn summary(scenario: &Scenario, study: &FaultStudy) -> SummaryFile<FaultsResults> {
    let results = FaultsResults {
        limits: LimitsInForce::new(scenario),
        limits_not_judged: names(&not_always_judged(scenario)),
        body_diode_drop: scenario.faults.body_diode_drop,
        findings: findings(study).iter().map(|finding| plain(&finding.sentence)).collect(),
        healthy: study.healthy.iter().map(HealthyEntry::new).collect(),
        faults: study
            .results
            .iter()
            .map(|result| FaultEntry::new(scenario, study, result))
            .collect(),
        unknown: words::UNKNOWN.to_vec(),
    };
    SummaryFile::sampled("faults", scenario, &study.settings, results)
}

impl HealthyEntry {
    fn new(own: &HealthyConverter) -> Self {
        Self {
            operating_point: own.operating_point.clone(),
            arrangement: own.arrangement,
            switching_frequency: own.state.switching_frequency,
            tank_rms_current: own.tank_rms_current,
            blocking: own.blocking,
        }
    }
}

impl FaultEntry {
    fn new(scenario: &Scenario, study: &FaultStudy, result: &FaultResult) -> Self {
        let (fault, before) = (result.fault(), study.before(result));
        let found = result.outcome.state();
        let carrying = found.map(|own| own.carrying.iter().map(|k| k + 1).collect());
        let factor = |own: Ampere| own.0 / before.tank_rms_current.0;
        Self {
            kind: fault.failure.name(),
            place: fault.phase + 1,
            leg: fault.legs,
            remaining: fault.failure.remaining(),
            operating_point: before.operating_point.clone(),
            arrangement: result.arrangement(),
            outcome: result.outcome.name(),
            cause: result.outcome.cause(),
            switching_frequency: found.map(|own| own.state.switching_frequency),
            output_currents: output_currents(result, before.state.phases.len()),
            carrying_phases: carrying.unwrap_or_default(),
            sharing_error: result.sharing.map(|own| own.of_all),
            sharing_error_of_carrying_phases: result.sharing.map(|own| own.of_carrying),
            tank_rms_current: result.tank_rms_current,
            tank_current_factor: result.tank_rms_current.map(factor),
            low_switch_rms_current: result.low_switch_rms_current,
            highest_blocking: result.blocking.and_then(|own| own.highest),
            lowest_blocking: result.blocking.map(|own| own.lowest),
            switch_voltages: SwitchVoltageEntry::all(result),
            limits_met: result.meets_limits(),
            missed: result.missed.iter().flatten().map(MissedEntry::new).collect(),
            limits_not_judged: names(&left_open(scenario, result)),
            trap: result.trap.map(TrapEntry::new),
            end: result.stopped.as_ref().map(EndEntry::new),
            first_signs: SignsEntry::new(&result.signs),
            counts: result.remaining_yield.as_ref().map(|own| Counts::new(own.counts)),
            good: result.remaining_yield.as_ref().map(|own| own.good),
            yield_of_measured_parts: result
                .remaining_yield
                .as_ref()
                .and_then(|own| own.good_of_measured_parts),
            trapped: result.remaining_yield.as_ref().and_then(|own| own.trapped),
        }
    }
}

fn output_currents(result: &FaultResult, phases: usize) -> Vec<Ampere> {
    match &result.outcome {
        FaultOutcome::Runs(found) => {
            found.state.phases.iter().map(|phase| phase.output_current).collect()
        }
        FaultOutcome::Stops => vec![Ampere(0.0); phases],
        _ => Vec::new(),
    }
}

impl SwitchVoltageEntry {
    fn all(result: &FaultResult) -> Vec<Self> {
        let legs = result.outcome.state().into_iter().flat_map(|found| &found.voltages);
        let entry = |(switch, own): (String, BlockingRange)| Self {
            switch,
            lowest: own.lowest,
            highest: Some(own.highest).filter(|voltage| voltage.0.is_finite()),
        };
        legs.flat_map(SwitchVoltages::named).map(entry).collect()
    }
}

impl TrapEntry {
    fn new(own: Trap) -> Self {
        Self { frequency: own.frequency, current: own.current }
    }
}

impl EndEntry {
    fn new(own: &StoppedChain) -> Self {
        Self { frequency: own.frequency, phases: own.phases.to_vec() }
    }
}

impl SignsEntry {
    fn new(own: &FirstSigns) -> Self {
        let entry = |periods: Option<Periods>| {
            periods.map(|own| PeriodsEntry { from: own.from, to: own.to })
        };
        Self {
            output_current: entry(own.output),
            input_current: entry(own.input),
            sharing_error: entry(own.sharing),
            capacitor_voltage: entry(own.capacitor),
            switch_voltage: entry(own.switch),
        }
    }
}

fn names(demands: &[Demand]) -> Vec<String> {
    demands.iter().map(Demand::name).collect()
}

/// The limits that are neither judged nor missed by what is known.
fn left_open(scenario: &Scenario, result: &FaultResult) -> Vec<Demand> {
    let is_missed = |own: &Demand| result.missed.iter().flatten().any(|miss| miss.demand == *own);
    let all = not_judged(scenario, &result.case).into_iter();
    all.filter(|own| !is_missed(own)).collect()
}
