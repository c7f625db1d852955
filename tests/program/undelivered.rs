//! Operating points, limits and parts that are left out: what a study does not know is said, and is no answer. All data
//! are invented.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use crate::support::{SHELF, changed, fairphase, folder_with, json, succeed};

const SEABED: &str = include_str!("../../scenarios/seabed-node.toml");

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The seabed node with flying capacitors so small that the frequency leaves its band.
fn small_capacitors(highest: &str) -> String {
    let small = changed(SEABED, "\"47 µF\"", "\"330 nF\"\nneutral_split = \"10 V\"");
    let banded = changed(&small, "\"320 kHz\"", highest);
    changed(&banded, "[limits]", "[limits]\nblocking_voltage = \"300 V\"")
}

#[test]
fn capacitors_advise_nothing_for_operating_points_that_they_do_not_reach() {
    let folder = folder_with(&[
        ("some.toml", &small_capacitors("\"230 kHz\"")),
        ("none.toml", &small_capacitors("\"190 kHz\"")),
    ]);
    let some = in_one_line(&succeed(folder.path(), "capacitors some.toml --samples 20"));
    assert!(some.contains("does not deliver “listening”: nothing is known of it."), "{some}");
    assert!(some.contains("No start is advised.") && !some.contains("Start like this"), "{some}");
    assert!(!some.contains("That keeps the limit"), "{some}");
    // The input of the point that is not reached is the highest.
    assert!(some.contains("block all of it, 385.0 V"), "{some}");
    let none = in_one_line(&succeed(folder.path(), "capacitors none.toml --samples 20"));
    assert!(none.contains("How far the flying-capacitor voltages drift is not known."), "{none}");
    assert!(none.contains("settle is not known: no operating point is solved"), "{none}");
    let found = json(&folder.path().join("reports/none/summary.json"));
    assert!(found["capacitors"]["drift"].as_array().unwrap().is_empty());
}

#[test]
fn a_limit_of_a_part_that_no_chosen_drive_loads_is_refused() {
    let open = SEABED.replace("drive     = \"full-bridge\"\n", "");
    assert_eq!(open.matches("drive     =").count(), 0);
    let text = open + "\n[[limits.part]]\npart = \"held_low_switch\"\nrms_current = \"0.1 A\"\n";
    let folder = folder_with(&[("node.toml", &text)]);
    for verb in ["run", "check", "capacitors", "faults"] {
        let told = fairphase(folder.path(), &format!("{verb} node.toml"));
        assert_eq!(told.status, 2, "{verb} {}", told.stderr);
        assert!(
            told.stderr.contains("`held_low_switch` is limited, but no operating point loads it")
        );
        assert!(told.stderr.contains("expected an operating point with half-bridge drive"));
        assert!(!folder.path().join("reports").exists());
    }
}

/// With a service life every operating point is judged twice, and still has one drive.
#[test]
fn the_brief_of_capacitors_names_the_drive_of_each_operating_point() {
    let low = "[[operating_point]]\nname = \"low\"\ninput_voltage = \"380 V\"\noutput_voltage = \"24 V\"\n\
        output_power = \"1 kW\"\ndrive = \"half-bridge\"\nrectifier = \"full-bridge\"\n\n\
        [[operating_point]]\nname = \"full load\"";
    let ageing = "[ageing]\nservice_life = \"30000 h\"\n\n[ageing.resonant_capacitance]\ndrift = \"-2 %\"\n\n[limits]";
    let text = changed(SHELF, "[[operating_point]]\nname = \"full load\"", low);
    let folder = folder_with(&[("shelf.toml", &changed(&text, "[limits]", ageing))]);
    succeed(folder.path(), "capacitors shelf.toml --samples 20 --quiet --out out");
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("“low” in half-bridge drive. “full load” in full-bridge drive."));
}

/// The least of a band that begins above the nominal value.
#[test]
fn an_aged_capacitor_may_be_larger_than_its_share_of_the_nominal_one() {
    let flying = "[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = [\"+5 %\", \"+15 %\"]\n\n\
        [capacitors]\nend_of_life = \"80 %\"\n\n[limits]";
    let folder = folder_with(&[("shelf.toml", &changed(SHELF, "[limits]", flying))]);
    let said = succeed(folder.path(), "capacitors shelf.toml --samples 20 --tables --out out");
    let said = in_one_line(&said);
    assert!(said.contains("With 84 % left of one flying capacitor"), "{said}");
}
