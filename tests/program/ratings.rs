//! What to order: recomputed from the samples; limits of single parts; derating.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{
    Frame, SHELF, TELECOM, changed, fairphase, floats, folder_with, json, parquet, succeed, truths,
    words,
};

const SAMPLES: usize = 1500;

/// Rank of the upper end of the two-sided 95 % interval of the 99 % quantile: the smallest u with
/// P(K ≥ u) ≤ 2.5 %, K binomial (David and Nagaraja, Order Statistics, 3rd edition, 2003, section 7.1),
/// summed term by term from K = n down.
fn upper_rank() -> usize {
    let (n, p) = (1500.0_f64, 0.99_f64);
    let (mut term, mut tail, mut rank) = (p.powf(n), 0.0, n);
    while tail + term <= 0.025 {
        tail += term;
        term *= rank / (n - rank + 1.0) * (1.0 - p) / p;
        rank -= 1.0;
    }
    (1..=SAMPLES).find(|k| *k as f64 > rank).unwrap()
}

fn with_columns(scenario: &str) -> String {
    changed(scenario, "[run]", "[run]\nrating_columns = true")
}

/// Values of a column by operating point, in the order of the samples.
fn loads(frame: &Frame, column: &str, arrangement: &str) -> BTreeMap<String, Vec<f64>> {
    let keys = words(frame, "operating_point").into_iter().zip(words(frame, "arrangement"));
    let mut by_point: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for ((point, own), value) in keys.zip(floats(frame, column)) {
        if own == arrangement {
            by_point.entry(point).or_default().push(value);
        }
    }
    by_point
}

fn rating(entry: &Value) -> f64 {
    entry["rating"].as_f64().unwrap()
}

fn text<'a>(entry: &'a Value, key: &str) -> &'a str {
    entry[key].as_str().unwrap()
}

fn order_statistic(mut values: Vec<f64>, rank: usize) -> f64 {
    values.sort_by(f64::total_cmp);
    values[rank - 1]
}

fn run(folder: &Path, options: &str) -> Value {
    succeed(folder, &format!("run shelf.toml --no-explain --quiet --out out {options}"));
    json(&folder.join("out/summary.json"))
}

#[test]
fn ratings_are_order_statistics_of_the_samples() {
    assert_eq!(upper_rank(), 1493);
    let folder = folder_with(&[("shelf.toml", &with_columns(TELECOM))]);
    let summary = run(folder.path(), &format!("--samples {SAMPLES}"));
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let entries = summary["ratings"].as_array().unwrap();
    let mut seen = 0;
    for entry in entries {
        let column = format!("{}_{}", text(entry, "part"), text(entry, "figure"));
        let by_point = loads(&frame, &column, text(entry, "arrangement"));
        let point = text(entry, "operating_point");
        let (values, tolerance) = if point == "all" {
            let highest = |n: usize| by_point.values().map(|own| own[n]).fold(f64::MIN, f64::max);
            // Every value of the column is its own: a quantile of them is exact.
            ((0..SAMPLES).map(highest).collect::<Vec<f64>>(), 1e-12)
        } else {
            // At each operating point values are counted in bins, of which the upper edge counts.
            (by_point[point].clone(), 2.0_f64.powi(-12))
        };
        let largest = values.iter().copied().fold(f64::MIN, f64::max);
        assert_eq!(entry["largest"].as_f64(), Some(largest), "{column} at {point}");
        let expected = order_statistic(values, upper_rank());
        let error = rating(entry) / expected - 1.0;
        assert!(
            (-1e-12..=tolerance).contains(&error),
            "{column} at {point}: {} {expected}",
            rating(entry)
        );
        assert!(entry["nominal"].as_f64().unwrap() > 0.0, "{column}");
        seen += 1;
    }
    assert!(seen > 300, "{seen}");
    let csv = fs::read_to_string(folder.path().join("out/ratings.csv")).unwrap();
    assert_eq!(csv.lines().count(), seen + 1);
}

