//! The pages of all demos and of unusual scenarios, in a browser: `tests/pages/check.mjs` looks at them.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::env;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::support::{SHELF, TELECOM, changed, command, folder_with, json};

/// Every verb that makes a page, on its demos, after those whose files it needs. Few samples: a page
/// shows the same with many.
const DEMOS: [(&str, &str); 23] = [
    ("run-telecom-shelf", "run telecom-shelf.toml --samples 500"),
    ("run-pump-drive", "run pump-drive.toml --samples 500"),
    ("run-electrolyser-supply", "run electrolyser-supply.toml --samples 500"),
    ("run-observatory-dome", "run observatory-dome.toml --samples 500"),
    ("run-ferry-lighting", "run ferry-lighting.toml --samples 500"),
    ("run-foundry-magnet", "run foundry-magnet.toml --samples 500"),
    ("run-averaged", "run telecom-shelf.toml --samples 500 --solver averaged"),
    ("units", "units telecom-shelf.toml --parts run-telecom-shelf/worst_converters.csv"),
    (
        "units-measured",
        "units pump-drive.toml --parts pump-drive-prototypes.csv --measured pump-drive-currents.csv \
         --measuring-uncertainty 2% --over-load",
    ),
    ("gain", "gain electrolyser-supply.toml"),
    ("bands", "bands runway-lights.toml --samples 700"),
    ("bands-steps", "bands steps.toml --samples 700 --solver averaged"),
    ("grades", "grades seabed-node.toml --samples 500"),
    (
        "grades-stock",
        "grades seabed-node.toml --samples 500 --stock seabed-node-tanks.csv \
         --capacitors seabed-node-capacitors.csv",
    ),
    ("stock", "grades seabed-node.toml --stock seabed-node-tanks.csv --allot-only"),
    ("sensors", "sensors greenhouse-lamps.toml --samples 500"),
    ("capacitors", "capacitors canal-lock.toml --samples 500"),
    ("faults", "faults lock-gates.toml --samples 200"),
    ("shapes-cores", "shapes incoming-cores.csv"),
    ("shapes-rectifiers", "shapes incoming-rectifiers.csv"),
    ("shapes-transformers", "shapes incoming-transformers.csv"),
    ("compare", "compare run-telecom-shelf run-averaged"),
    ("compare-designs", "compare run-telecom-shelf run-pump-drive"),
];

/// A name that no table and no figure is made for.
const LONG: &str =
    "the whole load of the exchange with all of its batteries connected and charging";

/// Scenarios at the edges of what is allowed, each for `run`; invented, like all of the demos.
fn unusual() -> [(&'static str, String); 6] {
    let two = TELECOM.replace("\"380 V\"", "\"253.3 V\"");
    let twelve = SHELF
        .replace("\"380 V\"", "\"1520 V\"")
        .replace("\"3 kW\"", "\"12 kW\"")
        .replace("full load", LONG);
    let point = &TELECOM[TELECOM.find("[[operating_point]]").unwrap()..];
    let point = &point[..point.find("\n\n").unwrap() + 2];
    let points: String =
        (4..=6).map(|n| point.replace("full load", &format!("{n} h into {LONG}"))).collect();
    let seven = changed(TELECOM, "# Bands are half widths.", &format!("{points}# Half widths."));
    [
        ("two-phases", changed(&two, "phases = 3", "phases = 2")),
        ("twelve-phases", changed(&twelve, "phases = 3", "phases = 12")),
        ("seven-points", seven.replace("battery low", &format!("battery low, {LONG}"))),
        ("one-point", SHELF.to_owned()),
        ("no-sharing-limit", changed(TELECOM, "sharing_error = \"2.5 %\"\n", "")),
        // A third of the converters would need a higher frequency.
        ("out-of-range", changed(SHELF, "\"300 kHz\"", "\"170 kHz\"")),
    ]
}

/// Whether a program is there and begins.
fn is_there(program: &str) -> bool {
    Command::new(program).arg("--version").output().is_ok_and(|output| output.status.success())
}

/// What the checks need and is not there. A machine that checks every change (it sets `CI`) must have all.
fn missing(checks: &Path) -> Option<String> {
    let browser = env::var("CHROMIUM").unwrap_or_else(|_| "chromium".to_owned());
    let needed = [
        ("Node.js", is_there("node")),
        ("Chromium", is_there(&browser)),
        (
            "tests/pages/node_modules (npm ci --prefix tests/pages)",
            checks.join("node_modules").is_dir(),
        ),
    ];
    let missing = needed.iter().filter(|(_, there)| !there).map(|(name, _)| *name);
    let missing = missing.collect::<Vec<_>>().join(", ");
    let line = format!("pages were not looked at in a browser, for want of: {missing}");
    assert!(missing.is_empty() || env::var_os("CI").is_none(), "{line}");
    (!missing.is_empty()).then_some(line)
}

/// Whether the checks cannot be made. The line that tells is written past the macros whose output the
/// test runner keeps to itself.
fn is_skipped() -> bool {
    let missing = missing(&checks());
    if let Some(line) = &missing {
        io::stderr().write_all(format!("SKIPPED: {line}\n").as_bytes()).unwrap();
    }
    missing.is_some()
}

fn checks() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pages")
}

