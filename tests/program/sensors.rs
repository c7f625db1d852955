//! The verb `sensors` as its users run it.
#![allow(missing_docs, clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, interrupted, json, succeed};
use fairphase::scenario::Scenario;

/// Three operating points and the table `[sensors]`; invented.
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");

#[test]
fn files_are_whole_and_the_same_for_any_number_of_threads() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let [one, two] = [1, 2].map(|threads| {
        let options = format!("--samples 300 --quiet --threads {threads} --out {threads}");
        assert_eq!(succeed(folder.path(), &format!("sensors lamps.toml {options}")), "");
        let out = folder.path().join(threads.to_string());
        assert_eq!(entries(&out), ["report.html", "summary.json"]);
        ["report.html", "summary.json"].map(|name| fs::read(out.join(name)).unwrap())
    });
    assert!(one == two);
    let page = String::from_utf8(one[0].clone()).unwrap();
    for words in [
        "Can the 3 current sensors and their control loops be left out?",
        "fairphase sensors lamps.toml --samples 300 --seed 11 --solver exact",
        "High voltage can kill.",
        "(d) chain + sensors",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("PARTIAL") && page.matches("<script").count() == 1);
}

/// The verdict stands first on the terminal, within 80 columns; what it prints is what it writes.
#[test]
fn the_terminal_tells_the_verdict_first() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let text = succeed(folder.path(), "sensors lamps.toml --samples 600 --out out --tables");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let summary = json(&folder.path().join("out/summary.json"));
    let before_settings = unfolded(&text).split_once(" 600 samples, ").unwrap().0.to_owned();
    assert!(before_settings.ends_with(summary["headline"].as_str().unwrap()), "{text}");
    assert_eq!(summary["verdict"], "pass");
    assert_eq!(summary["complete"], true);
    let variants = summary["variants"].as_array().unwrap();
    let letters: Vec<_> = variants.iter().map(|v| v["letter"].as_str().unwrap()).collect();
    assert_eq!(letters, ["a", "b", "c", "d"]);
    for v in variants {
        let all =
            ["solved", "out_of_range", "not_solved"].map(|k| v["counts"][k].as_u64().unwrap());
        assert_eq!(all.iter().sum::<u64>(), 3 * 600);
        assert_eq!(v["yield"]["trials"], 600);
    }
    let printed = succeed(folder.path(), "sensors lamps.toml --samples 600 --json --out again");
    assert_eq!(printed.as_bytes(), fs::read(folder.path().join("out/summary.json")).unwrap());
}

/// What `sensors` writes of a scenario, and what it prints.
fn told(text: &str, options: &str) -> (String, serde_json::Value) {
    let folder = folder_with(&[("lamps.toml", text)]);
    let said = succeed(folder.path(), &format!("sensors lamps.toml --out out {options} --tables"));
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    (said, json(&folder.path().join("out/summary.json")))
}

/// One line, whatever the terminal folds.
fn unfolded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// All variants that surely meet the target are weighed, not the chain by itself.
#[test]
fn the_headline_is_about_the_cheapest_that_meets_the_target() {
    let limits = |from: &str, to: &str| {
        let far = [("\"3.4 A\"", "\"34 A\""), ("\"6 A\"", "\"60 A\"")];
        let open = far.iter().fold(LAMPS.to_owned(), |text, (a, b)| changed(&text, a, b));
        changed(&open, from, to)
    };
    let dear = limits("flying_capacitor = 0.9", "flying_capacitor = 9");
    for (text, can_go, cheapest, words) in [
        (
            limits("= 112 ", "= 112 "),
            "pass",
            Some("b"),
            "The sensors can go: the chain alone meets 99 % (95 % confidence).",
        ),
        (dear, "pass", Some("c"), "The sensors can go, but (c) meets 99 % too and costs 11."),
        (
            limits("\"2.2 %\"", "\"199 %\""),
            "pass",
            Some("a"),
            "Nothing need be added: (a) meets 99 % (95 % confidence).",
        ),
        (
            limits("\"2.2 %\"", "\"0.01 %\""),
            "fail",
            None,
            "No variant meets 99 % (95 % confidence).",
        ),
        (
            limits("\"40 µF\"", "\"2.4 µF\""),
            "fail",
            Some("c"),
            "The sensors stay: (c) meets 99 % (95 % confidence), the chain alone does not.",
        ),
    ] {
        let (said, summary) = told(&text, "--samples 700");
        assert_eq!(summary["decision"]["sensors_can_go"], can_go, "{said}");
        assert_eq!(summary["decision"]["cheapest_that_meets"].as_str(), cheapest, "{said}");
        assert!(summary["headline"].as_str().unwrap().starts_with(words), "{said}");
        assert!(unfolded(&said).contains(words), "{said}");
    }
}

