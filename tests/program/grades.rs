//! `fairphase grades` as its users run it: exit statuses, files, errors with their places.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, interrupted, json, succeed};

/// Two parts in two grades each; invented.
const GRADES: &str = r#"
[grades]
quantity = 100
failure_cost = 5
other_cost = 50

[[grade.resonant_inductance]]
name = "wide"
shape = "uniform"
band = "9 %"
price = 1

[[grade.resonant_inductance]]
name = "narrow"
shape = "uniform"
band = "2 %"
price = 3
lead_time_weeks = 7

[[grade.magnetising_inductance]]
name = "only"
shape = "uniform"
band = "5 %"
price = 2
"#;

const TANKS: &str = "serial,resonant_inductance_H,resonant_capacitance_F,\
    magnetising_inductance_H,turns_ratio,series_resistance_ohm,rectifier_drop_V\n";

fn scenario() -> String {
    format!("{SHELF}{GRADES}")
}

fn tanks(count: usize) -> String {
    let rows =
        (0..count).map(|k| format!("T{k},{:.3e},,,,,\n", 4.56e-6 * (0.95 + 0.01 * k as f64)));
    TANKS.to_owned() + &rows.collect::<String>()
}

#[track_caller]
fn refuses(folder: &Path, arguments: &str, expected: &[&str]) {
    let before = entries(folder);
    let said = fairphase(folder, arguments);
    assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{arguments}:\n{}", said.stderr);
    for word in expected {
        assert!(said.stderr.contains(word), "`{word}` is missing:\n{}", said.stderr);
    }
    assert_eq!(entries(folder), before, "something was written");
}

#[test]
fn files_agree_with_each_other_and_with_the_terminal() {
    let folder = folder_with(&[("shelf.toml", &scenario()), ("tanks.csv", &tanks(10))]);
    let text = succeed(
        folder.path(),
        "grades shelf.toml --samples 600 --out out --stock tanks.csv --tables",
    );
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let out = folder.path().join("out");
    let files = ["build_list.csv", "grades.csv", "not_passing.csv", "report.html", "summary.json"];
    assert_eq!(entries(&out), files);
    let summary = json(&out.join("summary.json"));
    assert_eq!(
        (summary["verb"].as_str(), summary["partial"].as_bool()),
        (Some("grades"), Some(false))
    );
    let words = summary["recommended"]["name"].as_str().unwrap();
    assert!(text.contains(&format!("Recommended, with charge balancing: {words}")), "{text}");
    let of = |name: &str| summary[name].as_array().unwrap().iter();
    let first = of("results").chain(of("results_without_balancing"));
    let fresh = of("short_list").chain(of("short_list_without_balancing"));
    let results: Vec<_> = first.chain(fresh).collect();
    let mut reader = csv::Reader::from_path(out.join("grades.csv")).unwrap();
    let headers = reader.headers().unwrap().clone();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    // Two sets in both arrangements, and all of them on fresh samples too.
    assert_eq!((rows.len(), results.len()), (8, 8));
    let column = |name: &str| headers.iter().position(|header| header == name).unwrap();
    for (row, result) in rows.iter().zip(results) {
        assert_eq!(row.get(0), result["arrangement"].as_str());
        assert_eq!(row[1].parse::<u64>().ok(), result["stream"].as_u64());
        assert_eq!(row[column("yield")].parse::<f64>().ok(), result["yield"]["estimate"].as_f64());
        let cost = result["cost_per_good_converter"]["estimate"].as_f64();
        assert_eq!(row[column("cost_per_good_converter")].parse::<f64>().ok(), cost);
        // Three phases: the formula of the page, by hand.
        let good = result["yield"]["estimate"].as_f64().unwrap();
        let lr = if result["grades"]["resonant_inductance"] == "wide" { 1.0 } else { 3.0 };
        let by_hand = (3.0 * (lr + 2.0) + 50.0 + (1.0 - good) * 5.0) / good;
        assert!(cost.map_or(good <= 0.0, |cost| (cost / by_hand - 1.0).abs() < 1e-12));
    }
}

#[test]
fn the_build_list_and_the_page_stand_beside() {
    let folder = folder_with(&[("shelf.toml", &scenario()), ("tanks.csv", &tanks(10))]);
    succeed(folder.path(), "grades shelf.toml --samples 300 --out out --stock tanks.csv --quiet");
    let out = folder.path().join("out");
    let summary = json(&out.join("summary.json"));
    let words = summary["recommended"]["name"].as_str().unwrap();
    let pairing = &summary["allocation"]["result"];
    assert_eq!(pairing["converters"], 3);
    let rows = |file: &str| csv::Reader::from_path(out.join(file)).unwrap().records().count();
    assert_eq!(rows("build_list.csv") + rows("not_passing.csv"), 9);
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains(words));
    let command = "fairphase grades shelf.toml --samples 300 --seed ";
    assert!(page.contains(command) && page.contains(" --stock tanks.csv"));
}

