//! The drift of flying-capacitor voltages that follows from its causes: it is that of a converter's own
//! capacitors, whatever their size, their tolerance, their age and the verb. All data are invented.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;

use crate::support::{SHELF, changed, floats, folder_with, json, parquet, succeed, truths, words};

/// The first node of three phases on 380 V.
const IDEAL: f64 = 380.0 * 2.0 / 3.0;

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance * expected.abs(), "{found} is not {expected}");
}

/// The shelf with these causes of a drift, and lines before its limits.
fn with_causes(causes: &str, lines: &str) -> String {
    let text = changed(SHELF, "[converter.frequency]", &format!("{causes}\n[converter.frequency]"));
    changed(&text, "[limits]", &format!("{lines}\n[limits]\nblocking_voltage = \"270 V\""))
}

/// Gates charge the chain: nothing but unequal capacitors moves it.
const BY_GATES: &str = "[converter.chain.drift]";

fn flying(band: &str) -> String {
    format!("[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = \"{band}\"\n")
}

fn nominal_blocking(folder: &Path, file: &str) -> Vec<f64> {
    let check: Value =
        serde_json::from_str(&succeed(folder, &format!("check {file} --json"))).unwrap();
    let chains = check["results"].as_array().unwrap().iter();
    chains
        .filter(|own| own["arrangement"] == "chain")
        .map(|own| number(&own["blocking_voltage_V"]))
        .collect()
}

/// Each drawn converter by itself: the first high switch blocks U |C − C′|/(C + C′) more than without a drift,
/// with the capacitors of its own first node. Nominal ones are equal, and drift not at all.
#[test]
fn a_start_by_the_gates_moves_each_converter_by_its_own_capacitors() {
    let ratings = |text: &str| changed(text, "[run]", "[run]\nrating_columns = true");
    let drifting = ratings(&with_causes(BY_GATES, &flying("20 %")));
    let still = ratings(&with_causes("", &flying("20 %")));
    let folder = folder_with(&[("drifting.toml", &drifting), ("still.toml", &still)]);
    let folder = folder.path();
    let run = |name: &str| {
        succeed(
            folder,
            &format!("run {name}.toml --samples 200 --no-explain --quiet --out {name}"),
        );
        let rows = parquet(&folder.join(name).join("samples.parquet"));
        let is_chain: Vec<bool> =
            words(&rows, "arrangement").iter().map(|own| own == "chain").collect();
        let of_chains = |column: &str| -> Vec<f64> {
            let all = floats(&rows, column).into_iter().zip(&is_chain);
            all.filter(|(_, is_chain)| **is_chain).map(|(value, _)| value).collect()
        };
        let met = truths(&rows, "meets_limits").into_iter().zip(&is_chain);
        let met = met.filter(|(met, is_chain)| *met && **is_chain).count();
        (of_chains("first_high_switch_blocking_voltage_V"), of_chains("blocking_voltage_V"), met)
    };
    let ((with, worst, met), (without, ..)) = (run("drifting"), run("still"));
    let parts = parquet(&folder.join("drifting/population.parquet"));
    let driven = floats(&parts, "flying_capacitance_1_F");
    let returned = floats(&parts, "flying_capacitance_return_leg_1_F");
    let mut largest: f64 = 0.0;
    for n in 0..200 {
        let apart = (driven[n] - returned[n]).abs() / (driven[n] + returned[n]);
        near(with[n] - without[n], IDEAL * apart, 1e-9);
        largest = largest.max(apart);
    }
    assert!(largest > 0.1, "{largest}");
    let kept = worst.iter().filter(|own| **own <= 270.0).count();
    assert!(kept == met && met > 20 && met < 180, "{kept} {met}");
    let [with, without] =
        ["drifting.toml", "still.toml"].map(|file| nominal_blocking(folder, file)[0]);
    near(with, without, 1e-12);
}

