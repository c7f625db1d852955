//! The program as its users run it: exit statuses, what it prints, the files it writes, and whether
//! they agree with each other.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::format_push_string,
    clippy::panic,
    clippy::type_complexity,
    clippy::unwrap_used,
    reason = "a test"
)]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use crate::support::{
    Frame, RUN_FILES, SHELF, TELECOM, changed, counts, entries, fairphase, floats, folder_with,
    json, parquet, run_files, succeed, truths, words,
};
use serde_json::Value;
use statrs::distribution::{Beta, ContinuousCDF};

/// The program refuses: this exit status, these words on standard error, nothing on standard
/// output, and nothing written beside what was there.
#[track_caller]
fn refuses(folder: &Path, arguments: &str, status: i32, expected: &[&str]) {
    let before = entries(folder);
    let said = fairphase(folder, arguments);
    assert_eq!(said.status, status, "{arguments}:\n{}", said.stderr);
    assert_eq!(said.stdout, "", "{arguments}");
    for word in expected {
        assert!(said.stderr.contains(word), "{arguments}: `{word}` is missing:\n{}", said.stderr);
    }
    assert_eq!(entries(folder), before, "{arguments} has written something");
}

#[test]
fn a_missing_scenario_is_refused() {
    let folder = folder_with(&[]);
    for verb in ["run", "check", "units --parts parts.csv"] {
        let words = ["cannot read nowhere.toml", "No such file"];
        refuses(folder.path(), &format!("{verb} nowhere.toml --out out"), 2, &words);
    }
    refuses(folder.path(), "run . --out out", 2, &["cannot read ."]);
}

#[test]
fn a_wrong_scenario_is_refused_with_its_place() {
    for (from, to, place, words) in [
        ("\"4.56 µH\"", "4.56", "7:26", "is a bare number"),
        ("\"4.56 µH\"", "\"4.56 nF\"", "7:26", "expected an inductance"),
        ("\"4.56 µH\"", "\"0 µH\"", "7:26", "above zero"),
        ("turns_ratio ", "turn_ratio ", "10:1", "did you mean `turns_ratio`"),
        ("phases = 3", "", "3:1", "lacks `phases`"),
        ("phases = 3", "phases = 13", "4:10", "from 2 to 12"),
        ("phases = 3", "phases = ", "4:10", "not valid TOML"),
        ("output_power   = \"3 kW\"\n", "", "21:1", "output_power"),
        ("\"3 kW\"", "\"3 kW\"\noutput_current = \"62.5 A\"", "26:1", "expected one of the two"),
        ("samples = 20000", "samples = 0", "40:11", "is 0"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(SHELF, from, to))]);
        for verb in ["run", "check"] {
            let place = format!("wrong.toml:{place}\n");
            refuses(folder.path(), &format!("{verb} wrong.toml --out out"), 2, &[&place, words]);
        }
    }
}

#[test]
fn a_wrong_command_line_is_refused() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    for (arguments, words) in [
        ("run shelf.toml --out out --sampels 3", "--sampels"),
        ("run shelf.toml --out out --samples 0", "--samples"),
        ("run shelf.toml --out out --samples many", "--samples"),
        ("run shelf.toml --out out --threads 0", "--threads"),
        ("run shelf.toml --out out --seed -1", "'--seed <N>': expected a whole number from 0 to"),
        ("run shelf.toml --out out --samples -5", "expected a whole number from 1 to 1000000000"),
        ("run shelf.toml --out out --samples 2e10", "expected a whole number from 1 to 1000000000"),
        ("run shelf.toml --out out --threads -2", "expected a whole number from 1 to 1024"),
        ("run shelf.toml --out out --stream -1", "expected a whole number from 0"),
        ("run shelf.toml --out out --solver best", "exact, averaged"),
        ("units shelf.toml --out out", "--parts"),
        ("run --out out", "SCENARIO"),
        ("walk shelf.toml", "walk"),
        ("", "Usage"),
    ] {
        refuses(folder.path(), arguments, 2, &[words]);
    }
}

const HEADER: &str = "unit,phase,resonant_inductance_H,resonant_capacitance_F,\
magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V,\
flying_capacitance_F,flying_capacitance_return_leg_F\n";

#[test]
fn a_wrong_parts_file_is_refused_with_its_place() {
    for (rows, place, word) in [
        ("a,1,,,,,,,,\na,2,,,,,,,,\n", "2:1", "phase"),
        ("a,1,,,,,,,,\na,2,,,,,,,,\na,3,4.5 uF,,,,,,,\n", "4:5", "4.5 uF"),
        ("a,1,,,,,,,,\na,2,,,,,,,,\na,3,-1,,,,,,,\n", "4:5", "-1"),
        ("a,1,,,,,,,,\na,2,,,,,,,,\na,4,,,,,,,,\n", "4:3", "from 1 to 3"),
        ("a,1,,,,,,,,\na,1,,,,,,,,\na,3,,,,,,,,\n", "3:3", "phase 1"),
    ] {
        let parts = format!("{HEADER}{rows}");
        let folder = folder_with(&[("shelf.toml", SHELF), ("parts.csv", &parts)]);
        let words = [&format!("parts.csv:{place}\n"), word];
        refuses(folder.path(), "units shelf.toml --parts parts.csv --out out", 2, &words);
    }
    let folder = folder_with(&[("shelf.toml", SHELF), ("parts.csv", "unit,phase\n")]);
    let words = ["parts.csv:1:", "resonant_inductance_H"];
    refuses(folder.path(), "units shelf.toml --parts parts.csv --out out", 2, &words);
    let words = ["cannot read none.csv"];
    refuses(folder.path(), "units shelf.toml --parts none.csv --out out", 2, &words);
}