/// What fails says why, and a nominal converter that misses a limit is told of at once.
#[test]
fn limits_that_paralleled_switches_take_from_the_chain_are_told() {
    let table = LAMPS.split("[limits.paralleled]").nth(1).unwrap();
    let table = table.split("# One sensor").next().unwrap();
    let bare = changed(LAMPS, &format!("[limits.paralleled]{table}"), "");
    let (said, summary) = told(&bare, "--samples 60");
    let said = unfolded(&said);
    let warning = "Warning: (a) and (c) miss a limit with nominal parts: blocking voltage of a switch \
                   400.0 V, at most 320 V, at “midsummer fill-in”. These limits are those of the chain’s";
    assert!(said.contains(warning), "{said}");
    let missed = "blocking voltage of a switch at “midsummer fill-in”, 100.00 % in (c)";
    assert!(said.contains(missed), "{said}");
    assert_eq!(summary["variants"][2]["nominal_misses"]["value"], 400.0);
    assert!(!unfolded(&told(LAMPS, "--samples 60").0).contains("with nominal parts"));
}

/// What sensors and trim elements take is lost, and counts against the efficiency: 600 W of some 2 kW leave less
/// than 80 %.
#[test]
fn what_sensors_take_counts_against_the_efficiency() {
    let hungry = changed(LAMPS, "standing_loss    = \"0.2 W\"", "standing_loss = \"200 W\"");
    let losses = "[converter.losses]\nrectifier_resistance = \"1 mΩ\"\n\n[converter.frequency]";
    let text = changed(&hungry, "[converter.frequency]", losses);
    let text = changed(&text, "[limits]", "[limits]\nefficiency = \"80 %\"");
    let (said, summary) = told(&text, "--samples 60");
    let variant = |n: usize| &summary["variants"][n];
    for n in [2, 3] {
        assert_eq!(variant(n)["yield"]["successes"], 0, "{said}");
        let figure = &variant(n)["nominal_misses"]["limit"];
        assert_eq!(figure, "lost_share", "{}", variant(n)["nominal_misses"]);
    }
    assert!(variant(1)["yield"]["successes"].as_u64().unwrap() > 50, "{said}");
    for letter in ["c", "d"] {
        let words = format!("({letter}) misses a limit with nominal parts: lost power");
        assert!(unfolded(&said).contains(&words), "{said}");
    }
}

/// Sensors measure what the limit speaks of, unless told otherwise, and then it is told.
#[test]
fn what_sensors_measure_follows_the_limit() {
    let line = LAMPS.lines().find(|line| line.starts_with("measured")).unwrap();
    let bare = changed(LAMPS, line, "");
    for share in ["output-current", "rms-tank-current"] {
        let text =
            changed(&bare, "share         = \"output-current\"", &format!("share = \"{share}\""));
        let (said, summary) = told(&text, "--samples 20 --solver averaged");
        assert_eq!(summary["sensors"]["measured"], share);
        assert!(!said.contains("The sensors measure"), "{said}");
    }
    let other = changed(LAMPS, line, "measured = \"mean-tank-current\"");
    let (said, _) = told(&other, "--samples 20 --solver averaged");
    let words =
        "The sensors measure the mean absolute tank current; the limit is on the output current.";
    assert!(unfolded(&said).contains(words), "{said}");
}

