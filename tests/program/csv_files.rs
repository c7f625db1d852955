//! CSV files as test rooms and spreadsheets write them: read where only one meaning is possible, with a
//! word on how, and refused with place and remedy where not. All data are invented.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::format_collect,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test"
)]

use std::fs;
use std::path::Path;

use fairphase::population::parts_file::{self, PartsFrame};
use fairphase::scenario::Scenario;
use proptest::prelude::*;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, json, succeed};

const HEADER: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,\
flying_capacitance_F,flying_capacitance_return_leg_F\n";

/// One converter of the shelf, in the plain form.
const ROWS: &str = "A,1,4.61e-6,250e-9,2.3e-5,2.41,0.031,0.71,5.1e-5,\n\
                    A,2,4.5e-6,,,,,,5e-5,\nA,3,,,,,,,,\n";

fn plain() -> String {
    format!("{HEADER}{ROWS}")
}

/// What `units` says of a file, and the table that it writes.
fn units(parts: impl AsRef<[u8]>) -> (i32, String, String) {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    fs::write(folder.path().join("parts.csv"), parts).unwrap();
    let arguments = "units shelf.toml --parts parts.csv --solver averaged --out out";
    let said = fairphase(folder.path(), arguments);
    let table = fs::read_to_string(folder.path().join("out/units.csv")).unwrap_or_default();
    (said.status, said.stderr, table)
}

/// The file is read as the plain one is; `note` is what is said of it, nothing where it is empty.
#[track_caller]
fn reads_the_same(parts: &str, note: &str) {
    let (status, said, table) = units(parts);
    assert_eq!(status, 0, "{said}");
    let note = if note.is_empty() { String::new() } else { format!("note: parts.csv: {note}\n") };
    assert_eq!(said, note);
    assert!(table == units(plain()).2, "{table}");
}

#[track_caller]
fn refused(parts: impl AsRef<[u8]>, place: &str, words: &[&str]) {
    let (status, said, table) = units(parts);
    assert_eq!((status, table.as_str()), (2, ""), "{said}");
    assert!(said.contains(&format!("parts.csv:{place}\n")), "{place}:\n{said}");
    for word in words {
        assert!(said.contains(word), "`{word}` is missing:\n{said}");
    }
}

#[test]
fn separators_and_decimal_signs() {
    let semicolons = plain().replace(',', ";");
    let read = "read with semicolons between the cells";
    reads_the_same(&semicolons, read);
    reads_the_same(&format!("sep=;\r\n{}", semicolons.replace('\n', "\r\n")), read);
    reads_the_same(&format!("SEP=,\n{}", plain()), "");
    reads_the_same(&format!("\"sep=;\"\r\n{semicolons}"), read);
    reads_the_same(&format!("sep=;,,,\n{semicolons}"), read);
    let commas = semicolons.replace('.', ",");
    reads_the_same(&commas, &format!("{read} and decimal commas"));
    let tabs = commas.replace(';', "\t");
    let read = "read with tabs between the cells and decimal commas";
    reads_the_same(&tabs, read);
    reads_the_same(&format!("sep=\t\n{tabs}"), read);
    let quoted = plain().replace("4.61e-6", "\"4,61e-6\"").replace("4.5e-6", "\"4,5e-6\"");
    let quoted = quoted.replace("2.3e-5", "23e-6").replace("2.41", "\"2,41\"");
    let quoted = quoted.replace("0.031", "\"0,031\"").replace("0.71", "\"0,71\"");
    let quoted = quoted.replace("5.1e-5", "\"51e-6\"");
    reads_the_same(&quoted, "read with decimal commas");
}

#[test]
fn marks_empty_rows_and_trailing_separators() {
    reads_the_same(&format!("\u{feff}{}", plain().replace('\n', "\r\n")), "");
    let trailing: String = plain().lines().map(|line| format!("{line},,,\n")).collect();
    reads_the_same(&trailing, "");
    reads_the_same(&plain().replace("A,2", "\n,,,,,,,,,\n  \n,,\nA,2"), "");
    reads_the_same(&plain().replace(',', " , "), "");
    let shouted = HEADER.to_uppercase().replace("_OHM", "_ohm");
    reads_the_same(&format!("{shouted}{ROWS}"), "");
}