/// A unit whose first node holds 50 µF and 30 µF, by hand: a quarter of the node's voltage.
#[test]
fn a_listed_converter_drifts_by_its_own_capacitors() {
    let parts = "unit,phase,flying_capacitance_F,flying_capacitance_return_leg_F\n\
        a,1,4e-5,4e-5\na,2,4e-5,4e-5\na,3,,\nb,1,5e-5,3e-5\nb,2,4e-5,4e-5\nb,3,,\n";
    let tanks = ",resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,turns_ratio,\
        series_resistance_ohm,rectifier_drop_V";
    let rows: Vec<String> = parts.lines().map(str::to_owned).collect();
    let parts = rows.iter().enumerate().map(|(n, row)| match n {
        0 => format!("{row}{tanks}\n"),
        _ => format!("{row},,,,,,\n"),
    });
    let text = with_causes(BY_GATES, "");
    let folder = folder_with(&[("shelf.toml", &text), ("parts.csv", &parts.collect::<String>())]);
    succeed(folder.path(), "units shelf.toml --parts parts.csv --out out --quiet");
    let text = std::fs::read_to_string(folder.path().join("out/unit_ratings.csv")).unwrap();
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<BTreeMap<String, String>> = rows.deserialize().map(Result::unwrap).collect();
    let blocking = |unit: &str| -> f64 {
        let own = rows.iter().find(|row| row["unit"] == unit && row["arrangement"] == "chain");
        own.unwrap()["first_high_switch_blocking_voltage_V"].parse().unwrap()
    };
    let [even, uneven] = ["a", "b"].map(blocking);
    // The smaller capacitor has a little more ripple.
    near(uneven - even, IDEAL / 4.0, 0.05);
}

/// What gates that turn off apart do grows with smaller capacitors: each size blocks what a converter of that
/// size does.
#[test]
fn every_size_drifts_as_a_converter_of_that_size() {
    let causes = "[converter.chain.drift]\nturn_off_skew = \"50 ps\"\noperating_time = \"1 s\"";
    let text = with_causes(
        causes,
        "[capacitors]\nsmallest = \"4.7 µF\"\nlargest = \"49 µF\"\nseries = \"E3\"\n",
    );
    let folder = folder_with(&[("shelf.toml", &text)]);
    let folder = folder.path();
    succeed(folder, "capacitors shelf.toml --samples 20 --quiet --out out");
    let summary = json(&folder.join("out/summary.json"));
    let mut drifts = Vec::new();
    for size in summary["capacitors"]["sweep"].as_array().unwrap() {
        let farad = number(&size["flying_capacitance_F"]);
        let own = changed(&text, "\"50 µF\"", &format!("\"{} nF\"", (1e9 * farad).round()));
        std::fs::write(folder.join("own.toml"), own).unwrap();
        let alone = nominal_blocking(folder, "own.toml")[0];
        near(number(&size["blocking_voltage_V"]), alone, 1e-9);
        drifts.push(alone);
    }
    assert!(drifts.len() > 2 && drifts[0] > drifts[drifts.len() - 1] + 10.0, "{drifts:?}");
}

/// Capacitors that age to half of their value drift twice as far by the same gates.
#[test]
fn aged_capacitors_drift_farther() {
    let causes = "[converter.chain.drift]\nturn_off_skew = \"5 ps\"\noperating_time = \"1 s\"";
    let ageing =
        "[ageing]\nservice_life = \"10000 h\"\n[ageing.flying_capacitance]\ndrift = \"-50 %\"\n";
    let folder = folder_with(&[
        ("aged.toml", &with_causes(causes, ageing)),
        ("still.toml", &with_causes("", ageing)),
    ]);
    let [aged, still] =
        ["aged.toml", "still.toml"].map(|file| nominal_blocking(folder.path(), file));
    let [new, old] = [0, 1].map(|n| aged[n] - still[n]);
    // The ripple of smaller capacitors moves the currents at turn-off a little.
    near(old, 2.0 * new, 0.05);
}

