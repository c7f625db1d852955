//! `compare` as its users run it: what changed, which differences the samples show, and what is refused. Counts
//! are taken again from the files of samples, intervals from formulas written down here.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;
use statrs::distribution::{Beta, Binomial, ContinuousCDF, Discrete};

use crate::support::{
    SHELF, TELECOM, changed, counts, entries, fairphase, folder_with, json, parquet, succeed,
    truths, words,
};

/// A limit that many chains miss, so that there is something to compare.
fn tight() -> String {
    changed(TELECOM, "sharing_error = \"2.5 %\"", "sharing_error = \"1 %\"")
}

/// Two runs on the same samples, one with closer inductors; one more with another seed.
fn runs() -> tempfile::TempDir {
    let start = tight();
    let at = start.find("[tolerance.resonant_inductance]").unwrap();
    let (head, tail) = start.split_at(at);
    let closer = format!("{head}{}", tail.replacen("band = \"5 %\"", "band = \"3 %\"", 1));
    assert_ne!(start, closer);
    let folder = folder_with(&[("one.toml", &start), ("two.toml", &closer)]);
    for (name, out, options) in [
        ("one", "a", ""),
        ("two", "b", ""),
        ("one", "c", "--seed 77 --samples 500"),
        ("two", "d", "--solver averaged"),
    ] {
        let samples = if options.contains("--samples") { "" } else { "--samples 400" };
        let line = format!("run {name}.toml {samples} {options} --no-explain --quiet --out {out}");
        succeed(folder.path(), &line);
    }
    folder
}

fn compared(folder: &Path, arguments: &str) -> Value {
    let text = succeed(folder, &format!("compare {arguments} --json --out out"));
    serde_json::from_str(&text).unwrap()
}

/// Samples that meet every limit at every point, from the file of samples.
fn passing(folder: &Path, arrangement: &str) -> Vec<bool> {
    let rows = parquet(&folder.join("samples.parquet"));
    let of = words(&rows, "arrangement");
    let mut all: BTreeMap<u64, bool> = BTreeMap::new();
    for ((sample, own), passes) in
        counts(&rows, "sample").into_iter().zip(of).zip(truths(&rows, "meets_limits"))
    {
        if own == arrangement {
            *all.entry(sample).or_insert(true) &= passes;
        }
    }
    all.into_values().collect()
}

