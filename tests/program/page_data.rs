//! What the scripts of a run's page draw from: it agrees with the result files, and the parts of a picked
//! converter give its results again.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{TELECOM, folder_with, json, succeed};

/// Temperatures and ageing, the responses of parts scatter; losses are told apart. Invented.
const MAGNET: &str = include_str!("../../scenarios/foundry-magnet.toml");

/// The data of an attribute of a page.
fn attribute(page: &str, name: &str) -> Value {
    let (_, rest) = page.split_once(&format!("{name}='")).unwrap();
    let (text, _) = rest.split_once('\'').unwrap();
    let marks = [("&#39;", "'"), ("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")];
    let text = marks.iter().fold(text.to_owned(), |text, (mark, own)| text.replace(mark, own));
    serde_json::from_str(&text).unwrap()
}

fn texts(value: &Value) -> Vec<&str> {
    value.as_array().unwrap().iter().map(|own| own.as_str().unwrap()).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn count(value: &Value) -> u64 {
    value.as_u64().unwrap()
}

/// Counts as the page packs them: the first place, then counts, empty for zero.
fn unpacked(value: &Value) -> Vec<u64> {
    let text = value.as_str().unwrap();
    let Some((first, rest)) = text.split_once(':') else { return Vec::new() };
    let counts = rest.split(',').map(|own| if own.is_empty() { 0 } else { own.parse().unwrap() });
    std::iter::repeat_n(0, first.parse().unwrap()).chain(counts).collect()
}

fn page(folder: &Path) -> String {
    fs::read_to_string(folder.join("report.html")).unwrap()
}

/// The ends of the interval of a number of failures, between the entries that the page holds.
fn ends(data: &Value, failed: u64) -> [f64; 2] {
    let yields = data["yields"].as_array().unwrap();
    let exact = yields.iter().find(|own| count(&own[0]) == failed).unwrap();
    [number(&exact[1]), number(&exact[2])]
}

/// At the given limits the page tells the yields of the summary, with their intervals: over all operating
/// points that of the verdict, whichever limit is moved.
#[test]
fn at_the_given_limits_the_page_tells_the_yields_of_the_summary() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    succeed(folder.path(), "run shelf.toml --samples 600 --no-explain --quiet --out out");
    let out = folder.path().join("out");
    let (page, summary) = (page(&out), json(&out.join("summary.json")));
    let data = attribute(&page, "data-limits");
    assert_eq!(count(&data["samples"]), 600);
    let points = texts(&data["points"]);
    assert_eq!(
        points,
        ["full load", "half load", "battery charge", "battery low", "all operating points"]
    );
    let results = summary["results"].as_array().unwrap();
    let mut seen = 0;
    for figure in data["figures"].as_array().unwrap() {
        for (side, view) in figure["views"].as_array().unwrap().iter().enumerate() {
            for scope in view["scopes"].as_array().unwrap() {
                let arrangement = ["chain", "paralleled"][side];
                let point = usize::try_from(count(&scope["point"])).unwrap();
                let good = if point + 1 == points.len() {
                    &summary["joint"][arrangement]["yield"]
                } else {
                    let result = &results[2 * point + side];
                    assert_eq!(result["operating_point"], points[point]);
                    &result["yield"]
                };
                assert_eq!(scope["within"][1], good["successes"], "{figure} {arrangement} {point}");
                let [lower, upper] = ends(&data, 600 - count(&scope["within"][1]));
                assert!((1.0 - upper - number(&good["lower"])).abs() < 1e-6);
                assert!((1.0 - lower - number(&good["upper"])).abs() < 1e-6);
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 4 * 2 * 5, "four quantities, two arrangements, five scopes");
}

/// The counts in the bins, against the rows of the summary: samples within the limit alone, and all that
/// were solved.
#[test]
fn the_bins_hold_all_samples_that_were_solved() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    succeed(folder.path(), "run shelf.toml --samples 600 --no-explain --quiet --out out");
    let out = folder.path().join("out");
    let summary = json(&out.join("summary.json"));
    let data = attribute(&page(&out), "data-limits");
    let keys =
        ["sharing_error", "switch_rms_current_A", "switch_peak_current_A", "blocking_voltage_V"];
    for (figure, key) in data["figures"].as_array().unwrap().iter().zip(keys) {
        for (n, result) in summary["results"].as_array().unwrap().iter().enumerate() {
            let view = &figure["views"][n % 2];
            let scope = &view["scopes"][n / 2];
            let all = unpacked(&scope["all"]);
            let solved = count(&result["counts"]["solved"]);
            assert_eq!(all.iter().sum::<u64>(), solved, "{key} {n}");
            let within = count(&scope["within"][0]);
            assert_eq!(within, solved - count(&result["missed"][key]), "{key} {n}");
            // The limit is an edge: the bins up to it hold the samples within it.
            let Some(at) = view["at"].as_u64() else { continue };
            let up_to = usize::try_from(at).unwrap() + 1;
            assert_eq!(all.iter().take(up_to).sum::<u64>(), within, "{key} {n}");
            let others = unpacked(&scope["others"]);
            assert!(all.iter().zip(&others).all(|(all, others)| others <= all));
        }
    }
}

/// A converter as the page holds it.
struct Picked {
    sample: u64,
    /// Case by case: sharing error, switch RMS and peak.
    results: Vec<[f64; 3]>,
    csv: String,
}

impl Picked {
    /// Of the chain at all operating points.
    fn largest_error(&self) -> f64 {
        self.results.iter().step_by(2).map(|own| own[0]).fold(0.0, f64::max)
    }
}

/// Numbers from places between two ends, in digits of base 64 (RFC 4648, table 1).
struct Digits<'a>(std::str::Chars<'a>);

