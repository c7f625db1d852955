//! The schema and the reference of scenario files, against what the reader accepts and refuses.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use fairphase::scenario::Scenario;
use fairphase::scenario::draft::{DRAFT, complete};
use jsonschema::Validator;
use serde_json::{Map, Value, json};

use crate::support::{SHELF, fairphase, folder_with, succeed};

/// What `fairphase schema scenario` prints.
static SCHEMA: LazyLock<Value> = LazyLock::new(|| {
    let folder = folder_with(&[]);
    serde_json::from_str(&succeed(folder.path(), "schema scenario")).unwrap()
});
static VALIDATOR: LazyLock<Validator> =
    LazyLock::new(|| jsonschema::validator_for(&SCHEMA).unwrap());

fn document(toml: &str) -> Value {
    serde_json::to_value(toml.parse::<toml::Table>().unwrap()).unwrap()
}

/// Whether the reader takes a document.
fn is_read(document: &Value) -> bool {
    // Files of measured parts lie beside the scenarios.
    Scenario::parse("scenarios/scenario.toml", &toml::to_string(document).unwrap()).is_ok()
}

fn scenarios() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let is_scenario = |path: &std::path::PathBuf| path.extension().is_some_and(|e| e == "toml");
    let read =
        |path: std::path::PathBuf| (path.display().to_string(), fs::read_to_string(path).unwrap());
    files.filter(is_scenario).map(read).collect()
}

/// Every place in a document, as a JSON pointer.
fn places(document: &Value, at: &str) -> Vec<String> {
    let inner: Vec<String> = match document {
        Value::Object(members) => {
            members.iter().flat_map(|(key, value)| places(value, &format!("{at}/{key}"))).collect()
        }
        Value::Array(items) => items
            .iter()
            .enumerate()
            .flat_map(|(index, value)| places(value, &format!("{at}/{index}")))
            .collect(),
        _ => Vec::new(),
    };
    [at.to_owned()].into_iter().chain(inner).collect()
}

/// The document without what stands at a place.
fn without(document: &Value, place: &str) -> Value {
    let (parent, key) = place.rsplit_once('/').unwrap();
    let mut changed = document.clone();
    match changed.pointer_mut(parent).unwrap() {
        Value::Object(members) => drop(members.shift_remove(key)),
        Value::Array(items) => drop(items.remove(key.parse().unwrap())),
        _ => panic!("{parent} holds nothing"),
    }
    changed
}

fn with(document: &Value, place: &str, value: Value) -> Value {
    let mut changed = document.clone();
    *changed.pointer_mut(place).unwrap() = value;
    changed
}

#[test]
fn the_schema_is_one_of_json_schema_2020_12() {
    assert_eq!(SCHEMA["$schema"], "https://json-schema.org/draft/2020-12/schema");
    jsonschema::meta::validate(&SCHEMA).unwrap_or_else(|e| panic!("{e}"));
}

#[test]
fn scenarios_that_are_read_are_valid() {
    let mut all = scenarios();
    assert!(all.len() >= 6, "{}", all.len());
    all.extend([("shelf", SHELF), ("draft", DRAFT)].map(|(n, t)| (n.to_owned(), t.to_owned())));
    all.push(("complete draft".to_owned(), complete()));
    for (name, text) in all {
        let document = document(&text);
        assert!(is_read(&document), "{name}");
        VALIDATOR.validate(&document).unwrap_or_else(|e| panic!("{name}: {e}"));
    }
}

/// The schema of what stands at a place of a document.
fn schema_at(place: &str) -> &'static Value {
    let resolved = |schema: &'static Value| match schema["$ref"].as_str() {
        Some(reference) => &SCHEMA["$defs"][reference.strip_prefix("#/$defs/").unwrap()],
        None => schema,
    };
    let keys = place.split('/').skip(1);
    keys.fold(&*SCHEMA, |schema, key| match key.parse::<usize>() {
        Ok(_) => resolved(&schema["items"]),
        Err(_) => resolved(&schema["properties"][key]),
    })
}

