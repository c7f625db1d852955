//! The verb `bands` from the outside: files, figures, exit codes, wrong scenarios, interrupts.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a test")]

use std::fs;
use std::path::Path;

use fairphase::scenario::Scenario;
use serde_json::Value;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, interrupted, json, succeed};

/// Invented: prices, a trade, three operating points.
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");

/// Invented: grades on offer of four parts.
const SEABED: &str = include_str!("../../scenarios/seabed-node.toml");

/// The averaged solver and few samples: what is tested here is not the solver.
const QUICK: &str = "--solver averaged --samples 700 --seed 5";

fn files(folder: &Path) -> [Vec<u8>; 2] {
    assert_eq!(entries(folder), ["report.html", "summary.json"]);
    ["report.html", "summary.json"].map(|name| fs::read(folder.join(name)).unwrap())
}

fn row<'a>(summary: &'a Value, varied: &str) -> &'a Value {
    let rows = summary["arrangements"]["chain"]["widest"].as_array().unwrap();
    rows.iter().find(|row| row["varied"] == varied).unwrap()
}

#[test]
fn files_figures_and_the_same_bytes_for_any_number_of_threads() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    let stdout = succeed(
        folder.path(),
        &format!("bands runway.toml {QUICK} --out one --threads 1 --tables"),
    );
    let again =
        succeed(folder.path(), &format!("bands runway.toml {QUICK} --out two --threads 2 --json"));
    let [one, two] = ["one", "two"].map(|out| files(&folder.path().join(out)));
    assert!(one == two, "threads change nothing");
    assert_eq!(again.as_bytes(), one[1], "--json prints the summary");
    let first = stdout.lines().find(|line| line.contains("present bands")).unwrap();
    assert!(first.contains("With charge balancing") && first.contains("(target 99.00 %)"));
    assert!(stdout.lines().all(|line| line.chars().count() <= 80), "{stdout}");
    for words in
        ["PASS", "all bands", "Cheapest set", "121 pairs of bands", "High voltage can kill"]
    {
        assert!(stdout.contains(words), "{words} in\n{stdout}");
    }
    let summary = json(&folder.path().join("one/summary.json"));
    assert_eq!(summary["verb"], "bands");
    assert_eq!((&summary["partial"], &summary["samples"]), (&false.into(), &700.into()));
    checked_decision(&summary, &stdout);
    checked_verification_runs(&summary);
    checked_points(&summary);
    checked_map(&summary);
    let page = fs::read_to_string(folder.path().join("one/report.html")).unwrap();
    assert!(page.contains("fairphase bands runway.toml --samples 700 --seed 5 --solver averaged"));
    assert!(
        page.contains("averaged (fundamental harmonic)") && page.matches("<script").count() == 1
    );
    let targets = page.split("href=\"#").skip(1).map(|s| s.split('"').next().unwrap());
    for target in targets {
        assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
    }
}

/// The decision is that of the lines and of the cheapest set, on terminal and in the summary.
fn checked_decision(summary: &Value, stdout: &str) {
    let decision = &summary["decision"];
    assert_eq!(
        (&decision["verdict"], &decision["bands_to_specify"]["source"]),
        (&"pass".into(), &"cheapest set".into())
    );
    let together = row(summary, "together");
    assert_eq!(decision["margin"], together["margin"]);
    assert_eq!(decision["binding"], together["binding"]);
    let cheapest = &decision["bands_to_specify"];
    for part in summary["cheapest"]["parts"].as_array().unwrap() {
        let key = part["parameter"].as_str().unwrap();
        assert_eq!(cheapest["tolerances"][key]["band"], part["band"], "{key}");
    }
    // Not on offer: as in the scenario.
    assert_eq!(cheapest["tolerances"]["turns_ratio"]["band"], 0.004);
    assert!(cheapest["yield"]["lower"].as_f64().unwrap() >= 0.99);
    assert!(cheapest["stream"].as_u64().unwrap() > 0);
    checked_words(summary, stdout);
}