/// 30 V across three phases can never give 48 V through a turns ratio of 2.4.
#[test]
fn a_nominal_converter_that_cannot_deliver_is_refused() {
    let folder = folder_with(&[("weak.toml", &changed(SHELF, "\"380 V\"", "\"30 V\""))]);
    for verb in ["run", "check", "run --solver averaged"] {
        let words = ["cannot deliver", "\"full load\"", "62.50 A", "48.00 V", "frequency"];
        refuses(folder.path(), &format!("{verb} weak.toml --out out"), 2, &words);
        refuses(folder.path(), &format!("{verb} weak.toml --out out"), 2, &["weak.toml:21:1\n"]);
    }
}

/// 220 µF for 220 nF: 4.56 µH and 220 µF resonate at 1/(2π√(LC)) = 5.025 kHz, far below the band.
#[test]
fn a_resonance_far_outside_the_band_is_told() {
    let slip = changed(SHELF, "\"247 nF\"", "\"220 µF\"");
    let folder = folder_with(&[("slip.toml", &slip)]);
    for verb in ["check", "run --samples 10"] {
        let words = [
            "slip.toml:21:1\n",
            "the series resonance of this tank is 5.025 kHz",
            "the band 90.00 kHz to 300.0 kHz",
            "are the units of",
        ];
        refuses(folder.path(), &format!("{verb} slip.toml --out out"), 2, &words);
    }
}

/// Before a search that would take hours.
#[test]
fn a_folder_that_cannot_be_made_is_told_at_once() {
    let lamps = include_str!("../../scenarios/greenhouse-lamps.toml");
    let node = include_str!("../../scenarios/seabed-node.toml");
    let folder = folder_with(&[("shelf.toml", SHELF), ("lamps.toml", lamps), ("node.toml", node)]);
    for verb in ["run shelf.toml", "bands shelf.toml", "sensors lamps.toml", "grades node.toml"] {
        let arguments = format!("{verb} --samples 1000000000 --out shelf.toml/out");
        refuses(folder.path(), &arguments, 3, &["cannot make the output folder"]);
    }
}

/// 2.4 · (48 V + 2 · 0.7 V) is a third of 355.68 V: without resistance the three tanks are shorts at
/// their resonance, and the paralleled ones may share the current in any way at all.
#[test]
fn a_split_that_nothing_determines_is_said() {
    let lossless = changed(SHELF, "\"30 mΩ\"", "\"0 Ω\"");
    let lossless = changed(&lossless, "\"380 V\"", "\"355.68 V\"");
    let rows = "a,1,,,,,,,,\na,2,,,,,,,,\na,3,,,,,,,,\n";
    let parts = format!("{HEADER}{rows}");
    let folder = folder_with(&[("resonant.toml", &lossless), ("parts.csv", &parts)]);
    let words = ["not solved", "paralleled", "in any way at all", "series_resistance"];
    refuses(folder.path(), "run resonant.toml --out out", 2, &words);
    let said = succeed(folder.path(), "units resonant.toml --parts parts.csv --out out --tables");
    let reason = "full load, paralleled: not solved: at resonance without resistance";
    assert!(said.contains(reason), "{said}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("in any way at all"));
}

#[test]
fn a_folder_that_cannot_be_written_is_unfinished_work() {
    let parts = format!("{HEADER}a,1,,,,,,,,\na,2,,,,,,,,\na,3,,,,,,,,\n");
    let folder =
        folder_with(&[("shelf.toml", SHELF), ("parts.csv", &parts), ("out", "a file of mine")]);
    // Another name mends the first; the second cannot be made.
    for (out, status, words) in
        [("out", 2, ["is a file", "--out"]), ("out/below", 3, ["output folder", "out/below"])]
    {
        let arguments = format!("run shelf.toml --samples 10 --out {out}");
        refuses(folder.path(), &arguments, status, &words);
        let arguments = format!("units shelf.toml --parts parts.csv --out {out}");
        refuses(folder.path(), &arguments, status, &words);
    }
    assert_eq!(fs::read_to_string(folder.path().join("out")).unwrap(), "a file of mine");
}

/// A file that cannot grow stands for a full disk. `sh` sets the limit, in blocks of 512 bytes,
/// and makes the system report it as an error.
#[test]
fn a_disk_that_fills_up_is_unfinished_work() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let script = "trap '' XFSZ; ulimit -f 32; exec \"$0\" run shelf.toml --samples 3000 --out out";
    let output = std::process::Command::new("sh")
        .args(["-c", script, env!("CARGO_BIN_EXE_fairphase")])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let said = crate::support::said(output);
    assert_eq!((said.status, said.stdout.as_str()), (3, ""));
    let words = "cannot write out/samples.parquet: File too large";
    assert!(said.stderr.contains(words), "{}", said.stderr);
    assert_eq!(entries(folder.path()), ["shelf.toml"], "nothing half-written");
}

#[test]
fn require_pass_tells_scripts_the_verdict() {
    let strict = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.1 %\"");
    let folder = folder_with(&[("shelf.toml", SHELF), ("strict.toml", &strict)]);
    let status = |arguments: &str| {
        let said = fairphase(folder.path(), &format!("run {arguments} --out out --json"));
        let summary: Value = serde_json::from_str(&said.stdout).unwrap();
        (said.status, summary["joint"]["chain"]["verdict"].as_str().unwrap().to_owned())
    };
    // Without a failure 400 samples are enough for 99 % at 95 %; 50 are not (two-sided: 368).
    assert_eq!(status("shelf.toml --samples 400 --require-pass"), (0, "pass".into()));
    assert_eq!(status("shelf.toml --samples 50 --require-pass"), (1, "not decided".into()));
    assert_eq!(status("strict.toml --samples 400 --require-pass"), (1, "fail".into()));
    assert_eq!(status("strict.toml --samples 400"), (0, "fail".into()));
    assert_eq!(
        run_files(&folder.path().join("out")).len(),
        RUN_FILES.len(),
        "written whatever the verdict"
    );
}

/// Four operating points, one of them near the end of the frequency band, so that converters
/// fail in more than one way.
fn telecom() -> String {
    changed(TELECOM, "maximum = \"300 kHz\"", "maximum = \"205 kHz\"")
}