/// Differences and percentages stand in the summary too, as the variants' own figures have them.
#[test]
fn comparisons_are_fields_of_the_summary() {
    let (said, summary) = told(LAMPS, "--samples 600");
    let variant = |n: usize| &summary["variants"][n];
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let current = |n: usize| number(&variant(n)["rms_current_at_target_A"]["value"]);
    for (pair, (one, other)) in [(3, 1), (2, 1), (2, 0), (1, 0)].into_iter().enumerate() {
        let found = &summary["comparisons"]["pairs"][pair];
        let letters = ["a", "b", "c", "d"];
        assert_eq!(
            (&found["first"], &found["second"]),
            (&letters[one].into(), &letters[other].into())
        );
        let of = |key: &str| number(&variant(one)[key]) - number(&variant(other)[key]);
        if other != 0 {
            let price = number(&found["cost_per_good_converter"]);
            assert!((price - of("cost_per_good_converter")).abs() < 1e-9);
        }
        let same = one % 2 == other % 2;
        assert_eq!(found["switch_rms_current_lower_by"].is_null(), !same);
        if same {
            let smaller = 1.0 - current(one) / current(other);
            assert!((number(&found["switch_rms_current_lower_by"]) - smaller).abs() < 1e-12);
        }
    }
    let uneven = &summary["comparisons"]["chain_sharing_as_unevenly_as_a"];
    let nominal = |n: usize| number(&variant(n)["nominal_switch_rms_current_A"]);
    let expected = current(0) / nominal(0) * nominal(1);
    assert!((number(&uneven["rms_current_A"]) - expected).abs() < 1e-9);
    // One blank keeps a number together with what it counts, at the end of a line too.
    assert!(said.lines().all(|l| !l.trim_start().starts_with('%')), "{said}");
    assert_eq!(unfolded(&said).matches("when the whole 98.75 % interval of its yield").count(), 1);
    assert!(unfolded(&said).contains("scrapped at its full price"), "{said}");
}

/// Tanks are rescaled to the whole input of three phases: nine times the resistance. An offset of
/// the output current is what it is; one of a tank's current is a third.
#[test]
fn the_page_says_what_is_rescaled() {
    let page = |text: &str| {
        let folder = folder_with(&[("lamps.toml", text)]);
        let options = "--samples 20 --solver averaged --quiet --out out";
        succeed(folder.path(), &format!("sensors lamps.toml {options} --tables"));
        fs::read_to_string(folder.path().join("out/report.html")).unwrap()
    };
    let own = page(LAMPS);
    for words in [
        "the resistance counts 9 times as much.",
        "The offset is one of the output current, the same in all variants.",
        "converter 112, own parts of the chain 29.5, of paralleled 28, flying capacitor 0.9, sensor 2.4, trim element 3.1",
        "converter 360, own parts of the chain 62, of paralleled 60, flying capacitor 3, sensor 14, trim element 22",
    ] {
        assert!(own.contains(words), "{words}");
    }
    let unpriced = "that differ between chain and paralleled are not priced";
    assert!(!own.contains(unpriced), "the demo prices them");
    let plain = LAMPS.replace("= 29.5", "= 0").replace("= 28 ", "= 0 ");
    assert!(page(&plain).contains(unpriced));
    let line = LAMPS.lines().find(|line| line.starts_with("measured")).unwrap();
    let of_tanks = page(&changed(LAMPS, line, "measured = \"rms-tank-current\""));
    assert!(of_tanks.contains("that of a paralleled sensor is 1/3 of it."));
}

/// A band that cannot be widened is no reason to stop.
#[test]
fn a_band_close_to_the_whole_value_is_taken_as_it_is() {
    let wide = changed(
        LAMPS,
        "[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = \"10 %\"",
        "[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = \"97 %\"",
    );
    let far = changed(&changed(&wide, "\"2.2 %\"", "\"200 %\""), "\"320 V\"", "\"900 V\"");
    let far = changed(&changed(&far, "\"10 A\"", "\"90 A\""), "\"18 A\"", "\"90 A\"");
    let (said, summary) = told(&far, "--samples 600 --solver averaged");
    assert_eq!(summary["verdict"], "pass", "{said}");
}