/// Falling phases first: a low switch but the last interrupts what `check` says of its transition. For a
/// dead time at each instant it carries its own tank's current alone. At the first one that falls from what
/// the high switches interrupt to what the low ones do, and goes on to fall.
#[test]
fn inner_low_switches_hold_what_falling_phases_first_costs_them() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    let check: Value =
        serde_json::from_str(&succeed(folder.path(), "check shelf.toml --json")).unwrap();
    let summary = run(folder.path(), "--samples 400");
    for result in check["results"].as_array().unwrap() {
        let (point, arrangement) = (text(result, "operating_point"), text(result, "arrangement"));
        if arrangement != "chain" {
            continue;
        }
        let interrupted = |transition: &str| {
            let all = check["commutation"].as_array().unwrap().iter().filter(|own| {
                (text(own, "operating_point"), text(own, "arrangement")) == (point, "chain")
                    && text(own, "transition") == transition
                    && own["phase"].as_u64().unwrap() < 3
            });
            all.map(|own| own["turn_off_current_A"].as_f64().unwrap()).fold(0.0, f64::max)
        };
        let nominal = |figure: &str| {
            let all = summary["ratings"].as_array().unwrap().iter().find(|entry| {
                (text(entry, "part"), text(entry, "figure")) == ("inner_low_switch", figure)
                    && (text(entry, "operating_point"), text(entry, "arrangement"))
                        == (point, "chain")
            });
            all.unwrap()["nominal"].as_f64().unwrap()
        };
        let (low, high) = (interrupted("low to high"), interrupted("high to low"));
        assert!(low > 5.0 && low < high, "{point}: {low} {high}");
        assert!((nominal("turn_off_current_A") / low - 1.0).abs() < 1e-9, "{point}");
        let share = 150e-9 * result["switching_frequency_Hz"].as_f64().unwrap();
        let (rms, peak) = (nominal("rms_current_A"), nominal("peak_current_A"));
        assert!(rms > share.sqrt() * low && rms < (2.0 * share).sqrt() * high, "{point}: {rms}");
        assert!(peak > low && peak < 1.05 * high, "{point}: {peak} {high}");
    }
    let said = fairphase(folder.path(), "check shelf.toml --tables").stdout;
    assert!(said.contains("Falling phases first: inner low switches"), "{said}");
}

/// Three phases at a light load, where what a low switch carries while it waits in the dead times is the highest
/// current of all. Invented.
const LIGHT: &str = r#"
title = "Signal house, stand-by"
[converter]
phases = 3
[converter.tank]
resonant_inductance    = "18 µH"
resonant_capacitance   = "150 nF"
magnetising_inductance = "108 µH"
turns_ratio            = 0.62
series_resistance      = "90 mΩ"
rectifier_drop         = "0.9 V"
[converter.chain]
flying_capacitance = "5 µF"
[converter.frequency]
minimum = "30 kHz"
maximum = "400 kHz"
[[operating_point]]
name           = "stand-by"
input_voltage  = "542 V"
output_voltage = "120 V"
output_power   = "73 W"
drive          = "half-bridge"
rectifier      = "centre-tap"
[switch]
output_capacitance_low  = "900 pF"
output_capacitance_high = "980 pF"
dead_time               = "575 ns"
timing                  = "falling-first"
[tolerance.resonant_inductance]
shape = "uniform"
band  = "5 %"
[limits]
switch_peak_current = "1.5 A"
yield_target        = "90 %"
[run]
rating_columns = true
"#;

/// The highest current of any switch is that of the part with the highest, dead times included. No switch
/// interrupts more than its peak.
#[test]
fn the_worst_switch_is_the_worst_of_all_parts() {
    const HELD: &str = "held_low_switch";
    const PARTS: [&str; 5] =
        ["first_high_switch", "other_high_switch", "inner_low_switch", "last_low_switch", HELD];
    let folder = folder_with(&[("shelf.toml", LIGHT)]);
    run(folder.path(), "--samples 50");
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let of_chain = |column: &str| loads(&frame, column, "chain").remove("stand-by").unwrap();
    for figure in ["rms_current_A", "peak_current_A"] {
        let worst = of_chain(&format!("switch_{figure}"));
        let parts = PARTS.map(|part| of_chain(&format!("{part}_{figure}")));
        for (n, worst) in worst.into_iter().enumerate() {
            let highest = parts.each_ref().map(|own| own[n]).into_iter().fold(0.0, f64::max);
            assert!((worst / highest - 1.0).abs() < 1e-12, "{figure}: {worst} {highest}");
        }
    }
    for part in PARTS.into_iter().filter(|part| *part != HELD) {
        let own = |figure: &str| of_chain(&format!("{part}_{figure}_current_A"));
        for (peak, interrupted) in own("peak").into_iter().zip(own("turn_off")) {
            assert!(peak >= interrupted * (1.0 - 1e-9), "{part}: {peak} {interrupted}");
        }
    }
    let said = succeed(folder.path(), "check shelf.toml");
    assert!(said.contains("misses limits") && said.contains("at most 1.5"), "{said}");
}

