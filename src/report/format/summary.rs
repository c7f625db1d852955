//! `summary.json`: what every verb's summary tells of its making, around the results of the verb.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::settings::Settings;

/// What the schema is called in all its versions.
pub(in crate::report) const SCHEMA_NAME: &str = "fairphase-summary/";
/// The schema and its version. The number rises when a name changes its meaning or goes; names may
/// be added.
pub(in crate::report) const SCHEMA: &str = "fairphase-summary/2";

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

impl ScenarioBasis {
    fn new(scenario: &Scenario, method: Method) -> Self {
        Self {
            scenario: scenario.source_name.clone(),
            title: scenario.title.clone(),
            solver: method,
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

    /// The summary as a JSON value.
    ///
    /// # Errors
    ///
    /// When a value of the results cannot be told in JSON: none of ours.
    pub(in crate::report) fn value(&self) -> serde_json::Result<Value> {
        serde_json::to_value(self)
    }
}
