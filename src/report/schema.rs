//! The JSON Schema of `summary.json`, derived from the types that are written. It lives beside the
//! verbs because it names them all; what one verb's summary holds lives in its folder.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde_json::{Value, json};

use super::bands::BandsResults;
use super::capacitors::CapacitorsResults;
use super::check::CheckResults;
use super::compare::{CompareBasis, CompareResults};
use super::faults::FaultsResults;
use super::format::summary::{SCHEMA, ScenarioBasis, SummaryFile};
use super::gain::GainResults;
use super::grades::{GradesResults, StockResults};
use super::merge::PartResults;
use super::run::RunResults;
use super::sensors::SensorResults;
use super::shapes::{ShapesBasis, ShapesResults};
use super::units::UnitsResults;

/// The JSON Schema (draft 2020-12) of the summaries of all verbs; `verb` tells them apart.
pub fn summary_schema() -> Value {
    let mut generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let verbs = [
        verb::<CheckResults>("check", &mut generator),
        verb::<GainResults>("gain", &mut generator),
        verb::<GradesResults>("grades", &mut generator),
        verb::<StockResults>("grades", &mut generator),
        verb::<RunResults>("run", &mut generator),
        verb::<PartResults>("run --shard", &mut generator),
        verb::<SensorResults>("sensors", &mut generator),
        verb::<FaultsResults>("faults", &mut generator),
        verb::<UnitsResults>("units", &mut generator),
        verb::<BandsResults>("bands", &mut generator),
        verb::<CapacitorsResults>("capacitors", &mut generator),
        verb_of::<ShapesResults, ShapesBasis>("shapes", &mut generator),
        verb_of::<CompareResults, CompareBasis>("compare", &mut generator),
    ];
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": SCHEMA,
        "description": "What a verb of fairphase found: printed with --json, and summary.json in \
                        its folder. Quantities are in the SI unit that ends their names; errors, \
                        shares and yields are fractions.",
        "type": "object",
        "oneOf": verbs,
        "$defs": generator.take_definitions(true),
    })
}

/// The summary of a verb on a scenario.
fn verb<R: JsonSchema>(verb: &str, generator: &mut SchemaGenerator) -> Value {
    verb_of::<R, ScenarioBasis>(verb, generator)
}

/// The summary of a verb whose results are made of something of its own.
fn verb_of<R: JsonSchema, B: JsonSchema>(verb: &str, generator: &mut SchemaGenerator) -> Value {
    let mut schema = SummaryFile::<R, B>::json_schema(generator).to_value();
    schema["title"] = json!(verb);
    schema["properties"]["verb"] = json!({ "const": verb });
    schema["properties"]["schema"] = json!({ "const": SCHEMA });
    schema
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::report::compare::is_known_number;
    use crate::study::compare::BASIS;

    /// The places of all numbers below a schema. `*` stands for names that are not fixed.
    struct Places<'s> {
        definitions: &'s Value,
        found: BTreeSet<String>,
    }

    impl Places<'_> {
        fn add(&mut self, schema: &Value, place: &str) {
            let referred = schema["$ref"].as_str().and_then(|path| path.rsplit('/').next());
            if let Some(name) = referred {
                self.add(&self.definitions[name].clone(), place);
            }
            for choices in ["anyOf", "oneOf", "allOf"] {
                schema[choices]
                    .as_array()
                    .into_iter()
                    .flatten()
                    .for_each(|own| self.add(own, place));
            }
            let types = schema["type"].to_string();
            if types.contains("\"number\"") || types.contains("\"integer\"") {
                self.found.insert(place.to_owned());
            }
            for (key, inner) in schema["properties"].as_object().into_iter().flatten() {
                self.add(inner, &format!("{place}.{key}"));
            }
            for entries in ["items", "additionalProperties"] {
                if schema[entries].is_object() {
                    self.add(&schema[entries], &format!("{place}.*"));
                }
            }
        }
    }

    /// A new key of a scenario that `compare` would show as a bare number is missed by no demo: the schema
    /// holds all of them.
    #[test]
    fn compare_knows_how_every_number_of_a_basis_is_read() {
        let schema = summary_schema();
        let mut places = Places { definitions: &schema["$defs"], found: BTreeSet::new() };
        for verb in schema["oneOf"].as_array().expect("one schema a verb") {
            for part in BASIS {
                places.add(&verb["properties"][part], part);
            }
        }
        assert!(places.found.contains("limits.sharing_error") && places.found.len() > 80);
        // Keys that are no fixed names end with a unit: parameters, and figures of parts that are limited.
        for named in ["nominal_phase.*", "limits.parts.*.limit"] {
            assert!(places.found.remove(named), "{named}");
        }
        let unknown: Vec<&String> =
            places.found.iter().filter(|place| !is_known_number(place)).collect();
        assert!(
            unknown.is_empty(),
            "neither a unit, nor a fraction, nor a plain number: {unknown:?}"
        );
    }
}