/// The keys that the reader says it knows when it meets an unknown one.
fn known_keys(document: &Value) -> BTreeSet<String> {
    let text = toml::to_string(document).unwrap();
    let errors = Scenario::parse("scenarios/scenario.toml", &text).unwrap_err();
    let unknown = errors.errors().iter().find(|error| error.message.contains("`nonsense`"));
    let expected = &unknown.unwrap_or_else(|| panic!("{errors}")).label;
    expected.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn every_table_of_the_schema_holds_the_keys_of_the_reader() {
    let document = document(&complete());
    let mut tables = 0;
    for place in places(&document, "") {
        let Value::Object(members) = document.pointer(&place).unwrap() else { continue };
        let mut members = members.clone();
        members.insert("nonsense".to_owned(), json!(1));
        let changed = with(&document, &place, Value::Object(members));
        assert!(!VALIDATOR.is_valid(&changed), "unknown key in {place}");
        let schema = schema_at(&place)["properties"].as_object();
        let schema = schema.unwrap_or_else(|| panic!("no table at {place}"));
        let keys: BTreeSet<String> = schema.keys().cloned().collect();
        let known = known_keys(&changed);
        // A combination names grades of the parts on offer alone.
        if place.contains("combinations") {
            assert!(known.is_subset(&keys), "{place}");
        } else {
            assert_eq!(known, keys, "{place}");
        }
        tables += 1;
    }
    assert!(tables > 30, "{tables}");
}

/// What reader and schema say of changed documents. What the schema refuses, the reader must refuse.
#[derive(Default)]
struct Comparison {
    /// What the schema takes and the reader refuses: the place, and the changed value.
    taken: Vec<(String, Option<Value>)>,
    /// How many both refused.
    refused: usize,
}

/// Whether a value is wrong only by what other keys say, which no schema can tell: names of grades
/// that `combinations` repeat, prices that must fall from band to band, steps that must rise, the
/// frequency that must lie below another one, sizes that must lie between two others, the dead time that must fit into the shortest period,
/// two targets that must agree, nominal values of zero
/// that have a tolerance, tolerances and grades that other tables speak of, bands that leave too
/// little of a process, codes of dielectrics, files of measured parts and correlations that exclude each other.
fn depends_on_other_keys(place: &str, value: Option<&Value>) -> bool {
    let is_zero = value.and_then(Value::as_str).is_some_and(|text| text.starts_with('0'));
    let is_left_out = value.is_none_or(|value| *value == json!({}));
    let starts = |start: &str| place.starts_with(start);
    starts("/grades/combinations")
        || (starts("/grade/") && place.ends_with("/name"))
        || (starts("/grade/") && (place.ends_with("/price") || place.contains("/price_breaks"))) // must fall
        || starts("/bands/price/")
        || starts("/bands/steps/")
        || starts("/capacitors/") // ends between which the sizes lie
        || starts("/converter/chain/drift") // currents that need a voltage, the least below the most
        || place == "/converter/chain/neutral_split" // at most Vin/N, and not beside its causes
        || place.starts_with("/converter/frequency/")
        || place.ends_with("/dead_time")
        || ["/limits/yield_target", "/limits/failure_target"].contains(&place)
        || (["/tolerance/", "/grade/"].iter().any(|start| starts(start))
            && ["band", "mean", "mode", "sigma", "file", "column", "shape", "lot_share"]
                .iter()
                .any(|key| place.contains(&format!("/{key}"))))
        || starts("/correlation")
        || place.ends_with("/code") // a list of letters that is no pattern
        || (is_left_out && place.ends_with("/shape")) // `sigmas` goes with a normal one alone
        || ["/confidence", "/efficiency"].iter().any(|key| place.ends_with(key)) // ends of ranges: no pattern tells them
        || place.contains("/output_capacitance") // the same
        || place == "/converter/tank/rectifier_drop" // near to which a file's values must lie
        || (is_zero && starts("/converter/tank/"))
        || (is_left_out && starts("/converter/losses")) // of which tolerances speak
        || (is_left_out && (place == "/grades" || starts("/grade") || starts("/tolerance")))
}

impl Comparison {
    #[track_caller]
    fn add(&mut self, place: &str, changed: &Value, value: Option<&Value>) {
        let (is_read, is_valid) = (is_read(changed), VALIDATOR.is_valid(changed));
        assert!(is_valid || !is_read, "{place}: the reader takes {value:?}, the schema does not");
        if is_valid && !is_read {
            self.taken.push((place.to_owned(), value.cloned()));
        }
        self.refused += usize::from(!is_valid);
    }

    #[track_caller]
    fn check_what_the_schema_takes(&self) {
        for (place, value) in &self.taken {
            let explained = depends_on_other_keys(place, value.as_ref());
            assert!(explained, "{place}: the schema takes {value:?}, the reader does not");
        }
    }
}

#[test]
fn reader_and_schema_refuse_the_same_values() {
    let document = document(&complete());
    let values = [
        json!(1),
        json!(-1),
        json!(0),
        json!(0.5),
        json!(1e14 + 0.5),
        json!("text"),
        json!("  "),
        json!("a\nb"),
        json!(true),
        json!([]),
        json!(["text"]),
        json!([1, 2]),
        json!({}),
        json!([{}]),
        json!("5"),
        json!("5 furlongs"),
        json!("5,5 V"),
        json!("-5 V"),
        json!("-5 %"),
        json!("0.4 %"),
        json!("5 kH"),
        json!("5 kF"),
        json!("5 kohm"),
        json!("5 MHz"),
        json!("5 GV"),
        json!("5 pA"),
        json!("1e-3W"),
        json!("0 uH"),
        json!("0.0 F"),
        json!("0e3 V"),
        json!("00 %"),
        json!("0.05 %"),
        json!(".5 nF"),
        json!("5 ns"),
        json!("5 ms"),
    ];
    let mut compared = Comparison::default();
    for place in places(&document, "").into_iter().skip(1) {
        for value in &values {
            compared.add(&place, &with(&document, &place, value.clone()), Some(value));
        }
    }
    assert!(compared.refused > 2000, "{}", compared.refused);
    compared.check_what_the_schema_takes();
}

#[test]
fn reader_and_schema_miss_the_same_keys() {
    let document = document(&complete());
    let mut compared = Comparison::default();
    for place in places(&document, "").into_iter().skip(1) {
        compared.add(&place, &without(&document, &place), None);
    }
    assert!(compared.refused > 40, "{}", compared.refused);
    compared.check_what_the_schema_takes();
    assert!(!VALIDATOR.is_valid(&Value::Object(Map::new())));
}

#[test]
fn rules_between_keys_stand_in_the_schema() {
    let shelf = document(SHELF);
    let point = "/operating_point/0";
    let mut both = shelf.clone();
    both.pointer_mut(point).unwrap()["output_current"] = json!("62.5 A");
    assert!(!is_read(&both) && !VALIDATOR.is_valid(&both));
    let neither = without(&shelf, &format!("{point}/output_power"));
    assert!(!is_read(&neither) && !VALIDATOR.is_valid(&neither));
    let mut sigmas = shelf.clone();
    sigmas.pointer_mut("/tolerance/resonant_inductance").unwrap()["sigmas"] = json!(3);
    assert!(!is_read(&sigmas) && !VALIDATOR.is_valid(&sigmas), "the shape is uniform");
    let normal = with(&sigmas, "/tolerance/resonant_inductance/shape", json!("normal"));
    assert!(is_read(&normal) && VALIDATOR.is_valid(&normal));
}

/// Every key tells its meaning, for the editor that shows it.
#[test]
fn every_key_of_the_schema_tells_its_meaning() {
    let document = document(&complete());
    for place in places(&document, "").into_iter().skip(1) {
        if place.rsplit('/').next().unwrap().parse::<usize>().is_err() {
            let meaning = schema_at(&place)["description"].as_str();
            assert!(meaning.is_some_and(|m| m.len() > 10 && m.ends_with('.')), "{place}");
        }
    }
}

#[test]
fn the_summary_schema_is_printed_and_holds_for_check() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let schema: Value = serde_json::from_str(&succeed(folder.path(), "schema summary")).unwrap();
    jsonschema::meta::validate(&schema).unwrap_or_else(|e| panic!("{e}"));
    let validator = jsonschema::validator_for(&schema).unwrap();
    let summary = succeed(folder.path(), "check shelf.toml --json");
    let summary: Value = serde_json::from_str(&summary).unwrap();
    validator.validate(&summary).unwrap_or_else(|e| panic!("{e}"));
    let said = fairphase(folder.path(), "schema summary --form markdown");
    assert_eq!((said.status, said.stdout.as_str()), (2, ""));
    assert!(said.stderr.contains("leave out --form"), "{}", said.stderr);
}

