//! `summary.json`: what every verb's summary tells of its making, around the results of the verb.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::conditions::ConditionsInForce;
use super::json;
use crate::converter::{Drive, Parameter, Rectifier};
use crate::scenario::{PointRequest, Scenario};
use crate::solver::Method;
use crate::study::common::settings::Settings;
use crate::units::{Ampere, Volt};

/// What the schema is called in all its versions.
pub(in crate::report) const SCHEMA_NAME: &str = "fairphase-summary/";
/// The schema and its version. The number rises when a name changes its meaning or goes; names may
/// be added.
pub(in crate::report) const SCHEMA: &str = "fairphase-summary/2";

/// The schema that this version writes.
pub fn schema() -> &'static str {
    SCHEMA
}

/// A summary: how it was made, and the results of a verb. `B` tells what it is made of.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct SummaryFile<R, B = ScenarioBasis> {
    /// Name and version of the schema.
    schema: &'static str,
    /// Version of the program.
    version: &'static str,
    /// The verb whose results these are.
    verb: &'static str,
    /// What the results were made of.
    #[serde(flatten)]
    basis: B,
    /// Names of the files of this result in its folder, this one last; absent where the verb writes
    /// none.
    #[serde(skip_serializing_if = "Option::is_none")]
    files: Option<Vec<String>>,
    /// XXH64 checksums of these files, by name, 16 hexadecimal digits each. This file's is that of
    /// its text with these digits at zero. A file that differs was changed, and is never replaced.
    #[serde(skip_serializing_if = "Option::is_none")]
    checksums: Option<BTreeMap<String, String>>,
    /// What the verb found.
    #[serde(flatten)]
    results: R,
}

/// What results of a scenario are made of.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ScenarioBasis {
    /// Name of the scenario file.
    scenario: String,
    /// Title of the scenario.
    title: String,
    /// How steady states were found.
    solver: Method,
    /// Temperature and age of the parts; absent where the scenario says nothing of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    conditions: Option<ConditionsInForce>,
    /// All values of the scenario file as they are written there, by their places:
    /// `converter.tank.turns_ratio`.
    scenario_as_written: BTreeMap<String, String>,
    /// Number of phases.
    phases: usize,
    /// Nominal values of the parts of a phase, by parameter with its SI unit.
    nominal_phase: BTreeMap<String, f64>,
    /// The operating points.
    points: Vec<PointInForce>,
    /// Seed of the random streams, where something is sampled.
    #[serde(skip_serializing_if = "Option::is_none")]
    seed: Option<u64>,
    /// Samples asked for, where something is sampled.
    #[serde(skip_serializing_if = "Option::is_none")]
    samples: Option<u64>,
}

impl<R: Serialize> SummaryFile<R> {
    /// Of a verb that samples.
    pub(in crate::report) fn sampled(
        verb: &'static str,
        scenario: &Scenario,
        settings: &Settings,
        results: R,
    ) -> Self {
        let basis = ScenarioBasis {
            seed: Some(settings.seed),
            samples: Some(settings.samples),
            ..ScenarioBasis::new(scenario, settings.method)
        };
        Self::of_basis(verb, basis, results)
    }

    /// Of a verb that samples nothing.
    pub(in crate::report) fn new(
        verb: &'static str,
        scenario: &Scenario,
        method: Method,
        results: R,
    ) -> Self {
        Self::of_basis(verb, ScenarioBasis::new(scenario, method), results)
    }
}

/// An operating point as the scenario asks for it.
#[derive(Debug, Serialize, JsonSchema)]
struct PointInForce {
    name: String,
    #[serde(rename = "input_voltage_V")]
    input_voltage: Volt,
    #[serde(rename = "output_voltage_V")]
    output_voltage: Volt,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
    /// Drive; null where the scenario leaves it open.
    drive: Option<Drive>,
    /// Rectifier; null where the scenario leaves it open.
    rectifier: Option<Rectifier>,
}