#[test]
fn columns_in_any_order_with_others_between() {
    let shuffled: String = plain()
        .lines()
        .enumerate()
        .map(|(k, line)| {
            let cells: Vec<&str> = line.split(',').collect();
            let (remark, date) = if k == 0 { ("remark", "Date") } else { ("fine, so far", "4.5.") };
            let rest = cells[2..].iter().rev().copied().collect::<Vec<_>>().join(",");
            format!("\"{remark}\",{rest},{date},{},{}\n", cells[1], cells[0])
        })
        .collect();
    reads_the_same(&shuffled, "read without the columns `remark`, `Date`");
}

#[test]
fn units_in_the_header_and_in_cells() {
    let header = "Unit;Phase;Resonant inductance (µH);resonant_capacitance [nF];\
                  magnetising-inductance / uH;turns ratio (-);Series_Resistance_mOhm;\
                  rectifier drop in V;FLYING_CAPACITANCE_UF;flying_capacitance_return_leg_F\n";
    let rows = "A;1;4,61;250;23;2,41;31;0,71;51;\nA;2;4,50;;;;;;50;\nA;3;;;;;;;;\n";
    let note = "read with semicolons between the cells and decimal commas; resonant_inductance in \
                µH; resonant_capacitance in nF; magnetising_inductance in uH; series_resistance in \
                mOhm; flying_capacitance in UF";
    reads_the_same(&format!("{header}{rows}"), note);
    let cells = plain().replace("4.61e-6", "4.61 µH").replace("250e-9", "0.25uF");
    reads_the_same(&cells, "read with 2 cells in their own unit");
    let bare = plain().replace("resonant_inductance_H", "resonant_inductance");
    let with_units = bare.replace("4.61e-6", "4.61 µH").replace("4.5e-6", "4500 nH");
    reads_the_same(&with_units, "read with 2 cells in their own unit");
    refused(&bare, "1:12", &["`resonant_inductance` has no unit", "resonant_inductance_H"]);
    let wrong = plain().replace("resonant_inductance_H", "resonant_inductance (nF)");
    refused(&wrong, "1:12", &["has the wrong unit", "an inductance such as H"]);
    let strange = plain().replace("resonant_inductance_H", "resonant_inductance [Oe]");
    refused(&strange, "1:12", &["has the unknown unit `Oe`"]);
    let either = plain().replace("series_resistance_ohm", "series_resistance_MOHM");
    refused(&either, "1:94", &["mohm (milli)", "Mohm (mega)"]);
    refused(plain().replace("4.61e-6", "4.61 nF"), "2:5", &["has the wrong unit"]);
    refused(plain().replace("2.41", "2.41 V"), "2:27", &["unknown unit `V`"]);
}

#[test]
fn what_may_mean_two_things_is_refused() {
    let semicolons = plain().replace(',', ";");
    let open = "A;1;;;;2,412;;;;\nA;2;;;;2,398;;;;\nA;3;;;;;;;;\n";
    let header = HEADER.replace(',', ";");
    refused(format!("{header}{open}"), "2:8", &["`2,412` may be 2.412 or 2412", "write 2.412"]);
    // Another number of the same file decides.
    let decided = format!("{header}{}", open.replace("A;3;;;;", "A;3;;;;2,4"));
    let (status, said, _) = units(decided);
    assert_eq!((status, said.contains("decimal commas")), (0, true), "{said}");
    let mixed = semicolons.replace("4.61e-6", "4,61e-6");
    refused(mixed, "2:20", &["`2.3e-5` has another decimal sign than `4,61e-6`"]);
    refused(semicolons.replace("2.41", "2.400,5"), "2:27", &["more than one point or comma"]);
    refused(plain().replace("2.41", "\"2,400.5\""), "2:27", &["more than one point or comma"]);
    refused(plain().replace("2.41", "2 41"), "2:27", &["more than one number"]);
    // Decimal commas between commas make a row too long.
    let words = ["12 cells instead of 10", "are the decimals after a comma", "semicolons"];
    refused(plain().replace("A,3,,,,,,,,", "A,3,4,61e-6,,,,,,,0,5"), "4:19", &words);
    refused("unit,x;phase;y\n", "1:1", &["two separators", "sep=;"]);
    refused(format!("sep=|\n{}", plain()), "1:5", &["separator is not known"]);
    let twice = plain().replace("turns_ratio", "resonant_inductance (nH)");
    refused(twice, "1:82", &["a second column `resonant_inductance_H`"]);
    refused(plain().replace("A,2,", "a,2,"), "3:1", &["differs from `A`", "upper and lower case"]);
    refused(plain().replace("A,3", "\"A,3"), "4:1", &["quote is never closed"]);
    let line = plain().replace("A,3", "\"A\nB\",3");
    refused(line, "4:1", &["holds the character \\u{a}"]);
}