#[test]
fn a_pass_can_be_required() {
    let harder = changed(LAMPS, "\"2.2 %\"", "\"0.5 %\"");
    let folder = folder_with(&[("lamps.toml", LAMPS), ("harder.toml", &harder)]);
    let options = "--samples 600 --solver averaged --quiet --require-pass --out out";
    assert_eq!(fairphase(folder.path(), &format!("sensors harder.toml {options}")).status, 1);
    let options = "--samples 600 --quiet --require-pass --out out";
    assert_eq!(fairphase(folder.path(), &format!("sensors lamps.toml {options}")).status, 0);
}

#[test]
fn wrong_sensors_are_refused_with_their_place() {
    let place = |text: &str| {
        let line = LAMPS.lines().position(|l| l.starts_with(text)).unwrap() + 1;
        let column = LAMPS.lines().nth(line - 1).unwrap().find('"').map_or(1, |c| c + 1);
        format!("wrong.toml:{line}:{column}")
    };
    for (from, to, key, words) in [
        ("\"resonant_inductance\"", "\"turns_ratio\"", "trim  ", "resonant_capacitance"),
        ("\"8 %\"", "\"80 %\"", "trim_range", "at most 50 %"),
        ("\"3 mΩ\"", "\"3 mH\"", "added_resistance", "expected a resistance"),
        ("\"80 mA\"", "\"80 mV\"", "band  = \"80 mA", "expected a current"),
        ("\"output-current\"      #", "\"charge\"      #", "measured", "rms-tank-current"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(LAMPS, from, to))]);
        for verb in ["sensors", "check"] {
            let said = fairphase(folder.path(), &format!("{verb} wrong.toml --out out"));
            assert_eq!(said.status, 2, "{}", said.stderr);
            assert!(said.stderr.contains(&place(key)), "{}: {}", place(key), said.stderr);
            assert!(said.stderr.contains(words), "{words}: {}", said.stderr);
            assert_eq!(entries(folder.path()), ["wrong.toml"]);
        }
    }
}

#[test]
fn what_sensors_need_must_be_there() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let said = fairphase(folder.path(), "sensors shelf.toml --out out --tables");
    assert_eq!(said.status, 2);
    assert!(said.stderr.contains("lacks `sensors`"), "{}", said.stderr);
    assert!(said.stderr.contains("shelf.toml:1:1"), "{}", said.stderr);
    assert!(Scenario::parse("shelf.toml", SHELF).unwrap().sensors.is_none());
    for (key, table) in [
        ("trim_element     = 3.1", "sensors.price"),
        ("flying_capacitor = 3\n", "sensors.failure_rate"),
    ] {
        let folder = folder_with(&[("wrong.toml", &changed(LAMPS, key, ""))]);
        let said = fairphase(folder.path(), "sensors wrong.toml --out out");
        assert_eq!(said.status, 2);
        assert!(said.stderr.contains(&format!("[{table}] lacks")), "{}", said.stderr);
    }
}

/// Asked to stop in the middle, the samples that are done are written and marked.
#[test]
fn interrupted_it_writes_what_is_finished_and_says_so() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    let arguments = "sensors lamps.toml --samples 1000000000 --out out";
    let said = interrupted(folder.path(), arguments, &out);
    assert!(said.stdout.contains("PARTIAL: interrupted."), "{}", said.stdout);
    assert_eq!(entries(&out), ["report.html", "summary.json"]);
    let summary = json(&out.join("summary.json"));
    assert_eq!((&summary["complete"], &summary["partial"]), (&false.into(), &true.into()));
    let trials = summary["variants"][1]["yield"]["trials"].as_u64().unwrap();
    assert!((1..1_000_000_000).contains(&trials), "{trials}");
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("PARTIAL: interrupted."));
}

/// Lamps that describe their switches, and reach every limit of soft switching by a margin or not at all.
fn switched_lamps() -> String {
    let switch = "[switch]\noutput_capacitance_low = \"400 pF\"\noutput_capacitance_high = \"300 pF\"\n\
                  dead_time = \"200 ns\"\n\n[run]";
    changed(LAMPS, "[run]", switch)
}

