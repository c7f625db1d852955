//! Every summary keeps to the JSON Schema that is derived from the types that are written.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use fairphase::report::schema::summary_schema;
use jsonschema::Validator;
use serde_json::{Value, json};

use crate::support;

/// The demos of the verbs: arguments with few samples. The scenarios are invented.
const DEMOS: [&str; 13] = [
    "bands runway-lights.toml --samples 700 --solver averaged",
    "capacitors telecom-shelf.toml --samples 20",
    "check electrolyser-supply.toml",
    "gain electrolyser-supply.toml",
    "run telecom-shelf.toml --samples 50",
    "units pump-drive.toml --parts DEMOS/pump-drive-prototypes.csv \
     --measured DEMOS/pump-drive-currents.csv --measuring-uncertainty 2% --over-load",
    "grades seabed-node.toml --samples 100 --solver averaged --stock DEMOS/seabed-node-tanks.csv",
    "grades seabed-node.toml --stock DEMOS/seabed-node-tanks.csv --allot-only",
    "shapes incoming-transformers.csv",
    "sensors greenhouse-lamps.toml --samples 100 --solver averaged",
    "faults lock-gates.toml --samples 100",
    "compare run run",
    "run telecom-shelf.toml --samples 300 --shard 2/2",
];

/// The summary of a demo: as its file, or from standard output where the verb writes no files.
fn summary(folder: &std::path::Path, demo: &str) -> Value {
    let scenarios = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/");
    let (verb, rest) = demo.split_once(' ').unwrap();
    let rest = rest.replace("DEMOS/", scenarios);
    let of_results = verb == "compare";
    let input = if of_results { rest } else { format!("{scenarios}{rest}") };
    let out = if demo.contains("--shard") { "part" } else { verb };
    let printed = support::succeed(folder, &format!("{verb} {input} --out {out} --json"));
    let printed: Value = serde_json::from_str(&printed).unwrap();
    let file = folder.join(out).join("summary.json");
    if file.exists() {
        assert_eq!(printed, support::json(&file), "{verb}: what is printed is what is written");
    }
    printed
}

/// The schema with every object closed, so that a key which it does not describe is refused: names
/// may be added to a summary, but not without a word about them.
fn closed(mut schema: Value) -> Value {
    fn close(schema: &mut Value) {
        match schema {
            Value::Object(object) => {
                object.values_mut().for_each(close);
                if object.get("properties").is_some_and(Value::is_object) {
                    object.entry("unevaluatedProperties").or_insert(json!(false));
                }
            }
            Value::Array(items) => items.iter_mut().for_each(close),
            _ => {}
        }
    }
    close(&mut schema);
    schema
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::new(schema).unwrap()
}

#[track_caller]
fn refused(schema: &Validator, summary: &Value, pointer: &str, damage: Value) {
    let mut damaged = summary.clone();
    *damaged.pointer_mut(pointer).expect(pointer) = damage;
    assert!(!schema.is_valid(&damaged), "{pointer} may be damaged unseen");
}

#[test]
fn summaries_of_all_verbs_keep_to_the_schema_and_damaged_ones_do_not() {
    let folder = tempfile::tempdir().unwrap();
    let (open, closed) = (validator(&summary_schema()), validator(&closed(summary_schema())));
    let described = summary_schema()["oneOf"].as_array().unwrap().len();
    assert_eq!(described, DEMOS.len(), "each verb of the schema has its demo");
    for demo in DEMOS {
        let summary = summary(folder.path(), demo);
        let errors: Vec<String> =
            closed.iter_errors(&summary).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(errors.is_empty(), "{demo}: {errors:#?}");
        assert!(open.is_valid(&summary), "{demo}");
        refused(&open, &summary, "/verb", json!("another"));
        refused(&open, &summary, "/schema", json!("fairphase-summary/1"));
        let basis = match demo.split(' ').next().unwrap() {
            "shapes" => ["/file", "/simulated_files"],
            "compare" => ["/compared_verb", "/confidence"],
            _ => ["/title", "/solver"],
        };
        for pointer in basis {
            refused(&open, &summary, pointer, json!([]));
        }
        for key in summary
            .as_object()
            .unwrap()
            .keys()
            .filter(|key| !["files", "checksums"].contains(&key.as_str()))
        {
            let mut damaged = summary.clone();
            damaged.as_object_mut().unwrap().remove(key);
            let may_lack = ["seed", "samples"].contains(&key.as_str());
            assert!(may_lack || !open.is_valid(&damaged), "{demo}: {key} may lack");
        }
        let mut damaged = summary.clone();
        damaged["unheard_of"] = json!(1);
        assert!(!closed.is_valid(&damaged), "{demo}: a key that the schema does not describe");
    }
}

/// Inside the results of a run too, where most figures are.
#[test]
fn a_damaged_figure_of_a_run_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let run = summary(folder.path(), "run telecom-shelf.toml --samples 50");
    let schema = validator(&summary_schema());
    assert!(schema.is_valid(&run));
    for (pointer, damage) in [
        ("/results/0/counts/solved", json!(-1)),
        ("/results/0/yield/lower", Value::Null),
        ("/results/0/sharing_error/p95", json!("5 %")),
        ("/results/0/arrangement", json!("parallel")),
        ("/results/0/switch_rms_current_A/max", json!(true)),
        ("/joint/chain/verdict", json!("perhaps")),
        ("/tolerances/resonant_inductance/sigmas", json!("3")),
        ("/limits/yield_target", Value::Null),
        ("/files", json!("summary.json")),
    ] {
        refused(&schema, &run, pointer, damage);
    }
}

/// Every property of the schema says what it is, by itself or by its type.
#[test]
fn every_verb_and_every_definition_is_described() {
    let schema = summary_schema();
    let verbs: Vec<&Value> = schema["oneOf"].as_array().unwrap().iter().collect();
    for verb in verbs {
        assert!(verb["properties"]["verb"]["const"].is_string());
        assert!(verb["description"].is_string(), "{}", verb["title"]);
    }
    for (name, definition) in schema["$defs"].as_object().unwrap() {
        assert!(definition["description"].is_string(), "{name}");
    }
}