#[test]
fn json_prints_the_summary_and_quiet_prints_nothing() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let file = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let printed = succeed(folder.path(), "run shelf.toml --samples 50 --out a --json --quiet");
    assert_eq!(printed, file("a/summary.json"));
    assert_eq!(succeed(folder.path(), "run shelf.toml --samples 50 --out b --quiet"), "");
    assert_eq!(file("b/summary.json"), printed);
    let units = "units shelf.toml --parts a/worst_converters.csv";
    let printed = succeed(folder.path(), &format!("{units} --out c --json"));
    assert_eq!(printed, file("c/summary.json"));
    assert_eq!(succeed(folder.path(), &format!("{units} --out d --quiet")), "");
    let names = ["report.html", "summary.json", "unit_ratings.csv", "units.csv"];
    assert_eq!(entries(&folder.path().join("d")), names);
    let printed = succeed(folder.path(), "check shelf.toml --out e --json");
    let summary: Value = serde_json::from_str(&printed).unwrap();
    assert_eq!(summary["results"].as_array().unwrap().len(), 2);
    assert_eq!(succeed(folder.path(), "check shelf.toml --out e --quiet"), "");
    assert_eq!(entries(folder.path()), ["a", "b", "c", "d", "shelf.toml"], "check writes nothing");
}

/// Options and keys without anything that they act on are not passed over in silence.
#[test]
fn what_lacks_its_other_half_is_mentioned() {
    let start = "[start_up]\nload = \"50 %\"\n\n[limits]";
    let folder = folder_with(&[("shelf.toml", &changed(SHELF, "[limits]", start))]);
    succeed(folder.path(), "run shelf.toml --samples 3 --out out --quiet");
    let verb = "units shelf.toml --parts out/worst_converters.csv --out u";
    for (arguments, words) in [
        (
            "check shelf.toml",
            "`load` of [start_up] changes nothing: `output_capacitance` is not told",
        ),
        (&format!("{verb} --measuring-uncertainty 2%"), "--measuring-uncertainty changes nothing"),
    ] {
        let said = fairphase(folder.path(), arguments);
        assert_eq!(said.status, 0, "{}", said.stderr);
        assert!(said.stderr.contains(words), "{}", said.stderr);
    }
}

/// A mean in the middle of the band is the one that is left out: nothing is screened by it.
#[test]
fn a_mean_in_the_middle_changes_nothing() {
    let shape = "shape = \"normal\"";
    let text = changed(SHELF, "shape = \"uniform\"", shape);
    let told = changed(SHELF, "shape = \"uniform\"", &format!("{shape}\nmean = \"0 %\""));
    let folder = folder_with(&[("left.toml", &text), ("told.toml", &told)]);
    let [left, told] = ["left", "told"].map(|name| {
        let line = format!("run {name}.toml --samples 50 --no-explain --json --out {name}");
        let summary: Value = serde_json::from_str(&succeed(folder.path(), &line)).unwrap();
        summary["tolerances"].clone()
    });
    assert!(!left.is_null());
    assert_eq!(left, told);
}

/// All verbs take the same options; those for which one has no use are not passed over in silence.
#[test]
fn options_without_a_use_are_mentioned() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    succeed(folder.path(), "run shelf.toml --samples 3 --out out --quiet");
    for verb in ["check shelf.toml", "units shelf.toml --parts out/worst_converters.csv --out u"] {
        let plain = succeed(folder.path(), verb);
        let said = fairphase(folder.path(), &format!("{verb} --samples 5 --seed 7"));
        assert_eq!((said.status, said.stdout), (0, plain), "{verb}");
        let notes: Vec<&str> = said.stderr.lines().collect();
        assert_eq!(notes.len(), 2, "{notes:?}");
        assert!(notes[0].contains("--samples changes nothing"), "{notes:?}");
        assert!(notes[1].contains("--seed changes nothing"), "{notes:?}");
        succeed(folder.path(), &format!("{verb} --samples 5 --seed 7 --quiet"));
        let help = succeed(folder.path(), &format!("{} --help", verb.split(' ').next().unwrap()));
        assert!(help.contains("Nothing is sampled"), "{help}");
    }
}

#[test]
fn the_default_folder_is_named_after_the_scenario() {
    let folder = folder_with(&[("my shelf.toml", SHELF)]);
    let mut command = crate::support::command(folder.path(), "run --samples 20 --quiet");
    assert!(command.arg("my shelf.toml").status().unwrap().success());
    run_files(&folder.path().join("reports/my shelf"));
}

#[test]
fn options_come_before_the_scenarios_settings() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let run = |options: &str| -> Value {
        let printed = succeed(folder.path(), &format!("run shelf.toml --out out --json {options}"));
        serde_json::from_str(&printed).unwrap()
    };
    let summary = run("--samples 3e1 --seed 18446744073709551615 --solver averaged");
    assert_eq!(summary["samples"], 30);
    assert_eq!(summary["seed"], u64::MAX);
    assert_eq!(summary["solver"], "averaged");
    let summary = run("--solver averaged");
    assert_eq!((&summary["samples"], &summary["seed"]), (&20_000.into(), &1.into()));
    assert_eq!(summary["scenario"], "shelf.toml");
}

/// 80 columns, the names of a user's own lines among them.
#[test]
fn texts_fit_a_terminal() {
    let long = "the whole load of the exchange with all of its batteries connected and charging";
    let wide = SHELF
        .replace("phases = 3", "phases = 12")
        .replace("\"380 V\"", "\"1520 V\"")
        .replace("\"3 kW\"", "\"12 kW\"")
        .replace("full load", long)
        .replace("Shelf supply, three phases", &format!("A shelf that carries {long}"));
    let files = [("telecom.toml", &*telecom()), ("wide.toml", &wide), ("averaged.toml", TELECOM)];
    let folder = folder_with(&files);
    let mut texts = vec![];
    for scenario in ["telecom", "wide"] {
        for verb in [
            format!("check {scenario}.toml"),
            format!("run {scenario}.toml --samples 100 --out {scenario}"),
            format!("units {scenario}.toml --parts {scenario}/worst_converters.csv --out units"),
        ] {
            texts.push((succeed(folder.path(), &verb), verb));
        }
    }
    let averaged = "run averaged.toml --samples 100 --out averaged --solver averaged";
    texts.push((succeed(folder.path(), averaged), averaged.to_owned()));
    for verb in ["", "run", "check", "units"] {
        let arguments = format!("{verb} --help");
        texts.push((succeed(folder.path(), &arguments), arguments));
    }
    for (text, arguments) in texts {
        assert!(text.lines().count() > 5, "{arguments}:\n{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{arguments}: too long:\n{line}");
            assert!(!line.contains(['\u{1b}', '\r']), "{arguments}: no control characters");
        }
    }
}

