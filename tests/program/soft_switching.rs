//! Soft switching in `check` and `units`, from outside: figures against closed forms and against each
//! other, verdicts, words. The dead time itself is checked where it is solved.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use serde_json::Value;

use crate::support::{SHELF, TELECOM, changed, fairphase, folder_with, succeed};

/// The invented shelf, three phases in full bridge, with invented switches.
fn shelf(switch: &str) -> String {
    format!("{SHELF}\n[switch]\n{switch}\n")
}

fn summary(text: &str, command: &str) -> Value {
    let folder = folder_with(&[("shelf.toml", text), ("parts.csv", PARTS)]);
    serde_json::from_str(&succeed(folder.path(), &format!("{command} --json"))).unwrap()
}

fn check(switch: &str) -> Value {
    summary(&shelf(switch), "check shelf.toml")
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} of {value}"))
}

/// The transitions of an arrangement.
fn transitions<'a>(summary: &'a Value, arrangement: &str) -> Vec<&'a Value> {
    let all = summary["commutation"].as_array().unwrap();
    all.iter().filter(|entry| entry["arrangement"] == arrangement).collect()
}

fn result<'a>(summary: &'a Value, arrangement: &str) -> &'a Value {
    let mut all = summary["results"].as_array().unwrap().iter();
    all.find(|entry| entry["arrangement"] == arrangement).unwrap()
}

/// The highest turn-on voltage as a share of the interval voltage.
fn highest_share(summary: &Value, arrangement: &str) -> f64 {
    let share = |t: &&Value| number(t, "turn_on_voltage_V") / number(t, "interval_voltage_V");
    transitions(summary, arrangement).iter().map(share).fold(0.0, f64::max)
}

/// Three invented converters; phase 2 of the second has a larger magnetising inductance.
const PARTS: &str = "\
unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,turns_ratio,\
series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,flying_capacitance_return_leg_F
even,1,,,,,,,,\neven,2,,,,,,,,\neven,3,,,,,,,,
uneven,1,,,,,,,,\nuneven,2,,,26e-6,,,,,\nuneven,3,,,,,,,,
";

/// After no time nothing has moved. A low switch then turns on at E, the first high switch at E and
/// the others at E(k−1) + E(k). All are hard, and what is lost is
/// `½ Σ CL E² + ½ Σ CH (E(k−1) + E(k))²` in each leg and at each instant.
#[test]
fn without_dead_time_all_of_the_stored_energy_is_lost() {
    let summary = check(
        "output_capacitance_low = \"300 pF\"\noutput_capacitance_high = \"200 pF\"\n\
         dead_time = \"0.001 ps\"",
    );
    let chain = transitions(&summary, "chain");
    assert_eq!(chain.len(), 2 * 2 * 3, "both legs, both ways, three phases");
    let e = 380.0 / 3.0;
    for t in &chain {
        let falls = t["transition"] == "high to low";
        let expected = if falls || t["phase"] == 1 { e } else { 2.0 * e };
        // The ripple of the flying capacitors is a few tenths of a volt.
        let found = number(t, "turn_on_voltage_V");
        assert!((found - expected).abs() < 0.01 * e, "{t}");
        assert_eq!((&t["soft"], &t["verdict"]), (&Value::Bool(false), &Value::from("hard")));
        assert_eq!(number(t, "spare"), 0.0);
    }
    let frequency = number(result(&summary, "chain"), "switching_frequency_Hz");
    let leg = 0.5 * e * e * (3.0 * 300e-12 + (1.0 + 4.0 + 4.0) * 200e-12);
    let loss = number(result(&summary, "chain"), "commutation_loss_W");
    assert!((loss / (4.0 * leg * frequency) - 1.0).abs() < 0.01, "{loss}");
    // Every paralleled leg swings over the whole input, all switches by themselves.
    let paralleled = result(&summary, "paralleled");
    let leg = 0.5 * 380.0_f64.powi(2) * 500e-12 * 3.0;
    let expected = 4.0 * leg * number(paralleled, "switching_frequency_Hz");
    assert!((number(paralleled, "commutation_loss_W") / expected - 1.0).abs() < 1e-6);
    for t in transitions(&summary, "paralleled") {
        assert!((number(t, "turn_on_voltage_V") - 380.0).abs() < 1e-3, "{t}");
    }
}

