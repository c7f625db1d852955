//! What a wrong scenario file says: where it is wrong, what was expected, what to write instead.

use fairphase::input::diagnostics::{InputError, Position};
use fairphase::scenario::Scenario;
use proptest::prelude::*;
use proptest::sample::Index;

/// A valid scenario; the data in it are invented.
const SHELF: &str = include_str!("../data/shelf.toml");

const POSITIVE: &str = "above zero";
const INDUCTANCE: &str = "expected an inductance such as \"4.56 µH\"";

fn errors_of(text: &str) -> String {
    match Scenario::parse("shelf.toml", text) {
        Ok(_) => "accepted as a valid scenario".to_owned(),
        Err(errors) => errors.to_string(),
    }
}

/// The errors of the shelf scenario with `from` replaced by `to`.
#[track_caller]
fn errors_with(from: &str, to: &str) -> String {
    assert_eq!(SHELF.matches(from).count(), 1, "`{from}` must stand once in the scenario");
    errors_of(&SHELF.replace(from, to))
}

/// One wrong edit: what is replaced, by what, where the error points, and words of the message.
struct Case(&'static str, &'static str, &'static str, &'static [&'static str]);

#[track_caller]
fn check(cases: &[Case]) {
    for Case(from, to, place, words) in cases {
        let shown = errors_with(from, to);
        assert_eq!(shown.matches("error: ").count(), 1, "one error for {to:?}:\n{shown}");
        assert!(shown.contains(&format!("--> shelf.toml:{place}\n")), "{to:?}:\n{shown}");
        for word in *words {
            assert!(shown.contains(word), "{word:?} is missing for {to:?}:\n{shown}");
        }
    }
}

#[test]
fn a_bare_number_is_shown_with_its_line_and_a_caret() {
    let wanted = "\
error: the band of `resonant_inductance` is a bare number
  --> shelf.toml:31:9
   |
31 | band  = 5
   |         ^ expected a quantity such as \"5 %\"";
    assert_eq!(errors_with("band  = \"5 %\"", "band  = 5"), wanted);
}

#[test]
fn a_misspelt_key_is_unknown_and_missed() {
    let wanted = "\
error: [converter.tank] lacks `turns_ratio`
 --> shelf.toml:6:1
  |
6 | [converter.tank]                        # nominal, one phase
  | ^^^^^^^^^^^^^^^^ expected `turns_ratio`, a number above zero, such as 2.4

error: unknown key `turn_ratio` in [converter.tank]
  --> shelf.toml:10:1
   |
10 | turn_ratio = 2.4
   | ^^^^^^^^^^ expected `resonant_inductance`, `resonant_capacitance`, `magnetising_inductance`, \
`turns_ratio`, `series_resistance` or `rectifier_drop`
   |
   = help: did you mean `turns_ratio`?";
    let from = "turns_ratio            = 2.4            # primary : secondary";
    assert_eq!(errors_with(from, "turn_ratio = 2.4"), wanted);
}

#[test]
fn quantities() {
    check(&[
        Case(
            "\"4.56 µH\"",
            "4.56",
            "7:26",
            &["is a bare number", "a quantity such as \"4.56 µH\""],
        ),
        Case("\"4.56 µH\"", "4.56e-6", "7:26", &["is a bare number"]),
        Case("\"4.56 µH\"", "\"4.56\"", "7:26", &["has no unit", INDUCTANCE]),
        Case("\"4.56 µH\"", "\"\"", "7:26", &["is empty", INDUCTANCE]),
        Case(
            "\"4.56 µH\"",
            "\"247 nF\"",
            "7:26",
            &["has the wrong unit", INDUCTANCE, "found a capacitance (F)"],
        ),
        Case("\"4.56 µH\"", "\"4,56 µH\"", "7:26", &["decimal comma", "help", "\"4.56 µH\""]),
        Case("\"22.8 µH\"", "\"22.8 µh\"", "9:26", &["`µh`", "write \"22.8 µH\" (micro)"]),
        Case("\"300 kHz\"", "\"300 khz\"", "19:11", &["`khz`", "write \"300 kHz\" (kilo)"]),
        Case("\"300 kHz\"", "\"300 KHz\"", "19:11", &["`KHz`", "write \"300 kHz\" (kilo)"]),
        Case("\"4.56 µH\"", "nan", "7:26", &["is not a finite number", "4.56 µH"]),
        Case("\"4.56 µH\"", "-inf", "7:26", &["is not a finite number"]),
        Case("\"380 V\"", "\"nan V\"", "23:18", &["is not a finite number"]),
        Case("\"380 V\"", "\"inf V\"", "23:18", &["is not a finite number"]),
        Case("\"380 V\"", "\"1e999 V\"", "23:18", &["is too large", "at most 1e12 V"]),
        Case("\"380 V\"", "true", "23:18", &["is true or false", "expected a voltage"]),
        Case("\"380 V\"", "[1, 2]", "23:18", &["is an array"]),
        Case("\"380 V\"", "1979-05-27", "23:18", &["is a date or time"]),
        Case("\"380 V\"", "{ volts = 380 }", "23:18", &["is a table"]),
        Case(
            "\"380 V\"",
            "\"380 A\"",
            "23:18",
            &["the input voltage of operating point \"full load\""],
        ),
    ]);
}

#[test]
fn causes_of_a_drift() {
    const END: &str = "\"50 µF\"";
    check(&[
        Case(
            END,
            "\"50 µF\"\nneutral_split = \"5 V\"\n[converter.chain.drift]",
            "17:18",
            &["`neutral_split` and `drift` both tell the drift", "expected one of the two"],
        ),
        Case(
            END,
            "\"50 µF\"\n[converter.chain.drift]\nleakage_current = \"1 µA\"",
            "16:1",
            &["lacks `leakage_voltage`"],
        ),
        Case(
            END,
            "\"50 µF\"\n[converter.chain.drift]\nleast_switch_leakage_current = \"1 µA\"",
            "17:32",
            &["`least_switch_leakage_current` stands without `switch_leakage_current`"],
        ),
        Case(
            END,
            "\"50 µF\"\n[converter.chain.drift]\nleakage_current = \"1 µA\"\n\
             leakage_voltage = \"250 V\"\nleast_leakage_current = \"2 µA\"",
            "19:25",
            &["above `leakage_current`"],
        ),
        // One error: the voltage beside it is read all the same.
        Case(
            END,
            "\"50 µF\"\n[converter.chain.drift]\nleakage_current = \"-1 µA\"\n\
             leakage_voltage = \"250 V\"",
            "17:19",
            &["`leakage_current` is"],
        ),
        Case(
            END,
            "\"50 µF\"\n[converter.chain.drift]\nbalancing_tolerance = \"100 %\"",
            "17:23",
            &["below 100 %"],
        ),
    ]);
}

#[test]
fn ranges() {
    check(&[
        Case("\"4.56 µH\"", "\"0 µH\"", "7:26", &["is 0 µH", "an inductance above zero"]),
        Case("\"247 nF\"", "\"-247 nF\"", "8:26", &["is -247 nF", POSITIVE]),
        Case("\"22.8 µH\"", "\"0 H\"", "9:26", &[POSITIVE]),
        Case("= 2.4 ", "= 0 ", "10:26", &["`turns_ratio` is 0", POSITIVE]),
        Case("= 2.4 ", "= nan ", "10:26", &["is not a finite number", POSITIVE]),
        Case("= 2.4 ", "= 1e400 ", "10:26", &["is not a finite number"]),
        Case("= 2.4 ", "= \"12:5\" ", "10:26", &["is a text", "such as 2.4"]),
        Case("\"30 mΩ\"", "\"-30 mΩ\"", "11:26", &["a resistance of zero or more"]),
        Case("\"0.7 V\"", "\"-0.7 V\"", "12:26", &["a voltage of zero or more"]),
        Case("\"50 µF\"", "\"0 F\"", "15:22", &[POSITIVE]),
        Case("\"50 µF\"", "\"50 µF\"\nneutral_split = \"-1 V\"", "16:17", &["zero or more"]),
        // A third of 380 V: body diodes hold it there.
        Case(
            "\"50 µF\"",
            "\"50 µF\"\nneutral_split = \"900 V\"",
            "16:17",
            &["900.0 V", "expected at most 126.7 V"],
        ),
        // 380 V over three phases; diodes hold the first node within that.
        Case(
            "\"50 µF\"",
            "\"50 µF\"\nneutral_split = \"900 V\"",
            "16:17",
            &["is 900.0 V", "below 126.7 V", "[converter.chain.drift]"],
        ),
        Case("\"50 µF\"", "\"50 µF\"\nneutral_split = \"127 V\"", "16:17", &["at most 126.7 V"]),
        Case("\"90 kHz\"", "\"0 Hz\"", "18:11", &[POSITIVE]),
        Case("\"300 kHz\"", "\"80 kHz\"", "19:11", &["80.00 kHz", "above 90.00 kHz"]),
        Case("\"300 kHz\"", "\"90 kHz\"", "19:11", &["not above `minimum`"]),
        Case("\"48 V\"", "\"0 V\"", "24:18", &[POSITIVE]),
        Case("\"3 kW\"", "\"0 W\"", "25:18", &[POSITIVE]),
        Case("band  = \"5 %\"", "band  = \"100 %\"", "31:9", &["is 100 %", "below 100 %"]),
        Case("band  = \"5 %\"", "band  = \"-5 %\"", "31:9", &["is -5 %", "zero or more"]),
        Case("lot_share = 0.5", "lot_share = 1.01", "32:13", &["from 0 to 1"]),
        Case("lot_share = 0.5", "lot_share = -0.5", "32:13", &["from 0 to 1"]),
        Case("lot_share = 0.5", "lot_share = \"50 %\"", "32:13", &["is a text", "from 0 to 1"]),
        Case("sharing_error = \"5 %\"", "sharing_error = \"0 %\"", "35:17", &[POSITIVE]),
        Case("\"99 %\"", "\"100 %\"", "36:17", &["above 0 % and below 100 %"]),
        Case("\"95 %\"", "\"0 %\"", "37:17", &["from 50 % to less than 100 %"]),
        Case("\"95 %\"", "\"0.95 %\"", "37:17", &["from 50 % to less than 100 %"]),
        Case("\"99 %\"", "\"0.99 %\"", "36:17", &["so low a yield target", "write \"99 %\""]),
        Case(
            "\"99 %\"",
            "\"10 ppm\"",
            "36:17",
            &["so low a yield target", "write failure_target for yield_target, or \"99.999 %\""],
        ),
        Case(
            "\"99 %\"",
            "\"99 %\"\nfailure_target = \"10 ppm\"",
            "37:18",
            &["`yield_target` and `failure_target` do not agree"],
        ),
        Case("\"95 %\"", "\"95 %\"\nblocking_voltage = \"0 V\"", "38:20", &[POSITIVE]),
    ]);
}

/// One of three phases that carries all is at three times the mean: no sharing error is above that.
#[test]
fn limits_that_no_converter_can_miss() {
    check(&[
        Case(
            "sharing_error = \"5 %\"",
            "sharing_error = \"300 %\"",
            "35:17",
            &["no converter of 3 phases misses this limit", "expected less than \"200 %\""],
        ),
        Case(
            "sharing_error = \"5 %\"",
            "sharing_error = \"300 %\"\nmeasure = \"spread\"",
            "35:17",
            &["expected less than \"300 %\""],
        ),
    ]);
}

/// A target may be told by the failures that it leaves.
#[test]
fn targets_in_failures() {
    let target = |keys: &str| {
        let text = SHELF.replace("yield_target  = \"99 %\"", keys);
        Scenario::parse("shelf.toml", &text).unwrap_or_else(|e| panic!("{e}")).limits.yield_target
    };
    assert!((target("failure_target = \"10 ppm\"") - 0.999_99).abs() < 1e-15);
    assert!((target("failure_target = \"2 %\"") - 0.98).abs() < 1e-15);
    assert!((target("yield_target = \"999990 ppm\"") - 0.999_99).abs() < 1e-15);
    assert!((target("yield_target = \"98 %\"\nfailure_target = \"2 %\"") - 0.98).abs() < 1e-15);
    assert!((target("") - 0.99).abs() < 1e-15);
}

#[test]
fn whole_numbers() {
    check(&[
        Case("phases = 3", "phases = 1", "4:10", &["is 1", "a whole number from 2 to 12"]),
        Case("phases = 3", "phases = 13", "4:10", &["is 13", "a whole number from 2 to 12"]),
        Case("phases = 3", "phases = -3", "4:10", &["is -3"]),
        Case("phases = 3", "phases = 3.0", "4:10", &["is a decimal number"]),
        Case("phases = 3", "phases = \"3\"", "4:10", &["is a text"]),
        Case("samples = 20000", "samples = 0", "40:11", &["from 1 to 1000000000"]),
        Case("samples = 20000", "samples = 1_000_000_001", "40:11", &["is 1000000001"]),
        Case("seed = 1", "seed = -1", "41:8", &["from 0 to 18446744073709551615"]),
        Case("seed = 1", "seed = 18446744073709551616", "41:8", &["is 18446744073709551616"]),
        Case("seed = 1", "seed = 0.5", "41:8", &["is a decimal number"]),
        Case("samples = 20000", "samples = 2e10", "40:11", &["is 2e10"]),
        Case("samples = 20000", "samples = 2.55e1", "40:11", &["is a decimal number"]),
    ]);
    for (number, samples) in [("2e4", 20_000), ("2.5E+3", 2500), ("20_000", 20_000)] {
        let text = SHELF.replace("samples = 20000", &format!("samples = {number}"));
        assert_eq!(Scenario::parse("shelf.toml", &text).unwrap().run.samples, samples);
    }
}

#[test]
fn words() {
    check(&[
        Case(
            "drive     = \"full-bridge\"",
            "drive = \"halfbridge\"",
            "26:9",
            &[
                "the drive of operating point \"full load\" is \"halfbridge\"",
                "expected \"half-bridge\" or \"full-bridge\"",
                "did you mean \"half-bridge\"?",
            ],
        ),
        Case(
            "rectifier = \"full-bridge\"",
            "rectifier = \"center-tap\"",
            "27:13",
            &["did you mean \"centre-tap\"?"],
        ),
        Case("\"uniform\"", "\"Normal\"", "30:9", &["did you mean \"normal\"?", "\"triangular\""]),
        Case("\"uniform\"", "3", "30:9", &["is a whole number"]),
        Case("\"95 %\"", "\"95 %\"\nshare = \"rms\"", "38:9", &["\"rms-tank-current\""]),
        Case("\"95 %\"", "\"95 %\"\nmeasure = \"speard\"", "38:11", &["did you mean \"spread\"?"]),
        Case("\"full load\"", "\" \"", "22:8", &["`name` is empty"]),
        Case("\"full load\"", "\"full\\nload\"", "22:8", &["holds the character \\u{a}"]),
        Case("\"Shelf supply, three phases\"", "1", "1:9", &["`title` is a whole number"]),
    ]);
}

#[test]
fn shapes_and_their_keys() {
    check(&[
        Case(
            "\"uniform\"",
            "\"uniform\"\nsigmas = 3",
            "31:1",
            &["`sigmas` does not go with", "\"normal\" or \"lognormal\""],
        ),
        Case("\"uniform\"", "\"normal\"\nsigmas = 0", "31:10", &["from 0.5 to 8"]),
        Case(
            "shape = \"uniform\"\n",
            "",
            "29:1",
            &["[tolerance.resonant_inductance] lacks `shape`"],
        ),
        Case("band  = \"5 %\"\n", "", "29:1", &["lacks `band`", "a percentage such as \"5 %\""]),
        Case(
            "[tolerance.resonant_inductance]",
            "[tolerance.inductance]",
            "29:12",
            &["unknown table `inductance` in [tolerance]"],
        ),
        Case(
            "\"0.7 V\"        # one diode",
            "\"0 V\"\n[tolerance.rectifier_drop]\nshape = \
            \"uniform\"\nband = \"5 %\"",
            "13:1",
            &[
                "`rectifier_drop` has a tolerance, but its nominal value is zero",
                "remove this table",
            ],
        ),
    ]);
}

/// The band of the shelf's tolerance stands in line 31, what follows the shape in line 31 too.
#[test]
fn bands_with_letters_and_two_ends() {
    let band = "band  = \"5 %\"";
    check(&[
        Case(band, "band = \"E\"", "31:8", &["is \"E\"", "IEC 60062", "different bands"]),
        Case(band, "band = \"k\"", "31:8", &["did you mean \"K\"?"]),
        Case(band, "band = [\"-3 %\"]", "31:8", &["holds 1 item\n", "-3 %"]),
        Case(band, "band = []", "31:8", &["holds 0 items", "-3 %"]),
        Case(band, "band = \"±5 %\"", "31:8", &["is \"±5 %\"", "a half width without signs"]),
        Case(band, "band = \"+/- 5 %\"", "31:8", &["a half width without signs"]),
        Case(band, "band = \"-3 %, +8 %\"", "31:8", &["expected two ends", "[\"-3 %\", \"+8 %\"]"]),
        Case(band, "band = [\"-3 %\", \"1e9 %\"]", "31:17", &["is 1e9 %", "up to 1000 %"]),
        Case(band, "band = [\"8 %\", \"-3 %\"]", "31:16", &["wrong order"]),
        Case(band, "band = [\"-3 %\", 8]", "31:17", &["bare number"]),
        Case(band, "band = [\"-100 %\", \"8 %\"]", "31:9", &["is -100 %", "above −100 %"]),
        Case(band, "", "29:1", &["lacks `band`", "\"5 %\""]),
    ]);
}

#[test]
fn keys_of_a_process_and_of_other_shapes() {
    let shape = "\"uniform\"";
    check(&[
        Case(shape, "\"uniform\"\nmean = \"1 %\"", "31:1", &["`mean` does not go", "lognormal"]),
        Case(shape, "\"normal\"\nsigmas = 2\nsigma = \"2 %\"", "32:1", &["both `sigmas` and"]),
        Case(shape, "\"normal\"\nmean = \"50 %\"\nsigma = \"2 %\"", "33:9", &["0", "1 %"]),
        Case(shape, "\"triangular\"\nmode = \"7 %\"", "31:8", &["`mode` lies outside"]),
        Case(shape, "\"beta\"\nalpha = 2", "29:1", &["lacks `beta`"]),
        Case(shape, "\"beta\"\nalpha = 0.5\nbeta = 2", "31:9", &["from 1 to 1000"]),
        Case(shape, "\"measured\"\nfile = \"no.csv\"", "29:1", &["lacks `column`"]),
        Case(
            shape,
            "\"measured\"\nfile = \"no.csv\"\ncolumn = \"Lr_uH\"",
            "31:8",
            &["cannot read no.csv", "relative to the scenario file"],
        ),
    ]);
}

/// The shelf, its resonant inductance from a column `Lr (µH)` of this file.
fn with_measured(csv: &str, band: &str) -> String {
    let Ok(folder) = tempfile::tempdir() else { return "no folder".to_owned() };
    let shape = "\"measured\"\nfile = \"parts.csv\"\ncolumn = \"Lr (µH)\"";
    let text = SHELF.replace("\"uniform\"", shape).replace("band  = \"5 %\"", band);
    let written = std::fs::write(folder.path().join("parts.csv"), csv);
    let scenario = folder.path().join("shelf.toml");
    match Scenario::parse(&scenario.to_string_lossy(), &text) {
        Ok(scenario) => format!("accepted {:?}", scenario.measured_files),
        Err(errors) => format!("{errors}\n{written:?}"),
    }
}

/// Errors in a file of measured parts are shown with its name, line and column.
#[test]
fn files_of_measured_parts_show_their_own_errors() {
    for (csv, words) in [
        ("part,Lr (µH)\na,4.5\nb,4.6\nc,\nd,4.4\ne,4.55\nf,4.5\n", ["accepted", "parts.csv"]),
        ("Lr_uH\n4.5\n4.6\n4.4\n4.55\n4.5\n", ["accepted", ""]),
        ("Lr_uH\n4,5\n4,6\n4,4\n4,55\n4,5\n", ["accepted", ""]),
        ("part,Lr (µH)\na,4.5\nb,many\nc,4.4\n", ["parts.csv:3:3", "not a number"]),
        (
            "part,Lr (µH)\na,4.5\nb,-4\nc,4.4\n",
            ["parts.csv:3:3", "or nothing where none was measured"],
        ),
        ("part,Lr (µH)\na,4.5\nb,4500\nc,4.4\n", ["parts.csv:3:3", "too far from"]),
        ("\n", ["parts.csv:1:1", "file is empty"]),
        ("Report of 3 May\npart,Lr_uH\na,4.5\n", ["parts.csv:1:1", "header is in line 2"]),
    ] {
        let shown = with_measured(csv, "");
        assert!(words.iter().all(|word| shown.contains(word)), "{words:?}:\n{shown}");
    }
}

/// What is wrong with the column that the scenario names is shown where it names it.
#[test]
fn columns_of_measured_parts_are_named_in_the_scenario() {
    let many: Vec<String> = (0..500).map(|k| format!("c{k}")).collect();
    let many = format!("{}\n", many.join(";"));
    let five = "Lr_uH\n4.5\n4.6\n4.4\n4.56\n4.5\n";
    for (csv, band, words) in [
        ("part,Lm_uH,LR_mA\na,4.5,3\n", "", "parts.csv has no column `Lr (µH)`"),
        ("part,Lm_uH,LR_mA\na,4.5,3\n", "", "expected `part`, `Lm_uH` or `LR_mA`\n"),
        ("sep=;\npart;Lm_uH\na;4,5\n", "", "expected `part` or `Lm_uH`\n"),
        (
            &many,
            "",
            "expected `c0`, `c1`, `c2`, `c3`, `c4`, `c5`, `c6`, `c7`, `c8`, `c9`, `c10`, `c11` and 488 more\n",
        ),
        ("part,Lr_uH\na,4.5\nb,4.4\n", "", "holds 2 parts\n"),
        ("part,Lr_uH\na,4.5\n", "", "holds 1 part\n"),
        ("part,Lr_uH\n", "", "holds no parts\n"),
        (five, "band = \"0.1 %\"", "holds 5 parts, 1 of them inside the band\n"),
        ("part,Lr_uH\na,4.5\nb,4.5\nc,4.5\nd,4.5\ne,4.5\n", "", "equal values only"),
    ] {
        let shown = with_measured(csv, band);
        assert!(shown.contains("shelf.toml:32:10\n") && shown.contains(words), "{words}:\n{shown}");
    }
}

#[test]
fn correlations() {
    let own = |key: &str| format!("[tolerance.{key}]\nshape = \"uniform\"\nband = \"5 %\"\n");
    let parts = own("magnetising_inductance") + &own("turns_ratio");
    let pair = |first: &str, second: &str, coefficient: &str| {
        format!(
            "[[correlation]]\nbetween = [\"{first}\", \"{second}\"]\ncoefficient = {coefficient}\n"
        )
    };
    let said = |pairs: &[String]| {
        errors_of(&format!("{}{parts}{}", SHELF.replace("lot_share = 0.5", ""), pairs.concat()))
    };
    let (lr, lm, n) = ("resonant_inductance", "magnetising_inductance", "turns_ratio");
    assert!(said(&[pair(lr, lm, "0.9")]).contains("accepted"));
    for (pairs, words) in [
        (vec![pair(lr, lm, "1")], "above −1 and below 1"),
        (vec![pair(lr, lr, "0.5")], "names `resonant_inductance` twice"),
        (
            vec![pair(lr, "flying_capacitance", "0.5")],
            "is no parameter of which a phase has one part",
        ),
        (vec![pair(lr, "rectifier_drop", "0.5")], "has no tolerance"),
        (vec![pair(lr, lm, "0.5"), pair(lm, lr, "0.4")], "given twice"),
        (vec![pair(lr, lm, "0.5\ncoefficient_across = 0.3")], "`coefficient_across` of"),
        (vec![pair(lr, lm, "0.5").replace(", \"magnetising_inductance\"", "")], "holds 1 item\n"),
        (vec![pair(lr, lm, "0.9"), pair(lm, n, "0.9"), pair(lr, n, "-0.9")], "exclude each other"),
    ] {
        let shown = said(&pairs);
        assert!(
            shown.contains(words) && shown.matches("error: ").count() == 1,
            "{words}:\n{shown}"
        );
    }
    // What is said to be the nearest is taken.
    let shown = said(&[pair(lr, lm, "0.9"), pair(lm, n, "0.9"), pair(lr, n, "-0.9")]);
    let (_, nearest) = shown.split_once("the nearest: ").unwrap();
    let nearest = nearest.trim_end();
    let words: Vec<&str> = nearest.split(['`', ',', '\n']).map(str::trim).collect();
    let pairs: Vec<String> = words
        .windows(4)
        .filter(|four| four[1] == "and")
        .map(|four| pair(four[0], four[2], four[3]))
        .collect();
    assert_eq!(pairs.len(), 3, "{shown}");
    assert!(said(&pairs).contains("accepted"), "{}", said(&pairs));
}

/// The shelf with uniform tolerances of 5 %, one a key with its lot share, and more lines.
fn shelf_with_lots(lots: &[(&str, &str)], more: &str) -> String {
    let table = |(key, share): &(&str, &str)| {
        format!("[tolerance.{key}]\nshape = \"uniform\"\nband = \"5 %\"\nlot_share = {share}\n")
    };
    let old =
        "[tolerance.resonant_inductance]\nshape = \"uniform\"\nband  = \"5 %\"\nlot_share = 0.5\n";
    assert!(SHELF.contains(old), "the only tolerance of the shelf");
    let lots: String = lots.iter().map(table).collect();
    format!("{}{lots}{more}", SHELF.replace(old, ""))
}

const CORE: &str = "[[correlation]]\nbetween = [\"resonant_inductance\", \
                    \"magnetising_inductance\"]\n";

/// What can be reached is never an empty range, nor one with a negative zero. By hand: lots that hold
/// the whole variance of both leave only the coefficient between phases; whole lots of one alone leave
/// none. Pearson (1907): with r = 2 sin(0.997 π/6) of the scores in common, a score of
/// 2 sin(0.295 π/6) ± (1 − r) gives 0.2924 to 0.2976.
#[test]
fn what_a_correlation_can_reach_is_told() {
    for (shares, coefficients, words) in [
        (["1", "0"], "coefficient = 0.9", "expected 0: shapes and lot shares allow no other"),
        (
            ["1", "1"],
            "coefficient = 0.3\ncoefficient_across = 0.295",
            "expected 0.295: shapes and lot shares allow no other",
        ),
        (["0", "0"], "coefficient = 0.3\ncoefficient_across = 0.2", "expected 0: in different"),
        (
            ["0.997", "0.997"],
            "coefficient = 0.3\ncoefficient_across = 0.295",
            "expected from 0.293 to 0.297: shapes",
        ),
    ] {
        let [first, second] = shares;
        let lots = [("resonant_inductance", first), ("magnetising_inductance", second)];
        let shown = errors_of(&shelf_with_lots(&lots, &format!("{CORE}{coefficients}\n")));
        assert!(shown.contains(words), "{shares:?} {words}:\n{shown}");
    }
}

/// The caret stands under the coefficient that is wrong.
#[test]
fn the_caret_of_a_correlation_stands_under_its_value() {
    let lots = [("resonant_inductance", "0.5"), ("magnetising_inductance", "0.1")];
    for (coefficients, value) in [
        ("coefficient = 0.3\ncoefficient_across = 0.81", "0.81"),
        ("coefficient_across = 0.81\ncoefficient = 0.3", "0.81"),
        ("coefficient = 0.97\ncoefficient_across = 0.1", "0.97"),
    ] {
        let shown = errors_of(&shelf_with_lots(&lots, &format!("{CORE}{coefficients}\n")));
        let lines: Vec<&str> = shown.lines().collect();
        let at = lines.iter().position(|line| line.contains('^')).unwrap();
        let caret = lines[at].find('^').unwrap();
        assert_eq!(lines[at - 1].find(value), Some(caret), "{shown}");
    }
}

/// Only a smallest set that is impossible is named: three of five pairs. A pair without a table counts
/// as 0 and is named where it takes part. Of the nearest only what changes is told.
#[test]
fn pairs_that_exclude_nothing_are_not_named() {
    let keys = [
        "resonant_inductance",
        "resonant_capacitance",
        "magnetising_inductance",
        "turns_ratio",
        "series_resistance",
    ];
    let lots = keys.map(|key| (key, "0"));
    let pair = |first: usize, second: usize, coefficient: &str| {
        let [first, second] = [keys[first], keys[second]];
        format!(
            "[[correlation]]\nbetween = [\"{first}\", \"{second}\"]\ncoefficient = {coefficient}\n"
        )
    };
    let three = pair(0, 2, "0.9") + &pair(2, 3, "0.9") + &pair(0, 3, "-0.9");
    let more = three + &pair(1, 4, "0.2") + &pair(0, 1, "-0.0");
    let shown = errors_of(&shelf_with_lots(&lots, &more));
    for word in ["`resonant_capacitance`", "`series_resistance`", " -0,", " -0\n", "0.2"] {
        assert!(!shown.contains(word), "{word}:\n{shown}");
    }
    let third = "`resonant_inductance` and `turns_ratio` -0.9, `magnetising_inductance`";
    assert!(shown.contains(third), "{shown}");
    let place = shelf_with_lots(&lots, &more).lines().position(|l| l == "coefficient = -0.9");
    assert!(shown.contains(&format!("shelf.toml:{}:15\n", place.unwrap() + 1)), "{shown}");

    let two = pair(0, 2, "0.95") + &pair(2, 3, "0.95") + &pair(1, 4, "0.2");
    let shown = errors_of(&shelf_with_lots(&lots, &two));
    assert!(
        shown.contains("`resonant_inductance` and `turns_ratio` 0 (not given), `magn"),
        "{shown}"
    );
    assert!(!shown.contains("`series_resistance`"), "{shown}");
}

/// A part that does not scatter correlates with nothing; so do grades none of which scatters.
#[test]
fn exact_parts_have_no_correlation() {
    let scatters = "[tolerance.magnetising_inductance]\nshape = \"uniform\"\nband = \"5 %\"\n";
    let exact = scatters.replace("magnetising", "resonant").replace("5 %", "0 %");
    let pair = format!("{CORE}coefficient = 0.5\n");
    let shown = errors_of(&shelf_with_lots(&[], &format!("{scatters}{exact}{pair}")));
    for words in [
        "the band of `resonant_inductance` is 0 %, so it correlates with nothing",
        "expected a band above 0 %, or no correlation",
    ] {
        assert!(shown.contains(words), "{words}:\n{shown}");
    }
    let grade = |name: &str, band: &str| {
        format!(
            "[[grade.resonant_inductance]]\nname = \"{name}\"\nshape = \"uniform\"\n\
             band = \"{band}\"\nprice = 1\n"
        )
    };
    let costs = "[grades]\nquantity = 100\n";
    let with = |grades: &str| {
        errors_of(&shelf_with_lots(&[], &format!("{scatters}{costs}{grades}{pair}")))
    };
    let shown = with(&grade("trimmed", "0 %"));
    assert!(shown.contains("correlates with nothing"), "{shown}");
    let shown = with(&(grade("trimmed", "0 %") + &grade("plain", "5 %")));
    assert!(shown.contains("accepted"), "{shown}");
}

/// `band = "0 %"` says that a part is exact. A lognormal shape, and keys that count in parts of the
/// nominal value, need a width.
#[test]
fn an_exact_part_may_have_these_shapes() {
    let with = |shape: &str, more: &str| {
        let own = format!(
            "[tolerance.resonant_inductance]\nshape = \"{shape}\"\nband = \"0 %\"\n{more}\n"
        );
        errors_of(&shelf_with_lots(&[], &own))
    };
    let beta = "alpha = 2\nbeta = 3";
    for (shape, more) in [
        ("uniform", ""),
        ("normal", ""),
        ("normal", "sigmas = 2"),
        ("triangular", ""),
        ("beta", beta),
    ] {
        assert!(with(shape, more).contains("accepted"), "{shape} {more}");
    }
    for (shape, more) in [
        ("lognormal", ""),
        ("normal", "mean = \"0 %\""),
        ("normal", "sigma = \"1 %\""),
        ("triangular", "mode = \"0 %\""),
    ] {
        let shown = with(shape, more);
        let key = more.split(' ').next().unwrap_or_default();
        let words = if key.is_empty() {
            "a lognormal shape needs a band above 0 %".to_owned()
        } else {
            format!("`{key}` needs a band above 0 %")
        };
        assert!(shown.contains(&words), "{words}:\n{shown}");
        assert!(shown.contains("an exact part may be uniform, normal,"), "{shown}");
    }
}

#[test]
fn configuration_and_gain() {
    let loads = |value: &str| format!("[gain]\nloads = {value}\n[limits]");
    let check = |to: &str, place: &str, words: &[&str]| {
        let shown = errors_with("[limits]", to);
        assert_eq!(shown.matches("error: ").count(), 1, "one error for {to:?}:\n{shown}");
        assert!(shown.contains(&format!("--> shelf.toml:{place}\n")), "{to:?}:\n{shown}");
        for word in words {
            assert!(shown.contains(word), "{word:?} is missing for {to:?}:\n{shown}");
        }
    };
    let prefer = |value: &str| format!("[configuration]\nprefer = {value}\n[limits]");
    check(
        &prefer("\"lowest-los\""),
        "35:10",
        &["is \"lowest-los\"", "did you mean \"lowest-loss\"?", "\"frequency-margin\""],
    );
    check(&prefer("1"), "35:10", &["is a whole number", "\"lowest-switch-current\""]);
    check(
        "[configuration]\nchoose = \"lowest-loss\"\n[limits]",
        "35:1",
        &["unknown key `choose` in [configuration]", "expected `prefer`"],
    );
    check(&loads("[]"), "35:9", &["`loads` is empty", "an array of quantities such as"]);
    check(&loads("\"50 %\""), "35:9", &["`loads` is a text", "an array of quantities"]);
    check(&loads("[\"50 %\", 0.2]"), "35:18", &["an item of `loads` is a bare number"]);
    check(&loads("[\"0 %\"]"), "35:10", &["an item of `loads` is 0 %", POSITIVE]);
    check(&loads("[\"5 A\"]"), "35:10", &["an item of `loads`"]);
    check("[gain]\ninput_voltage = \"-5 V\"\n[limits]", "35:17", &["input_voltage", POSITIVE]);
    let both = errors_with("[limits]", &loads("[1, 2]"));
    assert_eq!(both.matches("error: ").count(), 2, "each item by itself:\n{both}");
}

#[test]
fn operating_points() {
    let second = "[[operating_point]]\nname = \"full load\"\ninput_voltage = \"400 V\"\n\
        output_voltage = \"48 V\"\noutput_current = \"5 A\"\n[limits]";
    let capital = "[[operating_point]]\nname = \"Full load\"\ninput_voltage = \"400 V\"\n\
        output_voltage = \"48 V\"\noutput_current = \"5 A\"\n[limits]";
    check(&[
        Case(
            "output_power   = \"3 kW\"\n",
            "",
            "21:1",
            &["operating point \"full load\" has neither `output_power` nor `output_current`"],
        ),
        Case("= \"3 kW\"\n", "= \"3 kW\"\noutput_current = \"62.5 A\"\n", "26:1", &["has both"]),
        Case("name = \"full load\"\n", "", "21:1", &["[[operating_point]] lacks `name`"]),
        Case("input_voltage  = \"380 V\"\n", "", "21:1", &["lacks `input_voltage`"]),
        Case("[limits]", second, "35:8", &["a second operating point is called \"full load\""]),
        Case(
            "[limits]",
            capital,
            "35:8",
            &[
                "operating point \"Full load\" differs from \"full load\" only in upper and lower case",
            ],
        ),
        Case(
            "[[operating_point]]",
            "[operating_point]",
            "21:1",
            &["a single table", "two brackets"],
        ),
    ]);
    let before = SHELF.split("[[operating_point]]").next().unwrap();
    let shown = errors_of(before);
    assert!(
        shown.contains("the scenario lacks [[operating_point]]\n --> shelf.toml:1:1\n"),
        "{shown}"
    );
    for (value, place) in [("[]", "2:19"), ("[3]", "2:20"), ("3", "2:19")] {
        let text = before.replacen('\n', &format!("\noperating_point = {value}\n"), 1);
        let shown = errors_of(&text);
        assert!(shown.contains(&format!("shelf.toml:{place}\n")), "{value}:\n{shown}");
        assert_eq!(shown.matches("error: ").count(), 1, "{value}:\n{shown}");
    }
}

#[test]
fn tables_and_keys() {
    check(&[
        Case(
            "title = \"Shelf supply, three phases\"\n",
            "\n",
            "1:1",
            &["the scenario lacks `title`"],
        ),
        Case("phases = 3\n", "", "3:1", &["[converter] lacks `phases`", "from 2 to 12"]),
        Case("flying_capacitance = \"50 µF\"\n", "", "14:1", &["lacks `flying_capacitance`"]),
        Case("minimum = \"90 kHz\"\n", "", "17:1", &["[converter.frequency] lacks `minimum`"]),
        Case("[limits]", "[limit]", "34:2", &["unknown table `limit`", "did you mean `limits`?"]),
        Case("[run]", "[limits.parallelled]", "39:9", &["did you mean `paralleled`?"]),
        Case(
            "seed = 1",
            "seeds = 1",
            "41:1",
            &["unknown key `seeds` in [run]", "did you mean `seed`?"],
        ),
        Case("phases = 3", "phases = 3\nchain_of = 3", "5:1", &["unknown key `chain_of`"]),
        // A key in the wrong table.
        Case(
            "phases = 3",
            "phases = 3\nflying_capacitance = \"50 µF\"",
            "5:1",
            &["`flying_capacitance` belongs in [converter.chain]"],
        ),
        Case(
            "phases = 3",
            "phases = 3\ndead_time = \"50 ns\"",
            "5:1",
            &["`dead_time` belongs in [switch] or in [switch.paralleled]"],
        ),
        Case("seed = 1", "drive = 1", "41:1", &["`drive` belongs in [[operating_point]]"]),
        Case("seed = 1", "title = 1", "41:1", &["`title` belongs at the top of the scenario"]),
        Case("[limits]", "[tank]", "34:2", &["`tank` belongs in [converter]"]),
    ]);
    // The whole table is missing: its keys are not missed one by one.
    let shown = errors_of(&SHELF.replace("[converter.chain]", "[converter.link]"));
    assert!(shown.contains("[converter] lacks `chain`\n --> shelf.toml:3:1\n"), "{shown}");
    assert!(
        shown.contains("unknown table `link` in [converter]\n  --> shelf.toml:14:12\n"),
        "{shown}"
    );
    assert_eq!(shown.matches("error: ").count(), 2, "{shown}");
    // A value where a table belongs.
    let text = format!("converter = 3\n{}", &SHELF[SHELF.find("[[op").unwrap()..]);
    let shown = errors_of(&text);
    assert!(shown.contains("`converter` is a whole number\n --> shelf.toml:1:13\n"), "{shown}");
}

#[test]
fn a_table_that_exists_only_by_its_parts_is_pointed_at_in_the_first_header() {
    let text = SHELF.replace("[converter]\nphases = 3\n", "");
    let shown = errors_of(&text);
    assert!(shown.contains("[converter] lacks `phases`\n --> shelf.toml:4:2\n"), "{shown}");
}

#[test]
fn syntax() {
    check(&[
        // The 4 that stands before the comma would be a bare number: one error a line is enough.
        Case("\"4.56 µH\"", "4,56", "7:27", &["not valid TOML", "expected a decimal point: 4.56"]),
        Case("\"4.56 µH\"", "4.56 µH", "7:26", &["must be quoted", "expected \"4.56 µH\""]),
        Case("\"380 V\"", "\"380 V", "23:24", &["not valid TOML", "expected `\"`"]),
        Case("phases = 3", "phases = 3\nphases = 4", "5:1", &["duplicate key"]),
        Case("[run]", "[limits]", "39:2", &["duplicate key", "each table once"]),
        Case("[converter.tank]", "[converter.tank", "6:16", &["unclosed table", "expected `]`"]),
        Case("phases = 3", "phases", "4:7", &["key with no value", "expected `=`"]),
    ]);
}

/// One error, not one a line.
#[test]
fn a_summary_of_results_is_no_scenario() {
    let text = "\n{\n  \"schema\": \"fairphase-summary/2\",\n  \"verb\": \"run\"\n}\n";
    let shown = errors_of(text);
    assert!(shown.contains("looks like JSON\n --> shelf.toml:2:1\n"), "{shown}");
    assert_eq!(shown.matches("error: ").count(), 1, "{shown}");
}

#[test]
fn all_errors_of_a_file_are_reported_in_its_order() {
    let text = SHELF
        .replace("phases = 3", "phases = 30")
        .replace("\"247 nF\"", "\"247 nH\"")
        .replace("\"300 kHz\"", "300e3")
        .replace("\"48 V\"", "48 V")
        .replace("band  = \"5 %\"", "bond  = \"5 %\"")
        .replace("\"99 %\"", "\"199 %\"")
        .replace("seed = 1", "seed = 1.5");
    let errors = Scenario::parse("shelf.toml", &text).unwrap_err();
    let lines: Vec<_> = errors.errors().iter().map(|e| errors.position(e).line).collect();
    // Line 24 has no quotes: with a broken syntax, nothing is called missing or unknown.
    assert_eq!(lines, [4, 8, 19, 24, 36, 41], "{errors}");
    let errors = Scenario::parse("shelf.toml", &text.replace("48 V", "\"48 V\"")).unwrap_err();
    let lines: Vec<_> = errors.errors().iter().map(|e| errors.position(e).line).collect();
    assert_eq!(lines, [4, 8, 19, 29, 31, 36, 41], "{errors}");
}

#[test]
fn an_empty_file_says_what_belongs_in_it() {
    for text in ["", "\n\n", "# a comment only\n", "\u{feff}"] {
        let errors = Scenario::parse("shelf.toml", text).unwrap_err();
        let Position { line, column } = errors.position(&errors.errors()[0]);
        assert_eq!((line, column, errors.errors().len()), (1, 1, 1));
        let shown = errors.to_string();
        assert!(
            shown.contains("the scenario is empty") && shown.contains("[converter]"),
            "{shown}"
        );
    }
}

#[test]
fn byte_order_marks_and_line_ends_of_other_systems_change_nothing() {
    let expected = Scenario::parse("shelf.toml", SHELF).unwrap();
    let text = format!("\u{feff}{}", SHELF.replace('\n', "\r\n"));
    assert_eq!(Scenario::parse("shelf.toml", &text).unwrap(), expected);
    let shown = errors_of(&text.replace("title = \"Shelf supply, three phases\"", "title = 1"));
    assert!(shown.contains("shelf.toml:1:9\n"), "{shown}");
}

#[test]
fn a_file_that_is_no_text_and_one_that_is_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("latin.toml");
    std::fs::write(&path, b"title = \"x\"\n# 4.56 \xb5H\n").unwrap();
    let error = Scenario::read(&path).unwrap_err();
    assert!(matches!(error, InputError::Invalid(_)));
    let shown = error.to_string();
    assert!(shown.contains("the file is not UTF-8 text"), "{shown}");
    assert!(shown.contains("latin.toml:2:8\n"), "{shown}");

    let error = Scenario::read(&folder.path().join("none.toml")).unwrap_err();
    assert!(matches!(error, InputError::Unreadable { .. }));
    assert!(error.to_string().contains("none.toml"), "{error}");
    assert!(Scenario::read(folder.path()).is_err(), "a folder is no scenario");
}

#[test]
fn deep_nesting_and_noise_end_in_errors() {
    let noise: String =
        (0..200_000_u32).map(|i| char::from((i.wrapping_mul(2_654_435_761) >> 25) as u8)).collect();
    for text in [format!("a = {}", "[".repeat(100_000)), "[".repeat(100_000), noise] {
        assert!(!Scenario::parse("noise.toml", &text).unwrap_err().errors().is_empty());
    }
}

/// Fragments that an edit may put anywhere.
const FRAGMENTS: [&str; 18] = [
    "\"",
    "[",
    "]",
    "[[",
    "=",
    "\n",
    ",",
    "nan",
    "5",
    "\"5 %\"",
    "'''",
    "{}",
    "µ",
    "\u{0}",
    "#",
    "[limits]\n",
    "\r",
    ".",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// Whatever is cut out of a valid scenario and put in: the result is a scenario or a list of
    /// errors, each with a place in the file.
    #[test]
    fn no_edit_of_a_scenario_goes_without_an_answer(
        edits in prop::collection::vec((any::<Index>(), 0_usize..30, 0..FRAGMENTS.len()), 1..4),
    ) {
        let mut text: Vec<char> = SHELF.chars().collect();
        for (place, cut, fragment) in edits {
            let start = place.index(text.len());
            let end = (start + cut).min(text.len());
            text.splice(start..end, FRAGMENTS[fragment].chars());
        }
        let text: String = text.into_iter().collect();
        if let Err(errors) = Scenario::parse("edited.toml", &text) {
            prop_assert!(!errors.errors().is_empty());
            for error in errors.errors() {
                prop_assert!(error.span.start <= error.span.end && error.span.end <= text.len());
            }
            prop_assert!(errors.to_string().contains("edited.toml:"));
        }
    }
}

/// `[switch]` behind the last line of the shelf scenario, which is line 41.
#[test]
fn switches() {
    const TIME: &str = "dead_time = \"150 ns\"\n";
    const BOTH: &str = "output_capacitance = \"300 pF\"\n";
    let with = |table: &str| errors_of(&format!("{}\n[switch]\n{table}", SHELF.trim_end()));
    let accepted = "accepted as a valid scenario";
    let apart = "output_capacitance_low = \"300 pF\"\noutput_capacitance_high = \"200 pF\"\n";
    for right in [BOTH, apart, &format!("{BOTH}output_capacitance_high = \"200 pF\"\n")] {
        assert_eq!(with(&format!("{right}{TIME}")), accepted);
    }
    let paralleled = "[switch.paralleled]\noutput_capacitance_low = \"90 pF\"\n";
    assert_eq!(with(&format!("{BOTH}{TIME}timing = \"falling-first\"\n{paralleled}")), accepted);
    let missing = "[switch] does not tell the output capacitance of every switch";
    for (table, place, words) in [
        (TIME.to_owned(), "42:1", [missing, "or both `output_capacitance_low`"]),
        (format!("output_capacitance_low = \"9 pF\"\n{TIME}"), "42:1", [missing, ""]),
        (format!("output_capacitance_high = \"9 pF\"\n{TIME}"), "42:1", [missing, ""]),
        (BOTH.to_owned(), "42:1", ["[switch] lacks `dead_time`", "150 ns"]),
        (
            format!("{BOTH}dead_time = \"150 nF\"\n"),
            "44:13",
            ["expected a time in seconds such as", "(F)"],
        ),
        (format!("{BOTH}dead_time = \"900 ns\"\n"), "44:13", ["900.0 ns", "less than 833.3 ns"]),
        (format!("{BOTH}{TIME}timing = \"late\"\n"), "45:10", ["falling-first", "together"]),
        (format!("{BOTH}{TIME}turn_on_voltage = \"60 %\"\n"), "45:19", ["at most 50 %", ""]),
        (
            format!("{BOTH}{TIME}[switch.paralleled]\ntiming = \"together\"\n"),
            "46:1",
            ["unknown key", "timing"],
        ),
        (
            format!("{BOTH}{TIME}[switch.paralleled]\ndead_time = \"2 µs\"\n"),
            "46:13",
            ["2.000 µs", "833.3 ns"],
        ),
    ] {
        let shown = with(&table);
        assert_eq!(shown.matches("error: ").count(), 1, "{table}:\n{shown}");
        assert!(shown.contains(&format!("--> shelf.toml:{place}\n")), "{table}:\n{shown}");
        assert!(words.iter().all(|word| shown.contains(word)), "{words:?}:\n{shown}");
    }
}

/// Temperature and age: what cannot be, and where.
#[test]
fn temperatures_coefficients_and_drifts_must_be_possible() {
    let warm = "name = \"full load\"\ntemperature = \"140 °C\"";
    let errors = |point: &str, tables: &str| {
        let text = SHELF.replace("name = \"full load\"", point);
        errors_of(&format!("{text}{tables}"))
    };
    let cr = "[temperature_coefficient.resonant_capacitance]\n";
    let cases = [
        (warm, format!("{cr}code = \"X7R\"\n"), "shelf.toml:44:8", "is at 140 °C"),
        (warm, format!("{cr}code = \"c0g\"\n"), "shelf.toml:44:8", "did you mean \"C0G\"?"),
        (warm, format!("{cr}code = \"NP0\"\n"), "shelf.toml:44:8", "a code of EIA-198"),
        (warm, cr.to_owned(), "shelf.toml:43:1", "lacks `value`"),
        (warm, format!("{cr}code = \"C0G\"\nvalue = \"1 ppm/K\"\n"), "45:1", "both `code`"),
        (warm, format!("{cr}code = \"C0G\"\nband = \"1 ppm/K\"\n"), "45:1", "both `code`"),
        (warm, format!("{cr}value = \"-1 %/K\"\n"), "43:1", "left"),
        (warm, format!("{cr}value = \"5 %\"\n"), "44:9", "a temperature coefficient such as"),
        ("name = \"full load\"\ntemperature = \"85 K\"", String::new(), "23:15", "°C"),
        (
            "name = \"full load\"\nphase_rise = \"80 K\"",
            String::new(),
            "23:14",
            "from -50 K to 50 K",
        ),
        (warm, "[ageing]\n".to_owned(), "43:1", "lacks `service_life`"),
        (
            warm,
            "[ageing]\nservice_life = \"9 h\"\n[ageing.turns_ratio]\ndrift = \"-96 %\"\n"
                .to_owned(),
            "46:9",
            "above -95 %",
        ),
    ];
    for (point, tables, place, word) in cases {
        let shown = errors(point, &tables);
        assert_eq!(shown.matches("error: ").count(), 1, "{tables}\n{shown}");
        assert!(shown.contains(place) && shown.contains(word), "{tables}\n{shown}");
    }
    let inductance = "[temperature_coefficient.resonant_inductance]\ncode = \"C0G\"\n";
    assert!(errors(warm, inductance).contains("for capacitances only"));
    let shown = errors(warm, &format!("{cr}value = \"1 ppm/K\"\nwidth = 3\n"));
    assert!(
        shown.contains("unknown key `width`") && shown.matches("`band`").count() == 1,
        "{shown}"
    );
}
