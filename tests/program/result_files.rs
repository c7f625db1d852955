//! `reports/README.md` names every result file, every column and every key, and no other.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeSet;
use std::fs;
use std::fs::File;
use std::path::Path;

use parquet::file::reader::{FileReader, SerializedFileReader};
use serde_json::Value;

use crate::support::{TELECOM, entries, folder_with, json, succeed};

const REFERENCE: &str = include_str!("../../reports/README.md");
const BANDS: &str = include_str!("../../scenarios/runway-lights.toml");
const GRADES: &str = include_str!("../../scenarios/seabed-node.toml");
const TANKS: &str = include_str!("../../scenarios/seabed-node-tanks.csv");
const SENSORS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
/// Invented: two nominal converters, with one measured current.
const PARTS: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,\
flying_capacitance_return_leg_F,operating_point,measured_rms_tank_current_A\n\
a,1,,,,,,,,,full load,11.4\na,2,,,,,,,,,,\na,3,,,,,,,,,,\nb,1,,,,,,,,,,\nb,2,,,,,,,,,,\nb,3,,,,,,,,,,\n";
const CORES: &str = include_str!("../../scenarios/incoming-transformers.csv");

/// Every verb with arguments that make it write all of its files, after those that it needs.
const VERBS: [(&str, &str); 10] = [
    ("run", "shelf.toml --samples 50"),
    ("units", "every.toml --parts parts.csv --over-load --waveforms waveforms.csv"),
    ("gain", "shelf.toml"),
    ("bands", "bands.toml --samples 700"),
    ("grades", "grades.toml --samples 100 --stock tanks.csv"),
    ("sensors", "sensors.toml --samples 100"),
    ("capacitors", "shelf.toml --samples 20"),
    ("faults", "shelf.toml --samples 50"),
    ("shapes", "cores.csv"),
    ("compare", "run run"),
];

/// The shelf with all that adds columns to the samples: losses told apart, and a limit on settling. Invented.
fn with_every_column() -> String {
    let losses = "[converter.losses]\non_resistance = \"8 mΩ\"\nprimary_winding_resistance = \"6 mΩ\"\n\
                  secondary_winding_resistance = \"1 mΩ\"\nrectifier_resistance = \"2 mΩ\"\n\
                  switch_thermal_resistance = \"3 K/W\"\nrectifier_thermal_resistance = \"4 K/W\"\n\n";
    let temperature = "temperature = \"45 °C\"\ndrive     =";
    TELECOM
        .replacen("[converter.frequency]", &format!("{losses}[converter.frequency]"), 1)
        .replacen("[limits]", "[limits]\nsettling_time = \"10 ms\"", 1)
        .replacen("drive     =", temperature, 4)
}

/// A folder with a subfolder for every verb that writes.
fn written() -> tempfile::TempDir {
    let priced = BANDS.find("[bands.price]").unwrap();
    let steps = format!("{}{}", &BANDS[..priced], &BANDS[BANDS.find("[run]").unwrap()..]);
    let folder = folder_with(&[
        ("steps.toml", &steps),
        ("shelf.toml", TELECOM),
        ("every.toml", &with_every_column()),
        ("parts.csv", PARTS),
        ("bands.toml", BANDS),
        ("grades.toml", GRADES),
        ("tanks.csv", TANKS),
        ("sensors.toml", SENSORS),
        ("cores.csv", CORES),
    ]);
    for (verb, arguments) in VERBS {
        // `shapes` solves nothing; loads of single parts need the exact solver.
        let solver = if matches!(verb, "shapes" | "run" | "units" | "compare") {
            ""
        } else {
            "--solver averaged"
        };
        let line = format!("{verb} {arguments} {solver} --quiet --out {verb}");
        succeed(folder.path(), &line);
    }
    let line = "run every.toml --samples 20 --no-explain --quiet --out every";
    succeed(folder.path(), line);
    // Without prices `bands` gives a set that can be ordered.
    let line = "bands steps.toml --samples 700 --solver averaged --quiet --out steps";
    succeed(folder.path(), line);
    let line = "run shelf.toml --samples 200 --shard 1/2 --no-explain --quiet --out part";
    succeed(folder.path(), line);
    let check = succeed(folder.path(), "check shelf.toml --json");
    fs::create_dir(folder.path().join("check")).unwrap();
    fs::write(folder.path().join("check/summary.json"), check).unwrap();
    folder
}

