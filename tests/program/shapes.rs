//! `shapes` from outside: files, words, errors, and figures recomputed from the measured values.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;

use serde_json::Value;

use crate::support::{command, entries, fairphase, folder_with, json, said, succeed};

/// Invented measurements of 150 parts.
const CORES: &str = include_str!("../../scenarios/incoming-transformers.csv");
const SHELF: &str = include_str!("../data/shelf.toml");

/// A file with a serial and a column of invented values.
fn file(name: &str, values: impl IntoIterator<Item = f64>) -> String {
    let rows: Vec<String> =
        (0..).zip(values).map(|(k, value): (u32, f64)| format!("P{k},{value:e}")).collect();
    format!("serial,{name}\n{}\n", rows.join("\n"))
}

/// The numbers below `count` in an order without a pattern: that of the finaliser of `SplitMix64` (G. L.
/// Steele, D. Lea and C. H. Flood, 2014; constants from memory).
fn shuffled(count: u32) -> Vec<u32> {
    let mixed = |k: &u32| {
        let x = (u64::from(*k) + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        x ^ (x >> 31)
    };
    let mut numbers: Vec<u32> = (0..count).collect();
    numbers.sort_by_key(mixed);
    numbers
}

/// Evenly spread values near 4.5 µH.
fn spread(count: u32) -> Vec<f64> {
    let value = |k: u32| 4.4e-6 + 0.2e-6 * (f64::from(k) + 0.5) / f64::from(count);
    shuffled(count).into_iter().map(value).collect()
}

fn column<'a>(summary: &'a Value, name: &str) -> &'a Value {
    let columns = summary["columns"].as_array().unwrap();
    columns.iter().find(|column| column["column"] == name).unwrap()
}

fn shape<'a>(column: &'a Value, name: &str) -> &'a Value {
    let shapes = column["shapes"].as_array().unwrap();
    shapes.iter().find(|shape| shape["shape"] == name).unwrap()
}

#[test]
fn the_demo_shows_fits_and_lines_within_80_columns() {
    let folder = folder_with(&[("incoming-transformers.csv", CORES)]);
    let text = succeed(folder.path(), "shapes incoming-transformers.csv --tables");
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for words in [
        "Shapes of the values in incoming-transformers.csv: 3 columns",
        "magnetising_inductance_H: No shape fits.",
        "No shape fits. Draw the measured values themselves: shape = \"measured\".",
        "[tolerance.resonant_inductance]\n",
        "column = \"magnetising_inductance_H\"",
        "150 values leave them all possible",
    ] {
        let unfolded = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(unfolded(&text).contains(&unfolded(words)), "{words}:\n{text}");
    }
    let out = folder.path().join("reports/incoming-transformers");
    assert_eq!(entries(&out), ["report.html", "summary.json"]);
    assert_eq!(fs::read_to_string(folder.path().join("incoming-transformers.csv")).unwrap(), CORES);
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert_eq!(page.matches("Probability plot of ").count(), 12, "four shapes of three columns");
    assert_eq!(page.matches("<title id=\"values-").count(), 3);
    assert!(
        page.contains("fairphase shapes incoming-transformers.csv</code>"),
        "how to make it again"
    );
}