/// Bands count where parts are bought by grade: the samples that pass with a grade are those of a run whose
/// capacitors have its band.
#[test]
fn the_band_of_a_grade_counts_in_the_drift() {
    let grade = |name: &str, band: &str, price: f64| {
        format!(
            "[[grade.flying_capacitance]]\nname = \"{name}\"\nshape = \"uniform\"\nband = \"{band}\"\n\
             price = {price}\n"
        )
    };
    let offers = grade("wide", "20 %", 1.0) + &grade("narrow", "2 %", 2.0);
    let grades = with_causes(BY_GATES, "") + "\n[grades]\nquantity = 100\n" + &offers;
    let folder = folder_with(&[
        ("grades.toml", &grades),
        ("wide.toml", &with_causes(BY_GATES, &flying("20 %"))),
    ]);
    let folder = folder.path();
    succeed(folder, "grades grades.toml --samples 500 --quiet --out grades");
    succeed(folder, "run wide.toml --samples 500 --no-explain --quiet --out run");
    let [grades, run] = ["grades", "run"].map(|name| json(&folder.join(name).join("summary.json")));
    let sets = grades["results"].as_array().unwrap();
    let good = |name: &str| {
        let set = sets.iter().find(|set| set["grades"]["flying_capacitance"] == name).unwrap();
        set["yield"]["successes"].as_u64().unwrap()
    };
    assert_eq!(good("wide"), run["joint"]["chain"]["yield"]["successes"].as_u64().unwrap());
    assert!(good("wide") < 450 && good("narrow") == 500, "{} {}", good("wide"), good("narrow"));
}

/// A stated drift is held by body diodes at every operating point: at 190 V nodes drift by a third of it at most,
/// and so do neighbouring ones against each other. A low switch then blocks two thirds.
#[test]
fn diodes_hold_a_stated_drift_at_every_input_voltage() {
    let low = "[[operating_point]]\nname = \"low\"\ninput_voltage = \"190 V\"\noutput_voltage = \"24 V\"\n\
        output_power = \"750 W\"\ndrive = \"full-bridge\"\nrectifier = \"full-bridge\"\n\n[limits]";
    let stated = |drift: &str| {
        let text = changed(SHELF, "\"50 µF\"", &format!("\"50 µF\"\nneutral_split = \"{drift}\""));
        changed(&text, "[limits]", low)
    };
    let folder = folder_with(&[("large.toml", &stated("120 V")), ("none.toml", &stated("0 V"))]);
    succeed(folder.path(), "capacitors large.toml --samples 20 --quiet --out out");
    let summary = json(&folder.path().join("out/summary.json"));
    for (point, input) in
        summary["capacitors"]["drift"].as_array().unwrap().iter().zip([380.0, 190.0])
    {
        for node in point["nodes"].as_array().unwrap() {
            near(number(&node["drift_V"]), f64::min(120.0, input / 3.0), 1e-9);
        }
        let middle = point["switches"]
            .as_array()
            .unwrap()
            .iter()
            .find(|own| own["switch"] == "low_2")
            .unwrap();
        near(
            number(&middle["with_drift_V"]) - number(&middle["without_drift_V"]),
            input / 3.0,
            1e-9,
        );
    }
}