/// A folder with all demos, a set of steps to order, and the unusual scenarios.
fn inputs() -> tempfile::TempDir {
    let unusual = unusual().map(|(name, text)| (format!("{name}.toml"), text));
    let texts = unusual.each_ref().map(|(name, text)| (name.as_str(), text.as_str()));
    let folder = folder_with(&texts);
    for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios")).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
    }
    let bands = fs::read_to_string(folder.path().join("runway-lights.toml")).unwrap();
    let [priced, run] = ["[bands.price]", "[run]"].map(|table| bands.find(table).unwrap());
    let steps = format!("{}{}", &bands[..priced], &bands[run..]);
    fs::write(folder.path().join("steps.toml"), steps).unwrap();
    folder
}

/// Makes a page; its name is that of the folder.
fn make(folder: &Path, name: &str, arguments: &str) {
    let line = format!("{arguments} --quiet --figures --out {name}");
    let output = command(folder, &line).output().unwrap();
    // Notes on standard error are nothing to worry about here.
    assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
}

/// Looks at all pages of a folder: what was said, and whether nothing was found.
fn look(folder: &Path) -> (String, bool) {
    let script = checks().join("check.mjs");
    let output = Command::new("node").arg(script).arg(folder).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    (said.into_owned(), output.status.success())
}

#[test]
fn every_page_is_whole_in_a_browser() {
    if is_skipped() {
        return;
    }
    let folder = inputs();
    for (name, arguments) in DEMOS {
        make(folder.path(), name, arguments);
    }
    for (name, _) in unusual() {
        make(folder.path(), &format!("run-{name}"), &format!("run {name}.toml --samples 300"));
    }
    let (said, well) = look(folder.path());
    assert!(well, "{said}");
    let runs = DEMOS.iter().filter(|(_, arguments)| arguments.starts_with("run "));
    for (name, _) in runs {
        check_picked(folder.path(), name);
    }
}

/// The converter that was picked in the browser: its file of parts, as the page gives it, and its command
/// give the numbers that the page tells, in three digits.
fn check_picked(folder: &Path, name: &str) {
    let picked = json(&folder.join(name).join("picked.json"));
    let words: Vec<&str> = picked["command"].as_str().unwrap().split_whitespace().collect();
    let file = words[words.iter().position(|word| *word == "--parts").unwrap() + 1];
    fs::write(folder.join(file), picked["csv"].as_str().unwrap()).unwrap();
    make(folder, "picked-again", &words[1..].join(" "));
    let again = json(&folder.join("picked-again/summary.json"));
    let results = again["results"].as_array().unwrap();
    let rows = picked["results"].as_array().unwrap();
    assert_eq!(results.len(), 2 * rows.len(), "{name}");
    let keys = ["sharing_error", "switch_rms_current_A", "switch_peak_current_A"];
    for (row, pair) in rows.iter().zip(results.chunks(2)) {
        // Parts that depend on temperature and age hold at one operating point.
        let is_held = picked["held"].is_null() || picked["held"] == row[0];
        assert_eq!(row[0], pair[0]["operating_point"], "{name}");
        let cells = (0..2).flat_map(|side| keys.map(|key| (side, key))).enumerate();
        for (n, (side, key)) in cells.filter(|_| is_held) {
            let scale = if key == "sharing_error" { 100.0 } else { 1.0 };
            let Ok(told) = row[n + 1].as_str().unwrap().parse::<f64>() else { continue };
            let found = scale * pair[side][key].as_f64().unwrap();
            // Half a unit of the third digit, and the places in which the page keeps results.
            assert!(
                (told - found).abs() < 0.006 * found.abs() + 1e-3,
                "{name} {row}: {key} {found}"
            );
        }
    }
    fs::remove_dir_all(folder.join("picked-again")).unwrap();
}

/// Every scenario and every file of parts is used above: a new one must be added.
#[test]
fn every_demo_has_its_page() {
    for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let used = DEMOS.iter().any(|(_, arguments)| arguments.contains(&name));
        let is_demo = !matches!(name.as_str(), "README.md" | "array-job.sh");
        assert!(used || !is_demo, "no page of {name}");
    }
}

/// Files beside that page, not as `--figures` writes them.
const WRONG_EXTRACTS: [(&str, &str); 3] = [
    (
        "brief.html",
        "<!DOCTYPE html><html lang=\"en\"><title>a</title><main><p style=\"height: 320mm\">\
         <a href=\"report.html\">all</a></p></main></html>",
    ),
    (
        "figure-01-nameless.svg",
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 9 9\">\
         <image href=\"missing.png\" width=\"9\" height=\"9\"/></svg>",
    ),
    ("table-01-wrong.csv", "a\n2\n"),
];

/// A page that has one defect of each kind: every check finds its own.
#[test]
fn every_check_finds_its_defect() {
    if is_skipped() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("page")).unwrap();
    fs::copy(checks().join("defects.html"), folder.path().join("page/report.html")).unwrap();
    for (name, text) in WRONG_EXTRACTS {
        fs::write(folder.path().join("page").join(name), text).unwrap();
    }
    let (said, well) = look(folder.path());
    assert!(!well, "{said}");
    let page = fs::read_to_string(checks().join("defects.html")).unwrap();
    // The page itself says what must be found, a line a defect.
    let expected = page.lines().filter_map(|line| line.trim().strip_prefix("finds: "));
    let missed: Vec<&str> = expected.filter(|words| !said.contains(words)).collect();
    assert!(missed.is_empty(), "not found: {missed:#?}\n{said}");
}