/// Mean, standard deviation, median and the distances of the normal shape, computed here from the file
/// in another way: A² by its defining integral, over the steps of the empirical distribution.
#[test]
fn figures_are_those_of_the_file() {
    let folder = folder_with(&[("c.csv", CORES)]);
    let nominal = "resonant_inductance_H=4.56uH";
    let printed =
        succeed(folder.path(), &format!("shapes c.csv --json --nominal {nominal} --out o"));
    let summary: Value = serde_json::from_str(&printed).unwrap();
    assert_eq!(summary, json(&folder.path().join("o/summary.json")));
    let found = column(&summary, "resonant_inductance_H");
    let mut values: Vec<f64> =
        CORES.lines().skip(1).map(|row| row.split(',').nth(1).unwrap().parse().unwrap()).collect();
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let near = |value: &Value, expected: f64, relative: f64| {
        let value = value.as_f64().unwrap();
        assert!((value / expected - 1.0).abs() < relative, "{value} {expected}");
    };
    near(&found["mean"]["estimate"], mean, 1e-12);
    near(&found["sigma"]["estimate"], sd, 1e-10);
    near(&found["median"], 0.5 * (values[74] + values[75]), 1e-12);
    near(&found["nominal"], 4.56e-6, 1e-15);
    // Student's t of 149 degrees at 97.5 %: 1.97601 (SciPy).
    near(&found["mean"]["upper"], mean + 1.976_01 * sd / n.sqrt(), 1e-7);
    let normal = statrs::distribution::Normal::new(mean, sd).unwrap();
    let z: Vec<f64> =
        values.iter().map(|x| statrs::distribution::ContinuousCDF::cdf(&normal, *x)).collect();
    // ∫ (F_n − z)²/(z (1 − z)) dz over a step of height h is h²ln z − (1−h)²ln(1−z) − z, by parts.
    let part = |h: f64, z: f64| {
        let low = if h > 0.0 { h * h * z.ln() } else { 0.0 };
        let high = if h < 1.0 { (1.0 - h) * (1.0 - h) * (1.0 - z).ln() } else { 0.0 };
        low - high - z
    };
    let ends: Vec<f64> = [0.0].into_iter().chain(z.iter().copied()).chain([1.0]).collect();
    let steps = ends.windows(2).enumerate();
    let integral: f64 =
        steps.map(|(k, end)| part(k as f64 / n, end[1]) - part(k as f64 / n, end[0])).sum();
    let distances = &shape(found, "normal")["distances"];
    near(&distances["anderson_darling"], n * integral, 1e-7);
    let largest = (0..values.len())
        .map(|k| ((k as f64 + 1.0) / n - z[k]).max(z[k] - k as f64 / n))
        .fold(0.0, f64::max);
    near(&distances["kolmogorov_smirnov"], largest, 1e-9);
    near(&shape(found, "normal")["mean"], mean / 4.56e-6 - 1.0, 1e-9);
}

/// The correlation of the two inductances, computed here from the rows; its lines are those of a
/// scenario. Columns that share no row have none.
#[test]
fn correlations_are_those_of_the_rows() {
    let folder = folder_with(&[("c.csv", CORES)]);
    let summary: Value =
        serde_json::from_str(&succeed(folder.path(), "shapes c.csv --json --out o")).unwrap();
    let all = summary["correlations"].as_array().unwrap();
    assert_eq!(all.len(), 3);
    let cells = |n: usize| -> Vec<f64> {
        CORES.lines().skip(1).map(|row| row.split(',').nth(n).unwrap().parse().unwrap()).collect()
    };
    let (a, b) = (cells(1), cells(2));
    let n = a.len() as f64;
    let sum = |f: &dyn Fn(usize) -> f64| (0..a.len()).map(f).sum::<f64>();
    let (sa, sb) = (sum(&|k| 1e6 * a[k]), sum(&|k| 1e6 * b[k]));
    let products = n * sum(&|k| 1e12 * a[k] * b[k]) - sa * sb;
    let squares =
        (n * sum(&|k| 1e12 * a[k] * a[k]) - sa * sa) * (n * sum(&|k| 1e12 * b[k] * b[k]) - sb * sb);
    let found = all[0]["coefficient"]["estimate"].as_f64().unwrap();
    assert!((found - products / squares.sqrt()).abs() < 1e-6, "{found}");
    let lines = all[0]["scenario_lines"].as_str().unwrap();
    assert!(
        lines.contains("between     = [\"resonant_inductance\", \"magnetising_inductance\"]"),
        "{lines}"
    );
    assert!(lines.contains(&format!("coefficient = {found:.2}")), "{lines}");
    let row = |k: u32| if k < 10 { format!("2.{k},") } else { format!(",3.{k}") };
    let apart = format!("a,b\n{}\n", (0..20).map(row).collect::<Vec<_>>().join("\n"));
    fs::write(folder.path().join("apart.csv"), apart).unwrap();
    succeed(folder.path(), "shapes apart.csv --tables");
    let summary = json(&folder.path().join("reports/apart/summary.json"));
    assert_eq!(summary["correlations"], serde_json::json!([]));
}