/// The lines under a heading.
fn section<'a>(text: &'a str, heading: &str) -> impl Iterator<Item = &'a str> {
    let lines = text.lines().skip_while(move |line| *line != heading);
    assert!(text.lines().any(|line| line == heading), "no heading {heading}");
    lines.skip(1).take_while(|line| !line.starts_with('#'))
}

/// Cells of a table's rows, without its head.
fn rows<'a>(lines: impl Iterator<Item = &'a str>) -> impl Iterator<Item = Vec<&'a str>> {
    let cells = lines.filter(|line| line.starts_with('|'));
    let cells = cells.map(|line| line.split('|').skip(1).map(str::trim).collect::<Vec<_>>());
    cells.skip(2)
}

/// Names in backticks in the first column of every table under a heading.
fn names_by_table(text: &str, heading: &str) -> Vec<Vec<String>> {
    let lines: Vec<&str> = section(text, heading).collect();
    let tables = lines.split(|line| !line.starts_with('|')).filter(|rows| !rows.is_empty());
    let named = |table: &[&str]| {
        let first = |cells: Vec<&str>| cells[0].trim_matches('`').to_owned();
        rows(table.iter().copied()).map(first).collect()
    };
    tables.map(named).collect()
}

/// Those of the first table under a heading.
fn names(text: &str, heading: &str) -> Vec<String> {
    let mut tables = names_by_table(text, heading).into_iter();
    tables.next().unwrap_or_else(|| panic!("no table under {heading}"))
}

#[test]
fn every_file_column_and_key_is_described() {
    let folder = written();
    check_files(folder.path());
    check_columns(folder.path());
    check_keys(folder.path());
    check_pages(folder.path());
    check_sentences(folder.path());
}

/// Elements within a paragraph: their tags end no block of text.
const INLINE: [&str; 8] = ["a", "abbr", "b", "code", "em", "span", "sub", "sup"];
/// Most words of a sentence; 25 are the aim.
const WORDS: usize = 30;

/// Blocks of a page's text: what stands between tags that are not inline, without style, drawings and
/// formulas.
fn text_blocks(page: &str) -> Vec<String> {
    let mut blocks = vec![String::new()];
    let mut skipped: Option<&str> = None;
    for part in page.split('<').skip(1) {
        let (tag, text) = part.split_once('>').unwrap_or((part, ""));
        let name = tag.trim_start_matches('/').split([' ', '/']).next().unwrap();
        match skipped {
            Some(outer) if tag.strip_prefix('/') == Some(outer) => skipped = None,
            Some(_) => continue,
            None if ["style", "script", "svg", "pre"].contains(&name) => skipped = Some(name),
            None => {}
        }
        if !INLINE.contains(&name) {
            blocks.push(String::new());
        }
        if skipped.is_none() {
            blocks.last_mut().unwrap().push_str(text);
        }
    }
    blocks
}

/// Sentences of a text with too many words. A number and its unit are one word.
fn long_sentences(block: &str) -> Vec<String> {
    let words: Vec<&str> = block
        .split(|c: char| c.is_whitespace() && c != '\u{a0}')
        .filter(|w| !w.is_empty())
        .collect();
    let sentences = words
        .split_inclusive(|word| word.trim_end_matches(['”', ')', '"']).ends_with(['.', '?', '!']));
    sentences.filter(|words| words.len() > WORDS).map(|words| words.join(" ")).collect()
}