/// An aged flying capacitor leaves all parts at work: the current of the dead times counts. Of a chain with another
/// fault it is not known, so that the limit is not judged.
#[test]
fn faults_are_judged_by_currents_of_dead_times_where_these_are_known() {
    let folder = folder_with(&[("shelf.toml", &format!("{LIGHT}\n[faults]\n"))]);
    let printed = succeed(folder.path(), "faults shelf.toml --samples 20 --json");
    let summary: Value = serde_json::from_str(&printed).unwrap();
    let of_chain = summary["faults"].as_array().unwrap().iter();
    let mut aged = 0;
    for fault in of_chain.filter(|own| text(own, "arrangement") == "chain") {
        if text(fault, "kind") == "flying capacitor aged" {
            aged += 1;
            let missed = &fault["missed"][0];
            assert_eq!(text(missed, "figure"), "switch_peak_current_A", "{fault}");
            assert!(missed["value"].as_f64().unwrap() > 1.6, "{fault}");
        } else {
            assert_eq!(fault["limits_not_judged"][0], "switch_peak_current_A", "{fault}");
        }
    }
    assert!(aged > 0);
}

/// Where phases switch together, voltages of the dead times count among those that a switch must block.
#[test]
fn blocking_ratings_hold_the_dead_times() {
    let scenario =
        changed(TELECOM, "timing             = \"falling-first\"", "timing = \"together\"");
    let folder = folder_with(&[("shelf.toml", &with_columns(&scenario))]);
    run(folder.path(), "--samples 200");
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let worst = loads(&frame, "blocking_voltage_V", "chain");
    let parts = ["first_high", "other_high", "inner_low", "last_low"]
        .map(|part| loads(&frame, &format!("{part}_switch_blocking_voltage_V"), "chain"));
    for (point, values) in worst {
        for (n, value) in values.into_iter().enumerate() {
            let highest = parts.iter().map(|part| part[&point][n]).fold(0.0, f64::max);
            assert!((highest / value - 1.0).abs() < 1e-12, "{point}: {highest} {value}");
        }
    }
}

/// Kirchhoff's laws between ratings of one converter: the largest sample of each.
#[test]
fn loads_of_samples_obey_the_laws() {
    let folder = folder_with(&[("shelf.toml", &with_columns(TELECOM))]);
    run(folder.path(), "--samples 200");
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let column = |name: &str| loads(&frame, name, "chain");
    let same = |a: &str, b: &str, factor: f64| {
        let both = column(a).into_values().flatten().zip(column(b).into_values().flatten());
        for (a_value, b_value) in both {
            assert!(
                (a_value / b_value / factor - 1.0).abs() < 1e-9,
                "{a}, {b}: {a_value} {b_value}"
            );
        }
    };
    same("resonant_inductor_rms_current_A", "transformer_primary_rms_current_A", 1.0);
    same("resonant_inductor_rms_current_A", "resonant_capacitor_rms_current_A", 1.0);
    // Parts of the secondary side are the same on rescaled tanks.
    let reverse = column("rectifier_reverse_voltage_V");
    assert_eq!(reverse, loads(&frame, "rectifier_reverse_voltage_V", "paralleled"));
    // Blocking voltages of all switches together are the figure that has always been there.
    let worst = column("blocking_voltage_V");
    let parts = ["first_high", "other_high", "inner_low", "last_low"]
        .map(|part| column(&format!("{part}_switch_blocking_voltage_V")));
    for (point, values) in worst {
        for (n, value) in values.into_iter().enumerate() {
            let highest = parts.iter().map(|part| part[&point][n]).fold(0.0, f64::max);
            assert!((highest / value - 1.0).abs() < 1e-12);
        }
    }
}

