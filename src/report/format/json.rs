//! `summary.json`: every figure of the report with its interval.
//!
//! The schema's number rises when a name changes its meaning or goes; names may be added.

use serde_json::{Value, json};

use crate::converter::{Arrangement, Parameter, Sharing};
use crate::scenario::Scenario;
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::figures::Figure;

/// What the schema is called in all its versions.
pub(in crate::report) const SCHEMA_NAME: &str = "fairphase-summary/";
/// The schema and its version.
pub const SCHEMA: &str = "fairphase-summary/1";

/// A sharing error that follows `[limits]`.
pub(in crate::report) fn sharing(s: Sharing) -> Value {
    json!({ "share": s.share.name(), "measure": s.measure.name() })
}

pub(in crate::report) fn limits(scenario: &Scenario) -> Value {
    let limits = &scenario.limits;
    let of = |arrangement: Arrangement| {
        let switches = limits.switches(arrangement);
        json!({
            "switch_rms_current_A": switches.rms_current,
            "switch_peak_current_A": switches.peak_current,
            "blocking_voltage_V": switches.blocking_voltage,
        })
    };
    json!({
        "sharing": sharing(limits.sharing),
        "sharing_error": limits.sharing_error,
        "yield_target": limits.yield_target,
        "confidence": limits.confidence,
        "chain": of(Arrangement::Chain),
        "paralleled": of(Arrangement::Paralleled),
        "neutral_split_V": scenario.neutral_split,
    })
}

pub(in crate::report) fn tolerances(scenario: &Scenario) -> Value {
    let each = Parameter::ALL.into_iter().filter_map(|p| {
        let t = scenario.tolerances.get(p)?;
        let sigmas = match t.shape {
            crate::scenario::Shape::Normal { sigmas } => Some(sigmas),
            _ => None,
        };
        let value = json!({
            "shape": t.shape.name(), "sigmas": sigmas, "band": t.band, "lot_share": t.lot_share,
        });
        Some((p.key().to_owned(), value))
    });
    Value::Object(each.collect())
}

/// The demand missed most often.
pub(in crate::report) fn binding(binding: &Binding) -> Value {
    json!({
        "operating_point": binding.operating_point,
        "demand": binding.demand.name(),
        "missed": binding.missed,
    })
}

/// A value as the text of a file, ended by a line feed.
///
/// # Errors
///
/// None that can happen with a value built here.
pub fn text(value: &Value) -> anyhow::Result<String> {
    Ok(serde_json::to_string_pretty(value)? + "\n")
}

impl Demand {
    /// The name used in files.
    pub fn name(&self) -> String {
        match self.figure {
            None => "regulation".into(),
            Some(Figure::SharingError(_)) => "sharing_error".into(),
            Some(figure) => figure.name(),
        }
    }
}