fn check_sentences(folder: &Path) {
    for verb in VERBS.map(|(verb, _)| verb).into_iter().chain(["steps"]) {
        let page = fs::read_to_string(folder.join(verb).join("report.html")).unwrap();
        let blocks = text_blocks(&page);
        assert!(
            blocks.iter().filter(|block| block.ends_with('.')).count() > 5,
            "{verb}: sentences"
        );
        let long: Vec<String> = blocks.iter().flat_map(|block| long_sentences(block)).collect();
        assert!(long.is_empty(), "page of {verb}: {long:#?}");
    }
    let page = "<p>one <b>two</b> three</p><svg><text>no</text></svg><td>a</td>";
    let blocks: Vec<String> = text_blocks(page).into_iter().filter(|b| !b.is_empty()).collect();
    assert_eq!(blocks, ["one two three", "a"]);
    let (long, short) = ("word ".repeat(WORDS), "word ".repeat(WORDS - 1));
    assert_eq!(long_sentences(&format!("{long}end. {short}end.")).len(), 1);
}

/// Names of sections that a description begins its items with, `- **Name** and **Other** tell …`.
fn described_sections(heading: &str) -> Vec<String> {
    let items = section(REFERENCE, heading).filter(|line| line.starts_with("- **"));
    items.flat_map(|line| line.split("**").skip(1).step_by(2).map(str::to_owned)).collect()
}

/// Sections of a page, by their headings.
fn sections(page: &str) -> Vec<String> {
    // The answer of a brief is a sentence, not the name of a section.
    let headings = page.split("<h2").skip(1).filter(|rest| !rest.starts_with(" id=\"answer\""));
    let headings = headings.filter_map(|rest| rest.split_once('>'));
    let texts = headings.filter_map(|(_, rest)| rest.split_once("</h2>"));
    texts.map(|(text, _)| text.to_owned()).collect()
}

/// Cells within cells of a page: a browser closes the outer one and shifts the row. A page leaves out the end
/// of a cell where the next one begins or its row ends; of a cell within another it stays.
fn nested_cells(page: &str) -> usize {
    page.matches("</td>").count() + page.matches("</th>").count()
}

#[test]
fn cells_within_cells_are_seen() {
    assert_eq!(nested_cells("<tr><th scope=\"row\">a<td>1</table>"), 0);
    assert_eq!(nested_cells("<tr><td><th class=\"x\">a</th></table>"), 1);
}

/// Every section of a page is described, but for those of operating points, and no other.
fn check_pages(folder: &Path) {
    for verb in VERBS.map(|(verb, _)| verb).into_iter().chain(["steps"]) {
        let page = fs::read_to_string(folder.join(verb).join("report.html")).unwrap();
        assert_eq!(nested_cells(&page), 0, "{verb}");
    }
    let common = described_sections("## Sections of several pages");
    for (verb, _) in VERBS {
        let page = |of: &str| fs::read_to_string(folder.join(of).join("report.html")).unwrap();
        let pages = [Some(verb), (verb == "bands").then_some("steps")];
        let points = TELECOM.split("name = \"").skip(1).filter_map(|rest| rest.split('"').next());
        let points: Vec<&str> = points.collect();
        let found: BTreeSet<String> = pages
            .into_iter()
            .flatten()
            .flat_map(|of| sections(&page(of)))
            .filter(|name| !common.contains(name) && !points.contains(&name.as_str()))
            .collect();
        let found: Vec<String> = found.into_iter().collect();
        let wrong = differences(&described_sections(&format!("## The page of `{verb}`")), &found);
        assert!(wrong.is_empty(), "page of {verb}: {wrong:?}");
    }
}