/// The yield of a set is the one that `run` finds with its tolerances.
#[test]
fn a_set_yields_what_a_run_yields() {
    let run = changed(SHELF, "band  = \"5 %\"\nlot_share = 0.5", "band = \"9 %\"");
    let more = "[tolerance.magnetising_inductance]\nshape = \"uniform\"\nband = \"5 %\"\n";
    let tight = |text: &str| changed(text, "sharing_error = \"5 %\"", "sharing_error = \"1 %\"");
    let run = tight(&format!("{run}\n{more}"));
    let folder = folder_with(&[("shelf.toml", &tight(&scenario())), ("run.toml", &run)]);
    succeed(folder.path(), "grades shelf.toml --samples 500 --out grades --quiet");
    succeed(folder.path(), "run run.toml --samples 500 --out run --quiet");
    let [grades, run] =
        ["grades", "run"].map(|name| json(&folder.path().join(name).join("summary.json")));
    assert_eq!(grades["results"][0]["grades"]["resonant_inductance"], "wide");
    assert_eq!(grades["results"][0]["yield"], run["joint"]["chain"]["yield"]);
    let passed = run["joint"]["chain"]["yield"]["successes"].as_u64().unwrap();
    assert!((1..500).contains(&passed), "a yield that says something: {passed}");
}

#[test]
fn same_bytes_for_any_number_of_threads() {
    let folder = folder_with(&[("shelf.toml", &scenario()), ("tanks.csv", &tanks(13))]);
    let files = [1, 2].map(|threads| {
        let options = format!("--samples 2200 --quiet --stock tanks.csv --threads {threads}");
        succeed(folder.path(), &format!("grades shelf.toml {options} --out {threads} --tables"));
        let out = folder.path().join(threads.to_string());
        entries(&out).into_iter().map(|n| fs::read(out.join(n)).unwrap()).collect::<Vec<_>>()
    });
    assert!(files[0] == files[1]);
}

#[test]
fn a_missed_target_is_an_exit_status_when_asked_for() {
    let strict = scenario().replace("sharing_error = \"5 %\"", "sharing_error = \"0.01 %\"");
    assert_ne!(strict, scenario());
    let folder = folder_with(&[("strict.toml", &strict), ("shelf.toml", &scenario())]);
    let run = |arguments: &str| fairphase(folder.path(), arguments).status;
    assert_eq!(run("grades strict.toml --samples 100 --out a --quiet"), 0);
    assert_eq!(run("grades strict.toml --samples 100 --out a --quiet --require-pass"), 1);
    let easy = "grades shelf.toml --samples 1500 --out b --quiet --require-pass";
    assert_eq!(run(easy), 0);
    assert_eq!(json(&folder.path().join("a/summary.json"))["all_sets_miss_the_target"], true);
}

#[test]
fn wrong_grades_are_refused_with_their_place() {
    let text = scenario();
    let line = |part: &str| {
        let at = text.find(part).unwrap();
        1 + text[..at].matches('\n').count()
    };
    let subset = "other_cost = 50\ncombinations = [{ resonant_inductance = \"wide\", \
        magnetising_inductance = \"none\" }]";
    for (from, to, place, words) in [
        (
            "[[grade.magnetising_inductance]]",
            "[[grade.magnetizing_inductance]]",
            format!("{}:9", line("[[grade.magn")),
            "did you mean `magnetising_inductance`?",
        ),
        (
            "name = \"narrow\"",
            "name = \"wide\"",
            format!("{}:8", line("name = \"narrow\"")),
            "a second grade of `resonant_inductance`",
        ),
        ("price = 3", "price = -3", format!("{}:9", line("price = 3")), "of zero or more"),
        ("price = 2\n", "", format!("{}:1", line("[[grade.magn")), "lacks `price`"),
        ("quantity = 100", "quantity = 0", format!("{}:12", line("quantity = 100")), "from 1 to"),
        ("quantity = 100\n", "", format!("{}:1", line("[grades]")), "lacks `quantity`"),
        (
            "other_cost = 50",
            subset,
            format!("{}:74", line("other_cost") + 1),
            "has no grade \"none\"",
        ),
        (
            "lead_time_weeks = 7",
            "lead_time_weeks = -7",
            format!("{}:19", line("lead_time_weeks")),
            "of zero or more",
        ),
        (
            "failure_cost = 5",
            "failure_cost = \"5 EUR\"",
            format!("{}:16", line("failure_cost")),
            "is a text",
        ),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(&text, from, to))]);
        let place = format!("wrong.toml:{place}\n");
        refuses(folder.path(), "grades wrong.toml --out out", &[&place, words]);
    }
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    refuses(folder.path(), "grades shelf.toml --out out", &["no part grades", "shelf.toml:1:1"]);
}