/// Whether every switch of an arrangement has the verdict `soft`.
fn all_soft(summary: &Value, arrangement: &str) -> bool {
    transitions(summary, arrangement).iter().all(|t| t["verdict"] == "soft")
}

/// The dead times told are those that do: inside every switch turns on softly, beside not.
#[test]
fn the_window_of_dead_times_is_where_every_switch_turns_on_softly() {
    let with =
        |time: f64| check(&format!("output_capacitance = \"900 pF\"\ndead_time = \"{time} s\""));
    let first = with(150e-9);
    let times = &result(&first, "chain")["soft_switching"]["dead_times"];
    let [shortest, longest] = ["shortest_s", "longest_s"].map(|key| number(times, key));
    assert!(shortest > 150e-9 && shortest < longest && longest < number(times, "longest_tried_s"));
    // Between two dead times that were tried, 3 ns apart, the ends are interpolated.
    for (time, is_soft) in [
        (0.985 * shortest, false),
        (1.015 * shortest, true),
        (0.985 * longest, true),
        (1.015 * longest, false),
    ] {
        assert_eq!(all_soft(&with(time), "chain"), is_soft, "{time}");
    }
    let least = with(number(times, "least_loss_at_s"));
    let found = number(result(&least, "chain"), "commutation_loss_W");
    assert!((found - number(times, "least_loss_W")).abs() < 1e-3, "{found}");
}

/// No dead time is tried that the scenario would refuse: at the top of the band a quarter of a period is the end.
#[test]
fn every_dead_time_that_is_tried_may_be_given() {
    let wide = changed(SHELF, "\"300 kHz\"", "\"1 MHz\"");
    let with = |time: f64| {
        let switch = format!("output_capacitance = \"900 pF\"\ndead_time = \"{time} ns\"");
        summary(&format!("{wide}\n[switch]\n{switch}\n"), "check shelf.toml")
    };
    let told = |summary: &Value| {
        let times = &result(summary, "chain")["soft_switching"]["dead_times"];
        1e9 * number(times, "longest_tried_s")
    };
    let longest = told(&with(150.0));
    assert!((240.0..250.0).contains(&longest), "{longest}");
    assert!((told(&with(longest.round())) - longest).abs() < 1e-9);
}

/// A converter with the largest magnetising inductance told switches softly, with 1 % more not.
#[test]
fn the_largest_magnetising_inductance_is_the_last_that_does() {
    // At a tenth of the power the current at the instants is that of the magnetising inductance.
    let switch = "output_capacitance = \"700 pF\"\ndead_time = \"300 ns\"";
    let light = |switch: &str| shelf(switch).replace("\"3 kW\"", "\"300 W\"");
    let first = summary(&light(switch), "check shelf.toml");
    let told = &result(&first, "paralleled")["soft_switching"];
    let largest = number(told, "largest_magnetising_inductance_H");
    let time = number(told, "largest_magnetising_inductance_at_s");
    assert_eq!(told["larger_may_do"], false);
    for (factor, is_soft) in [(0.998, true), (1.01, false)] {
        let text = light(&switch.replace("300 ns", &format!("{time} s")))
            .replace("\"22.8 µH\"", &format!("\"{} H\"", factor * largest));
        let found = all_soft(&summary(&text, "check shelf.toml"), "paralleled");
        assert_eq!(found, is_soft, "{factor}");
    }
}