/// Terminal and summary name the same part, price and factor.
fn checked_words(summary: &Value, stdout: &str) {
    // Nothing stops the resistance and the flying capacitors: they are not what has least room.
    let critical = &summary["decision"]["critical_band"];
    let least = ["resonant_inductance", "resonant_capacitance", "magnetising_inductance"]
        .map(|key| row(summary, key))
        .map(|row| row["found"].as_f64().unwrap() / row["present"].as_f64().unwrap());
    let room = critical["margin_in_the_search"].as_f64().unwrap();
    assert!((room - least.into_iter().fold(9.0, f64::min)).abs() < 1e-15);
    let name = critical["parameter"].as_str().unwrap().replace('_', " ");
    let price = summary["cheapest"]["price_per_converter"].as_f64().unwrap();
    let times = summary["decision"]["margin"].as_f64().unwrap();
    let unfolded = stdout.replace("\n  ", " ").replace('\n', " ");
    for words in [
        format!("Its parts cost {price:.2} per converter"),
        if critical["secured"] == true {
            format!("Most critical band: {name}. Alone it can be")
        } else {
            // So few samples fail that the parts cannot be compared.
            "Most critical band: not decided".to_owned()
        },
        format!("Margin: all bands together can be {times:.2} times as wide."),
        "This report makes 20 statements.".into(),
    ] {
        assert!(unfolded.contains(&words), "{words} in\n{stdout}");
    }
    let confidence = &summary["confidence"];
    // Six lines, the factors of both arrangements, set, dots and crosses of the map; two present bands,
    // six lines of the paralleled reference and the most critical band at a quarter of the error.
    assert_eq!(confidence["statements"], 20);
    let errors = 11.0 * 0.025 + 9.0 * 0.025 / 4.0;
    assert!((confidence["all_together"].as_f64().unwrap() - (1.0 - errors)).abs() < 1e-12);
}

/// What is called confirmed is so by fresh samples of its own, at the level of a quarter of the error.
fn checked_verification_runs(summary: &Value) {
    let mut streams = vec![0];
    let mut confirmed = 0;
    for row in summary["arrangements"]["chain"]["widest"].as_array().unwrap() {
        let runs = row["verification_runs"].as_array().unwrap();
        for run in runs {
            streams.push(run["stream"].as_u64().unwrap());
            let lower = run["yield"]["lower"].as_f64().unwrap();
            assert_eq!(run["meets"], lower >= 0.99, "{run}");
            assert_eq!(run["yield"]["confidence"], 0.9875);
        }
        if let Some(at) = row["confirmed"].as_f64() {
            confirmed += 1;
            let last = runs.last().unwrap();
            assert_eq!((last["at"].as_f64(), &last["meets"]), (Some(at), &true.into()));
            assert!(at <= row["found"].as_f64().unwrap());
        }
    }
    assert!(confirmed > 3, "{confirmed}");
    let count = streams.len();
    streams.sort_unstable();
    streams.dedup();
    assert_eq!(streams.len(), count, "every run has a random stream of its own");
}

/// The search's own points: rising, closed in, with the limit that binds at the edge.
fn checked_points(summary: &Value) {
    let row = row(summary, "resonant_inductance");
    let points = row["points"].as_array().unwrap();
    let at = |p: &Value| p["at"].as_f64().unwrap();
    assert!(points.windows(2).all(|pair| at(&pair[0]) < at(&pair[1])));
    assert!(points[0]["at"] == 0.0 && points.iter().any(|p| p["at"] == 0.05), "{row}");
    let [found, fails] = ["found", "fails_from"].map(|key| row[key].as_f64().unwrap());
    assert!(found < fails && fails <= found * 1.020_001);
    let binding = &row["binding"];
    assert!(binding["missed"].as_u64().unwrap() > 0 && binding["operating_point"].is_string());
}