/// What a run wrote, in which converters fail in several ways.
struct Ran {
    summary: Value,
    cases: BTreeMap<(String, String), Vec<Row>>,
    population: Frame,
    worst_converters: String,
}

/// What `samples.parquet` tells of one converter in one case.
#[derive(Clone, Debug)]
struct Row {
    solved: bool,
    status: String,
    meets_limits: bool,
    sharing_error: f64,
    rms: f64,
    peak: f64,
    blocking: f64,
}

/// More than a batch.
const SAMPLES: usize = 2500;

static RAN: LazyLock<Ran> = LazyLock::new(|| {
    let folder = folder_with(&[("telecom.toml", &telecom())]);
    succeed(folder.path(), &format!("run telecom.toml --samples {SAMPLES} --out out --quiet"));
    let out = folder.path().join("out");
    assert_eq!(run_files(&out).len(), RUN_FILES.len());
    Ran {
        summary: json(&out.join("summary.json")),
        cases: cases(&parquet(&out.join("samples.parquet"))),
        population: parquet(&out.join("population.parquet")),
        worst_converters: fs::read_to_string(out.join("worst_converters.csv")).unwrap(),
    }
});

fn cases(frame: &Frame) -> BTreeMap<(String, String), Vec<Row>> {
    assert_eq!(frame.height(), SAMPLES * 4 * 2);
    let names = [words(frame, "operating_point"), words(frame, "arrangement")];
    let (sample, status) = (counts(frame, "sample"), words(frame, "status"));
    let meets = truths(frame, "meets_limits");
    let columns =
        ["sharing_error", "switch_rms_current_A", "switch_peak_current_A", "blocking_voltage_V"]
            .map(|name| floats(frame, name));
    let mut cases: BTreeMap<_, Vec<Row>> = BTreeMap::new();
    for n in 0..frame.height() {
        let rows = cases.entry((names[0][n].clone(), names[1][n].clone())).or_default();
        assert_eq!(sample[n], rows.len() as u64, "every sample once, in order");
        rows.push(Row {
            solved: status[n] == "solved",
            status: status[n].clone(),
            meets_limits: meets[n],
            sharing_error: columns[0][n],
            rms: columns[1][n],
            peak: columns[2][n],
            blocking: columns[3][n],
        });
    }
    cases
}

impl Ran {
    /// Every case's results with its rows.
    fn each(&self) -> impl Iterator<Item = (&Value, &[Row])> {
        self.summary["results"].as_array().unwrap().iter().map(|result| {
            let word = |key: &str| result[key].as_str().unwrap().to_owned();
            (result, self.cases[&(word("operating_point"), word("arrangement"))].as_slice())
        })
    }
}

/// Whether two numbers are the same, as far as `serde_json` reads them: to the last bit or two.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 2.0 * f64::EPSILON * b.abs()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// The limits of `telecom()`, as its text states them.
fn good(row: &Row, arrangement: &str) -> bool {
    let (rms, peak, blocking) =
        if arrangement == "chain" { (9.0, 18.5, 300.0) } else { (3.0, 6.2, 450.0) };
    row.solved
        && row.sharing_error <= 0.025
        && row.rms <= rms
        && row.peak <= peak
        && row.blocking <= blocking
}

/// In half-bridge drive the return leg holds its low sides on: each carries its phase's tank current,
/// of the paralleled reference's rescaled tanks an N-th, and counts among the switches.
#[test]
fn switches_held_on_are_switches() {
    let pump = include_str!("../../scenarios/pump-drive.toml");
    let folder = folder_with(&[("pump.toml", pump)]);
    let summary = succeed(folder.path(), "run pump.toml --samples 50 --out out --json");
    let summary: Value = serde_json::from_str(&summary).unwrap();
    let results = summary["results"].as_array().unwrap();
    assert_eq!(results.len(), 4, "two points in half-bridge drive, both arrangements");
    for result in results {
        assert_eq!(result["drive"], "half-bridge");
        let scale = if result["arrangement"] == "chain" { 1.0 } else { 0.5 };
        let figures = &result["figures"];
        for (kind, worst) in
            [("rms", &result["switch_rms_current_A"]), ("peak", &result["switch_peak_current_A"])]
        {
            let mut highest: f64 = 0.0;
            for phase in [1, 2] {
                assert!(figures[format!("return_high_{phase}_switch_{kind}_current_A")].is_null());
                let held = &figures[format!("return_low_{phase}_switch_{kind}_current_A")]["max"];
                let tank = &figures[format!("{kind}_tank_current_{phase}_A")]["max"];
                assert!((number(held) / number(tank) / scale - 1.0).abs() < 1e-12, "{held} {tank}");
                highest = highest.max(number(held));
            }
            assert!(same(number(&worst["max"]), highest), "{kind}: {worst} {highest}");
        }
    }
}

/// The quantile of `percent` as the inverse of the empirical distribution (R. J. Hyndman and
/// Y. Fan, Am. Stat. 50 (1996) 361, definition 1): the value of rank ⌈n percent/100⌉.
fn quantile(values: &[f64], percent: usize) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[(values.len() * percent).div_ceil(100) - 1]
}

