//! Where a yield says nothing of what would be built, there is no verdict: no limit, or parts on offer that count as
//! exact.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::fs;

use crate::support::{SHELF, changed, fairphase, folder_with, json, succeed};

/// Resonant inductors on offer in one invented grade, with other parts as in the shelf.
fn on_offer() -> String {
    let table = SHELF.split("[tolerance.resonant_inductance]").nth(1).unwrap();
    let end = table.find("\n[").unwrap();
    let without = SHELF.replace(&format!("[tolerance.resonant_inductance]{}", &table[..end]), "");
    let offer = "\n[grades]\ncurrency = \"tokens\"\nquantity = 10\nfailed_converter = \"scrap\"\n\
                 failure_cost = 1\nother_cost = 10\n\n[[grade.resonant_inductance]]\nname = \"W\"\n\
                 price = 1\nshape = \"uniform\"\nband = \"10 %\"\n";
    without + offer
}

/// What `run` says and answers with.
struct Said {
    screen: String,
    status: i32,
    verdict: serde_json::Value,
    judged: bool,
    page: String,
}

fn said(text: &str) -> Said {
    said_of(text, "run shelf.toml --samples 800 --require-pass --out out")
}

fn said_of(text: &str, command: &str) -> Said {
    let folder = folder_with(&[("shelf.toml", text)]);
    let told = fairphase(folder.path(), command);
    let chain = &json(&folder.path().join("out/summary.json"))["joint"]["chain"];
    Said {
        screen: told.stdout.split_whitespace().collect::<Vec<_>>().join(" "),
        status: told.status,
        verdict: chain["verdict"].clone(),
        judged: chain["judged"].as_bool().unwrap(),
        page: std::fs::read_to_string(folder.path().join("out/report.html")).unwrap(),
    }
}

#[test]
fn parts_on_offer_that_count_as_exact_pass_nothing() {
    let text = on_offer();
    let run = said(&text);
    assert!(!run.judged);
    assert_eq!((run.status, run.verdict.as_str()), (1, Some("not decided")), "{}", run.screen);
    assert!(run.screen.contains("On offer in [grade] tables, and exact here"), "{}", run.screen);
    assert!(run.screen.contains("(chain): NOT JUDGED"), "{}", run.screen);
    let decided = said_of(&text, "run shelf.toml --decide --no-explain --out out").screen;
    assert!(decided.contains("The yield of the chain ended the run"), "{decided}");
    assert!(!run.screen.contains("other assumptions"), "{}", run.screen);
    assert!(run.page.contains("Not judged: parts on offer count as exact."));
    // With a tolerance of their own beside the offer they scatter, and there is a verdict.
    let band = "[tolerance.resonant_inductance]\nshape = \"uniform\"\nband = \"0.1 %\"\n\n[grades]";
    let run = said(&changed(&text, "[grades]", band));
    assert!(run.judged && !run.screen.contains("On offer"), "{}", run.screen);
    let folder = folder_with(&[("shelf.toml", &text)]);
    for (verb, next) in [("check", "grades"), ("grades", "faults")] {
        let told = fairphase(folder.path(), &format!("{verb} shelf.toml --samples 500")).stdout;
        assert!(told.contains(&format!("fairphase {next} shelf.toml")), "{told}");
    }
}

#[test]
fn without_a_limit_nothing_passes() {
    let limits = SHELF.split("\n[limits]").nth(1).unwrap();
    let end = limits.find("\n[").unwrap();
    let text = SHELF.replace(&format!("\n[limits]{}", &limits[..end]), "");
    let run = said(&text);
    assert_eq!((run.status, run.verdict.as_str()), (1, Some("not decided")), "{}", run.screen);
    assert!(!run.judged && run.screen.contains("sets no limit for the chain"), "{}", run.screen);
    assert!(run.page.contains("Not judged: no limit is set for the chain."));
    let folder = folder_with(&[("shelf.toml", &text)]);
    let bands =
        "bands shelf.toml --samples 700 --solver averaged --no-explain --require-pass --out out";
    let told = fairphase(folder.path(), bands);
    assert!(told.stdout.contains("present bands: NOT JUDGED"), "{}", told.stdout);
    assert_eq!(told.status, 1);
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("Not judged") && !page.contains("Pass</p>"));
    let found = json(&folder.path().join("out/summary.json"));
    assert_eq!(found["arrangements"]["chain"]["present"]["judged"], false);
    assert_eq!(found["decision"]["verdict"], "not decided");
    succeed(folder.path(), "run shelf.toml --samples 20 --no-explain --quiet --out few");
    succeed(folder.path(), "units shelf.toml --parts few/worst_converters.csv --out units");
    let page = std::fs::read_to_string(folder.path().join("units/report.html")).unwrap();
    assert!(page.contains("reach the output in the chain") && !page.contains("meets every limit"));
    let offers = on_offer().split("\n[grades]").nth(1).unwrap().to_owned();
    let grades = format!("{text}\n[grades]{offers}");
    let folder = folder_with(&[("shelf.toml", &grades)]);
    let told = fairphase(
        folder.path(),
        "grades shelf.toml --samples 800 --solver averaged --require-pass --out out",
    );
    assert_eq!(told.status, 1, "{}", told.stderr);
    let words = told.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("NOT JUDGED: yield 100.00 %"), "{words}");
    assert!(words.contains("the scenario sets no limit that it would have to meet."), "{words}");
    let found = json(&folder.path().join("out/summary.json"));
    assert_eq!(
        (&found["verdict"], &found["answer"]),
        (&"not decided".into(), &"not judged".into())
    );
}