impl Digits<'_> {
    fn next(&mut self, range: &Value, number_of: u32) -> f64 {
        const ALPHABET: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let [low, high] = [number(&range[0]), number(&range[1])];
        if high <= low {
            return low;
        }
        let digit = |own: char| ALPHABET.find(own).unwrap() as f64;
        let places = (0..number_of).map(|_| digit(self.0.next().unwrap()));
        let place = places.fold(0.0, |sum, own| 64.0 * sum + own);
        low + place / (64_f64.powi(i32::try_from(number_of).unwrap()) - 1.0) * (high - low)
    }
}

fn picked(data: &Value, line: &str) -> Picked {
    let [_, text, name] = line.splitn(3, ',').collect::<Vec<_>>().try_into().unwrap();
    let sample: u64 = name.parse().unwrap();
    let mut digits = Digits(text.chars());
    let ranges = data["results"].as_array().unwrap();
    let results: Vec<[f64; 3]> =
        ranges.iter().map(|own| [0, 1, 2].map(|n| digits.next(&own[n], 2))).collect();
    let columns = data["columns"].as_array().unwrap();
    let values: Vec<Vec<f64>> = columns
        .iter()
        .map(|own| (0..count(&own["phases"])).map(|_| digits.next(&own["range"], 3)).collect())
        .collect();
    assert!(digits.0.next().is_none(), "{line}");
    let names = columns.iter().map(|own| own["name"].as_str().unwrap());
    let mut csv = ["unit", "phase"].into_iter().chain(names).collect::<Vec<_>>().join(",") + "\n";
    for phase in 0..usize::try_from(count(&data["phases"])).unwrap() {
        let cells = values.iter().map(|own| own.get(phase).map_or(String::new(), f64::to_string));
        let cells: Vec<String> = cells.collect();
        writeln!(csv, "sample {sample},{},{}", phase + 1, cells.join(",")).unwrap();
    }
    Picked { sample, results, csv }
}