/// Every shape of every column, and the measured values themselves: their lines make a scenario that
/// runs.
#[test]
fn lines_of_every_shape_run() {
    let folder = folder_with(&[("c.csv", CORES)]);
    let arguments =
        "shapes c.csv --json --out o --column resonant_inductance_H --nominal 4.56uH --band 5%";
    let summary: Value = serde_json::from_str(&succeed(folder.path(), arguments)).unwrap();
    let found = column(&summary, "resonant_inductance_H");
    let (before, rest) = SHELF.split_once("[tolerance.resonant_inductance]").unwrap();
    let after = rest.split_once("[limits]").unwrap().1;
    let shapes = found["shapes"].as_array().unwrap();
    let lines = shapes.iter().map(|shape| &shape["scenario_lines"]);
    let all: Vec<&str> =
        lines.chain([&found["measured_lines"]]).map(|lines| lines.as_str().unwrap()).collect();
    assert_eq!(all.len(), 6, "five shapes with a band, and the values");
    assert!(all[5].contains("band   = [\"-5.000 %\", \"+5.000 %\"]"), "inspected: {}", all[5]);
    for lines in all {
        fs::write(folder.path().join("s.toml"), format!("{before}{lines}\n[limits]{after}"))
            .unwrap();
        let run =
            fairphase(folder.path(), "run s.toml --samples 60 --solver averaged --quiet --out r");
        assert_eq!((run.status, run.stderr.as_str()), (0, ""), "{lines}");
    }
}

/// A band is written as in a scenario. All ways to write one give the same results; the ends that the
/// letters stand for are those of IEC 60062 (from memory).
#[test]
fn a_band_is_a_half_width_two_ends_or_a_letter() {
    let folder = folder_with(&[("c.csv", &file("resonant_inductance_H", spread(40)))]);
    let found = |band: &str| {
        let mut command = command(folder.path(), "shapes c.csv --json --out o --nominal 4.4uH");
        let said = said(command.args(["--band", band]).output().unwrap());
        assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{band}");
        let summary: Value = serde_json::from_str(&said.stdout).unwrap();
        summary["columns"][0].clone()
    };
    let groups: [(&[&str], Option<f64>, [f64; 2]); 3] = [
        (&["10 %", "K", "-10 %,+10 %"], Some(0.1), [-0.1, 0.1]),
        (&["-10 %, 30 %", "Q", "[\"-10 %\", \"+30 %\"]"], None, [-0.1, 0.3]),
        (&["+1 %,+8 %", "[ 1 %, 8 % ]"], None, [0.01, 0.08]),
    ];
    for (ways, half_width, ends) in groups {
        let first = found(ways[0]);
        let inspection = &first["inspection"];
        assert_eq!(inspection["band"], serde_json::json!(half_width), "{ways:?}");
        assert_eq!(inspection["ends"], serde_json::json!(ends), "{ways:?}");
        for other in &ways[1..] {
            assert_eq!(found(other), first, "{other}");
        }
        for shape in first["shapes"].as_array().unwrap() {
            let band: Vec<f64> = serde_json::from_value(shape["band"].clone()).unwrap();
            assert!(ends[0] - 1e-12 < band[0] && band[1] < ends[1] + 1e-12, "{shape}");
        }
    }
    let text = succeed(folder.path(), "shapes c.csv --nominal 4.4uH --band +1%,+4.5% --tables");
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["Band +1 % to +4.5 %: Cp ", "outside +1 % to +4.5 %, left out of the fits"] {
        assert!(joined.contains(words), "{text}");
    }
}

#[test]
fn values_far_out_coarse_files_and_drift_are_told() {
    let mut values = spread(60);
    values[17] = 6.1e-6;
    let coarse = shuffled(60).into_iter().map(|k| 4.5e-6 + 0.01e-6 * f64::from(k % 5));
    let rising = (0..40).map(|k| 4.4e-6 + 0.003e-6 * f64::from(k));
    let folder = folder_with(&[
        ("far.csv", &file("resonant_inductance_H", values)),
        ("coarse.csv", &file("resonant_inductance_H", coarse)),
        ("drift.csv", &file("resonant_inductance_H", rising)),
        ("few.csv", &file("resonant_inductance_H", spread(12))),
    ]);
    for (name, words) in [
        (
            "far",
            "1 value far out, more than 3.5 robust standard deviations from the median: 6.100 µH in line 19.",
        ),
        ("coarse", "Only 5 of 60 values differ: the instrument is coarse."),
        ("drift", "Neighbouring rows are not independent"),
        ("few", "12 values are few"),
    ] {
        let text = succeed(folder.path(), &format!("shapes {name}.csv --tables"));
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(joined.contains(words), "{name}: {words}\n{text}");
        assert_eq!(
            text.matches("Note: ").count(),
            1 + usize::from(text.contains("No shape fits")),
            "{text}"
        );
    }
    let summary = json(&folder.path().join("reports/far/summary.json"));
    let found = column(&summary, "resonant_inductance_H");
    assert_eq!(
        (found["values"].as_u64(), found["far_out"][0]["line"].as_u64()),
        (Some(60), Some(19))
    );
}