fn check_files(folder: &Path) {
    let described: Vec<(String, String)> = rows(section(REFERENCE, "## Files"))
        .map(|cells| (cells[0].trim_matches('`').to_owned(), cells[1].replace('`', "")))
        .collect();
    for (verb, _) in VERBS {
        let writes = |verbs: &str| {
            let mut named = verbs.split(", ").map(|name| name.split(' ').next().unwrap());
            verbs == "all but check" || named.any(|name| name == verb)
        };
        let mut expected: Vec<String> =
            described.iter().filter(|(_, verbs)| writes(verbs)).map(|(f, _)| f.clone()).collect();
        expected.sort();
        assert_eq!(entries(&folder.join(verb)), expected, "{verb}");
    }
    let of_parts = described.iter().filter(|(_, verbs)| verbs == "with --shard");
    let of_parts: Vec<&str> = of_parts.map(|(file, _)| file.as_str()).collect();
    assert_eq!(of_parts, ["tallies.bin"]);
    let expected = ["samples.parquet", "summary.json", "tallies.bin"];
    assert_eq!(entries(&folder.join("part")), expected);
}

/// Columns of a file of either kind, in its order.
fn columns(file: &Path) -> Vec<String> {
    if file.extension().unwrap() == "csv" {
        let mut reader = csv::Reader::from_path(file).unwrap();
        return reader.headers().unwrap().iter().map(str::to_owned).collect();
    }
    let reader = SerializedFileReader::new(File::open(file).unwrap()).unwrap();
    let schema = reader.metadata().file_metadata().schema_descr_ptr();
    schema.columns().iter().map(|column| column.name().to_owned()).collect()
}

/// Whether a column fits a described name; `<k>` and `<m>` stand for a number, others for words.
fn fits(name: &str, column: &str) -> bool {
    let Some((before, rest)) = name.split_once('<') else { return name == column };
    let (placeholder, after) = rest.rsplit_once('>').unwrap();
    let middle = column.strip_prefix(before).and_then(|rest| rest.strip_suffix(after));
    middle.is_some_and(|text| {
        let is_number = text.chars().all(|c| c.is_ascii_digit());
        !text.is_empty() && is_number == matches!(placeholder, "k" | "m")
    })
}

/// The described name of a column, first by its own name.
fn described<'a>(names: &'a [String], column: &str) -> Option<&'a String> {
    let itself = names.iter().find(|name| *name == column);
    itself.or_else(|| names.iter().find(|name| fits(name, column)))
}

/// What is wrong in a description of columns.
fn differences(names: &[String], columns: &[String]) -> Vec<String> {
    let mut wrong = Vec::new();
    let fitting: Vec<_> = columns.iter().map(|column| described(names, column)).collect();
    let strange = columns.iter().zip(&fitting).filter(|(_, name)| name.is_none());
    wrong.extend(strange.map(|(column, _)| format!("{column} is not described")));
    let unused = names.iter().filter(|name| !fitting.contains(&Some(name)));
    wrong.extend(unused.map(|name| format!("{name} is described but not there")));
    wrong
}

fn check_columns(folder: &Path) {
    let files = [
        "run/samples.parquet",
        "run/population.parquet",
        "run/worst_converters.csv",
        "run/ratings.csv",
        "gain/gain.csv",
        "capacitors/capacitors.csv",
        "units/units.csv",
        "units/unit_ratings.csv",
        "units/unit_losses.csv",
        "units/commutation.csv",
        "units/over_load.csv",
        "grades/grades.csv",
        "grades/build_list.csv",
        "grades/not_passing.csv",
        "faults/faults.csv",
        "compare/comparison.csv",
    ];
    for file in files {
        let name = file.split('/').nth(1).unwrap();
        let wrong =
            differences(&names(REFERENCE, &format!("### {name}")), &columns(&folder.join(file)));
        assert!(wrong.is_empty(), "{name}: {wrong:?}");
    }
    let (named, there) =
        (names(REFERENCE, "### Waveforms"), columns(&folder.join("waveforms.csv")));
    assert!(differences(&named, &there).is_empty(), "{named:?} {there:?}");
    // Further tables describe what some scenarios add.
    for name in ["samples.parquet", "population.parquet"] {
        let names = names_by_table(REFERENCE, &format!("### {name}")).concat();
        let wrong = differences(&names, &columns(&folder.join("every").join(name)));
        assert!(wrong.is_empty(), "{name} with all columns: {wrong:?}");
    }
}