/// The numbers of two entries agree; binned quantiles too, because the samples are the same.
fn assert_same(own: &Value, other: &Value, what: &str) {
    match (own, other) {
        (Value::Number(a), Value::Number(b)) => {
            let [a, b] = [a, b].map(|number| number.as_f64().unwrap());
            assert!((a - b).abs() <= 1e-12 * b.abs(), "{what}: {a} {b}");
        }
        (Value::Object(a), Value::Object(b)) => {
            assert!(a.keys().eq(b.keys()), "{what}");
            for (key, own) in a {
                assert_same(own, &b[key], &format!("{what}, {key}"));
            }
        }
        _ => assert_eq!(own, other, "{what}"),
    }
}

fn key_of(entry: &Value) -> String {
    let of = |key: &str| entry[key].as_str().unwrap_or_default().to_owned();
    ["arrangement", "part", "figure", "operating_point"].map(of).join(" ")
}

/// Variants without sensors are the converters of `run`: the same samples, by another way through the program.
#[test]
fn ratings_and_soft_switching_are_those_of_run() {
    let folder = folder_with(&[("lamps.toml", &switched_lamps())]);
    let options = "--samples 700 --seed 5 --quiet";
    succeed(folder.path(), &format!("sensors lamps.toml {options} --out sensors"));
    succeed(folder.path(), &format!("run lamps.toml {options} --no-explain --out run"));
    let [own, run] =
        ["sensors", "run"].map(|out| json(&folder.path().join(out).join("summary.json")));
    // The loops trim parts here: the ripple of the output is not compared, though it is rated.
    let ripple = |variant: &Value| variant["output_ripple"].is_null();
    assert!(own["variants"].as_array().unwrap().iter().all(ripple));
    let entries = |summary: &Value, key: &str| -> BTreeMap<String, Value> {
        let all = summary[key].as_array().unwrap().iter();
        all.map(|entry| (key_of(entry), entry.clone())).collect()
    };
    for key in ["ratings", "ratings_together"] {
        let [own, run] = [&own, &run].map(|summary| entries(summary, key));
        assert!(own.len() >= 2 && own.keys().eq(run.keys()), "{key}");
        for (name, entry) in &own {
            assert_same(entry, &run[name], name);
        }
    }
    let [switching, shares] = ["soft_switching", "results"].map(|key| {
        let summary = if key == "results" { &run[key] } else { &own[key]["cases"] };
        let all = summary.as_array().unwrap().iter();
        all.map(|own| (key_of(own), own["soft_switching"].clone())).collect::<BTreeMap<_, _>>()
    });
    assert_eq!(switching.len(), 6);
    let sensed = own["soft_switching_with_sensors"]["cases"].as_array().unwrap();
    assert_eq!(sensed.len(), 6);
    for case in sensed {
        assert!(case["soft_switching"]["soft"]["trials"] == 700, "{case}");
    }
    for (name, own) in &switching {
        assert!(own["soft"]["trials"].as_u64() == Some(700), "{name}");
        assert_same(own, &shares[name], name);
    }
    for arrangement in ["chain", "paralleled"] {
        let joint = &run["joint"][arrangement]["soft_switching"];
        assert!(joint["soft"]["trials"] == 700, "{arrangement}");
        assert_same(&own["soft_switching"][arrangement], joint, arrangement);
    }
}