#[test]
fn wrong_questions_are_refused_with_what_to_do() {
    let cores = file("resonant_inductance_H", spread(20));
    let folder = folder_with(&[
        ("one.csv", &cores),
        ("c.csv", CORES),
        ("few.csv", &file("resonant_inductance_H", spread(5))),
        ("ol.csv", &cores.replacen("P7,", "P7,OL", 1)),
    ]);
    for (arguments, words) in [
        ("few.csv", "it holds 5 values, fewer than 8"),
        ("ol.csv", "ol.csv:9:4"),
        ("gone.csv", "gone.csv"),
        ("c.csv --column Lm", "no column is called `Lm`"),
        ("c.csv --nominal 4.56uH", "write NAME=VALUE with one of resonant_inductance_H, magn"),
        ("c.csv --nominal gap=3", "does not name one of the columns"),
        ("one.csv --nominal 4.56mH", "is far from the values of `resonant_inductance_H`"),
        ("one.csv --nominal 4.56e-6", "is no value such as \"4.56 µH\""),
        ("one.csv --nominal 4.56nF", "is no value such as \"4.56 µH\""),
        ("one.csv --band 5%", "--nominal"),
        ("one.csv --nominal 4.56uH --band 5", "\"5\" is no band. Write a half width above 0 and"),
        ("one.csv --nominal 4.56uH --band -5%", "is no band"),
        ("one.csv --nominal 4.56uH --band 100%", "is no band"),
        ("one.csv --nominal 4.56uH --band nan%", "is no band"),
        ("one.csv --nominal 4.56uH --band 8%,-3%", "is no band"),
        ("one.csv --nominal 4.56uH --band -100%,8%", "is no band"),
        ("one.csv --nominal 4.56uH --band -3%,+4%,+8%", "is no band"),
        ("one.csv --nominal 4.56uH --band k", "one of the letters BCDFGHJKMNQSTZ"),
        ("one.csv --nominal 6uH --band 1%", "fewer than 8 different values"),
    ] {
        let said = fairphase(folder.path(), &format!("shapes {arguments} --tables"));
        assert_eq!(said.status, 2, "{arguments}: {}", said.stderr);
        assert!(said.stderr.contains(words), "{arguments}: {words}\n{}", said.stderr);
        assert_eq!(said.stdout, "", "{arguments}");
    }
    assert!(!folder.path().join("reports").exists(), "nothing was written");
}

/// A file of measurements that has the name of a result is never replaced.
#[test]
fn the_measured_file_is_never_replaced() {
    let cores = file("resonant_inductance_H", spread(20));
    let folder = folder_with(&[]);
    fs::create_dir(folder.path().join("r")).unwrap();
    for name in ["report.html", "summary.json"] {
        let path = folder.path().join("r").join(name);
        fs::write(&path, &cores).unwrap();
        let said = fairphase(folder.path(), &format!("shapes r/{name} --out r --tables"));
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert_eq!(fs::read_to_string(&path).unwrap(), cores, "{name}");
        fs::remove_file(path).unwrap();
    }
}

#[test]
fn the_same_bytes_for_any_number_of_threads() {
    let folder = folder_with(&[("c.csv", CORES)]);
    for threads in ["1", "2", "8"] {
        let mut command = command(folder.path(), &format!("shapes c.csv --quiet --out o{threads}"));
        let said = said(command.env("RAYON_NUM_THREADS", threads).output().unwrap());
        assert_eq!((said.status, said.stdout.as_str(), said.stderr.as_str()), (0, "", ""));
    }
    for name in ["report.html", "summary.json"] {
        let read =
            |threads: &str| fs::read(folder.path().join(format!("o{threads}")).join(name)).unwrap();
        assert!(read("1") == read("2") && read("1") == read("8"), "{name}");
    }
}