/// Clopper and Pearson (1934): at the ends of the interval, the binomial tails that reach to
/// what was seen have half of 1 − confidence each; by the beta distribution of statrs.
fn is_exact_interval(good: &Value, successes: usize, trials: usize, confidence: f64) {
    let estimate = successes as f64 / trials as f64;
    assert!(same(number(&good["estimate"]), estimate), "{good}, not {estimate}");
    assert_eq!(number(&good["confidence"]), confidence);
    let (k, n, tail) = (successes as f64, trials as f64, (1.0 - confidence) / 2.0);
    let (lower, upper) = (number(&good["lower"]), number(&good["upper"]));
    if successes == 0 {
        assert_eq!(lower, 0.0);
    } else {
        assert!((Beta::new(k, n - k + 1.0).unwrap().cdf(lower) - tail).abs() < 1e-9);
    }
    if successes == trials {
        assert_eq!(upper, 1.0);
    } else {
        assert!((Beta::new(k + 1.0, n - k).unwrap().sf(upper) - tail).abs() < 1e-9);
    }
}

#[test]
fn the_summary_holds_every_field() {
    let summary = &RAN.summary;
    for key in ["schema", "scenario", "seed", "samples", "solver", "results", "joint"] {
        assert!(!summary[key].is_null(), "`{key}` is missing");
    }
    assert_eq!(summary["samples"], SAMPLES);
    let results = summary["results"].as_array().unwrap();
    assert_eq!(results.len(), 8);
    for result in results {
        assert!(result["operating_point"].is_string());
        assert!(["chain", "paralleled"].contains(&result["arrangement"].as_str().unwrap()));
        for (group, keys) in [
            ("counts", &["solved", "out_of_range", "not_solved"][..]),
            ("sharing_error", &["mean", "sd", "p50", "p95", "p99", "max"]),
            ("yield", &["estimate", "lower", "upper", "confidence"]),
            ("switch_rms_current_A", &["p50", "p99", "max"]),
            ("switch_peak_current_A", &["p50", "p99", "max"]),
        ] {
            for key in keys {
                let value = &result[group][key];
                let may_be_beyond = ["p50", "p95", "p99"].contains(key) && value.is_null();
                let is_there = result[group].as_object().unwrap().contains_key(*key);
                assert!(is_there && (value.is_number() || may_be_beyond), "`{group}.{key}`");
            }
        }
    }
    for arrangement in ["chain", "paralleled"] {
        let joint = &summary["joint"][arrangement];
        for key in ["estimate", "lower", "upper", "confidence"] {
            assert!(joint["yield"][key].is_number(), "`joint.{arrangement}.yield.{key}`");
        }
        let verdict = joint["verdict"].as_str().unwrap();
        assert!(["pass", "fail", "not decided"].contains(&verdict), "{verdict}");
    }
}

#[test]
fn the_summary_agrees_with_the_samples() {
    let mut seen = BTreeMap::new();
    for (result, rows) in RAN.each() {
        assert_eq!(rows.len(), SAMPLES);
        for (key, status) in
            [("solved", "solved"), ("out_of_range", "out of range"), ("not_solved", "not solved")]
        {
            let count = rows.iter().filter(|row| row.status == status).count();
            assert_eq!(result["counts"][key], count, "{key}");
            *seen.entry(status).or_insert(0) += count;
        }
        let arrangement = result["arrangement"].as_str().unwrap();
        for row in rows {
            assert_eq!(row.meets_limits, good(row, arrangement), "{row:?}");
            assert_eq!(row.solved, row.sharing_error.is_finite(), "{row:?}");
        }
        let successes = rows.iter().filter(|row| good(row, arrangement)).count();
        is_exact_interval(&result["yield"], successes, SAMPLES, 0.95);
        let figures: [(&str, fn(&Row) -> f64); 4] = [
            ("sharing_error", |row| row.sharing_error),
            ("switch_rms_current_A", |row| row.rms),
            ("switch_peak_current_A", |row| row.peak),
            ("blocking_voltage_V", |row| row.blocking),
        ];
        for (key, of) in figures {
            let values: Vec<f64> = rows.iter().map(of).collect();
            is_summary(&result[key], &values);
        }
    }
    assert_eq!(seen.values().sum::<usize>(), SAMPLES * 8);
    assert!(seen["out of range"] > 0, "this scenario has converters out of range");
}

/// Mean and deviation of the solved samples to rounding, their extremes exactly. Quantiles of all
/// samples exactly: those without a value, here NaN, stand above all values.
fn is_summary(summary: &Value, all: &[f64]) {
    let values: Vec<f64> = all.iter().copied().filter(|x| !x.is_nan()).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    assert_eq!(summary["not_finite"], all.len() - values.len());
    assert!((number(&summary["mean"]) / mean - 1.0).abs() < 1e-12);
    assert!((number(&summary["sd"]) - sd).abs() < 1e-12 * mean);
    assert!(same(number(&summary["max"]), quantile(&values, 100)), "the largest");
    for (key, percent) in [("p05", 5), ("p50", 50), ("p95", 95), ("p99", 99)] {
        let expected = quantile(all, percent);
        if expected.is_nan() {
            assert!(summary[key].is_null(), "{key}: {}", summary[key]);
        } else {
            assert!(same(number(&summary[key]), expected), "{key}");
        }
    }
}