/// An error shows the cell, and never a whole header.
#[test]
fn errors_show_the_cell() {
    let colons = plain().replace(',', ":");
    let (status, said, _) = units(colons);
    assert_eq!(status, 2);
    let message = said.lines().find(|line| line.starts_with("error")).unwrap();
    assert!(message.chars().count() < 90, "{message}");
    let spelt = plain().replace("turns_ratio", "turns_ration");
    refused(spelt, "1:82", &["`turns_ration` is not known", "expected the column `turns_ratio`"]);
    let without = plain().replace(",turns_ratio", "").replace(",2.41", "");
    refused(without, "1:173", &["lacks the column `turns_ratio`"]);
    // All at once.
    let many = plain().replace("4.61e-6", "x").replace("250e-9", "-1").replace("5e-5", "y");
    let (_, said, _) = units(many);
    assert_eq!(said.matches("error: ").count(), 3, "{said}");
}

/// A slip of units is wrong by 1000 or more: both verbs refuse it, in the same words.
#[test]
fn a_slip_of_units_is_refused_by_all_verbs() {
    let slip = plain().replace("4.61e-6", "4.61");
    let words = [
        "`4.61` in the column `resonant_inductance_H` is too far from",
        "expected a plain number in henry",
        "in µH it would be near: is the unit right?",
    ];
    refused(slip, "2:5", &words);
    refused(
        plain().replace("0.031", "31"),
        "2:32",
        &["in ohm, near 30 mΩ", "in mΩ it would be near"],
    );
    // Mismatched on purpose, by ten.
    let (status, said, _) = units(plain().replace("4.61e-6", "46.1e-6"));
    assert_eq!((status, said.as_str()), (0, ""));
    let stock = "serial,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,\
                 turns_ratio,series_resistance_ohm,rectifier_drop_V\nT1,4.61,,,,,\n";
    let folder = folder_with(&[("node.toml", NODE), ("tanks.csv", stock)]);
    let said = fairphase(folder.path(), "grades node.toml --stock tanks.csv --out out");
    assert_eq!(said.status, 2);
    for word in words {
        assert!(said.stderr.contains(word), "{word}:\n{}", said.stderr);
    }
}

/// A column in milliohm or millivolt whose cells hold ohm or volt, and values that no prefix explains.
#[test]
fn plain_numbers_far_from_nominal_are_refused() {
    let milliohm = plain().replace("resistance_ohm", "resistance_mohm");
    let words = ["`0.031` in the column", "too far from 30 mΩ", "in mohm, near 30 mΩ"];
    refused(&milliohm, "2:32", &words);
    refused(&milliohm, "2:32", &["write it with its unit: 0.031 mohm"]);
    let millivolt = plain().replace("drop_V", "drop_mV");
    refused(millivolt, "2:38", &["too far from 700 mV", "in V it would be near"]);
    let far = plain().replace("4.61e-6", "10.1");
    refused(far, "2:5", &["too far from 4.56 µH", "is the unit right? If it is meant"]);
    refused(plain().replace("2.41", "2.41e6"), "2:27", &["too far from 2.4\n"]);
    // On purpose: no prefix explains these, and parts may be almost without loss.
    for taken in ["1e-9", "0.94", "0"] {
        let (status, said, _) = units(plain().replace("0.031", taken));
        assert_eq!((status, said.as_str()), (0, ""), "{taken}");
    }
    for taken in ["30 ohm", "0.031 mohm", "30Ω"] {
        let (status, said, _) = units(plain().replace("0.031", taken));
        assert_eq!((status, said.contains("1 cell in its own unit")), (0, true), "{said}");
    }
    let (status, said, _) = units(plain().replace("5.1e-5", "49 nF"));
    assert_eq!((status, said.contains("1 cell in its own unit")), (0, true), "{said}");
    refused(plain().replace("5.1e-5", "-49 nF"), "2:43", &["is out of range"]);
}