#[test]
fn converters_without_a_steady_state_stand_above_every_rating() {
    // The band ends so close to the nominal frequency that many converters leave it.
    let narrow = changed(SHELF, "maximum = \"300 kHz\"", "maximum = \"170.5 kHz\"");
    let folder = folder_with(&[("shelf.toml", &narrow)]);
    let summary = run(folder.path(), "--samples 400");
    let out = summary["results"][0]["counts"]["out_of_range"].as_u64().unwrap();
    assert!(out > 8, "the test needs some: {out}");
    for entry in summary["ratings"].as_array().unwrap() {
        assert!(entry["rating"].is_null() && entry["largest"].is_number(), "{entry}");
    }
    let said =
        fairphase(folder.path(), "run shelf.toml --samples 400 --no-explain --tables --out out");
    assert!(said.stdout.contains("beyond"), "{}", said.stdout);
}

#[test]
fn limits_of_parts_count_in_the_yield() {
    let unlimited = folder_with(&[("shelf.toml", SHELF)]);
    let entries = run(unlimited.path(), "--samples 400");
    let middle = |part: &str, figure: &str| {
        let all = entries["ratings"].as_array().unwrap().iter().find(|entry| {
            (text(entry, "part"), text(entry, "figure")) == (part, figure)
                && text(entry, "operating_point") == "all"
                && text(entry, "arrangement") == "chain"
        });
        let all = all.unwrap();
        0.5 * (all["nominal"].as_f64().unwrap() + rating(all))
    };
    let (flux, reverse) =
        (middle("transformer", "volt_seconds_Vs"), middle("rectifier", "peak_current_A"));
    let limits = format!(
        "[[limits.part]]\npart = \"transformer\"\nvolt_seconds = \"{} µVs\"\n[[limits.part]]\npart = \
         \"rectifier\"\npeak_current = \"{reverse} A\"\n[run]",
        flux * 1e6
    );
    let limited = with_columns(&changed(SHELF, "[run]", &limits));
    let folder = folder_with(&[("shelf.toml", &limited)]);
    let summary = run(folder.path(), "--samples 400");
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let chain = |column: &str| loads(&frame, column, "chain").into_values().next().unwrap();
    let both =
        chain("transformer_volt_seconds_Vs").into_iter().zip(chain("rectifier_peak_current_A"));
    let errors = chain("sharing_error").into_iter();
    let most = summary["limits"]["sharing_error"].as_f64().unwrap();
    let good = both.zip(errors).filter(|((a, b), e)| *a <= flux && *b <= reverse && *e <= most);
    let good = good.count() as u64;
    assert!(0 < good && good < 400);
    assert_eq!(summary["joint"]["chain"]["yield"]["successes"].as_u64(), Some(good));
    let meets = truths(&frame, "meets_limits").into_iter().zip(words(&frame, "arrangement"));
    assert_eq!(meets.filter(|(meets, own)| *meets && own == "chain").count() as u64, good);
    let missed = summary["results"][0]["missed"].as_object().unwrap();
    assert!(missed["transformer_volt_seconds_Vs"].as_u64().unwrap() > 0, "{missed:?}");
    // The reference has the same rectifiers, but another transformer.
    let missed = summary["results"][1]["missed"].as_object().unwrap();
    assert!(missed.contains_key("rectifier_peak_current_A"), "{missed:?}");
    assert!(!missed.contains_key("transformer_volt_seconds_Vs"), "{missed:?}");
}

#[test]
fn derating_divides_what_to_order() {
    let derated = changed(SHELF, "[run]", "[derating]\nrectifier_voltage = \"80 %\"\n[run]");
    let folder = folder_with(&[("shelf.toml", &derated)]);
    let summary = run(folder.path(), "--samples 400");
    for entry in summary["ratings"].as_array().unwrap() {
        if text(entry, "operating_point") == "all" {
            let is_derated = text(entry, "figure") == "reverse_voltage_V";
            let factor = if is_derated { 0.8 } else { 1.0 };
            assert_eq!(entry["order"].as_f64(), Some(rating(entry) / factor), "{entry}");
        } else {
            assert!(entry["order"].is_null());
        }
    }
}