/// What the reference of scenarios says.
fn reference() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/README.md");
    fs::read_to_string(path).unwrap()
}

#[test]
fn the_reference_of_scenarios_is_what_the_program_prints() {
    let folder = folder_with(&[]);
    let printed = succeed(folder.path(), "schema scenario --form markdown");
    let reference = reference();
    let begin = "<!-- from here: fairphase schema scenario --form markdown -->\n\n";
    let (_, rest) = reference.split_once(begin).unwrap();
    let (committed, _) = rest.split_once("\n<!-- to here -->").unwrap();
    assert!(
        committed == printed,
        "print the tables again, and put them into scenarios/README.md:\n{printed}"
    );
}

#[test]
fn the_reference_names_every_scenario() {
    let reference = reference();
    for (path, _) in scenarios() {
        let name = Path::new(&path).file_name().unwrap().to_str().unwrap();
        assert!(reference.contains(&format!("[{name}]({name})")), "{name}");
    }
}

/// The headers of CSV files stand in the reference as the program takes them.
#[test]
fn files_with_the_headers_of_the_reference_are_read() {
    let reference = reference();
    let header = |first: &str| {
        let line = reference.lines().find(|line| line.starts_with(first));
        line.unwrap_or_else(|| panic!("no header {first}")).to_owned()
    };
    let rows = |header: &str, keys: &[&str]| {
        let commas = header.matches(',').count() - keys[0].matches(',').count();
        let row = |key: &&str| format!("\n{key}{}", ",".repeat(commas));
        format!("{header}{}\n", keys.iter().map(row).collect::<String>())
    };
    let parts = rows(&header("unit,phase,"), &["a,1", "a,2", "a,3"]);
    let tanks = rows(&header("serial,resonant_inductance_H"), &["t1", "t2", "t3"]);
    let capacitors = rows(&header("serial,flying_capacitance_F"), &["c1", "c2", "c3", "c4"]);
    let scenario = format!("{}/scenarios/seabed-node.toml", env!("CARGO_MANIFEST_DIR"));
    let folder = folder_with(&[
        ("parts.csv", &parts),
        ("tanks.csv", &tanks),
        ("capacitors.csv", &capacitors),
    ]);
    succeed(folder.path(), &format!("units {scenario} --parts parts.csv --out units"));
    let stock = "--stock tanks.csv --capacitors capacitors.csv";
    let sampled = "--samples 450 --solver averaged --out grades";
    succeed(folder.path(), &format!("grades {scenario} {stock} {sampled}"));
}