#[test]
fn samples_that_both_list_are_compared_pair_by_pair() {
    let folder = runs();
    let found = compared(folder.path(), "a b");
    assert_eq!(
        entries(&folder.path().join("out")),
        ["comparison.csv", "report.html", "summary.json"]
    );
    let against = &found["comparisons"][0];
    let changes: Vec<&str> = against["scenario_changes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|own| own["place"].as_str().unwrap())
        .collect();
    assert_eq!(changes, ["tolerances.resonant_inductance.band"], "its ends follow from it");
    for (n, arrangement) in ["chain", "paralleled"].into_iter().enumerate() {
        let own = &against["yields"][n];
        assert_eq!(
            (own["subject"].as_str(), own["arrangement"].as_str()),
            (Some("all"), Some(arrangement))
        );
        let [one, two] = ["a", "b"].map(|name| passing(&folder.path().join(name), arrangement));
        assert_eq!(one.len(), 400);
        let pairs = |a: bool, b: bool| {
            one.iter().zip(&two).filter(|(x, y)| (**x, **y) == (a, b)).count() as u64
        };
        let samples = &own["samples"];
        // The other result comes first in the pair: gained samples are those that it passes alone.
        assert_eq!(samples["both"], pairs(true, true));
        assert_eq!(samples["first"], pairs(false, true));
        assert_eq!(samples["second"], pairs(true, false));
        assert_eq!(samples["neither"], pairs(false, false));
        assert_eq!(own["compared"], "paired");
        check_p_value(own["p_value"].as_f64().unwrap(), pairs(false, true), pairs(true, false));
    }
    let chain = &against["yields"][0];
    assert_eq!(chain["shown"], true, "closer inductors save many chains: {chain}");
    assert!(chain["difference"]["lower"].as_f64().unwrap() > 0.0);
    let headline = found["headline"][0].as_str().unwrap();
    assert!(headline.starts_with("The yield of B is higher"), "{headline}");
}

/// McNemar's exact test, two-sided: twice the tail of a fair coin, by statrs.
fn check_p_value(found: f64, gained: u64, lost: u64) {
    let (most, all) = (gained.max(lost), gained + lost);
    let coin = Binomial::new(0.5, all).unwrap();
    let tail: f64 = (most..=all).map(|n| coin.pmf(n)).sum();
    let expected = (2.0 * tail).min(1.0);
    assert!((found - expected).abs() < 1e-9 + 1e-6 * expected, "{found} against {expected}");
}

/// The interval of Clopper and Pearson (Biometrika 26, 1934), by statrs, of neither none nor all.
fn clopper_pearson([successes, trials]: [f64; 2], tail: f64) -> [f64; 2] {
    let failures = trials - successes;
    [
        Beta::new(successes, failures + 1.0).unwrap().inverse_cdf(tail),
        Beta::new(successes + 1.0, failures).unwrap().inverse_cdf(1.0 - tail),
    ]
}

/// Other seeds: distances to the ends of both intervals, squared and added; above 95 % the ends themselves, each
/// at half the error.
#[test]
fn other_samples_are_compared_as_independent_ones() {
    let folder = runs();
    let found = compared(folder.path(), "a c --confidence 90");
    let chain = &found["comparisons"][0]["yields"][0];
    assert_eq!(
        (&chain["compared"], &chain["samples"]),
        (&Value::from("independent"), &Value::Null)
    );
    let counts = |side: &str| ["successes", "trials"].map(|key| chain[side][key].as_f64().unwrap());
    let (first, other) = (counts("first"), counts("other"));
    assert_eq!((first[1], other[1]), (400.0, 500.0));
    let [[l1, u1], [l2, u2]] = [other, first].map(|own| clopper_pearson(own, 0.05));
    let (p1, p2) = (other[0] / other[1], first[0] / first[1]);
    let lower = p1 - p2 - ((p1 - l1).powi(2) + (u2 - p2).powi(2)).sqrt();
    let upper = p1 - p2 + ((u1 - p1).powi(2) + (p2 - l2).powi(2)).sqrt();
    let end = |key: &str| chain["difference"][key].as_f64().unwrap();
    assert!((end("lower") - lower).abs() < 1e-9 && (end("upper") - upper).abs() < 1e-9);
    assert_eq!(chain["shown"], false, "the same scenario: {chain}");
    let found = compared(folder.path(), "a c --confidence 99");
    let chain = &found["comparisons"][0]["yields"][0];
    assert_eq!(chain["compared"], "own intervals");
    let [[l1, u1], [l2, u2]] = [other, first].map(|own| clopper_pearson(own, 0.0025));
    let end = |key: &str| chain["difference"][key].as_f64().unwrap();
    assert!((end("lower") - (l1 - u2)).abs() < 1e-9 && (end("upper") - (u1 - l2)).abs() < 1e-9);
}

/// The same seed without the samples: nothing is taken for independent that is not.
#[test]
fn without_the_samples_both_intervals_bound_the_difference() {
    let folder = runs();
    for name in ["a", "b"] {
        fs::copy(
            folder.path().join(name).join("summary.json"),
            folder.path().join(format!("{name}.json")),
        )
        .unwrap();
    }
    let text = fs::read_to_string(folder.path().join("b.json")).unwrap();
    fs::write(folder.path().join("b.json"), text.replace("    \"samples.parquet\",\n", ""))
        .unwrap();
    let found = compared(folder.path(), "a b.json");
    let chain = &found["comparisons"][0]["yields"][0];
    assert_eq!(chain["compared"], "own intervals");
    check_own_intervals(chain, 0.95);
    // The level is that which is asked for, and so are the ends.
    let found = compared(folder.path(), "a b.json --confidence 99.99");
    check_own_intervals(&found["comparisons"][0]["yields"][0], 0.9999);
}

/// Clopper and Pearson's intervals (Biometrika 26 (1934) 404), each with half of the error, from the beta
/// distribution of statrs.
fn check_own_intervals(change: &Value, confidence: f64) {
    let tail = 0.25 * (1.0 - confidence);
    let [first, other] = ["first", "other"].map(|side| {
        let [good, all] = ["successes", "trials"].map(|key| change[side][key].as_f64().unwrap());
        let lower = Beta::new(good, all - good + 1.0).unwrap().inverse_cdf(tail);
        let upper = Beta::new(good + 1.0, all - good).unwrap().inverse_cdf(1.0 - tail);
        [lower, upper]
    });
    let found = |key: &str| change["difference"][key].as_f64().unwrap();
    assert!((found("lower") - (other[0] - first[1])).abs() < 1e-6, "{change}");
    assert!((found("upper") - (other[1] - first[0])).abs() < 1e-6, "{change}");
    assert!((found("confidence") - confidence).abs() < 1e-12);
}

/// A summary whose interval was stated at a level, of a sampling that a rule ended.
fn stated_at(summary: &Value, confidence: f64) -> String {
    let mut summary = summary.clone();
    summary["files"] = Value::Array(Vec::new());
    for arrangement in ["chain", "paralleled"] {
        let own = &mut summary["joint"][arrangement]["yield"];
        own["confidence"] = Value::from(confidence);
        own["method"] = Value::from("sequential");
    }
    summary.to_string()
}

/// Stated intervals that leave less certainty than is asked for show no difference, and at 50 % each they leave
/// none.
#[test]
fn stated_intervals_show_no_more_than_they_leave_of_certainty() {
    let folder = runs();
    let [a, b] = ["a", "b"].map(|name| json(&folder.path().join(name).join("summary.json")));
    for (level, options, has_level) in
        [(0.99, "--confidence 98", true), (0.95, "", false), (0.5, "--confidence 51", false)]
    {
        for (name, summary) in [("one.json", &a), ("two.json", &b)] {
            fs::write(folder.path().join(name), stated_at(summary, level)).unwrap();
        }
        let found = compared(folder.path(), &format!("one.json two.json {options}"));
        let chain = &found["comparisons"][0]["yields"][0];
        let end = |name: &Value, key: &str| name["joint"]["chain"]["yield"][key].as_f64().unwrap();
        let expected = if level > 0.5 { end(&b, "lower") - end(&a, "upper") } else { -1.0 };
        assert!((chain["difference"]["lower"].as_f64().unwrap() - expected).abs() < 1e-12);
        let is_shown = chain["shown"].as_bool().unwrap();
        assert_eq!(is_shown, has_level && expected > 0.0, "{level}: {chain}");
        let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        assert_eq!(page.contains("no difference counts as shown"), !has_level, "{level}");
    }
}

/// A result without limits passes all that is solved: that is no yield against one with limits.
#[test]
fn a_yield_that_is_not_judged_is_neither_higher_nor_lower() {
    let start = tight();
    let at = start.find("[limits]\n").unwrap();
    let (head, tail) = start.split_at(at);
    let end = tail.find("\n[switch]").unwrap();
    let limits = "[limits]\nyield_target = \"99 %\"\nconfidence = \"95 %\"\n";
    let without = format!("{head}{limits}{}", &tail[end..]);
    let folder = runs();
    fs::write(folder.path().join("without.toml"), without).unwrap();
    let line = "run without.toml --samples 400 --no-explain --quiet --out without";
    succeed(folder.path(), line);
    let demo = include_str!("../../scenarios/seabed-node.toml");
    let (head, tail) = demo.split_at(demo.find("[limits]\n").unwrap());
    let target = tail.find("yield_target").unwrap();
    let unlimited = format!("{head}[limits]\n{}", &tail[target..]);
    fs::write(folder.path().join("seabed.toml"), demo).unwrap();
    fs::write(folder.path().join("unlimited.toml"), unlimited).unwrap();
    for csv in ["seabed-node-tanks.csv", "seabed-node-capacitors.csv"] {
        let from = format!("{}/scenarios/{csv}", env!("CARGO_MANIFEST_DIR"));
        fs::copy(from, folder.path().join(csv)).unwrap();
    }
    for (name, out) in [("seabed", "sets"), ("unlimited", "unlimited")] {
        let line =
            format!("grades {name}.toml --samples 100 --solver averaged --quiet --out {out}");
        succeed(folder.path(), &line);
    }
    let found = compared(folder.path(), "sets unlimited");
    let yields = found["comparisons"][0]["yields"].as_array().unwrap();
    assert!(!yields.is_empty() && yields.iter().all(|own| own["shown"] == false), "{found}");
    for (results, who) in [
        ("without a", "A does not judge them"),
        ("a without", "B does not judge them"),
        ("without without", "neither A nor B judges them"),
    ] {
        let found = compared(folder.path(), results);
        let yields = found["comparisons"][0]["yields"].as_array().unwrap();
        assert!(yields.len() >= 4, "{found}");
        assert!(yields.iter().all(|own| own["shown"] == false), "{results}: {found}");
        let headline = found["headline"][0].as_str().unwrap();
        assert!(headline.contains(who), "{results}: {headline}");
    }
}

#[test]
fn several_results_and_other_solvers_are_told() {
    let folder = runs();
    let text = succeed(folder.path(), "compare a b c d --out out --tables");
    for said in ["B against A", "C against A", "D against A", "by the averaged solver"] {
        assert!(text.contains(said), "{said}: {text}");
    }
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("fairphase compare a b c d"));
    let again = fs::read(folder.path().join("out/comparison.csv")).unwrap();
    succeed(folder.path(), "compare a b c d --out again --quiet");
    assert_eq!(again, fs::read(folder.path().join("again/comparison.csv")).unwrap());
}