/// With the falling phases first no pair ties: all switches turn on softly where some did not. The
/// low switches before the last one then interrupt their tank's current, not the difference of two.
#[test]
fn falling_phases_first_is_what_was_told_of_it() {
    let switch = "output_capacitance = \"900 pF\"\ndead_time = \"150 ns\"";
    let together = check(switch);
    let told = &result(&together, "chain")["soft_switching"]["falling_first"];
    assert!(highest_share(&together, "chain") > 0.05);
    let first = check(&format!("{switch}\ntiming = \"falling-first\""));
    assert_eq!(highest_share(&first, "chain"), 0.0);
    let now = result(&first, "chain");
    assert_eq!(now["soft_switching"]["falling_first"], Value::Null);
    assert_eq!(now["soft_switching"]["now"], told["switching"]);
    assert_eq!(now["commutation_loss_W"], told["commutation_loss_W"]);
    let inner = |summary: &Value| {
        let low = transitions(summary, "chain").into_iter();
        let low = low.filter(|t| t["transition"] == "low to high" && t["phase"] != 3);
        low.map(|t| number(t, "turn_off_current_A")).fold(0.0, f64::max)
    };
    assert_eq!(inner(&first), number(told, "low_turn_off_current_A"));
    assert_eq!(inner(&together), number(told, "low_turn_off_current_together_A"));
    assert!(inner(&together) < 0.5 && inner(&first) > 5.0);
    // The paralleled phases always switch together.
    assert_eq!(transitions(&together, "paralleled"), transitions(&first, "paralleled"));
}

/// `soft` is null just where the verdict is not decided, and counts agree with the list.
#[test]
fn verdicts_counts_and_losses_agree() {
    for (text, command) in [
        (changed(TELECOM, "\"falling-first\"", "\"together\""), "check shelf.toml"),
        (
            shelf("output_capacitance = \"900 pF\"\ndead_time = \"150 ns\""),
            "units shelf.toml --parts parts.csv --out out",
        ),
    ] {
        let summary = summary(&text, command);
        let mut verdicts = std::collections::BTreeSet::new();
        for result in summary["results"].as_array().unwrap() {
            let key = ["unit", "operating_point", "arrangement"];
            let all = summary["commutation"].as_array().unwrap().iter();
            let of_result: Vec<&Value> =
                all.filter(|t| key.iter().all(|key| t.get(key) == result.get(key))).collect();
            assert_eq!(of_result.len(), 12);
            let mut counts = [0, 0, 0];
            for t in of_result {
                let (soft, word) = (t["soft"].as_bool(), t["verdict"].as_str().unwrap());
                verdicts.insert(word.to_owned());
                let n = ["soft", "hard", "not decided"].iter().position(|w| *w == word).unwrap();
                assert_eq!(soft, [Some(true), Some(false), None][n]);
                counts[n] += 1;
                let signed = number(t, "turn_on_voltage_V") / number(t, "interval_voltage_V")
                    - number(t, "spare");
                assert_eq!((signed - 0.05).abs() < 0.2, n == 2, "{t}");
            }
            let told = &result["soft_switching"];
            let told = told.get("now").unwrap_or(told);
            let told = ["soft", "hard", "not_decided"].map(|key| told[key].as_u64().unwrap());
            assert_eq!(told, counts);
            assert!(number(result, "commutation_loss_W") >= 0.0);
        }
        assert!(verdicts.contains("soft") && verdicts.contains("not decided"), "{verdicts:?}");
    }
}

/// Converters are judged by their own parts, and a unit of nominal parts is the nominal converter.
#[test]
fn units_are_judged_by_their_own_parts() {
    let text = shelf("output_capacitance = \"900 pF\"\ndead_time = \"150 ns\"");
    let units = summary(&text, "units shelf.toml --parts parts.csv --out out");
    let nominal = summary(&text, "check shelf.toml");
    let of_unit = |name: &str| -> Vec<f64> {
        let all = units["commutation"].as_array().unwrap().iter();
        all.filter(|t| t["unit"] == name).map(|t| number(t, "turn_on_voltage_V")).collect()
    };
    let nominal: Vec<f64> = nominal["commutation"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| number(t, "turn_on_voltage_V"))
        .collect();
    let even = of_unit("even");
    assert_eq!(even.len(), nominal.len());
    assert!(even.iter().zip(&nominal).all(|(a, b)| (a - b).abs() < 1e-3), "{even:?} {nominal:?}");
    assert!(of_unit("uneven").iter().zip(&even).any(|(a, b)| (a - b).abs() > 1.0));
}