/// Sensors without errors share the output current equally: each of two rectifiers a phase carries I/(2N) in the
/// mean, by Kirchhoff's current law, whatever the loops trim. The loops agree to 1e-7.
#[test]
fn ratings_with_sensors_hold_equal_currents() {
    let first = LAMPS.find("[sensors.gain_error]").unwrap();
    let prices = LAMPS.find("[sensors.price]").unwrap();
    let exact = format!("{}{}", &LAMPS[..first], &LAMPS[prices..]);
    let frequency = exact.replace("= \"resonant_inductance\"", "= \"switching_frequency\"");
    for (text, arrangements) in
        [(&exact, &["chain", "paralleled"][..]), (&frequency, &["paralleled"])]
    {
        let folder = folder_with(&[("lamps.toml", text)]);
        succeed(folder.path(), "sensors lamps.toml --samples 200 --quiet --out out");
        let summary = json(&folder.path().join("out/summary.json"));
        let currents = [
            ("midsummer fill-in", 3000.0 / 54.0),
            ("dusk", 1400.0 / 52.0),
            ("low bus", 3000.0 / 54.0),
        ];
        let mut seen = 0;
        for entry in summary["ratings_with_sensors"].as_array().unwrap() {
            let is_mean = entry["part"] == "rectifier" && entry["figure"] == "mean_current_A";
            let is_trimmed = arrangements.contains(&entry["arrangement"].as_str().unwrap());
            let point = currents.iter().find(|(name, _)| entry["operating_point"] == *name);
            if let Some((name, current)) = point.filter(|_| is_mean && is_trimmed) {
                let more = entry["largest"].as_f64().unwrap() / (current / 6.0) - 1.0;
                // In a chain the flying capacitors of both legs make one half wave a little larger.
                let most = if entry["arrangement"] == "chain" { 2e-3 } else { 1e-6 };
                assert!((-1e-6..most).contains(&more), "{name}: {more}");
                seen += 1;
            }
        }
        assert_eq!(seen, 3 * arrangements.len());
    }
}

/// A chain has one frequency, so loops that adjust frequencies leave it nothing to trim: (d) pays for sensors alone.
#[test]
fn a_chain_pays_no_trim_element_that_it_has_no_use_for() {
    let frequency = LAMPS.replace("= \"resonant_inductance\"", "= \"switching_frequency\"");
    assert_ne!(frequency, LAMPS);
    let bills = |text: &str| -> Vec<Value> {
        let folder = folder_with(&[("lamps.toml", text)]);
        succeed(folder.path(), "sensors lamps.toml --samples 200 --quiet --out out");
        json(&folder.path().join("out/summary.json"))["variants"].as_array().unwrap().clone()
    };
    let (parts, loops) = (bills(LAMPS), bills(&frequency));
    let number = |own: &Value, key: &str| own[key].as_f64().unwrap();
    for n in 0..3 {
        assert_eq!(parts[n]["parts"], loops[n]["parts"], "{n}");
    }
    let [with, without] = [&parts[3]["parts"], &loops[3]["parts"]];
    assert_eq!([&with["trim_elements"], &without["trim_elements"]], [3, 0]);
    let prices = LAMPS.split("[sensors.price]").nth(1).unwrap();
    let element = prices.split("trim_element").nth(1).unwrap().split('=').nth(1).unwrap();
    let element: f64 = element.split_whitespace().next().unwrap().parse().unwrap();
    let spared = number(with, "price") - number(without, "price");
    assert!((spared - 3.0 * element).abs() < 1e-9, "{spared} {element}");
}

/// The matrix is that of `faults`: on the page cell by cell, in the summary outcome by outcome.
#[test]
fn the_matrix_of_faults_is_that_of_faults() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    succeed(folder.path(), "sensors lamps.toml --samples 200 --quiet --out sensors");
    succeed(folder.path(), "faults lamps.toml --samples 1 --quiet --out faults");
    let matrices = |out: &str| -> Vec<String> {
        let page = fs::read_to_string(folder.path().join(out).join("report.html")).unwrap();
        let parts = page.split("<div class=\"matrix\"").skip(1);
        parts.map(|part| part.split("</div>").next().unwrap().to_owned()).collect()
    };
    assert_eq!(matrices("sensors").len(), 3);
    assert!(matrices("sensors") == matrices("faults"));
    let [own, faults] =
        ["sensors", "faults"].map(|out| json(&folder.path().join(out).join("summary.json")));
    let mut told = 0;
    for row in own["fault_matrix"].as_array().unwrap() {
        let is_of = |fault: &&Value| {
            ["operating_point", "kind", "leg", "remaining"]
                .iter()
                .all(|key| fault[*key] == row[*key])
        };
        let all = || faults["faults"].as_array().unwrap().iter().filter(is_of);
        let chain: Vec<&Value> = all().filter(|own| own["arrangement"] == "chain").collect();
        let cells = row["chain"].as_array().unwrap();
        assert_eq!(cells.len(), chain.len(), "{row}");
        for (cell, fault) in cells.iter().zip(chain) {
            assert_eq!(cell["place"], fault["place"]);
            assert_eq!(cell["outcome"], outcome(fault), "{row}");
            told += 1;
        }
        let reference = all().find(|own| own["arrangement"] == "paralleled");
        assert_eq!(row["paralleled"].as_str(), reference.map(outcome), "{row}");
    }
    assert!(told > 50, "{told}");
}