fn checked_map(summary: &Value) {
    let trade = &summary["trade_off"];
    let names = ["resonant_inductance", "magnetising_inductance"];
    assert_eq!(trade["parameters"], Value::from(names.to_vec()));
    let lower = trade["lower"].as_array().unwrap();
    assert_eq!((lower.len(), lower[0].as_array().unwrap().len()), (11, 11));
    assert!(!trade["inner_boundary"].as_array().unwrap().is_empty());
    assert!(trade["stream"].as_u64().unwrap() > 0);
    // Whatever meets does so by its lower end, on the level of a column: 1 − 5 %/11.
    assert!((trade["confidence"].as_f64().unwrap() - (1.0 - 0.05 / 11.0)).abs() < 1e-12);
    for (results, lower) in trade["result"].as_array().unwrap().iter().zip(lower) {
        for (result, lower) in results.as_array().unwrap().iter().zip(lower.as_array().unwrap()) {
            assert!(result != "meets" || lower.as_f64().unwrap() >= 0.99);
        }
    }
}

/// The present yield is that of `run`, with the random stream and the number of samples of the
/// verification run.
#[test]
fn present_bands_are_judged_as_the_run_judges_them() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    succeed(folder.path(), &format!("bands runway.toml {QUICK} --out bands --quiet"));
    let bands = json(&folder.path().join("bands/summary.json"));
    assert_eq!(bands["verification_samples"], 2800);
    for arrangement in ["chain", "paralleled"] {
        let present = &bands["arrangements"][arrangement]["present"];
        assert!(present["stream"].as_u64().unwrap() > 0);
        let stream = &present["stream"];
        let sampled = format!("--solver averaged --samples 2800 --seed 5 --stream {stream}");
        succeed(folder.path(), &format!("run runway.toml {sampled} --out run --quiet"));
        let run = json(&folder.path().join("run/summary.json"));
        let joint = &run["joint"][arrangement];
        assert_eq!(present["yield"]["successes"], joint["yield"]["successes"]);
        assert_eq!(
            (&present["binding"], &present["verdict"]),
            (&joint["binding"], &joint["verdict"])
        );
        assert_eq!(present["yield"]["confidence"], 0.9875);
        assert_eq!(&run["stream"], stream);
        let page = fs::read_to_string(folder.path().join("run/report.html")).unwrap();
        assert!(page.contains(&format!("--seed 5 --solver averaged --stream {stream}")));
    }
}

#[test]
fn require_pass_judges_the_present_bands() {
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.2 %\"");
    let folder = folder_with(&[("good.toml", SHELF), ("tight.toml", &tight)]);
    for (name, options, status) in
        [("good", " --require-pass", 0), ("tight", " --require-pass", 1), ("tight", "", 0)]
    {
        let arguments = format!("bands {name}.toml {QUICK} --quiet --out {name}{options}");
        let said = fairphase(folder.path(), &arguments);
        assert_eq!((said.status, said.stdout.as_str()), (status, ""), "{name}: {}", said.stderr);
        files(&folder.path().join(name));
    }
    let summary = json(&folder.path().join("tight/summary.json"));
    let together = row(&summary, "together");
    assert!(together["margin"].as_f64().unwrap() < 1.0, "tight bands must shrink");
    // What must be tightened first is what gains most when it is exact.
    let rows = summary["arrangements"]["chain"]["widest"].as_array().unwrap();
    let exact = |row: &Value| row["points"][0]["yield"]["successes"].as_u64().unwrap();
    let most = rows.iter().filter(|row| row["varied"] != "together").max_by_key(|row| exact(row));
    assert_eq!(summary["decision"]["critical_band"]["parameter"], most.unwrap()["varied"]);
    let page = fs::read_to_string(folder.path().join("tight/report.html")).unwrap();
    assert!(page.contains("Tighten first: ") && page.contains("All bands together must shrink to"));
    assert!(page.contains("Bands to specify: a set that can be ordered"));
}

