//! The summary of listed units.

use serde_json::{Value, json};

use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::summary::SCHEMA;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::Listed;

/// The summary of listed units.
pub(super) fn summary(scenario: &Scenario, method: Method, listed: &Listed) -> Value {
    let each = listed.results.iter().map(|r| {
        let state = r.outcome.solved();
        json!({
            "unit": r.unit,
            "operating_point": r.point.name,
            "arrangement": r.arrangement.name(),
            "status": r.outcome.name(),
            "switching_frequency_Hz": state.map(|s| s.switching_frequency),
            "sharing_error": r.sharing_error,
            "output_current_A": state
                .map(|s| s.phases.iter().map(|p| p.output_current).collect::<Vec<_>>()),
        })
    });
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "units",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "solver": method.name(),
        "sharing": scenario.limits.sharing,
        "configuration_choices": listed.choices.iter().map(ConfigurationChoiceEntry::new).collect::<Vec<_>>(),
        "results": each.collect::<Vec<_>>(),
    })
}