/// How a row of the matrix calls what `faults` tells in several keys.
fn outcome(fault: &Value) -> &'static str {
    match fault["outcome"].as_str().unwrap() {
        "runs" if !fault["trap"].is_null() => "trap",
        "runs" if fault["limits_met"] == true => "runs",
        "runs" => "limit missed",
        "out of range" => "out of range",
        "stops" => "stops",
        "no steady state" => "input shorted",
        "unknown" => "unknown",
        other => panic!("{other}"),
    }
}

/// Phases of unequal temperature have unequal parts. Loops trim those of the nominal converter too, so that with
/// sensors it misses no limit on sharing.
#[test]
fn the_nominal_converter_with_sensors_has_settled_loops() {
    let warm = changed(
        LAMPS,
        "name = \"dusk\"",
        "phase_rise = \"30 K\"\ntemperature = \"60 °C\"\nname = \"dusk\"",
    );
    let response = "[temperature_coefficient.resonant_inductance]\nvalue = \"400 ppm/K\"\n";
    let folder = folder_with(&[("lamps.toml", &format!("{warm}\n{response}"))]);
    succeed(folder.path(), "sensors lamps.toml --samples 100 --quiet --out out");
    let summary = json(&folder.path().join("out/summary.json"));
    let misses = |letter: &str| {
        let variants = summary["variants"].as_array().unwrap();
        let own = variants.iter().find(|own| own["letter"] == letter).unwrap();
        own["nominal_misses"]["limit"].clone()
    };
    assert_eq!(misses("a"), "sharing_error", "{}", summary["variants"][0]["nominal_misses"]);
    for letter in ["c", "d"] {
        assert_eq!(misses(letter), Value::Null, "{letter}");
    }
}

/// Sensors that change nothing add their price alone: the joint intervals of both costs overlap, while the pair by
/// itself tells which one costs more. Both levels are told.
#[test]
fn costs_that_overlap_jointly_are_told_pair_by_pair() {
    let changes = [
        ("sharing_error = \"2.2 %\"", "sharing_error = \"1.45 %\""),
        ("yield_target  = \"99 %\"", "yield_target = \"90 %\""),
        ("trim_range       = \"8 %\"", "trim_range = \"0 %\""),
        ("added_resistance = \"3 mΩ\"", "added_resistance = \"0 Ω\""),
        ("standing_loss    = \"0.2 W\"", "standing_loss = \"0 W\""),
        ("sensor           = 2.4", "sensor = 0.2"),
        ("trim_element     = 3.1", "trim_element = 0.2"),
    ];
    let text = changes.iter().fold(LAMPS.to_owned(), |text, (a, b)| changed(&text, a, b));
    let (said, summary) = told(&text, "--samples 2000");
    let said = unfolded(&said);
    let cost = |n: usize, key: &str| summary["variants"][n][key].as_f64().unwrap();
    // Same samples, same yields, a higher price.
    assert_eq!(summary["variants"][1]["yield"], summary["variants"][3]["yield"]);
    assert!(cost(3, "cost_per_good_converter") > cost(1, "cost_per_good_converter"));
    assert!(said.contains("The lowest cost is not decided: (d) costs"), "{said}");
    assert!(said.contains("(98.75 %, which hold together with all verdicts) overlap"), "{said}");
    assert!(said.contains("sample by sample, (d) costs more than (b) (95 %)."), "{said}");
}