/// Every ninth converter or so is out of range at one operating point: its 95 and 99 % quantiles do not
/// exist, and the median is that of all samples. Page and terminal say so.
#[test]
fn quantiles_among_samples_out_of_range_are_beyond() {
    let folder = folder_with(&[("telecom.toml", &telecom())]);
    let said =
        succeed(folder.path(), &format!("run telecom.toml --samples {SAMPLES} --tables --out out"));
    let out = folder.path().join("out");
    let (summary, rows) =
        (json(&out.join("summary.json")), cases(&parquet(&out.join("samples.parquet"))));
    let mut beyond = 0;
    for result in summary["results"].as_array().unwrap() {
        let word = |key: &str| result[key].as_str().unwrap().to_owned();
        let rows = &rows[&(word("operating_point"), word("arrangement"))];
        let errors: Vec<f64> = rows.iter().map(|row| row.sharing_error).collect();
        is_summary(&result["sharing_error"], &errors);
        let out_of_range = result["counts"]["out_of_range"].as_f64().unwrap() / SAMPLES as f64;
        assert_eq!(result["histogram"]["not_finite"], result["counts"]["out_of_range"]);
        if (0.1..0.4).contains(&out_of_range) {
            beyond += 1;
            let error = &result["sharing_error"];
            assert!(error["p99"].is_null() && error["p95_interval"]["upper"].is_null(), "{error}");
            assert!(error["p50_interval"]["upper"].is_number() && error["max"].is_number());
        }
    }
    assert!(beyond > 0, "{summary}");
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(said.contains("beyond") && said.contains("Beyond: the quantile falls"), "{said}");
    assert!(page.contains(">beyond<"), "the page says so");
}

#[test]
fn the_joint_yield_agrees_with_the_samples() {
    for arrangement in ["chain", "paralleled"] {
        let cases: Vec<&Vec<Row>> =
            RAN.cases.iter().filter(|(case, _)| case.1 == arrangement).map(|(_, r)| r).collect();
        assert_eq!(cases.len(), 4);
        let all_good = |n: usize| cases.iter().all(|rows| good(&rows[n], arrangement));
        let successes = (0..SAMPLES).filter(|n| all_good(*n)).count();
        let least = cases.iter().map(|rows| rows.iter().filter(|r| good(r, arrangement)).count());
        assert!(successes <= least.min().unwrap());
        let joint = &RAN.summary["joint"][arrangement];
        is_exact_interval(&joint["yield"], successes, SAMPLES, 0.95);
        let (lower, upper) = (number(&joint["yield"]["lower"]), number(&joint["yield"]["upper"]));
        let verdict = match (lower >= 0.99, upper < 0.99) {
            (true, _) => "pass",
            (_, true) => "fail",
            _ => "not decided",
        };
        assert_eq!(joint["verdict"], verdict);
    }
}

#[test]
fn the_population_holds_the_parts_of_every_sample() {
    let frame = &RAN.population;
    assert_eq!(frame.height(), SAMPLES);
    assert_eq!(counts(frame, "sample"), (0..SAMPLES as u64).collect::<Vec<_>>());
    assert_eq!(frame.width(), 1 + 3 * 6 + 2 * 2);
    let mut reader = csv::Reader::from_reader(RAN.worst_converters.as_bytes());
    assert_eq!(reader.headers().unwrap(), HEADER.trim_end().split(',').collect::<Vec<_>>());
    let mut rows = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let Some(words) = record[0].strip_prefix("sample ") else { continue };
        let sample: usize = words.split(':').next().unwrap().parse().unwrap();
        for (cell, column) in record.iter().zip(HEADER.trim_end().split(',')).skip(2) {
            if cell.is_empty() {
                assert!(column.starts_with("flying") && &record[1] == "3");
                continue;
            }
            let (stem, unit) = column.rsplit_once('_').unwrap();
            let name = match (column, unit) {
                ("turns_ratio", _) => format!("turns_ratio_{}", &record[1]),
                _ => format!("{stem}_{}_{unit}", &record[1]),
            };
            assert_eq!(cell.parse::<f64>().unwrap(), floats(frame, &name)[sample], "{name}");
        }
        rows += 1;
    }
    assert_eq!(rows, 8 * 3);
}

const UNITS_HEADER: &str = "unit,operating_point,arrangement,solver,phase,status,\
switching_frequency_Hz,output_current_A,mean_abs_tank_current_A,rms_tank_current_A,\
peak_tank_current_A,charge_C,interval_start_voltage_V,sharing_error,meets_limits,\
measured_output_current_A,output_current_difference_A,measured_mean_abs_tank_current_A,\
mean_abs_tank_current_difference_A,measured_rms_tank_current_A,rms_tank_current_difference_A";