/// The resistors that the answer names hold the drift at every operating point: those of the highest input.
#[test]
fn resistors_are_told_for_the_hardest_operating_point() {
    let causes = "[converter.chain.drift]\ncharging_resistor_tolerance = \"1 %\"\n\
        leakage_current = \"10 µA\"\nleakage_voltage = \"250 V\"\nhighest_drift = \"20 V\"";
    let high = "[[operating_point]]\nname = \"high\"\ninput_voltage = \"400 V\"\n\
        output_voltage = \"48 V\"\noutput_power = \"1 kW\"\ndrive = \"full-bridge\"\n\
        rectifier = \"full-bridge\"\n";
    let folder = folder_with(&[("shelf.toml", &with_causes(causes, high))]);
    let said = succeed(folder.path(), "capacitors shelf.toml --samples 20 --out out --tables");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let summary = json(&folder.path().join("out/summary.json"));
    let points = summary["capacitors"]["drift"].as_array().unwrap();
    let told = points.iter().map(|own| number(&own["balancing"]["resistance_ohm"]));
    let told: Vec<f64> = told.collect();
    assert!(told[1] < 0.99 * told[0], "{told:?}");
    let words = said.split("Balancing resistors of ").nth(1).unwrap();
    let megohm: f64 = words.split(' ').next().unwrap().parse().unwrap();
    near(1e6 * megohm, told[1], 1e-3);
}

/// What the switches see in the dead time too, where one flying capacitor has lost a fifth: it drifts by itself, in
/// `faults` as in `capacitors`. Drawn converters drift by their own capacitors, in `faults` as in `run`.
#[test]
fn an_aged_capacitor_drifts_alike_in_every_verb() {
    let tables = "[switch]\noutput_capacitance = \"350 pF\"\ndead_time = \"150 ns\"\ntiming = \"together\"\n\
        [faults]\nremaining = [\"99.999 %\", \"80 %\"]\nsamples = 60\n\
        [capacitors]\nsmallest = \"47 µF\"\nlargest = \"100 µF\"\nseries = \"E3\"\nend_of_life = \"80 %\"\n";
    let text = with_causes(BY_GATES, &(flying("20 %") + tables)).replace("\"270 V\"", "\"310 V\"");
    let folder = folder_with(&[("shelf.toml", &text)]);
    let folder = folder.path();
    let summary = |verb: &str| {
        let out = verb.split(' ').next().unwrap();
        succeed(folder, &format!("{verb} --out {out}"));
        json(&folder.join(out).join("summary.json"))
    };
    let faults = summary("faults shelf.toml --samples 60");
    let aged = |share: f64, place: u64| {
        let is = |own: &&Value| {
            let found = (&own["kind"], &own["leg"], own["place"].as_u64());
            found == (&"flying capacitor aged".into(), &"driven".into(), Some(place))
                && own["remaining"] == share
        };
        faults["faults"].as_array().unwrap().iter().find(is).unwrap()
    };
    let sizes = summary("capacitors shelf.toml --samples 20");
    let sizes = sizes["capacitors"]["sweep"].as_array().unwrap().clone();
    let own = sizes.iter().find(|own| own["present"] == true).unwrap();
    for worn in own["one_worn_out"].as_array().unwrap() {
        let place = worn["place"].as_u64().unwrap();
        let told = number(&aged(0.8, place)["highest_blocking_voltage_V"]);
        near(told, number(&worn["blocking_voltage_V"]), 1e-7);
        assert!(number(&aged(0.8, place)["lowest_blocking_voltage_V"]) < told - 20.0, "{place}");
    }
    let run = summary("run shelf.toml --samples 60 --no-explain");
    let good = run["joint"]["chain"]["yield"]["successes"].as_u64().unwrap();
    let with_fault = aged(0.99999, 1)["yield"]["successes"].as_u64().unwrap();
    assert!(good.abs_diff(with_fault) <= 1 && good > 10 && good < 50, "{good} {with_fault}");
}