impl PointInForce {
    fn new(point: &PointRequest) -> Self {
        Self {
            name: point.name.clone(),
            input_voltage: point.input_voltage,
            output_voltage: point.output_voltage,
            output_current: point.output_current,
            drive: point.drive,
            rectifier: point.rectifier,
        }
    }
}

/// A parameter that the scenario tells, with its SI unit, and its nominal value.
fn nominal(scenario: &Scenario) -> BTreeMap<String, f64> {
    let told = Parameter::ALL.into_iter().filter_map(|own| {
        Some((format!("{}{}", own.key(), own.unit_suffix()), scenario.nominal_value(own)?))
    });
    told.collect()
}

impl ScenarioBasis {
    fn new(scenario: &Scenario, method: Method) -> Self {
        Self {
            scenario: scenario.source_name.clone(),
            title: scenario.title.clone(),
            solver: method,
            conditions: ConditionsInForce::new(scenario),
            scenario_as_written: scenario.written.clone(),
            phases: scenario.phases,
            nominal_phase: nominal(scenario),
            points: scenario.operating_points.iter().map(PointInForce::new).collect(),
            seed: None,
            samples: None,
        }
    }
}

impl<R: Serialize, B: Serialize> SummaryFile<R, B> {
    /// Of a verb whose results are made of something of its own.
    pub(in crate::report) fn of_basis(verb: &'static str, basis: B, results: R) -> Self {
        Self {
            schema: SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            verb,
            basis,
            files: None,
            checksums: None,
            results,
        }
    }

    /// The summary as text.
    ///
    /// # Errors
    ///
    /// When a value of the results cannot be told in JSON: none of ours.
    pub(in crate::report) fn text(&self) -> anyhow::Result<SummaryText> {
        SummaryText::of(self)
    }
}

/// A summary as the text of its file, which does not yet list the files of its set. It is text from
/// the start: a tree of values takes many times the memory, and a thousand operating points fill 150 MB
/// of text.
#[derive(Debug, Clone)]
pub struct SummaryText {
    text: String,
    heading: Heading,
}

/// What decides how the set is placed.
#[derive(Debug, Clone, Deserialize)]
struct Heading {
    verb: String,
    #[serde(default)]
    partial: bool,
}

/// What a set adds to its summary.
#[derive(Debug, Serialize)]
pub(in crate::report) struct SetEntries<'a> {
    /// Names of its files.
    pub(in crate::report) files: &'a [&'a str],
    /// Their checksums.
    pub(in crate::report) checksums: &'a BTreeMap<String, String>,
}

impl SummaryText {
    /// Of an object that names its `verb`, and perhaps says that it is `partial`.
    ///
    /// # Errors
    ///
    /// When it does not, or cannot be told in JSON.
    pub(in crate::report) fn of(summary: &impl Serialize) -> anyhow::Result<Self> {
        let text = json::text(summary)?;
        let heading = serde_json::from_str(&text)?;
        Ok(Self { text, heading })
    }

    /// The text as it is.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The summary as a value, to look things up in it.
    ///
    /// # Errors
    ///
    /// None that can happen with text made here.
    pub fn value(&self) -> serde_json::Result<Value> {
        serde_json::from_str(&self.text)
    }

    /// The verb whose results it tells.
    pub(in crate::report) fn verb(&self) -> &str {
        &self.heading.verb
    }

    /// Whether the work was stopped before its end.
    pub(in crate::report) fn is_partial(&self) -> bool {
        self.heading.partial
    }

    /// The text with what its set adds.
    ///
    /// # Errors
    ///
    /// None that can happen with an object.
    pub(in crate::report) fn with(self, entries: &SetEntries) -> anyhow::Result<String> {
        let Self { mut text, .. } = self;
        let entries = json::text(entries)?;
        let (Some(end), Some(entries)) = (text.rfind("\n}"), entries.strip_prefix('{')) else {
            return Err(anyhow::anyhow!("a summary is no object"));
        };
        text.truncate(end);
        text.push(',');
        text.push_str(entries);
        Ok(text)
    }
}