/// The rows of a `units.csv`, by column.
fn units(path: &Path) -> Vec<BTreeMap<String, String>> {
    let text = fs::read_to_string(path).unwrap();
    assert_eq!(text.lines().next(), Some(UNITS_HEADER));
    csv::Reader::from_reader(text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

#[test]
fn the_worst_converters_fed_back_are_as_bad_as_the_summary_says() {
    let (summary, scenario) = (&RAN.summary, telecom());
    let files = [("telecom.toml", scenario.as_str()), ("worst.csv", &RAN.worst_converters)];
    let folder = folder_with(&files);
    let parts = "--parts worst.csv";
    succeed(folder.path(), &format!("units telecom.toml {parts} --out units --quiet"));
    let rows = units(&folder.path().join("units/units.csv"));
    let of_samples = rows.iter().filter(|row| row["unit"].starts_with("sample "));
    assert_eq!(of_samples.count(), 8 * 8 * 3, "units × cases × phases");
    for result in summary["results"].as_array().unwrap() {
        let word = |key: &str| result[key].as_str().unwrap();
        let (point, arrangement) = (word("operating_point"), word("arrangement"));
        let worst = number(&result["worst"]["sharing_error"]);
        assert_eq!(worst, number(&result["sharing_error"]["max"]));
        let unit = format!("sample {}: worst {arrangement} at {point}", result["worst"]["sample"]);
        let same = |row: &&BTreeMap<String, String>| {
            row["unit"] == unit
                && row["operating_point"] == point
                && row["arrangement"] == arrangement
        };
        let found: Vec<_> = rows.iter().filter(same).collect();
        assert_eq!(found.len(), 3, "{unit}: one row a phase");
        for row in found {
            assert_eq!((row["status"].as_str(), row["solver"].as_str()), ("solved", "exact"));
            let error: f64 = row["sharing_error"].parse().unwrap();
            assert!((error - worst).abs() < 1e-9, "{unit}: {error} against {worst}");
        }
    }
}

/// `units` finds every extreme value again, to the last bit, and no steady state where the search found
/// none. No extreme value is below the largest sample.
#[test]
fn the_extreme_converters_fed_back_give_the_extreme_values_exactly() {
    let (summary, scenario) = (&RAN.summary, telecom());
    let files = [("telecom.toml", scenario.as_str()), ("worst.csv", &RAN.worst_converters)];
    let folder = folder_with(&files);
    succeed(folder.path(), "units telecom.toml --parts worst.csv --out units --quiet");
    let listed = json(&folder.path().join("units/summary.json"));
    let result = |unit: &Value, worst: &Value| {
        let same = |result: &&Value| {
            result["unit"] == *unit
                && result["operating_point"] == worst["operating_point"]
                && result["arrangement"] == worst["arrangement"]
        };
        listed["results"].as_array().unwrap().iter().find(same).unwrap().clone()
    };
    let worst_cases = summary["worst_case"].as_array().unwrap();
    assert_eq!(worst_cases.len(), 8 * 4, "cases × limits");
    let mut unsolved = 0;
    for worst in worst_cases {
        let solved = result(&worst["unit"], worst);
        let figure = worst["figure"].as_str().unwrap();
        assert_eq!(solved[figure], worst["extreme_value"], "{}", worst["unit"]);
        let value = number(&worst["extreme_value"]);
        assert!(value >= number(&worst["largest_sample"]) * (1.0 - 1e-9), "{}", worst["unit"]);
        let search = &worst["search"];
        if !search["unsolved_unit"].is_null() {
            unsolved += 1;
            let status = result(&search["unsolved_unit"], worst)["status"].clone();
            assert!(
                search["unsolved_unit"].as_str().unwrap().starts_with(status.as_str().unwrap())
            );
        }
    }
    let out_of_range = worst_cases.iter().map(|worst| number(&worst["search"]["out_of_range"]));
    assert!(unsolved > 0 || out_of_range.sum::<f64>() == 0.0);
}

/// A scenario around a case of `data/solved_converters.json`; its parts come from the parts file.
fn scenario_of(case: &Value) -> String {
    let (text, value) =
        (|key: &str| case[key].as_str().unwrap().to_owned(), |key: &str| number(&case[key]));
    format!(
        "title = \"{}\"\n[converter]\nphases = {}\n[converter.tank]\n\
         resonant_inductance = \"1 µH\"\nresonant_capacitance = \"1 µF\"\n\
         magnetising_inductance = \"5 µH\"\nturns_ratio = 1\nseries_resistance = \"1 mΩ\"\n\
         rectifier_drop = \"0.1 V\"\n[converter.chain]\nflying_capacitance = \"10 µF\"\n\
         [converter.frequency]\nminimum = \"20 kHz\"\nmaximum = \"2 MHz\"\n[[operating_point]]\n\
         name = \"rated\"\ninput_voltage = \"{} V\"\noutput_voltage = \"{} V\"\n\
         output_current = \"{} A\"\ndrive = \"{}\"\nrectifier = \"{}\"\n",
        text("id"),
        case["phases"],
        value("input_voltage_V"),
        value("output_voltage_V"),
        value("output_current_A"),
        text("drive"),
        text("rectifier"),
    )
}

fn parts_of(case: &Value) -> String {
    let mut text = HEADER.to_owned();
    for (k, tank) in case["parts"].as_array().unwrap().iter().enumerate() {
        let flying = case["flying_capacitance_F"].get(k).map_or(String::new(), Value::to_string);
        let tank = [
            "resonant_inductance_H",
            "resonant_capacitance_F",
            "magnetising_inductance_H",
            "turns_ratio",
            "series_resistance_ohm",
        ]
        .map(|key| number(&tank[key]).to_string())
        .join(",");
        let drop = number(&case["rectifier_drop_V"]);
        text += &format!("case,{},{tank},{drop},{flying},\n", k + 1);
    }
    text
}

/// Invented converters of 2 to 5 phases, solved by an independent nested-bracket solver to 1e-9,
/// its peaks sampled 4000 points a segment: 1e-6 and 1e-5 here.
#[test]
fn units_agree_with_an_independent_solver() {
    let file: Value = serde_json::from_str(include_str!("../data/solved_converters.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 14);
    for case in cases {
        let folder =
            folder_with(&[("case.toml", &scenario_of(case)), ("parts.csv", &parts_of(case))]);
        succeed(folder.path(), "units case.toml --parts parts.csv --out out --quiet");
        let rows = units(&folder.path().join("out/units.csv"));
        for arrangement in ["chain", "paralleled"] {
            let rows: Vec<_> = rows.iter().filter(|r| r["arrangement"] == arrangement).collect();
            assert_eq!(rows.len() as u64, case["phases"].as_u64().unwrap());
            for (k, row) in rows.into_iter().enumerate() {
                agrees(row, &case["expected"][arrangement], k, &format!("{} {k}", case["id"]));
            }
        }
    }
}

/// Every expected value of phase `k`; what stands once holds for all phases.
fn agrees(row: &BTreeMap<String, String>, expected: &Value, k: usize, what: &str) {
    assert_eq!((row["status"].as_str(), row["phase"].as_str()), ("solved", &*(k + 1).to_string()));
    let expected = expected.as_object().unwrap();
    assert!(expected.len() >= 5);
    for (column, value) in expected {
        let value = number(value.get(k).unwrap_or(value));
        let found: f64 = row[column].parse().unwrap();
        let tolerance = if column == "peak_tank_current_A" { 1e-5 } else { 1e-6 };
        assert!((found / value - 1.0).abs() < tolerance, "{what}, {column}: {found}, not {value}");
    }
}

#[test]
fn an_unsolved_unit_keeps_its_rows() {
    // Ten times the resonant inductance: far too low a resonance for the frequency band.
    let rows = [1, 2, 3].map(|k| format!("far,{k},4.56e-5,,,,,,,\n"));
    let parts = format!("{HEADER}{}", rows.concat());
    let folder = folder_with(&[("shelf.toml", SHELF), ("parts.csv", &parts)]);
    let text = succeed(folder.path(), "units shelf.toml --parts parts.csv --out out");
    assert!(text.contains("out of range"), "{text}");
    let rows = units(&folder.path().join("out/units.csv"));
    assert_eq!(rows.len(), 2 * 3);
    for row in rows {
        assert_eq!(row["status"], "out of range");
        assert_eq!(row["meets_limits"], "false");
        for column in UNITS_HEADER.split(',').skip(6).filter(|name| *name != "meets_limits") {
            assert_eq!(row[column], "", "{column}");
        }
    }
}

/// Far outside any tolerance band a solver may fail, and has to say so: what it calls solved delivers
/// the wanted 62.5 A, and every phase of a chain passes the same charge.
#[test]
fn mismatched_units_are_solved_right_or_not_at_all() {
    let mut parts = HEADER.to_owned();
    for cells in [
        "7e-6,", "1e-5,", "2e-5,", "5e-5,", "1e-4,", "1e-3,", "1e-2,", "1e-1,", "1e-6,", "1e-7,",
        "1e-8,", ",1e-6", ",1e-7", ",5e-8", ",1e-8", ",1e-9",
    ] {
        let unit = cells.replace(',', ";");
        parts += &format!("{unit},1,,,,,,,,\n{unit},2,{cells},,,,,,\n{unit},3,,,,,,,,\n");
    }
    let folder = folder_with(&[("shelf.toml", SHELF), ("parts.csv", &parts)]);
    succeed(folder.path(), "units shelf.toml --parts parts.csv --out out --quiet");
    let mut seen = [0, 0];
    for phases in units(&folder.path().join("out/units.csv")).chunks(3) {
        let what = format!("{} {}", phases[0]["unit"], phases[0]["arrangement"]);
        if phases[0]["status"] != "solved" {
            seen[1] += 1;
            continue;
        }
        seen[0] += 1;
        let of = |column: &str| [0, 1, 2].map(|k| phases[k][column].parse::<f64>().unwrap());
        let output: f64 = of("output_current_A").iter().sum();
        assert!((output / 62.5 - 1.0).abs() < 1e-6, "{what}: {output} A");
        let charge = of("charge_C");
        let equal = charge.iter().all(|q| (q / charge[0] - 1.0).abs() < 1e-6);
        assert!(equal || phases[0]["arrangement"] == "paralleled", "{what}: {charge:?}");
    }
    assert!(seen[0] > 10 && seen[1] > 2, "{seen:?}");
}

/// A folder holds the results of the last verb alone: what an earlier one wrote goes, but for the file
/// that the later one read.
#[test]
fn results_of_another_verb_are_replaced_and_that_is_said() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("reports/shelf");
    succeed(folder.path(), "run shelf.toml --samples 50 --quiet");
    assert_eq!(entries(&out), RUN_FILES);
    fs::write(out.join("notes.txt"), "by the user").unwrap();
    let parts = "reports/shelf/worst_converters.csv";
    let said = fairphase(folder.path(), &format!("units shelf.toml --parts {parts}"));
    let note = "note: the results of `run` in reports/shelf were replaced; --out DIR keeps both\n";
    assert_eq!((said.status, said.stderr.as_str()), (0, note));
    let own = [
        "notes.txt",
        "report.html",
        "summary.json",
        "unit_ratings.csv",
        "units.csv",
        "worst_converters.csv",
    ];
    assert_eq!(entries(&out), own);
    let files = &json(&out.join("summary.json"))["files"];
    assert_eq!(
        files,
        &serde_json::json!(["report.html", "unit_ratings.csv", "units.csv", "summary.json"])
    );
    succeed(folder.path(), "gain shelf.toml --quiet");
    let own = ["gain.csv", "notes.txt", "report.html", "summary.json"];
    assert_eq!(entries(&out), own, "what was read then is known as a result still");
}

/// The answer fits a screenful, with a histogram of each operating point that holds its largest bin, whatever
/// the number of phases; `--tables` adds to it and takes nothing away.
#[test]
fn the_answer_fits_a_screenful() {
    let twelve = SHELF
        .replace("phases = 3", "phases = 12")
        .replace("\"380 V\"", "\"1520 V\"")
        .replace("\"3 kW\"", "\"12 kW\"");
    let folder = folder_with(&[("telecom.toml", TELECOM), ("twelve.toml", &twelve)]);
    for (name, histograms) in [("telecom", 8), ("twelve", 2)] {
        let line = format!("run {name}.toml --samples 400 --out {name}");
        let screen = succeed(folder.path(), &line);
        assert!(screen.lines().count() <= 45, "{screen}");
        assert!(screen.lines().all(|line| line.chars().count() <= 80), "{screen}");
        let drawn = screen.lines().filter(|line| line.contains('│')).count();
        assert_eq!(drawn, histograms, "two a point, two of the largest: {screen}");
        assert!(screen.contains('█') && screen.contains("\n  fairphase "), "{screen}");
        let all = succeed(folder.path(), &format!("{line} --tables"));
        let answer = screen.split("\nReport:").next().unwrap();
        assert!(all.starts_with(answer), "{all}");
        assert!(all.contains("What to order for the chain") && !screen.contains("What to order"));
        assert!(all.lines().all(|line| line.chars().count() <= 80), "{all}");
    }
}

/// Intervals of shares of variance from few draws hold less often than they say, and the page says that.
#[test]
fn rough_intervals_of_shares_are_said() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    for (samples, is_rough) in [(3000, true), (12_000, false)] {
        let line = format!("run shelf.toml --samples {samples} --solver averaged --out out");
        succeed(folder.path(), &line);
        let summary = json(&folder.path().join("out/summary.json"));
        let draws = summary["driver_draws"]["draws"].as_u64().unwrap();
        assert_eq!((25..100).contains(&draws), is_rough, "{draws}");
        let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        assert_eq!(page.contains("So few pairs make the intervals rough"), is_rough, "{draws}");
    }
}