/// Body diodes keep every phase of both legs at zero or more. So with all parts at work, or one phase held at zero, no
/// switch blocks more than the input and the ripple, however far nodes would drift. The converter before the fault is
/// told with the same drift.
#[test]
fn diodes_hold_the_drift_of_a_chain_with_a_failed_part() {
    let leaking =
        "[converter.chain.drift]\nleakage_current = \"10 µA\"\nleakage_voltage = \"250 V\"";
    let text = with_causes(leaking, &flying("10 %")).replace("\"270 V\"", "\"395 V\"");
    let folder = folder_with(&[("shelf.toml", &text)]);
    let folder = folder.path();
    succeed(folder, "faults shelf.toml --samples 10 --quiet --out faults");
    succeed(folder, "capacitors shelf.toml --samples 10 --quiet --out capacitors");
    let faults = json(&folder.join("faults/summary.json"));
    let sizes = json(&folder.join("capacitors/summary.json"));
    let switches = sizes["capacitors"]["drift"][0]["switches"].as_array().unwrap();
    let most = switches.iter().map(|own| number(&own["with_drift_V"])).fold(0.0, f64::max);
    assert!(most > 379.0 && most < 381.0, "{most}");
    let mut seen = 0;
    for own in faults["faults"].as_array().unwrap() {
        let is_alike = ["flying capacitor aged", "bypassed", "low gate off"]
            .iter()
            .any(|kind| own["kind"].as_str().unwrap().contains(kind));
        if own["arrangement"] != "chain" || !is_alike || own["outcome"] != "runs" {
            continue;
        }
        let ripple =
            if own["remaining"].as_f64().is_some_and(|left| left < 0.05) { 80.0 } else { 10.0 };
        for switch in own["switch_voltages"].as_array().unwrap() {
            let highest = number(&switch["highest_V"]);
            assert!(highest < 380.0 + ripple, "{} {switch}", own["kind"]);
            seen += usize::from(highest > 370.0);
        }
    }
    assert!(seen > 10, "{seen}");
}

/// What a fault would be blamed for is missed without one: unequal parts within their bands alone drift that far.
#[test]
fn limits_that_the_drift_misses_are_told_before_any_fault() {
    let text = with_causes(BY_GATES, &flying("10 %"));
    let folder = folder_with(&[("shelf.toml", &text)]);
    let said = succeed(folder.path(), "faults shelf.toml --samples 10 --out out");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = "misses limits without a fault, with the largest drift of its voltages: blocking";
    assert!(said.contains(told), "{said}");
    let summary = json(&folder.path().join("out/summary.json"));
    let healthy = &summary["healthy"].as_array().unwrap()[0];
    // A tenth of the first node's voltage more than two thirds of the input, and a little ripple.
    near(number(&healthy["highest_blocking_voltage_V"]), 380.0 * 2.0 / 3.0 * 1.1, 2e-3);
}

/// Where diodes alone keep the limit, and where it is missed without a drift at one operating point, no resistor is
/// told from another one.
#[test]
fn resistors_are_told_only_where_they_are_needed_and_help() {
    let leaking =
        "[converter.chain.drift]\nleakage_current = \"10 µA\"\nleakage_voltage = \"250 V\"";
    let high = "[[operating_point]]\nname = \"high\"\ninput_voltage = \"400 V\"\n\
        output_voltage = \"50 V\"\noutput_power = \"3 kW\"\ndrive = \"full-bridge\"\n\
        rectifier = \"full-bridge\"\n";
    let with_limit = |limit: &str| with_causes(leaking, high).replace("\"270 V\"", limit);
    for (limit, words, are_told) in [
        (
            "\"420 V\"",
            "asks for no balancing resistors: without any, no switch exceeds it.",
            [false; 2],
        ),
        ("\"262 V\"", "At “high” a switch misses the limit", [true, false]),
        ("\"300 V\"", "Balancing resistors of", [true; 2]),
    ] {
        let folder = folder_with(&[("shelf.toml", &with_limit(limit))]);
        let said = succeed(folder.path(), "capacitors shelf.toml --samples 10 --out out --tables");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(words), "{limit} {said}");
        assert_eq!(
            said.contains("Balancing resistors of"),
            are_told == [true; 2],
            "{limit} {said}"
        );
        let summary = json(&folder.path().join("out/summary.json"));
        let points = summary["capacitors"]["drift"].as_array().unwrap();
        let told: Vec<bool> = points.iter().map(|own| !own["balancing"].is_null()).collect();
        assert_eq!(told, are_told, "{limit}");
    }
}