/// Serials that look the same must not differ.
#[test]
fn characters_that_do_not_show_are_refused() {
    for hidden in
        ['\u{200b}', '\u{200c}', '\u{2060}', '\u{feff}', '\u{ad}', '\u{e0041}', '\u{180e}']
    {
        let code = hidden.escape_unicode().to_string();
        refused(plain().replace("A,2", &format!("A{hidden},2")), "3:2", &[&code]);
    }
    refused(plain().replace("A,2", "A\u{fe0f},2"), "3:1", &["\\u{fe0f}", "do not show"]);
}

#[test]
fn phases_with_decimals_are_read() {
    reads_the_same(&plain().replace("A,2", "A,2.0"), "");
    let semicolons = plain().replace(',', ";").replace('.', ",").replace("A;2", "A;2,0");
    reads_the_same(&semicolons, "read with semicolons between the cells and decimal commas");
    refused(plain().replace("A,2", "A,2.5"), "3:3", &["no phase `2.5`"]);
    refused(plain().replace("A,2", "A,2.000"), "3:3", &["no phase `2.000`"]);
}

#[test]
fn rows_around_the_header() {
    let words = ["the first row is not the header", "in line 2: remove what stands above it"];
    refused(format!("Measured in May,,,\n{}", plain()), "1:1", &words);
    refused(format!("# by hand\n{}", plain()), "1:1", &words);
    let words = ["the first row is not the header", "commas, semicolons or tabs"];
    refused(plain().replace(',', "|"), "1:1", &words);
    let row = plain().replacen('\n', "\n,,(H),F,H,-,ohm,V,F,F\n", 1);
    refused(&row, "2:1", &["this row holds units of measurement", "remove this row"]);
    assert!(!units(row).1.contains("names no unit"));
}

#[test]
fn text_after_a_closed_quote_is_refused() {
    for cell in ["\"4\".61e-6", "\"4.61e-6\" \"x\"", "\"4.61\"e-6"] {
        let (status, said, _) = units(plain().replace("4.61e-6", cell));
        let is_told = said.contains("parts.csv:2:") && said.contains("text follows a closed quote");
        assert!(status == 2 && is_told, "{said}");
    }
    reads_the_same(&plain().replace("4.61e-6", "\"4.61e-6\" "), "");
}

/// Messages stay short, however long a cell is.
#[test]
fn long_cells_are_cut_in_messages() {
    let long = "x".repeat(100_000);
    for cell in ["4.61e-6", "A,2", "2.41", "1,4.61"] {
        let parts = plain().replace(cell, &cell.replace(['A', '4', '2', '1'], &long));
        let (status, said, _) = units(parts);
        assert_eq!(status, 2);
        assert!(said.len() < 8_000, "{}", said.len());
    }
    let (status, said, _) = units(format!("{long}\n"));
    assert!(status == 2 && said.len() < 2_000, "{}", said.len());
}

#[test]
fn files_that_are_no_text() {
    let wide: Vec<u8> = plain().encode_utf16().flat_map(u16::to_le_bytes).collect();
    refused([&[0xff, 0xfe], &wide[..]].concat(), "1:1", &["UTF-16", "encoding UTF-8"]);
    refused(&wide, "1:2", &["holds the character \\u{0}", "encoding UTF-8"]);
    refused(plain().replace("A,2", "A\u{1b}[31m,2"), "3:2", &["holds the character \\u{1b}"]);
    refused(plain().replace("A,2", "A\u{202e},2"), "3:2", &["holds the character \\u{202e}"]);
    let latin: Vec<u8> =
        plain().replace("_inductance_H,res", " (µH),res").chars().map(|c| c as u8).collect();
    refused(latin, "1:22", &["not UTF-8"]);
}

const NODE: &str = include_str!("../../scenarios/seabed-node.toml");
const TANKS: &str = include_str!("../../scenarios/seabed-node-tanks.csv");