#[test]
fn no_size_of_capacitors_is_named_where_nothing_is_judged() {
    let limits = SHELF.split("\n[limits]").nth(1).unwrap();
    let end = limits.find("\n[").unwrap();
    let unlimited = SHELF.replace(&format!("\n[limits]{}", &limits[..end]), "");
    let reasons = [
        (unlimited, "No size is named: no limit is set for the chain."),
        (on_offer(), "No size is named: parts on offer count as exact."),
    ];
    for (text, answer) in reasons {
        let folder = folder_with(&[("shelf.toml", &text)]);
        let command =
            "capacitors shelf.toml --samples 500 --solver averaged --require-pass --out out";
        let told = fairphase(folder.path(), command);
        let words = told.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(told.status, 1, "{words} {}", told.stderr);
        assert!(words.contains(answer), "{words}");
        assert!(words.contains("not judged.") && !words.contains("> confirmed"), "{words}");
        let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        assert!(page.contains(answer) && !page.contains("Pass</p>"));
        let found = &json(&folder.path().join("out/summary.json"))["capacitors"];
        let mut sizes = found["sweep"].as_array().unwrap().iter();
        assert!(
            sizes.all(|size| ["not decided", "fail"].iter().any(|own| size["verdict"] == *own))
        );
        assert!(found["smallest_F"].is_null());
        assert_eq!(found["judged"], false);
    }
}

/// The shelf without limits of its own, and with these.
fn limited(limits: &str) -> String {
    changed(SHELF, "sharing_error = \"5 %\"\n", limits)
}

/// Paralleled phases without a limit are no rival of a chain that has one, and the reverse.
#[test]
fn grades_compare_no_arrangement_without_a_limit() {
    let chain = "\n[[limits.part]]\npart = \"flying_capacitor\"\nrms_current = \"30 A\"\n";
    let plain = "\n[limits.paralleled]\nswitch_rms_current = \"30 A\"\n";
    let offers = on_offer().split("\n[grades]").nth(1).unwrap().to_owned();
    for (limit, verdict, unlimited) in [(chain, "pass", "without"), (plain, "not decided", "with")]
    {
        let text = format!("{}{limit}\n[grades]{offers}", limited(""));
        let folder = folder_with(&[("shelf.toml", &text)]);
        let said = fairphase(folder.path(), "grades shelf.toml --samples 800 --out out").stdout;
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        let told = format!("is not judged: no limit is set for sets {unlimited} it.");
        assert!(said.contains(&told), "{said}");
        let found = json(&folder.path().join("out/summary.json"));
        assert_eq!(found["verdict"], verdict);
        assert!(found["charge_balancing"].is_null());
        assert_eq!(found["answer"] == "recommended", verdict == "pass");
    }
}

#[test]
fn sensors_compare_no_arrangement_without_a_limit() {
    let lamps = include_str!("../../scenarios/greenhouse-lamps.toml");
    let limits = lamps.split("[limits]").nth(1).unwrap();
    let end = limits.find("\n[").unwrap();
    let bare = lamps.replace(&limits[..end], "\nyield_target = \"99 %\"\n");
    let bare = match bare.split_once("\n[limits.paralleled]") {
        Some((before, after)) => format!("{before}\n{}", &after[after.find("\n[").unwrap()..]),
        None => bare,
    };
    let chain = "[[limits.part]]\npart = \"flying_capacitor\"\nrms_current = \"30 A\"\n";
    let plain = "[limits.paralleled]\nswitch_rms_current = \"30 A\"\n";
    for (limit, decision, judged) in [
        (chain, "the chain alone meets 99 %", "bd"),
        (plain, "(b) and (d). No limit is set for their arrangement.", "ac"),
        ("", "Not judged: no limit is set.", ""),
    ] {
        let folder = folder_with(&[("lamps.toml", &format!("{bare}\n{limit}"))]);
        let command = "sensors lamps.toml --samples 600 --tables --out out";
        let said = fairphase(folder.path(), command).stdout;
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(decision), "{said}");
        assert!(!said.contains("The samples do not decide on"), "{said}");
        assert!(!said.contains("lowest cost is not decided: if"), "{said}");
        let found = json(&folder.path().join("out/summary.json"));
        for own in found["variants"].as_array().unwrap() {
            let is_judged = judged.contains(own["letter"].as_str().unwrap());
            assert_eq!(own["judged"], is_judged, "{judged} {}", own["letter"]);
        }
    }
}

/// Limits of the paralleled reference alone: `units` tells both apart.
#[test]
fn units_tell_which_arrangement_has_a_limit() {
    let text = format!("{}\n[limits.paralleled]\nswitch_rms_current = \"1 A\"\n", limited(""));
    let folder = folder_with(&[("shelf.toml", &text)]);
    succeed(folder.path(), "run shelf.toml --samples 20 --no-explain --quiet --out few");
    let said =
        succeed(folder.path(), "units shelf.toml --parts few/worst_converters.csv --out out");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("in the chain. No limit is set for it. Paralleled"), "{said}");
    assert!(said.contains(" meet every limit. "), "{said}");
    for (limit, words) in [
        (
            "[limits.paralleled]\nswitch_rms_current = \"90 A\"",
            "Paralleled, every listed converter meets",
        ),
        (
            "[[limits.part]]\npart = \"flying_capacitor\"\nrms_current = \"90 A\"",
            "reaches the output paralleled.",
        ),
    ] {
        fs::write(folder.path().join("one.toml"), format!("{}\n{limit}\n", limited(""))).unwrap();
        succeed(folder.path(), "units one.toml --parts few/worst_converters.csv --out out");
        let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        assert!(page.contains(words), "{limit}");
        assert!(!page.contains("every limit in both arrangements"), "{limit}");
    }
}