#[test]
fn terminal_and_page_tell_what_the_summary_holds() {
    let text = shelf("output_capacitance = \"900 pF\"\ndead_time = \"150 ns\"");
    let folder = folder_with(&[("shelf.toml", &text), ("parts.csv", PARTS)]);
    let said = succeed(folder.path(), "check shelf.toml --tables");
    for words in [
        "Soft switching: dead time 150.0 ns",
        "too short",
        "All operating points, balanced chain: soft with dead times of",
        "Largest Lm: the largest magnetising inductance",
        "falling-first",
        "The shift of sharing is not small beside its limit: full load.",
        "a switch sees",
        "ties both nodes",
    ] {
        assert!(said.replace("\n  ", " ").contains(words), "{words} is missing:\n{said}");
    }
    let said = succeed(folder.path(), "units shelf.toml --parts parts.csv --out out --tables");
    assert!(said.contains("Soft switching") && said.contains("uneven"), "{said}");
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("Soft switching</h2>") && page.contains("ties both nodes"));
    // The averaged solver does not tell the currents at the switching instants.
    let said = succeed(folder.path(), "check shelf.toml --solver averaged --tables");
    assert!(said.contains("Soft switching needs the exact solver"), "{said}");
    let averaged = summary(&text, "check shelf.toml --solver averaged");
    assert_eq!(averaged["commutation"], Value::Array(Vec::new()));
    assert_eq!(averaged["results"][0]["commutation_loss_W"], Value::Null);
    // Nothing is said, and nothing told, of switches that the scenario does not describe.
    let bare = folder_with(&[("shelf.toml", SHELF), ("parts.csv", PARTS)]);
    for command in ["check shelf.toml", "units shelf.toml --parts parts.csv --out out"] {
        let said = fairphase(bare.path(), command);
        assert!(said.status == 0 && !said.stdout.contains("Soft switching"), "{}", said.stdout);
    }
    let page = std::fs::read_to_string(bare.path().join("out/report.html")).unwrap();
    assert!(!page.contains("Soft switching"));
}

/// The dead time shifts sharing by 0.3 to 0.4 times I·td/Q, which yields leave out. Where that is not small beside the
/// limit, every verb that judges sharing says so beside its answer, and whether it alone may exceed the limit.
#[test]
fn every_verb_that_judges_sharing_tells_the_shift() {
    let text = shelf("output_capacitance = \"300 pF\"\ndead_time = \"220 ns\"");
    let narrow = changed(&text, "sharing_error = \"5 %\"", "sharing_error = \"0.8 %\"");
    let folder = folder_with(&[("shelf.toml", &narrow)]);
    let verbs = ["run", "bands", "capacitors"];
    for verb in verbs {
        let line = format!("{verb} shelf.toml --samples 700 --out {verb}");
        let said = succeed(folder.path(), &line).split_whitespace().collect::<Vec<_>>().join(" ");
        let page = std::fs::read_to_string(folder.path().join(verb).join("report.html")).unwrap();
        for told in [&said, &page] {
            assert!(told.contains("The dead time shifts sharing at"), "{verb}: {said}");
            assert!(told.contains("That alone may exceed the limit."), "{verb}: {said}");
        }
    }
    let summary = std::fs::read_to_string(folder.path().join("bands/summary.json")).unwrap();
    let summary: Value = serde_json::from_str(&summary).unwrap();
    assert_eq!(summary["sharing_shift"]["operating_point"], "full load");
    let turns = "[switch]\n";
    let quiet = changed(&narrow, turns, "[switch]\ntiming = \"falling-first\"\n");
    let folder = folder_with(&[("shelf.toml", &quiet)]);
    let said = succeed(folder.path(), "bands shelf.toml --samples 700 --out bands");
    assert!(!said.contains("shifts sharing"), "no two phases tie: {said}");
}