/// Names of columns and files come from outside.
#[test]
fn hostile_names_are_shown_as_text() {
    let text = file("resonant_inductance_H", spread(30))
        .replace("resonant_inductance_H", "<script>x</script>");
    let folder = folder_with(&[("a.csv", &text)]);
    succeed(folder.path(), "shapes a.csv --tables");
    let page = fs::read_to_string(folder.path().join("reports/a/report.html")).unwrap();
    assert!(page.matches("<script").count() == 1 && page.contains("&lt;script&gt;"));
    let folder = folder_with(&[("a.csv", &text.replace("<script>", "\u{1b}[31m"))]);
    let said = fairphase(folder.path(), "shapes a.csv --tables");
    assert_eq!(said.status, 2);
    assert!(!said.stderr.contains('\u{1b}'), "{}", said.stderr);
}

/// Semicolons, decimal commas and units in the header: the same answer, and how it was read.
#[test]
fn files_of_a_test_room_are_read() {
    let values = spread(30);
    let with_comma = |value: &f64| format!("{:.5}", 1e6 * value).replace('.', ",");
    let rows: Vec<String> =
        (0..).zip(&values).map(|(k, value)| format!("P{k};{};ok", with_comma(value))).collect();
    let rows = rows.join("\r\n");
    let room = format!("\u{feff}Nr.;Resonant Inductance (µH);Bemerkung\r\n{rows}");
    let plain: Vec<f64> =
        values.iter().map(|v| format!("{:.5}e-6", 1e6 * v).parse().unwrap()).collect();
    let folder =
        folder_with(&[("room.csv", &room), ("plain.csv", &file("resonant_inductance_H", plain))]);
    let said = fairphase(folder.path(), "shapes room.csv");
    assert_eq!(said.status, 0, "{}", said.stderr);
    assert!(
        said.stderr.contains(
            "read with semicolons between the cells and decimal commas; resonant_inductance in µH"
        ),
        "{}",
        said.stderr
    );
    assert!(
        said.stdout.contains("Left out: Nr. (`P0` is no number); Bemerkung (`ok` is no number)."),
        "{}",
        said.stdout
    );
    succeed(folder.path(), "shapes plain.csv --tables");
    let of = |name: &str| {
        json(&folder.path().join(format!("reports/{name}/summary.json")))["columns"].clone()
    };
    let text = |value: Value| value.to_string().replace("plain.csv", "room.csv");
    assert_eq!(text(of("plain")), text(of("room")));
}

/// The command that `run` names gives lines about the scenario's nominal value, not about the median of the file.
#[test]
fn a_run_asks_for_shapes_about_its_own_nominal_value() {
    let values = (0..60).map(|n| format!("{}\n", 4.4 + 0.004 * f64::from(n)));
    let values = "resonant_inductance_uH\n".to_owned() + &values.collect::<String>();
    let table = "[tolerance.resonant_inductance]\nshape = \"measured\"\nfile = \"parts.csv\"\n\
                 column = \"resonant_inductance\"\n";
    let limits = SHELF.find("[limits]").unwrap();
    let own = SHELF.find("[tolerance.resonant_inductance]").unwrap();
    let text = format!("{}{table}\n{}", &SHELF[..own], &SHELF[limits..]);
    let folder = folder_with(&[("shelf.toml", &text), ("parts.csv", &values)]);
    let said = succeed(folder.path(), "run shelf.toml --samples 60 --no-explain --out out");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let next = said.split("fairphase shapes ").nth(1).unwrap().replace("\\ ", "");
    assert_eq!(next, "parts.csv --column resonant_inductance --nominal '4.56e-6 H'");
    let output = command(folder.path(), "shapes parts.csv --column resonant_inductance --out fits")
        .args(["--nominal", "4.56e-6 H"])
        .output()
        .unwrap();
    assert!(output.status.success());
    let found = json(&folder.path().join("fits/summary.json"));
    assert_eq!(found["columns"][0]["nominal"], 4.56e-6);
}