fn check_keys(folder: &Path) {
    let common = names(REFERENCE, "## summary.json");
    for verb in VERBS.map(|(verb, _)| verb).into_iter().chain(["check"]) {
        let summary = json(&folder.join(verb).join("summary.json"));
        let keys = summary.as_object().unwrap().keys();
        let keys: Vec<String> = keys.filter(|key| !common.contains(key)).cloned().collect();
        let wrong = differences(&names(REFERENCE, &format!("### Keys of `{verb}`")), &keys);
        assert!(wrong.is_empty(), "{verb}: {wrong:?}");
    }
    let part = json(&folder.join("part/summary.json"));
    let keys = part.as_object().unwrap().keys();
    let keys: Vec<String> = keys.filter(|key| !common.contains(key)).cloned().collect();
    let wrong = differences(&names(REFERENCE, "### Keys of `run --shard`"), &keys);
    assert!(wrong.is_empty(), "part: {wrong:?}");
}

#[test]
fn what_is_described_wrongly_is_seen() {
    let seen = differences(
        &["loss_W", "current_<k>_A", "gone"].map(str::to_owned),
        &["loss_W", "current_12_A", "new"].map(str::to_owned),
    );
    assert_eq!(seen, ["new is not described", "gone is described but not there"]);
}

/// The schemas of a key's value, through lists, maps, references and alternatives.
fn of_key<'a>(schema: &'a Value, whole: &'a Value, key: &str) -> Vec<&'a Value> {
    let Some(object) = schema.as_object() else { return Vec::new() };
    let mut found: Vec<&Value> = schema["properties"].get(key).into_iter().collect();
    for (name, value) in object {
        let inside: Vec<&Value> = match (name.as_str(), value) {
            ("$ref", Value::String(path)) => {
                whole.pointer(path.trim_start_matches('#')).into_iter().collect()
            }
            ("anyOf" | "oneOf" | "allOf" | "prefixItems", Value::Array(parts)) => {
                parts.iter().collect()
            }
            ("items" | "additionalProperties", part) => vec![part],
            _ => Vec::new(),
        };
        found.extend(inside.into_iter().flat_map(|part| of_key(part, whole, key)));
    }
    found
}

/// Whether the summary of a verb has a key at a path such as `cheapest.runs`.
fn has_path(schema: &Value, verb: &str, path: &str) -> bool {
    let verbs = schema["oneOf"].as_array().unwrap();
    let summary = verbs.iter().filter(|summary| summary["title"] == verb);
    let ends = path.split('.').fold(summary.collect(), |schemas: Vec<&Value>, key| {
        schemas.into_iter().flat_map(|part| of_key(part, schema, key)).collect()
    });
    !ends.is_empty()
}

#[test]
fn renamed_keys_are_those_of_the_schema() {
    let folder = folder_with(&[]);
    let schema: Value = serde_json::from_str(&succeed(folder.path(), "schema summary")).unwrap();
    let mut seen = 0;
    for cells in rows(section(REFERENCE, "## Keys renamed in schema version 2")) {
        let [verb, old, new] = [0, 1, 2].map(|column| cells[column].replace('`', ""));
        assert!(has_path(&schema, &verb, &new), "{verb}: {new} is not in the schema");
        assert!(!has_path(&schema, &verb, &old), "{verb}: {old} is in the schema still");
        seen += 1;
    }
    assert!(seen > 20, "the rows were read: {seen}");
    assert!(has_path(&schema, "run", "results.yield.lower") && !has_path(&schema, "run", "lower"));
}