#[test]
fn wrong_stock_is_refused_with_its_place() {
    let twice = tanks(4).replace("T3,", "T1,");
    let few = format!("{TANKS}T0,,,,,,\n");
    let micro = format!("{TANKS}T0,4.6,,,,,\nT1,,,,,,\nT2,,,,,,\n");
    let capacitors = "serial,flying_capacitance_F\nC1,50e-6\n";
    let folder = folder_with(&[
        ("shelf.toml", &scenario()),
        ("twice.csv", &twice),
        ("few.csv", &few),
        ("micro.csv", &micro),
        ("tanks.csv", &tanks(4)),
        ("capacitors.csv", capacitors),
    ]);
    for (options, words) in [
        ("--stock twice.csv", ["twice.csv:5:1", "a second part has the serial `T1`"]),
        ("--stock few.csv", ["few.csv:2:9", "expected 3 at least"]),
        ("--stock micro.csv", ["micro.csv:2:4", "expected a plain number in henry"]),
        ("--stock nowhere.csv", ["cannot read nowhere.csv", "No such file"]),
        ("--stock tanks.csv --capacitors capacitors.csv", ["capacitors.csv:2:9", "expected 4"]),
        ("--capacitors capacitors.csv", ["--stock", "required"]),
    ] {
        refuses(folder.path(), &format!("grades shelf.toml --out out {options}"), &words);
    }
}

/// With too few samples for any pass, that is said before the work and after it, with the number that is
/// needed: the smallest whose interval meets the target when all pass.
#[test]
fn too_few_samples_are_told_before_the_work() {
    let folder = folder_with(&[("shelf.toml", &scenario())]);
    let said = fairphase(folder.path(), "grades shelf.toml --samples 300 --out out --tables");
    assert_eq!(said.status, 0, "{}", said.stderr);
    // 99 % at 95 % confidence, two sets: 0.99ⁿ ≤ 0.05/4, by hand.
    assert!(0.99_f64.powi(437) <= 0.0125 && 0.99_f64.powi(436) > 0.0125);
    assert!(said.stderr.contains("at least 437 are needed"), "{}", said.stderr);
    assert!(
        said.stdout
            .contains("No set with charge balancing is recommended: 300 samples are too few"),
        "{}",
        said.stdout
    );
    assert!(
        said.stdout.contains("At least 437 samples are needed for any pass"),
        "{}",
        said.stdout
    );
    let summary = json(&folder.path().join("out/summary.json"));
    assert_eq!(summary["answer"], "too few samples");
    assert_eq!(summary["fewest_samples_for_a_pass"], 437);
    let said = fairphase(folder.path(), "grades shelf.toml --samples 437 --out out --tables");
    assert!(!said.stderr.contains("are needed"), "{}", said.stderr);
    assert!(said.stdout.contains("Recommended, with charge balancing: "), "{}", said.stdout);
    let quiet = fairphase(folder.path(), "grades shelf.toml --samples 300 --out out --quiet");
    assert_eq!(quiet.stderr, "");
}

/// Sets beyond the most are refused at once, however many there are.
#[test]
fn a_flood_of_combinations_is_one_error() {
    let one = "{ resonant_inductance = \"wide\", magnetising_inductance = \"only\" },";
    let all = format!("other_cost = 50\ncombinations = [{}]", one.repeat(20_000));
    let folder = folder_with(&[("many.toml", &changed(&scenario(), "other_cost = 50", &all))]);
    let said = fairphase(folder.path(), "grades many.toml --out out --tables");
    assert_eq!((said.status, said.stderr.matches("error: ").count()), (2, 1), "{}", said.stderr);
    assert!(said.stderr.contains("`combinations` lists 20000 sets"), "{}", said.stderr);
}

/// Interrupted after some samples: all sets are there with them, marked, and the exit status is 3.
#[test]
fn interrupted_it_writes_what_is_finished_and_says_so() {
    // 400 sets: the first samples are done early.
    let offers: String = ["turns_ratio", "series_resistance"]
        .iter()
        .flat_map(|key| {
            (1..=20).map(move |n| {
                format!(
                    "[[grade.{key}]]\nname = \"{n}\"\nshape = \"uniform\"\n\
                     band = \"0.{n} %\"\nprice = {n}\n"
                )
            })
        })
        .collect();
    let start = GRADES.find("[[grade").unwrap();
    let many = format!("{SHELF}{}{offers}", &GRADES[..start]);
    let folder = folder_with(&[("many.toml", &many)]);
    let out = folder.path().join("out");
    let arguments = "grades many.toml --samples 50000 --out out";
    let said = interrupted(folder.path(), arguments, &out);
    assert!(said.stdout.contains("PARTIAL: interrupted."), "{}", said.stdout);
    assert_eq!(entries(&out), ["grades.csv", "report.html", "summary.json"]);
    let summary = json(&out.join("summary.json"));
    assert_eq!(summary["partial"], true);
    assert_eq!(summary["interrupted_at"], "all sets");
    assert_eq!(summary["recommended_on_fresh_samples"], false);
    let results = summary["results"].as_array().unwrap();
    let samples = results[0]["yield"]["trials"].as_u64().unwrap();
    assert!((1..50_000).contains(&samples), "{samples}");
    assert!(results.len() == 400 && results.iter().all(|r| r["yield"]["trials"] == samples));
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("PARTIAL: interrupted."));
    // The samples that a set is picked on pass none.
    let words = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!words.contains(" pass "), "{words}");
    assert!(page.contains("the comparison was interrupted before the fresh samples."));
    assert!(!page.contains("intervals that hold for all sets of the short list"));
}