#[test]
fn what_cannot_be_searched_is_refused_and_leaves_nothing() {
    let start = SHELF.find("[tolerance").unwrap();
    let end = SHELF.find("[limits]").unwrap();
    let exact = format!("{}{}", &SHELF[..start], &SHELF[end..]);
    let few = changed(RUNWAY, "samples = 3000", "samples = 605");
    let line = |key: &str| RUNWAY.lines().position(|line| line.starts_with(key)).unwrap() + 1;
    let target = format!("runway.toml:{}:17", line("yield_target"));
    let samples = format!("few.toml:{}:11", line("samples"));
    let files = [("exact.toml", exact.as_str()), ("few.toml", &few), ("runway.toml", RUNWAY)];
    let folder = folder_with(&files);
    for (arguments, words) in [
        ("bands exact.toml --out out", ["no part has a tolerance", "exact.toml:1:1"]),
        // 0.99^605 is above the error of a column of the map, 0.227 %.
        ("bands runway.toml --out out --samples 605", ["at least 606 are needed", &target]),
        ("bands few.toml --out out", ["expected at least 606 samples", &samples]),
    ] {
        let said = fairphase(folder.path(), arguments);
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{}", said.stderr);
        for word in words {
            assert!(said.stderr.contains(word), "{word}: {}", said.stderr);
        }
        assert_eq!(entries(folder.path()), ["exact.toml", "few.toml", "runway.toml"]);
    }
}

/// Every band of the set has a letter, and its next step is the next letter, with which the set is not
/// shown to meet the target.
fn checked_letters(summary: &Value, stdout: &str) {
    let [ordered, specified] = [&summary["orderable"], &summary["decision"]["bands_to_specify"]];
    let bands = ordered["bands"].as_array().unwrap();
    assert_eq!(bands.len(), 6);
    // IEC 60062, percent (from memory); none is wider than the 40 % asked for.
    let letters = [("B", 0.1), ("C", 0.25), ("D", 0.5), ("F", 1.0), ("G", 2.0), ("H", 3.0)];
    let wide = [("J", 5.0), ("K", 10.0), ("M", 20.0), ("N", 30.0)];
    let letters: Vec<_> = letters.into_iter().chain(wide).collect();
    for own in bands {
        let (letter, band) = (own["letter"].as_str().unwrap(), own["band"].as_f64().unwrap());
        let place = letters.iter().position(|known| known.0 == letter).unwrap();
        assert!((100.0 * band - letters[place].1).abs() < 1e-12, "{own}");
        assert_eq!(specified["tolerances"][own["parameter"].as_str().unwrap()]["band"], band);
        let next = &own["next_step"];
        assert_eq!(own["limited_by"] == "last step", next.is_null(), "{own}");
        if let Some((_, percent)) = letters.get(place + 1) {
            assert!((100.0 * next["band"].as_f64().unwrap() - percent).abs() < 1e-12);
            assert!(next["yield"]["lower"].as_f64().unwrap() < 0.99, "{own}");
        }
        assert!(stdout.contains(&format!("({letter})")), "{letter} in\n{stdout}");
    }
    // Nothing stops the resistance: it has the widest letter.
    assert_eq!(
        (&bands[4]["parameter"], &bands[4]["letter"]),
        (&"series_resistance".into(), &"N".into())
    );
}

/// Without prices the answer is a set of steps, on terminal, page and in the summary, for any number of
/// threads.
#[test]
fn without_prices_the_answer_can_be_ordered() {
    let (prices, run) = (RUNWAY.find("[bands.price]").unwrap(), RUNWAY.find("[run]").unwrap());
    let plain = format!("{}{}", &RUNWAY[..prices], &RUNWAY[run..]);
    let folder = folder_with(&[("plain.toml", &plain)]);
    let line = |threads: u32| {
        format!("bands plain.toml {QUICK} --tables --out with-{threads} --threads {threads}")
    };
    let stdout = succeed(folder.path(), &line(1));
    succeed(folder.path(), &line(2));
    let [one, two] = ["with-1", "with-2"].map(|out| files(&folder.path().join(out)));
    assert!(one == two, "threads change nothing");
    let summary = json(&folder.path().join("with-1/summary.json"));
    let [ordered, specified] = [&summary["orderable"], &summary["decision"]["bands_to_specify"]];
    assert_eq!((&ordered["ending"], &specified["source"]), (&"confirmed".into(), &"steps".into()));
    assert!(summary["cheapest"].is_null());
    checked_letters(&summary, &stdout);
    let run = ordered["verification_runs"].as_array().unwrap().last().unwrap();
    assert_eq!((&run["meets"], &run["stream"]), (&true.into(), &specified["stream"]));
    assert!(stdout.contains("Bands to specify: a set that can be ordered"), "{stdout}");
    assert!(stdout.lines().all(|line| line.chars().count() <= 80), "{stdout}");
    let page = fs::read_to_string(folder.path().join("with-1/report.html")).unwrap();
    assert!(page.contains("id=\"bars-order-title\"") && page.contains("Bands to order"));
}