/// Runs the command of the page on the parts of a picked converter; gives error and currents by case.
fn solved_again(folder: &Path, data: &Value, own: &Picked) -> Vec<[f64; 3]> {
    let number_text = own.sample.to_string();
    let named = |key: &str| data[key].as_str().unwrap().replace("{n}", &number_text);
    fs::write(folder.join(named("file")), &own.csv).unwrap();
    let command = texts(&data["command"]).join(&number_text);
    let arguments = command.strip_prefix("fairphase ").unwrap();
    succeed(folder, &format!("{arguments} --quiet --out again"));
    let summary = json(&folder.join("again/summary.json"));
    let results = summary["results"].as_array();
    let keys = ["sharing_error", "switch_rms_current_A", "switch_peak_current_A"];
    results.unwrap().iter().map(|own| keys.map(|key| number(&own[key]))).collect()
}

/// How far a result may lie from what the page tells: a place of its range, and `relative` of the value.
fn close(range: &Value, relative: f64) -> f64 {
    (number(&range[1]) - number(&range[0])) / 4095.0 + relative * number(&range[1]).abs()
}

/// What the rounding of the parts does: each is rounded to 2 · 10⁻⁶ of its range; a result changes by a few
/// times as much as a part, and there are some ten parts.
const OF_PARTS: f64 = 3e-5;
/// Parts that heat themselves are solved to this. It is no matter of digits: the file of the worst converters
/// has all of them, and differs as much.
const OF_HEATED_PARTS: f64 = 1e-3;

#[track_caller]
fn check_again(
    folder: &Path,
    data: &Value,
    own: &Picked,
    cases: impl Iterator<Item = usize>,
    relative: f64,
) {
    let again = solved_again(folder, data, own);
    assert_eq!(again.len(), own.results.len());
    for case in cases {
        for n in 0..3 {
            let (told, found) = (own.results[case][n], again[case][n]);
            let far = close(&data["results"][case][n], relative);
            assert!(
                (told - found).abs() < far,
                "sample {} case {case} {n}: {told} {found}",
                own.sample
            );
        }
    }
}

/// The parts that the page tells of a converter, fed to `units`, give its sharing error and switch currents
/// at every operating point.
#[test]
fn a_picked_converter_is_solved_again_by_its_command() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    succeed(folder.path(), "run shelf.toml --samples 400 --no-explain --quiet --out out");
    let out = folder.path().join("out");
    let data = attribute(&page(&out), "data-converters");
    let lines = texts(&data["converters"]);
    assert!(lines.len() > 90 && lines.len() <= 120, "{}", lines.len());
    assert_eq!(data["hold_at"], Value::Null);
    let all: Vec<Picked> = lines.iter().map(|line| picked(&data, line)).collect();
    let worst = json(&out.join("summary.json"))["results"][0]["worst"].clone();
    let by_sample: BTreeMap<u64, &Picked> = all.iter().map(|own| (own.sample, own)).collect();
    let of_worst = by_sample[&count(&worst["sample"])];
    assert!(
        (of_worst.results[0][0] - number(&worst["sharing_error"])).abs()
            < close(&data["results"][0][0], OF_PARTS)
    );
    for own in [&all[0], &all[70], of_worst] {
        check_again(folder.path(), &data, own, 0..8, OF_PARTS);
    }
}

/// Where the responses of parts to temperature and age scatter, a file of parts holds the parts of one
/// operating point, which the page names, and gives the results there.
#[test]
fn parts_that_depend_on_temperature_hold_at_the_operating_point_that_is_named() {
    let folder = folder_with(&[("magnet.toml", MAGNET)]);
    succeed(folder.path(), "run magnet.toml --samples 60 --no-explain --quiet --out out");
    let data = attribute(&page(&folder.path().join("out")), "data-converters");
    let point = data["hold_at"].as_str().unwrap();
    let place = texts(&data["points"]).iter().position(|own| *own == point).unwrap();
    assert!(data["unit"].as_str().unwrap().ends_with(point));
    let lines = texts(&data["converters"]);
    for line in [lines[0], lines[lines.len() - 1]] {
        let own = picked(&data, line);
        check_again(folder.path(), &data, &own, 2 * place..2 * place + 2, OF_HEATED_PARTS);
    }
}