/// Values stand as people read them, and the brief tells what both share.
#[test]
fn scenario_values_are_told_with_their_units() {
    let folder = runs();
    let text = succeed(folder.path(), "compare a b --out out").replace('\u{a0}', " ");
    assert!(text.contains("tolerance, resonant inductance, band: 5 %, then 3 %"), "{text}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    let page = page.replace('\u{a0}', " ");
    for said in [
        "<b>Operating points of both: </b>“full load” 380 V to 48 V, 62.5 A; “half load”",
        "<b>Limits of both: </b>",
        "sharing error 1 %",
        "<b>Nominal phase of both: </b>Lr ",
        "<td>5 %",
    ] {
        assert!(page.contains(said), "{said}");
    }
    // One more result differs in the nominal phase.
    let other = fs::read_to_string(folder.path().join("b/summary.json")).unwrap();
    let at = other.find("\"resonant_inductance_H\"").unwrap();
    let (head, tail) = other.split_at(at);
    let (value, rest) = tail.split_once(',').unwrap();
    let other = format!("{head}{}9,{rest}", value.trim_end());
    let other = other.replace("    \"samples.parquet\",\n", "");
    fs::write(folder.path().join("other.json"), other).unwrap();
    succeed(folder.path(), "compare a b other.json --out three");
    let page = fs::read_to_string(folder.path().join("three/report.html")).unwrap();
    let rest = page.split("<b>Nominal phase of all: </b>").nth(1).unwrap();
    let told = rest.split("</p>").next().unwrap().replace('\u{a0}', " ");
    // All but what differs.
    assert!(told.starts_with("Cr 247 nF · Lm 22.8 µH · n 2.4 · "), "{told}");
    assert!(told.ends_with("; otherwise they differ, see the changes."), "{told}");
}

/// The limits of one part in both arrangements, and of several figures, are told apart.
#[test]
fn limits_of_single_parts_keep_their_places() {
    let folder = runs();
    let limit = |arrangement: &str, figure: &str, limit: f64| serde_json::json!({ "arrangement": arrangement, "part": "rectifier", "figure": figure, "limit": limit });
    let mut summary = json(&folder.path().join("a/summary.json"));
    summary["files"] = Value::Array(Vec::new());
    for (name, chain) in [("low.json", 50.0), ("high.json", 60.0)] {
        summary["limits"]["parts"] = Value::Array(vec![
            limit("chain", "reverse_voltage_V", chain),
            limit("chain", "rms_current_A", 20.0),
            limit("paralleled", "reverse_voltage_V", 70.0),
        ]);
        fs::write(folder.path().join(name), summary.to_string()).unwrap();
    }
    let found = compared(folder.path(), "low.json high.json");
    let changes = &found["comparisons"][0]["scenario_changes"];
    assert_eq!(changes.as_array().map(Vec::len), Some(1), "{changes}");
    assert_eq!(changes[0]["place"], "limits.parts.chain.rectifier.reverse_voltage_V.limit");
    let text = succeed(folder.path(), "compare low.json high.json --out out");
    assert!(text.replace('\u{a0}', " ").contains("50 V, then 60 V"), "{text}");
}

/// What no other part of a summary tells is compared as it is written in the scenarios.
#[test]
fn all_of_a_scenario_is_compared() {
    let other = changed(&tight(), "maximum = \"300 kHz\"", "maximum = \"290 kHz\"");
    let folder = folder_with(&[("one.toml", TELECOM), ("two.toml", &other)]);
    for (name, out) in [("one", "a"), ("two", "b"), ("one", "c")] {
        succeed(folder.path(), &format!("gain {name}.toml --quiet --out {out}"));
    }
    let found = compared(folder.path(), "a b");
    let changes = found["comparisons"][0]["scenario_changes"].as_array().unwrap().iter();
    let told: Vec<_> = changes.map(|own| (&own["place"], &own["first"], &own["other"])).collect();
    let text = |words: &str| Value::from(words);
    let [frequency, limit] = ["converter.frequency.maximum", "limits.sharing_error"].map(text);
    assert_eq!(
        told,
        [(&frequency, &text("300 kHz"), &text("290 kHz")), (&limit, &text("2.5 %"), &text("1 %"))]
    );
    // The same scenario, though one value is written with another prefix.
    let same = changed(TELECOM, "maximum = \"300 kHz\"", "maximum = \"0.3 MHz\"");
    fs::write(folder.path().join("one.toml"), same).unwrap();
    succeed(folder.path(), "gain one.toml --quiet --out c");
    let said = succeed(folder.path(), "compare a c --out out");
    assert!(said.contains("no value of the scenario"), "{said}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(!page.contains("whole scenario"), "{page}");
    let mut summary = json(&folder.path().join("c/summary.json"));
    summary.as_object_mut().unwrap().remove("scenario_as_written");
    fs::write(folder.path().join("c.json"), summary.to_string()).unwrap();
    succeed(folder.path(), "compare a c.json --out out");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("does not hold the whole scenario"), "{page}");
}

/// Each of these is changed alone: temperatures of parts, of their surroundings, drift, losses, dead times.
#[test]
fn every_change_is_listed_once() {
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/foundry-magnet.toml");
    let start = fs::read_to_string(demo).unwrap();
    let folder = folder_with(&[("start.toml", &start)]);
    succeed(folder.path(), "gain start.toml --quiet --out start");
    for (from, to, place) in [
        ("\"70 °C\"", "\"75 °C\"", "operating_point.summer.ambient_temperature"),
        ("\"5 K\"", "\"6 K\"", "operating_point.summer.phase_rise"),
        ("\"100 °C\"", "\"101 °C\"", "operating_point.summer.part_temperature.series_resistance"),
        ("\"30000 h\"", "\"40000 h\"", "ageing.service_life"),
        ("\"falling-first\"", "\"together\"", "switch.timing"),
    ] {
        let other = start.replacen(from, to, 1);
        assert_ne!(other, start, "{from}");
        fs::write(folder.path().join("other.toml"), other).unwrap();
        succeed(folder.path(), "gain other.toml --quiet --out other");
        let found = compared(folder.path(), "start other");
        let changes = found["comparisons"][0]["scenario_changes"].as_array().unwrap();
        let places: Vec<&str> = changes.iter().map(|own| own["place"].as_str().unwrap()).collect();
        assert_eq!(places, [place]);
        fs::remove_dir_all(folder.path().join("out")).unwrap();
    }
}

#[test]
fn another_version_of_the_program_is_told() {
    let folder = runs();
    let mut summary = json(&folder.path().join("b/summary.json"));
    summary["version"] = Value::from("0.0.9");
    summary["files"] = Value::Array(Vec::new());
    fs::write(folder.path().join("old.json"), summary.to_string()).unwrap();
    let found = compared(folder.path(), "a old.json");
    let warnings = found["warnings"].to_string();
    assert!(warnings.contains("B from version 0.0.9"), "{warnings}");
    let text = succeed(folder.path(), "compare a old.json --out out");
    assert!(
        text.split_whitespace().collect::<Vec<_>>().join(" ").contains("B from version 0.0.9"),
        "{text}"
    );
    assert!(succeed(folder.path(), "compare a d --out out").contains("by the averaged solver"));
}

#[test]
fn what_cannot_be_compared_is_refused_with_its_place() {
    let folder = runs();
    succeed(folder.path(), "gain one.toml --quiet --out gain");
    let summary = fs::read_to_string(folder.path().join("a/summary.json")).unwrap();
    let other = summary.replace("fairphase-summary/2", "fairphase-summary/1");
    fs::write(folder.path().join("old.json"), other).unwrap();
    fs::write(folder.path().join("list.json"), "[1, 2]").unwrap();
    let many = summary.replacen("\"successes\": ", "\"successes\": 9", 1);
    fs::write(folder.path().join("many.json"), many).unwrap();
    for (arguments, words) in [
        ("a gain", "results of `gain`; expected results of `run`"),
        ("a old.json", "its schema is fairphase-summary/1; expected fairphase-summary/2"),
        ("a list.json", "it is no summary"),
        ("a one.toml", "it is no JSON"),
        ("a nowhere", "cannot read nowhere"),
        ("a many.json", "of 400 samples pass"),
        ("a", "required"),
        ("a b --confidence 100", "expected a percentage"),
        ("a b --confidence 50", "expected a percentage"),
    ] {
        let said = fairphase(folder.path(), &format!("compare {arguments} --out out --tables"));
        assert_eq!(said.status, 2, "{arguments}: {}", said.stderr);
        assert!(said.stderr.contains(words), "{arguments}: {}", said.stderr);
        assert!(!folder.path().join("out").exists(), "{arguments}");
    }
    // Results are never written over those that are read.
    let said = fairphase(folder.path(), "compare a b --out a --tables");
    assert_eq!(said.status, 2, "{}", said.stderr);
    // A file of samples that is none.
    fs::write(folder.path().join("b/samples.parquet"), "PAR1").unwrap();
    let said = fairphase(folder.path(), "compare a b --out out --tables");
    assert_eq!(said.status, 2, "{}", said.stderr);
    assert!(said.stderr.contains("samples.parquet of b:"), "{}", said.stderr);
}

/// Yields and numbers of every verb that has some are found: their names are those that the verbs write.
#[test]
fn every_verb_with_yields_is_read() {
    let demos = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios");
    let folder = folder_with(&[]);
    for (verb, scenario, options) in [
        ("run", "telecom-shelf", "--samples 50 --no-explain"),
        ("sensors", "greenhouse-lamps", "--samples 100"),
        ("grades", "seabed-node", "--samples 100"),
        ("bands", "runway-lights", "--samples 700"),
        ("capacitors", "telecom-shelf", "--samples 600"),
    ] {
        for seed in [3, 4] {
            let out = format!("{verb}-{seed}");
            let line = format!(
                "{verb} {demos}/{scenario}.toml {options} --solver averaged --seed {seed} --quiet --out {out}"
            );
            succeed(folder.path(), &line);
        }
        let found = compared(folder.path(), &format!("{verb}-3 {verb}-4"));
        let against = &found["comparisons"][0];
        let kept = |key: &str| against[key].as_array().unwrap();
        assert!(!kept("yields").is_empty(), "{verb}");
        assert!(kept("values").iter().any(|own| own["first"].is_number()), "{verb}: {against}");
        assert!(kept("yields").iter().all(|own| own["compared"] == "independent"), "{verb}");
        assert!(kept("scenario_changes").is_empty(), "{verb}: {against}");
    }
}

/// A summary of grades in which a set is recommended: name, passes of 1 000 with their interval, and the cost
/// with its interval. All numbers are invented.
fn with_set(
    start: &Value,
    name: &str,
    successes: u32,
    interval: [f64; 2],
    cost: [f64; 3],
) -> Value {
    let mut summary = start.clone();
    let mut set = start["recommended"].clone();
    set["name"] = Value::from(name);
    set["yield"] = serde_json::json!({
        "successes": successes, "trials": 1000, "estimate": f64::from(successes) / 1000.0,
        "lower": interval[0], "upper": interval[1], "confidence": 0.99, "method": "clopper-pearson",
    });
    set["cost_per_good_converter"] =
        serde_json::json!({ "estimate": cost[0], "lower": cost[1], "upper": cost[2] });
    summary["set_to_build"] = set;
    summary
}

/// An operating point that is called "all" is not taken for all points together: the comparison is that of the
/// same runs with the point under another name, but for its own row.
#[test]
fn a_point_called_all_is_not_all_points() {
    let second = "[[operating_point]]\nname = \"half load\"\ninput_voltage = \"380 V\"\n\
        output_voltage = \"43 V\"\noutput_power = \"2.6 kW\"\ndrive = \"full-bridge\"\n\
        rectifier = \"full-bridge\"\n\n[limits]";
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"1.2 %\"");
    let other = changed(&tight, "[limits]", second);
    let named = changed(&other, "\"full load\"", "\"all\"");
    let folder = folder_with(&[("other.toml", &other), ("named.toml", &named)]);
    for name in ["other", "named"] {
        for seed in [1, 3] {
            let line = format!("run {name}.toml --samples 200 --no-explain --quiet --seed {seed}");
            succeed(folder.path(), &format!("{line} --out {name}-{seed}"));
        }
    }
    let [other, named] = ["other", "named"].map(|name| {
        compared(folder.path(), &format!("{name}-1 {name}-3"))["comparisons"][0].clone()
    });
    let yields = |found: &Value, wanted: &[&str]| -> Vec<Value> {
        let all = found["yields"].as_array().unwrap().iter();
        all.filter(|own| wanted.contains(&own["subject"].as_str().unwrap())).cloned().collect()
    };
    let told = yields(&named, &["all", "half load"]);
    assert_eq!(told.len(), 4, "{told:?}");
    assert_eq!(told, yields(&other, &["all", "half load"]));
    let of_ratings = |found: &Value| -> Vec<Value> {
        let all = found["values"].as_array().unwrap().iter();
        all.filter(|own| !own.to_string().contains("sharing error")).cloned().collect()
    };
    assert_eq!(of_ratings(&named), of_ratings(&other));
    assert!(!of_ratings(&named).is_empty());
}