/// A part that is exact now can be asked about, with the shape that it would have; a parameter
/// without a table cannot, and the report says that it counts as exact.
#[test]
fn an_exact_part_is_asked_how_wide_it_may_be() {
    let from = "[tolerance.turns_ratio]\nshape = \"triangular\"\nband  = \"0.4 %\"";
    let zero = changed(RUNWAY, from, &from.replace("0.4 %", "0 %"));
    let folder = folder_with(&[("zero.toml", &zero)]);
    let stdout = succeed(folder.path(), &format!("bands zero.toml {QUICK} --out out --tables"));
    let summary = json(&folder.path().join("out/summary.json"));
    let turns = row(&summary, "turns_ratio");
    assert_eq!((&turns["present"], &turns["margin"]), (&0.0.into(), &Value::Null));
    assert!(turns["confirmed"].as_f64().unwrap() > 0.01, "{turns}");
    let line = stdout.lines().find(|line| line.starts_with("turns ratio") && line.contains("0 %"));
    assert!(line.is_some() && stdout.contains("a [tolerance] table: rectifier drop."), "{stdout}");
    let rows = summary["arrangements"]["chain"]["widest"].as_array().unwrap();
    assert!(rows.iter().all(|row| row["varied"] != "rectifier_drop"));
}

/// Grades on offer are prices too, with names and shapes of their own; parts that have to be bought
/// and have no tolerance leave no common factor to propose.
#[test]
fn grades_on_offer_make_the_cheapest_set() {
    let folder = folder_with(&[("seabed.toml", SEABED)]);
    let stdout = succeed(folder.path(), &format!("bands seabed.toml {QUICK} --out out --tables"));
    let summary = json(&folder.path().join("out/summary.json"));
    let set = &summary["decision"]["bands_to_specify"];
    assert_eq!(set["source"], "cheapest set");
    assert_eq!(summary["cheapest"]["sets"], 32);
    let parts = summary["cheapest"]["parts"].as_array().unwrap();
    assert_eq!(parts.len(), 4);
    let mut price = 0.0;
    for part in parts {
        let name = part["name"].as_str().unwrap();
        assert!(stdout.contains(&format!("{name}, ")), "{name} in\n{stdout}");
        let mut offers = part["offers"].as_array().unwrap().iter();
        let offer = offers.find(|offer| offer["name"] == name).unwrap();
        let key = part["parameter"].as_str().unwrap();
        assert_eq!(set["tolerances"][key], offer["tolerance"]);
        price += part["parts_per_converter"].as_f64().unwrap() * offer["price"].as_f64().unwrap();
    }
    assert!((summary["cheapest"]["price_per_converter"].as_f64().unwrap() - price).abs() < 1e-9);
    refers_to_the_set(&summary, &stdout);
    assert!(stdout.lines().all(|line| line.chars().count() <= 80), "{stdout}");

    let list = "[bands.price]\nflying_capacitance = [{ band = \"3 %\", price = 1 }]\n";
    let both = format!(
        "{SEABED}\n[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = \"5 %\"\n{list}"
    );
    let shown = Scenario::parse("s.toml", &both).unwrap_err().to_string();
    assert!(shown.contains("`flying_capacitance` has a price list here and grades on offer"));
    let line = 1 + both[..both.find("flying_capacitance = [").unwrap()].matches('\n').count();
    assert!(shown.contains(&format!("--> s.toml:{line}:1")), "{shown}");
}

/// All questions are asked of the set on offer: none of its parts counts as exact.
fn refers_to_the_set(summary: &Value, stdout: &str) {
    let set = &summary["decision"]["bands_to_specify"];
    let parts = summary["cheapest"]["parts"].as_array().unwrap();
    assert_eq!(summary["starting_bands"], "set on offer");
    let present = &summary["arrangements"]["chain"]["present"];
    assert_eq!((&present["yield"], &present["stream"]), (&set["yield"], &set["stream"]));
    for part in parts {
        let row = row(summary, part["parameter"].as_str().unwrap());
        assert_eq!(row["present"], part["band"]);
    }
    assert!(!stdout.contains("Assumed exact"), "{stdout}");
    let shown = stdout.replace("\n  ", " ");
    assert!(shown.contains("With charge balancing, set on offer: PASS"), "{stdout}");
    assert!(shown.contains("those of the cheapest confirmed set on offer"), "{stdout}");
}