/// What a spreadsheet would take for a formula is escaped in the build list, and read back.
#[test]
fn serials_like_formulas_go_round() {
    let tanks: String = TANKS.lines().take(4).map(|line| format!("{line}\n")).collect();
    let tanks = changed(&changed(&tanks, "T001", "=1+1"), "T002", "@T2");
    let run = |folder: &Path, tanks: &str, out: &str| {
        let options = "--samples 20 --solver averaged --quiet";
        succeed(folder, &format!("grades node.toml --stock {tanks} {options} --out {out}"));
        let tanks = |file: &str| {
            let list = fs::read_to_string(folder.join(out).join(file)).unwrap();
            let rows: Vec<String> = list.lines().skip(1).map(str::to_owned).collect();
            rows.iter().map(|row| row.split(',').nth(10).unwrap().to_owned()).collect::<Vec<_>>()
        };
        [tanks("build_list.csv"), tanks("not_passing.csv")].concat()
    };
    let folder = folder_with(&[("node.toml", NODE), ("tanks.csv", &tanks)]);
    let mut built = run(folder.path(), "tanks.csv", "a");
    built.sort();
    assert_eq!(built, ["'=1+1", "'@T2", "T003"]);
    // The same stock, with the serials as the build list has them.
    let escaped = changed(&changed(&tanks, "=1+1", "'=1+1"), "@T2", "'@T2");
    fs::write(folder.path().join("escaped.csv"), escaped).unwrap();
    run(folder.path(), "escaped.csv", "b");
    for file in ["build_list.csv", "not_passing.csv", "grades.csv"] {
        let text = |out: &str| fs::read_to_string(folder.path().join(out).join(file)).unwrap();
        assert_eq!(text("a"), text("b"), "{file}");
    }
}

/// Terminal, page and summary say how a file was read.
#[test]
fn how_a_file_was_read_is_said_everywhere() {
    let semicolons = TANKS.replace(',', ";");
    let folder = folder_with(&[
        ("shelf.toml", SHELF),
        ("parts.csv", &plain().replace(',', ";")),
        ("node.toml", NODE),
        ("tanks.csv", &semicolons),
    ]);
    let how = "with semicolons between the cells";
    let units = "units shelf.toml --parts parts.csv --solver averaged --out units";
    let grades = "grades node.toml --samples 20 --solver averaged --stock tanks.csv --out grades";
    for (arguments, out, file) in [(units, "units", "parts.csv"), (grades, "grades", "tanks.csv")] {
        let said = fairphase(folder.path(), arguments);
        let note = format!("note: {file}: read {how}\n");
        assert_eq!(said.status, 0);
        assert!(said.stderr.contains(&note), "{}", said.stderr);
        let page = fs::read_to_string(folder.path().join(out).join("report.html")).unwrap();
        assert!(page.contains(&format!("{file} was read {how}.")), "{out}");
        succeed(folder.path(), &format!("{arguments} --quiet"));
    }
    let summary = json(&folder.path().join("units/summary.json"));
    assert_eq!(summary["parts_read_as"], how);
    let summary = json(&folder.path().join("grades/summary.json"));
    assert_eq!(summary["allocation"]["tanks_read_as"], how);
    assert_eq!(summary["allocation"]["capacitors_read_as"], serde_json::Value::Null);
    assert_eq!(entries(folder.path()).len(), 6);
}

/// Bytes that a CSV file may hold, and others.
fn noise() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        Just(HEADER.as_bytes().to_vec()),
        Just(HEADER.replace(',', ";").into_bytes()),
        prop::sample::select(vec![
            "A", "1", "2", "3", ",", ";", "\t", "\n", "\r\n", "\"", "sep=;\n", "4,61", "4.61e-6",
            " µH", "unit", "phase", "'=", "\u{feff}", "\u{0}", "1,234", "e", "-", "nan",
        ])
        .prop_map(|text| text.as_bytes().to_vec()),
        prop::collection::vec(any::<u8>(), 0..8),
    ];
    prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Whatever the bytes: the program ends with status 0 or 2, and says where it is wrong.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in noise()) {
        let (status, said, _) = units(&bytes);
        prop_assert!(status == 0 || status == 2, "{}: {}", status, said);
        prop_assert!(status == 0 || said.contains("parts.csv:"), "{}", said);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3_000))]

    /// The same for the reader alone, often.
    #[test]
    fn any_text_is_read_or_refused(bytes in noise()) {
        let text = String::from_utf8_lossy(&bytes);
        let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
        let nominal = &scenario.nominal_converter();
        let frame = PartsFrame { nominal, operating_points: &scenario.operating_points };
        if let Err(errors) = parts_file::parse("parts.csv", &text, frame) {
            prop_assert!(!errors.errors().is_empty());
            prop_assert!(errors.to_string().contains("parts.csv:"));
        }
    }
}