/// A converter with an operating point in each drive; in half-bridge drive it is that with this name.
fn in_both_drives() -> String {
    let half = "[[operating_point]]\nname = \"half\"\ninput_voltage = \"380 V\"\noutput_voltage = \
                \"24 V\"\noutput_power = \"1 kW\"\ndrive = \"half-bridge\"\nrectifier = \
                \"full-bridge\"\n\n[tolerance.resonant_inductance]";
    changed(SHELF, "[tolerance.resonant_inductance]", half)
}

/// In half-bridge drive a low switch of the return leg carries its tank's current all the time (Kirchhoff's
/// law). In full-bridge drive it is one of the low switches. One rating holds for both.
#[test]
fn the_return_leg_has_one_rating_for_both_drives() {
    let folder = folder_with(&[("shelf.toml", &with_columns(&in_both_drives()))]);
    let summary = run(folder.path(), &format!("--samples {SAMPLES}"));
    let frame = parquet(&folder.path().join("out/samples.parquet"));
    let column = |name: &str| loads(&frame, name, "chain");
    let (own, tank) =
        (column("return_low_switch_rms_current_A"), column("resonant_inductor_rms_current_A"));
    let full = own.keys().find(|point| *point != "half").unwrap();
    let low = ["inner", "last"].map(|place| column(&format!("{place}_low_switch_rms_current_A")));
    for n in 0..SAMPLES {
        assert!((own["half"][n] / tank["half"][n] - 1.0).abs() < 1e-12);
        assert!(own[full][n] > 0.0 && own[full][n] <= low[0][full][n].max(low[1][full][n]));
    }
    let entry = |figure: &str, point: &str| {
        summary["ratings"].as_array().unwrap().iter().find(|entry| {
            (text(entry, "part"), text(entry, "figure")) == ("return_low_switch", figure)
                && (text(entry, "operating_point"), text(entry, "arrangement")) == (point, "chain")
        })
    };
    let highest = (0..SAMPLES).map(|n| own["half"][n].max(own[full][n])).collect();
    let expected = order_statistic(highest, upper_rank());
    let found = rating(entry("rms_current_A", "all").unwrap());
    assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
    // A switch that is held on blocks nothing.
    assert!(
        entry("blocking_voltage_V", "all").is_some() && entry("blocking_voltage_V", full).is_some()
    );
    assert!(entry("blocking_voltage_V", "half").is_none());
    let said =
        fairphase(folder.path(), "run shelf.toml --samples 400 --no-explain --tables --out out")
            .stdout;
    assert!(
        said.contains("low switches, return leg") && !said.contains("low switches held on"),
        "{said}"
    );
    // In one drive alone the same switches are rated as before.
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let summary = run(folder.path(), "--samples 400");
    assert!(!summary["ratings"].to_string().contains("return_low_switch"));
}

/// Switches that are held on exist in half-bridge drive alone: nothing is demanded of them elsewhere.
#[test]
fn limits_of_parts_hold_where_the_part_is_used() {
    let both = in_both_drives();
    let held = "[[limits.part]]\npart = \"held_low_switch\"\nrms_current = \"1 kA\"\n[run]";
    let good = |scenario: &str| {
        let folder = folder_with(&[("shelf.toml", scenario)]);
        let summary = run(folder.path(), "--samples 400");
        let points: Vec<u64> =
            (0..4).map(|n| summary["results"][n]["yield"]["successes"].as_u64().unwrap()).collect();
        (points, summary["results"][0]["missed"].as_object().unwrap().len())
    };
    let (without, (with, demands)) = (good(&both).0, good(&changed(&both, "[run]", held)));
    assert_eq!(with, without);
    assert_eq!(demands, 2, "regulation and the sharing error in full-bridge drive");
    assert!(with[0] > 0);
}

