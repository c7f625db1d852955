//! The summary of `units`.

mod measured;
mod over_load;
mod ratings;
mod verdicts;

use schemars::JsonSchema;
use serde::Serialize;

use self::measured::{DeviationEntry, MeasuredLoadEntry};
use self::over_load::LoadCurrentsEntry;
use self::ratings::UnitRatingEntry;
use self::verdicts::{LimitsMetEntry, UnitVerdictEntry};
use super::source::UnitsSource;
use crate::converter::{Arrangement, Sharing};
use crate::report::format::commutation::json::{
    CommutatedCase, CommutationEntry, SoftSwitchingEntry,
};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::json::LimitsInForce;
use crate::report::format::summary::SummaryFile;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::solver::commutation::Transition;
use crate::study::common::commutation::SoftSwitching;
use crate::study::common::loss_figures::LossFigure;
use crate::study::units::{Listed, UnitResult};
use crate::units::{Ampere, Hertz, Volt, Watt};

/// What `units` found. All currents of all phases are in `units.csv`.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct UnitsResults {
    /// How the parts file was read, such as `with decimal commas`; null for the plain form.
    parts_read_as: Option<String>,
    /// The same of the file of measured currents; null where there is none.
    measured_read_as: Option<String>,
    /// Which sharing error is meant.
    sharing: Sharing,
    limits: LimitsInForce,
    /// How many units meet every limit at every operating point, and what the others miss; by
    /// arrangement, the chain first.
    limits_met: Vec<LimitsMetEntry>,
    /// Every unit against every limit: one entry a unit, operating point and arrangement.
    units: Vec<UnitVerdictEntry>,
    /// How the configuration was chosen of every operating point that leaves it open.
    configuration_choices: Vec<ConfigurationChoiceEntry>,
    /// One entry a unit, operating point and arrangement.
    results: Vec<UnitEntry>,
    /// How each switch turns on; empty where the scenario does not describe the switches, and where
    /// the averaged solver was asked.
    commutation: Vec<CommutationEntry>,
    /// Which transitions these are: all of them, or of many units the worst of each. All are
    /// in `commutation.csv`. Null without them.
    commutation_holds: Option<TransitionsKept>,
    /// The highest load of every part among all units: over all operating points, then at each. Empty
    /// with the averaged solver. The loads of every unit are in `unit_ratings.csv`.
    ratings: Vec<UnitRatingEntry>,
    /// Expanded uncertainty of the measured currents, a fraction of them; null where it was not given.
    measuring_uncertainty: Option<f64>,
    /// All measured currents together; null where nothing was measured.
    deviations: Option<DeviationEntry>,
    /// Measured currents beside the predicted ones, one entry a unit and load.
    measured: Vec<MeasuredLoadEntry>,
    /// Every unit over load, in each arrangement; empty without `--over-load`.
    over_load: Vec<LoadCurrentsEntry>,
}

/// Most transitions of the summary that are all of them.
const MOST_TRANSITIONS: usize = 2_000;

/// Which transitions a summary holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum TransitionsKept {
    /// Every phase of every leg at both instants of a period.
    AllTransitions,
    /// Of each unit and arrangement the one whose swing falls short most, as a share of its interval
    /// voltage.
    WorstOfEachUnit,
}

/// One converter at one operating point in one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct UnitEntry {
    /// Name of the converter in the parts file.
    unit: String,
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// Switching frequency that delivers the output; null where not solved.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    /// A fraction; null where not solved.
    sharing_error: Option<f64>,
    /// Highest RMS current of any switch; null where not solved.
    #[serde(rename = "switch_rms_current_A")]
    switch_rms_current: Option<Ampere>,
    /// Highest peak current of any switch; null where not solved.
    #[serde(rename = "switch_peak_current_A")]
    switch_peak_current: Option<Ampere>,
    /// Highest blocking voltage of any switch, with the assumed drift of the flying-capacitor voltages;
    /// null where not solved.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<Volt>,
    /// Phase by phase; null where not solved.
    #[serde(rename = "output_current_A")]
    output_current: Option<Vec<Ampere>>,
    /// Null where not solved.
    #[serde(rename = "loss_W")]
    loss: Option<Watt>,
    /// Output power over output power and all losses; null without `[converter.losses]`.
    efficiency: Option<f64>,
    /// Of the hottest switch; null where nothing tells it.
    #[serde(rename = "switch_junction_temperature_C")]
    switch_junction: Option<f64>,
    /// Of the hottest diode; null where nothing tells it.
    #[serde(rename = "rectifier_junction_temperature_C")]
    rectifier_junction: Option<f64>,
    /// Energy lost at turn-on times the switching frequency; null without `commutation`.
    #[serde(rename = "commutation_loss_W")]
    commutation_loss: Option<Watt>,
    /// Null without `commutation`.
    soft_switching: Option<SoftSwitchingEntry>,
}