/// No set on offer meets the target: nothing stands on one, and no margin is given.
#[test]
fn without_a_set_on_offer_there_is_no_margin() {
    let tight = changed(SEABED, "sharing_error = \"1.3 %\"", "sharing_error = \"0.1 %\"");
    let folder = folder_with(&[("tight.toml", &tight)]);
    let said = fairphase(
        folder.path(),
        &format!("bands tight.toml {QUICK} --out out --require-pass --tables"),
    );
    assert_eq!(said.status, 1, "{}", said.stderr);
    let shown = said.stdout.replace("\n  ", " ");
    for words in [
        "Bands to specify: none. Every set on offer misses the target.",
        "So there is no verdict, no margin and no map.",
        "Every set on offer misses the target.",
        "Set with the highest yield in the search: resonant inductance ",
        "Missed most: sharing error at",
    ] {
        assert!(shown.contains(words), "{words} in {}", said.stdout);
    }
    for words in ["Margin:", "Most critical", "Trade-off between"] {
        assert!(!shown.contains(words), "{words} in {}", said.stdout);
    }
    let summary = json(&folder.path().join("out/summary.json"));
    assert_eq!(
        (&summary["decision"]["margin"], &summary["trade_off"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(summary["cheapest"]["ending"], "every set misses the target");
}

/// What is wrong, by what to replace, and where and what the message says.
#[test]
fn a_wrong_table_is_refused_with_its_place() {
    let trade = "trade  = [\"resonant_inductance\", \"magnetising_inductance\"]";
    for (from, to, at, words) in [
        (
            trade,
            "trade = [\"resonant_inductance\", \"resonant_inductance\"]",
            trade,
            "names `resonant_inductance` twice",
        ),
        (
            trade,
            "trade = [\"resonant_inductance\", \"magnetizing_inductance\"]",
            trade,
            "did you mean \"magnetising_inductance\"?",
        ),
        (trade, "trade = [\"resonant_inductance\"]", trade, "holds 1 item"),
        (trade, "trade = [\"resonant_inductance\", 3]", trade, "an item is a whole number"),
        (
            trade,
            "trade = [\"resonant_inductance\", \"rectifier_drop\"]",
            trade,
            "`rectifier_drop` has no tolerance",
        ),
        ("widest = \"40 %\"", "widest = \"0 %\"", "widest", "above 0 %"),
        (
            "price = 2.20 }",
            "price = 3.20 }",
            "{ band = \"5 %\",  price = 2.20",
            "the prices of `resonant_inductance` do not fall",
        ),
        (
            "{ band = \"8 %\",",
            "{ band = \"4 %\",",
            "{ band = \"8 %\"",
            "the bands of `resonant_inductance` do not rise",
        ),
        ("{ band = \"8 %\",", "{ band = \"8 V\",", "{ band = \"8 %\"", "\"5 %\""),
        ("price = 1.85 }", "cost = 1.85 }", "{ band = \"8 %\"", "lacks `price`"),
        (
            "flying_capacitance = [",
            "rectifier_drop = [",
            "flying_capacitance = [",
            "`rectifier_drop` has no tolerance",
        ),
        (
            "flying_capacitance = [",
            "flying_capacity = [",
            "flying_capacitance = [",
            "did you mean `flying_capacitance`?",
        ),
        ("widest = \"40 %\"", "widset = \"40 %\"", "widest", "did you mean `widest`?"),
    ] {
        let line = 1 + RUNWAY[..RUNWAY.find(at).unwrap()].matches('\n').count();
        assert_eq!(RUNWAY.matches(from).count(), 1, "{from}");
        let shown = Scenario::parse("r.toml", &RUNWAY.replace(from, to)).unwrap_err().to_string();
        assert!(shown.contains(words), "{words:?} is missing:\n{shown}");
        assert!(shown.contains(&format!("--> r.toml:{line}:")), "line {line}:\n{shown}");
    }
}

/// Steps that cannot be ordered are refused at their line.
#[test]
fn wrong_steps_are_refused_with_their_place() {
    let widest = "widest = \"40 %\"";
    let line = 2 + RUNWAY[..RUNWAY.find(widest).unwrap()].matches('\n').count();
    for (steps, words) in [
        ("[\"5 %\", \"5 %\"]", "the `steps` do not rise"),
        ("[\"0 %\"]", "above 0 %"),
        ("[]", "is empty"),
        ("[\"5 V\"]", "\"5 %\""),
    ] {
        let text = RUNWAY.replace(widest, &format!("{widest}\nsteps = {steps}"));
        let shown = Scenario::parse("r.toml", &text).unwrap_err().to_string();
        assert!(shown.contains(words), "{words:?} is missing:\n{shown}");
        assert!(shown.contains(&format!("--> r.toml:{line}:")), "line {line}:\n{shown}");
    }
}

/// All sets of the lists are put in order, so that there is an end to their number.
#[test]
fn too_many_combinations_are_refused() {
    let offers: String = (1..=60)
        .map(|n| format!("{{ band = \"{n} %\", price = {} }}, ", 100 - n))
        .collect::<Vec<_>>()
        .concat();
    let lists = ["resonant_inductance", "resonant_capacitance", "magnetising_inductance"]
        .map(|key| format!("{key} = [{offers}]\n"))
        .concat();
    let start = RUNWAY.find("resonant_inductance = [").unwrap();
    let end = RUNWAY.find("[run]").unwrap();
    let text = format!("{}{lists}{}", &RUNWAY[..start], &RUNWAY[end..]);
    let shown = Scenario::parse("r.toml", &text).unwrap_err().to_string();
    assert!(shown.contains("216000 combinations"), "{shown}");
}

/// Asked to stop in the middle, what was found by then is written and marked.
#[test]
fn an_interrupt_leaves_marked_results_and_exits_with_3() {
    let folder = folder_with(&[("runway.toml", RUNWAY)]);
    let out = folder.path().join("out");
    let said = interrupted(folder.path(), "bands runway.toml --samples 25000 --out out", &out);
    assert!(said.stdout.contains("PARTIAL: interrupted."), "{}", said.stdout);
    let [page, _] = files(&out);
    assert!(String::from_utf8(page).unwrap().contains("PARTIAL: interrupted."));
    let summary = json(&out.join("summary.json"));
    assert_eq!(summary["partial"], true);
    assert!(summary["unfinished"].as_str().unwrap().contains("paralleled"));
    assert!(summary["arrangements"]["chain"]["present"]["yield"]["trials"] == 100_000);
}

/// What is told under another assumption is what `run` finds with the recommended bands under it, on the
/// same samples. `--no-explain` and `[run] explain` leave it out, and the command to repeat says so.
#[test]
fn other_assumptions_are_those_of_a_run_with_them() {
    let (prices, run) = (RUNWAY.find("[bands.price]").unwrap(), RUNWAY.find("[run]").unwrap());
    let steps = format!("{}{}", &RUNWAY[..prices], &RUNWAY[run..]);
    let silent = changed(&steps, "[run]", "[run]\nexplain = false");
    let folder = folder_with(&[("steps.toml", &steps), ("silent.toml", &silent)]);
    let stdout = succeed(folder.path(), &format!("bands steps.toml {QUICK} --out out --tables"));
    let summary = json(&folder.path().join("out/summary.json"));
    let assumptions = summary["what_if"].as_array().unwrap();
    assert_eq!(assumptions.len(), 10);
    let draws = &summary["what_if_draws"];
    let [stream, samples] = ["stream", "samples"].map(|key| draws[key].as_u64().unwrap());
    assert_eq!(samples, 4 * 700 / 11, "no more converters than a verification run");
    // The recommended bands, and all lot shares at 0.9.
    let mut text = steps[..steps.find("[tolerance").unwrap()].to_owned();
    let specified = summary["decision"]["bands_to_specify"]["tolerances"].as_object().unwrap();
    for (key, own) in specified {
        let sigmas = own["sigmas"].as_f64().map(|sigmas| format!("sigmas = {sigmas}\n"));
        let (shape, band) = (&own["shape"], 100.0 * own["band"].as_f64().unwrap());
        let table = format!("[tolerance.{key}]\nshape = {shape}\nband = \"{band} %\"\n");
        text.extend([table, sigmas.unwrap_or_default(), "lot_share = 0.9\n".to_owned()]);
    }
    text += &steps[steps.find("[limits]").unwrap()..];
    fs::write(folder.path().join("lots.toml"), text).unwrap();
    let options = format!("--solver averaged --seed 5 --samples {samples} --stream {stream}");
    succeed(folder.path(), &format!("run lots.toml {options} --no-explain --quiet --out lots"));
    let lots = json(&folder.path().join("lots/summary.json"));
    let found = &assumptions[1];
    assert_eq!((&found["assumption"], &found["value"]), (&"lot share".into(), &0.9.into()));
    let [wanted, given] = [&lots["joint"]["chain"]["yield"], &found["yield"]]
        .map(|good| ["estimate", "lower", "upper"].map(|key| good[key].as_f64().unwrap()));
    assert!(wanted.iter().zip(given).all(|(a, b)| (a - b).abs() < 1e-12), "{wanted:?} {given:?}");
    assert_eq!(lots["joint"]["chain"]["verdict"], found["verdict"]);
    assert!(stdout.contains("all lot shares are 0.9"), "{stdout}");
    for (name, options, repeated) in
        [("steps", " --no-explain", " --no-explain"), ("silent", "", "averaged</code>")]
    {
        let line = format!("bands {name}.toml {QUICK}{options} --tables --out {name}");
        let stdout = succeed(folder.path(), &line);
        assert!(!stdout.contains("ther assumptions"), "{stdout}");
        let alone = json(&folder.path().join(name).join("summary.json"));
        assert!(
            alone["what_if"].as_array().unwrap().is_empty() && alone["what_if_draws"].is_null()
        );
        assert_eq!(alone["decision"], summary["decision"], "nothing else changes");
        let page = fs::read_to_string(folder.path().join(name).join("report.html")).unwrap();
        assert!(page.contains(repeated) && !page.contains("id=\"what-if\""), "{name}");
    }
}

/// Measured parts cannot be traded, and where all parts are measured there is nothing to search.
#[test]
fn measured_parts_cannot_be_searched() {
    let start = RUNWAY.find("[tolerance").unwrap();
    let (limits, prices) =
        (RUNWAY.find("[limits]").unwrap(), RUNWAY.find("[bands.price]").unwrap());
    let core = "[tolerance.magnetising_inductance]\nshape = \"measured\"\nfile = \"cores.csv\"\n\
                column = \"L_H\"\n";
    let trade = "trade  = [\"resonant_inductance\", \"magnetising_inductance\"]";
    let rest = format!("{}{}", &RUNWAY[limits..prices], &RUNWAY[RUNWAY.find("[run]").unwrap()..]);
    let other = "[tolerance.resonant_inductance]\nshape = \"uniform\"\nband = \"5 %\"\n";
    let traded = format!("{}{core}{other}{rest}", &RUNWAY[..start]);
    let alone = format!("{}{core}{}", &RUNWAY[..start], rest.replace(trade, ""));
    let cores = "L_H\n41.2e-6\n40.6e-6\n41.9e-6\n40.1e-6\n41.5e-6\n40.9e-6\n";
    let files = [("traded.toml", &*traded), ("alone.toml", &alone), ("cores.csv", cores)];
    let folder = folder_with(&files);
    for (name, words) in [
        ("traded", "`magnetising_inductance` is drawn from measured parts"),
        ("alone", "measured parts have no band to search"),
    ] {
        let said = fairphase(folder.path(), &format!("bands {name}.toml --out out --tables"));
        assert_eq!(said.status, 2, "{}", said.stderr);
        assert!(said.stderr.contains(words), "{words}: {}", said.stderr);
    }
}