/// A limit on the low switches of the return leg is judged in one drive alone too, where the table of ratings has no
/// row of their own for them otherwise: a limit that none misses changes nothing, one that all miss fails all.
#[test]
fn a_limit_of_the_return_leg_is_judged_in_one_drive() {
    let half = SHELF
        .replace("\"380 V\"", "\"760 V\"")
        .replace("drive     = \"full-bridge\"", "drive     = \"half-bridge\"");
    assert!(half.contains("half-bridge"));
    for text in [SHELF, &half] {
        let good = |limit: Option<&str>| {
            let limit = limit.map_or_else(String::new, |limit| {
                format!(
                    "[[limits.part]]\npart = \"return_low_switch\"\nrms_current = \"{limit}\"\n"
                )
            });
            let limited = changed(text, "[run]", &format!("{limit}[run]"));
            let folder = folder_with(&[("shelf.toml", &limited)]);
            let summary = run(folder.path(), "--samples 400");
            summary["joint"]["chain"]["yield"]["successes"].as_u64().unwrap()
        };
        let without = good(None);
        assert!(without > 0);
        assert_eq!(good(Some("1 kA")), without);
        assert_eq!(good(Some("1 mA")), 0);
    }
}

/// Other verbs follow: a limit that every converter misses leaves no good one.
#[test]
fn other_verbs_judge_limits_of_parts() {
    let limits = "[[limits.part]]\npart = \"output_capacitor\"\nrms_current = \"1 mA\"\n[run]";
    let folder = folder_with(&[("shelf.toml", &changed(SHELF, "[run]", limits))]);
    let check: Value =
        serde_json::from_str(&succeed(folder.path(), "check shelf.toml --json")).unwrap();
    assert_eq!(check["results"][0]["missed"][0]["figure"], "output_capacitor_rms_current_A");
    let said = fairphase(folder.path(), "bands shelf.toml --samples 700 --out bands --tables");
    assert!(
        said.stdout.contains("ripple") || said.stdout.contains("output capacitors"),
        "{}",
        said.stdout
    );
}

#[test]
fn wrong_limits_of_parts_are_explained() {
    let wrong = |table: &str, expected: &[&str]| {
        let folder = folder_with(&[(
            "shelf.toml",
            &changed(SHELF, "[run]", &format!("[[limits.part]]\n{table}\n[run]")),
        )]);
        let said = fairphase(folder.path(), "check shelf.toml --tables");
        assert_eq!(said.status, 2, "{table}");
        for words in expected {
            assert!(said.stderr.contains(words), "{table}: {}", said.stderr);
        }
    };
    wrong(
        "part = \"rectifier\"\nblocking_voltage = \"9 V\"",
        &["`blocking_voltage` is no rating of", "`reverse_voltage`"],
    );
    wrong("part = \"rectifier\"", &["tells no limit", "`rms_current`"]);
    wrong(
        "part = \"held_low_switch\"\nrms_current = \"9 A\"",
        &["no operating point loads it so", "half-bridge drive"],
    );
    wrong("part = \"diode\"\nrms_current = \"9 A\"", &["\"rectifier\""]);
    wrong(
        "part = \"high_switch\"\narrangement = \"chain\"\nrms_current = \"9 A\"",
        &["a chain converter has no `high_switch`"],
    );
    wrong(
        "part = \"flying_capacitor\"\nafter_phase = 3\nrms_current = \"9 A\"",
        &["3 phases have 2 flying capacitors"],
    );
    wrong(
        "part = \"rectifier\"\nafter_phase = 1\nrms_current = \"9 A\"",
        &["`after_phase` goes with"],
    );
    wrong("part = \"transformer\"\nvolt_seconds = \"9 A\"", &["µVs"]);
    wrong("rms_current = \"9 A\"", &["lacks `part`"]);
    let once = "part = \"rectifier\"\nrms_current = \"9 A\"\nmean_current = \"9 A\"";
    let again = "[[limits.part]]\npart = \"rectifier\"\nmean_current = \"8 A\"";
    wrong(&format!("{once}\n{again}"), &["`mean_current` of the `rectifier` is limited twice"]);
    let all = "part = \"flying_capacitor\"\nrms_current = \"9 A\"";
    let one =
        "[[limits.part]]\npart = \"flying_capacitor\"\nafter_phase = 2\nrms_current = \"8 A\"";
    wrong(&format!("{all}\n{one}"), &["`rms_current` of the `flying_capacitor` is limited twice"]);
}