/// The median and the worst converter have waveforms: they are among those drawn, though neither is one of the
/// first samples or need be an extreme one, and what is told of them is what the file of samples holds.
#[test]
fn converters_with_waveforms_are_drawn() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    succeed(folder.path(), "run shelf.toml --samples 1500 --no-explain --quiet --out out");
    let data = attribute(&page(&folder.path().join("out")), "data-converters");
    let all: Vec<Picked> = texts(&data["converters"]).iter().map(|l| picked(&data, l)).collect();
    let shown: Vec<u64> =
        data["waveforms"].as_array().unwrap().iter().map(|n| n.as_u64().unwrap()).collect();
    assert_eq!(shown.len(), 2, "median and worst");
    assert!(shown.iter().any(|sample| *sample > 120), "{shown:?}");
    let frame = crate::support::parquet(&folder.path().join("out/samples.parquet"));
    let samples = crate::support::counts(&frame, "sample");
    let arrangements = crate::support::words(&frame, "arrangement");
    let errors = crate::support::floats(&frame, "sharing_error");
    for sample in shown {
        let own = all.iter().find(|own| own.sample == sample).unwrap();
        let told = (0..8).step_by(2).map(|case| own.results[case][0]).fold(0.0, f64::max);
        let of_file = samples.iter().zip(&arrangements).zip(&errors);
        let of_file = of_file.filter(|((n, own), _)| **n == sample && *own == "chain");
        let largest = of_file.map(|(_, error)| *error).fold(0.0, f64::max);
        let close = 2e-4 * largest + close(&data["results"][0][0], OF_PARTS);
        assert!((told - largest).abs() < close, "{sample}: {told} {largest}");
    }
}

/// The first samples are all drawn, and behind them the largest errors and currents of the file of samples;
/// their number does not grow.
#[test]
fn the_largest_of_all_samples_are_drawn() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    let options = "--solver averaged --no-explain --quiet";
    succeed(folder.path(), &format!("run shelf.toml --samples 3000 {options} --out out"));
    let data = attribute(&page(&folder.path().join("out")), "data-converters");
    let mut all: Vec<Picked> =
        texts(&data["converters"]).iter().map(|l| picked(&data, l)).collect();
    let worst_first = |two: &[Picked]| two[0].largest_error() >= two[1].largest_error();
    assert!(all.len() <= 120 && all.windows(2).all(worst_first));
    all.sort_by_key(|own| own.sample);
    let first = all.iter().enumerate().take_while(|(n, own)| own.sample == *n as u64).count();
    assert!(first >= 90, "{first}");
    let frame = crate::support::parquet(&folder.path().join("out/samples.parquet"));
    let samples = crate::support::counts(&frame, "sample");
    let arrangements = crate::support::words(&frame, "arrangement");
    for (n, column) in ["sharing_error", "switch_rms_current_A"].iter().enumerate() {
        let mut largest: BTreeMap<u64, f64> = BTreeMap::new();
        let rows = samples.iter().zip(&arrangements).zip(crate::support::floats(&frame, column));
        for ((sample, arrangement), value) in rows {
            if arrangement == "chain" {
                let own = largest.entry(*sample).or_default();
                *own = own.max(value);
            }
        }
        let mut sorted: Vec<(u64, f64)> = largest.into_iter().collect();
        sorted.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        for (sample, value) in &sorted[..10] {
            let own = all.iter().find(|own| own.sample == *sample).unwrap();
            let told = (0..8).step_by(2).map(|case| own.results[case][n]).fold(0.0, f64::max);
            assert!(
                (told - value).abs() < 2e-4 * value + close(&data["results"][0][n], OF_PARTS),
                "{sample}"
            );
        }
    }
}