/// The summary of converters whose parts are known.
pub(super) fn summary(
    scenario: &Scenario,
    source: &UnitsSource,
    method: Method,
    listed: &Listed,
) -> SummaryFile<UnitsResults> {
    let kept = transitions_kept(listed);
    let results = UnitsResults {
        parts_read_as: source.parts.read_as.clone(),
        measured_read_as: source.measured.as_ref().and_then(|file| file.read_as.clone()),
        sharing: scenario.limits.sharing,
        limits: LimitsInForce::new(scenario),
        limits_met: listed.limits_met.iter().map(LimitsMetEntry::new).collect(),
        units: listed.results.iter().map(UnitVerdictEntry::new).collect(),
        configuration_choices: listed.choices.iter().map(ConfigurationChoiceEntry::new).collect(),
        results: listed.results.iter().map(UnitEntry::new).collect(),
        commutation: commutation(listed, kept),
        commutation_holds: kept,
        ratings: UnitRatingEntry::all(scenario, listed),
        measuring_uncertainty: listed.measuring_uncertainty,
        deviations: DeviationEntry::new(listed),
        measured: listed.measured.iter().map(MeasuredLoadEntry::new).collect(),
        over_load: LoadCurrentsEntry::all(listed),
    };
    SummaryFile::new("units", scenario, method, results)
}

fn switching(result: &UnitResult) -> Option<&SoftSwitching> {
    result.solved.as_ref().and_then(|solved| solved.switching.as_ref())
}

fn transitions_kept(listed: &Listed) -> Option<TransitionsKept> {
    let judged = listed.results.iter().filter_map(switching);
    match judged.map(|own| own.commutation.transitions.len()).sum() {
        0 => None,
        1..=MOST_TRANSITIONS => Some(TransitionsKept::AllTransitions),
        _ => Some(TransitionsKept::WorstOfEachUnit),
    }
}

fn commutation(listed: &Listed, kept: Option<TransitionsKept>) -> Vec<CommutationEntry> {
    match kept {
        None => Vec::new(),
        Some(TransitionsKept::AllTransitions) => {
            let judged = listed.results.iter().filter_map(|own| Some((own, switching(own)?)));
            judged
                .flat_map(|(own, switching)| CommutationEntry::all(subject(own), switching))
                .collect()
        }
        Some(TransitionsKept::WorstOfEachUnit) => {
            let worst = |results| Arrangement::ALL.map(|own| worst_transition(results, own));
            listed.by_unit().flat_map(worst).flatten().collect()
        }
    }
}

fn subject(result: &UnitResult) -> CommutatedCase<'_> {
    CommutatedCase {
        unit: Some(&result.name),
        operating_point: &result.point.name,
        arrangement: result.arrangement,
    }
}

/// Of a unit's results the transition that falls short most, as a share of its interval voltage.
fn worst_transition(results: &[UnitResult], arrangement: Arrangement) -> Option<CommutationEntry> {
    let own = results.iter().filter(|result| result.arrangement == arrangement);
    let all = own.filter_map(|result| {
        let switching = switching(result)?;
        Some((result, switching, switching.falls_shortest()?))
    });
    let share = |worst: &Transition| worst.shortfall();
    let (result, switching, worst) =
        all.reduce(|most, next| if share(next.2) > share(most.2) { next } else { most })?;
    Some(CommutationEntry::new(subject(result), switching, worst))
}

impl UnitEntry {
    fn new(result: &UnitResult) -> Self {
        let solved = result.solved.as_ref();
        let worst = solved.map(|solved| solved.worst_switches);
        let switching = solved.and_then(|solved| solved.switching.as_ref());
        let figure = |figure| solved.and_then(|solved| solved.loss_figure(figure));
        Self {
            unit: result.name.clone(),
            operating_point: result.point.name.clone(),
            arrangement: result.arrangement,
            status: result.outcome.status,
            switching_frequency: solved.map(|s| s.switching_frequency),
            sharing_error: solved.map(|s| s.sharing_error),
            switch_rms_current: worst.map(|switches| switches.rms_current),
            switch_peak_current: worst.map(|switches| switches.peak_current),
            blocking_voltage: worst.map(|switches| switches.blocking_voltage),
            loss: solved.map(|s| s.loss),
            efficiency: figure(LossFigure::Efficiency),
            switch_junction: figure(LossFigure::SwitchJunction),
            rectifier_junction: figure(LossFigure::RectifierJunction),
            commutation_loss: switching.map(|s| s.commutation.loss),
            soft_switching: switching.map(SoftSwitchingEntry::new),
            output_current: solved.map(|s| s.phases.iter().map(|p| p.output_current).collect()),
        }
    }
}