/// Two sets that are written alike: nothing tells which of them is meant, so neither is compared.
#[test]
fn sets_of_one_name_are_not_compared() {
    let folder = folder_with(&[]);
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/seabed-node.toml");
    for seed in [1, 2] {
        let line = format!("grades {demo} --samples 100 --solver averaged --seed {seed} --quiet");
        succeed(folder.path(), &format!("{line} --out {seed}"));
        let mut summary = json(&folder.path().join(format!("{seed}/summary.json")));
        summary["files"] = Value::Array(Vec::new());
        for n in [0, 1] {
            summary["results"][n]["name"] = Value::from("alike");
        }
        fs::write(folder.path().join(format!("{seed}.json")), summary.to_string()).unwrap();
    }
    let plain = compared(folder.path(), "1 2");
    let found = compared(folder.path(), "1.json 2.json");
    let count = |found: &Value, key: &str| found["comparisons"][0][key].as_array().unwrap().len();
    for key in ["yields", "values"] {
        assert_eq!(count(&found, key) + 2, count(&plain, key), "{key}");
    }
    assert!(!found["comparisons"][0].to_string().contains("alike"), "{found}");
}

/// Two rankings of grades are compared by the sets that they recommend, not by the first set of the list.
#[test]
fn the_recommended_sets_of_grades_come_first() {
    let folder = folder_with(&[]);
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/seabed-node.toml");
    let line = format!("grades {demo} --samples 100 --solver averaged --quiet --out start");
    succeed(folder.path(), &line);
    let mut start = json(&folder.path().join("start/summary.json"));
    start["files"] = Value::Array(Vec::new());
    start["set_to_build"] = Value::Null;
    let good = [0.98, 0.996];
    let mut dear = with_set(&start, "set two", 900, [0.87, 0.92], [210.0, 208.0, 212.0]);
    dear["failure_cost"] = Value::from(16.0);
    for (name, summary) in [
        ("a.json", with_set(&start, "set one", 990, good, [196.0, 195.0, 197.0])),
        ("b.json", dear),
        ("c.json", with_set(&start, "set one", 990, good, [196.5, 195.5, 198.0])),
        ("d.json", start),
    ] {
        fs::write(folder.path().join(name), summary.to_string()).unwrap();
    }
    let found = compared(folder.path(), "a.json b.json c.json d.json");
    for (n, words) in [
        (0, "A recommends “set one”. B recommends “set two”."),
        (0, "B 210.00 tokens (208.00 to 212.00), A 196.00 tokens (195.00 to 197.00)"),
        (0, "The intervals lie apart"),
        (0, "The yield of B is lower: 90.00 % instead of 99.00 % (recommended set)."),
        (1, "A and C recommend the same set: “set one”."),
        (1, "do not show that the costs differ"),
        (1, "do not show that the yields differ: C 99.00 %, A 99.00 % (recommended set)."),
        (2, "A recommends “set one”. D recommends no set."),
    ] {
        let headline = found["headline"][n].as_str().unwrap().replace('\u{a0}', " ");
        assert!(headline.contains(words), "{words}: {headline}");
    }
    assert_eq!(found["compared"][1]["recommended_set"], "set two");
    assert_eq!(found["compared"][3]["recommended_set"], Value::Null);
    let change = &found["comparisons"][0];
    // The same seed without lists of samples: both intervals bound the difference.
    check_own_intervals(&change["yields"][0], 0.95);
    let changed = &change["scenario_changes"];
    assert_eq!(changed.as_array().map(Vec::len), Some(1), "{changed}");
    assert_eq!(changed[0]["place"], "failure_cost");
    // All sets passed as often in both: the figure draws the recommended ones alone.
    let said = succeed(folder.path(), "compare a.json b.json --out two");
    assert!(said.contains("recommended set") && !said.contains("chain: “Lr"), "{said}");
    let page = fs::read_to_string(folder.path().join("two/report.html")).unwrap();
    assert!(page.contains("48 yields are the same as in A."), "{page}");
}
