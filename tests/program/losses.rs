//! Losses, efficiency and junction temperatures from outside: figures against each other and by hand,
//! what is shown where, what is refused.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::fs;

use serde_json::Value;

use crate::support::{
    Frame, SHELF, changed, fairphase, floats, folder_with, json, parquet, succeed,
};

/// Invented losses of the invented shelf: three phases in full bridge, full-bridge rectifiers.
const LOSSES: &str = "\
[converter.losses]
on_resistance                = \"30 mΩ\"
primary_winding_resistance   = \"8 mΩ\"
secondary_winding_resistance = \"1.5 mΩ\"
rectifier_resistance         = \"2 mΩ\"
switch_thermal_resistance    = \"2.5 K/W\"
rectifier_thermal_resistance = \"3 °C/W\"

[temperature_coefficient.on_resistance]
value = \"0.7 %/K\"
";

fn shelf(more: &str) -> String {
    let point = "rectifier = \"full-bridge\"\n";
    let shelf = changed(SHELF, "\"30 mΩ\"", "\"4 mΩ\"");
    let warm = format!("{point}ambient_temperature = \"50 °C\"\n");
    format!("{}\n{LOSSES}\n{more}\n", changed(&shelf, point, &warm))
}

fn check(text: &str) -> Value {
    let folder = folder_with(&[("shelf.toml", text)]);
    serde_json::from_str(&succeed(folder.path(), "check shelf.toml --json")).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} of {value}"))
}

/// By hand, from the currents that the same summary tells: each high switch carries the tank's current
/// half of the time, R I²/2, and T = 50 °C + Θ P.
#[test]
fn nominal_losses_follow_from_the_currents() {
    let summary = check(&shelf(""));
    for result in summary["results"].as_array().unwrap() {
        let losses = &result["losses"];
        let kinds =
            ["switch_loss_W", "winding_loss_W", "rectifier_loss_W", "series_resistance_loss_W"];
        let sum: f64 = kinds.iter().map(|kind| number(losses, kind)).sum();
        assert!((sum / number(result, "loss_W") - 1.0).abs() < 1e-12, "{result}");
        let output = 3000.0;
        let efficiency = output / (output + sum);
        assert!((number(losses, "efficiency") - efficiency).abs() < 1e-12);
        let scale = if result["arrangement"] == "chain" { 1.0 } else { 1.0 / 3.0 };
        let resistance = 0.03 / (scale * scale);
        for (k, phase) in losses["phases"].as_array().unwrap().iter().enumerate() {
            let high = &phase["switches"][0];
            let (loss, junction) = (number(high, "loss_W"), number(high, "junction_temperature_C"));
            let tank = result["rms_tank_current_A"][k].as_f64().unwrap() * scale;
            let by_hand = 0.5 * resistance * tank * tank * (1.0 + 0.007 * (junction - 25.0));
            assert!((loss / by_hand - 1.0).abs() < 1e-9, "{loss} W against {by_hand} W");
            assert!((junction - 50.0 - 2.5 * loss).abs() < 1e-9, "{junction} °C");
            let diode = &phase["diode"];
            let heated = 50.0 + 3.0 * number(diode, "loss_W");
            assert!((number(diode, "junction_temperature_C") - heated).abs() < 1e-9);
            assert_eq!(phase["diodes"], 4);
        }
    }
    // The first low switches of the chain carry next to nothing, the last one as much as a high switch.
    let chain = &summary["results"][0]["losses"]["phases"];
    let low = |k: usize| number(&chain[k]["switches"][1], "loss_W");
    assert!(low(0) < 1e-3 && low(1) < 1e-3 && low(2) > 1.0, "{chain}");
}

/// Of equal tanks a run without tolerances is the nominal converter.
#[test]
fn a_run_tells_the_same_in_columns_that_are_there_where_they_are_told() {
    let scatter = "[tolerance.on_resistance]\nshape = \"uniform\"\nband = \"20 %\"\n\
                   [tolerance.switch_thermal_resistance]\nshape = \"uniform\"\nband = \"10 %\"\n";
    let folder = folder_with(&[("shelf.toml", &shelf(scatter)), ("plain.toml", SHELF)]);
    let said = succeed(folder.path(), "run shelf.toml --samples 120 --tables --out run");
    assert!(said.contains("efficiency") && said.contains("hottest junction"), "{said}");
    succeed(folder.path(), "run plain.toml --samples 120 --out plain");
    let frame = parquet(&folder.path().join("run/samples.parquet"));
    let column = |name: &str| floats(&frame, name);
    let (loss, kinds) = (column("loss_W"), ["switch_loss_W", "winding_loss_W", "rectifier_loss_W"]);
    let rest = column("series_resistance_loss_W");
    let kinds = kinds.map(column);
    for n in 0..loss.len() {
        let sum: f64 = kinds.iter().map(|kind| kind[n]).sum::<f64>() + rest[n];
        assert!((sum / loss[n] - 1.0).abs() < 1e-12);
        let efficiency = 3000.0 / (3000.0 + loss[n]);
        assert!((column("efficiency")[n] / efficiency - 1.0).abs() < 1e-9);
    }
    let hottest = column("junction_temperature_C");
    let both =
        [column("switch_junction_temperature_C"), column("rectifier_junction_temperature_C")];
    assert!((0..hottest.len()).all(|n| hottest[n] == both[0][n].max(both[1][n])));
    let spread = |values: &[f64]| {
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    assert!(spread(&both[0]) > 1.0, "on-resistances and cooling scatter");
    let parts = parquet(&folder.path().join("run/population.parquet"));
    let drawn: Vec<f64> =
        (1..=12).flat_map(|m| floats(&parts, &format!("on_resistance_{m}_ohm"))).collect();
    assert!(drawn.iter().all(|ohm| (0.024..=0.036).contains(ohm)) && spread(&drawn) > 0.01);
    let summary = json(&folder.path().join("run/summary.json"));
    assert!(summary["results"][0]["figures"]["efficiency"]["p50"].is_number());
    let page = fs::read_to_string(folder.path().join("run/report.html")).unwrap();
    assert!(page.contains("hottest switch, °C"));
    // Nothing of it where nothing is told.
    let plain = fs::read_to_string(folder.path().join("plain/summary.json")).unwrap();
    assert!(!plain.contains("junction") && !plain.contains("efficiency"));
    let page = fs::read_to_string(folder.path().join("plain/report.html")).unwrap();
    assert!(!page.contains("hottest"));
}

/// By hand: a diode of a bridge blocks the output and the forward voltage of the one that conducts, at its
/// peak current and as warm as `check` tells.
#[test]
fn a_diode_blocks_the_forward_voltage_of_the_other_one_too() {
    let warm = "[temperature_coefficient.rectifier_drop]\nvalue = \"-0.2 %/K\"\n\
                [temperature_coefficient.rectifier_resistance]\nvalue = \"0.3 %/K\"\n";
    let folder = folder_with(&[("shelf.toml", &shelf(warm))]);
    succeed(folder.path(), "run shelf.toml --samples 60 --out run");
    let checked = check(&shelf(warm));
    let diode = &checked["results"][0]["losses"]["phases"][0]["diode"];
    let rise = number(diode, "junction_temperature_C") - 25.0;
    let summary = json(&folder.path().join("run/summary.json"));
    let rows = summary["ratings"].as_array().unwrap();
    let nominal = |figure: &str| {
        let is_asked = |row: &&Value| {
            row["arrangement"] == "chain" && row["part"] == "rectifier" && row["figure"] == figure
        };
        number(rows.iter().find(is_asked).unwrap(), "nominal")
    };
    let drop = 0.7 * (1.0 - 0.002 * rise);
    let slope = 0.002 * (1.0 + 0.003 * rise) * nominal("peak_current_A");
    let (found, expected) = (nominal("reverse_voltage_V"), 48.0 + drop + slope);
    assert!(rise > 30.0 && slope > 0.05, "{rise} K, {slope} V");
    assert!((found - expected).abs() < 1e-3, "{found} V against {expected} V");
}

/// New draws lie behind all others: what was drawn before stays, to the bit.
#[test]
fn a_tolerance_of_losses_leaves_the_other_draws_as_they_are() {
    let scatter = "[tolerance.on_resistance]\nshape = \"uniform\"\nband = \"20 %\"\n";
    let folder = folder_with(&[("shelf.toml", &shelf(scatter)), ("plain.toml", SHELF)]);
    succeed(folder.path(), "run shelf.toml --samples 60 --out run");
    succeed(folder.path(), "run plain.toml --samples 60 --out plain");
    let of = |run: &str| {
        let frame = parquet(&folder.path().join(run).join("population.parquet"));
        (1..=3)
            .flat_map(|k| floats(&frame, &format!("resonant_inductance_{k}_H")))
            .collect::<Vec<_>>()
    };
    assert_eq!(of("run"), of("plain"));
}

/// The random streams of a result below a place, with the places.
fn streams(value: &Value, place: &str, all: &mut Vec<(u64, String)>) {
    match value {
        Value::Object(own) => {
            for (key, value) in own {
                match value.as_u64().filter(|_| key == "stream") {
                    Some(stream) => all.push((stream, place.to_owned())),
                    None => streams(value, &format!("{place}/{key}"), all),
                }
            }
        }
        Value::Array(own) => own.iter().for_each(|value| streams(value, place, all)),
        _ => {}
    }
}

/// Every part that may have a band, those that tell losses apart too: no two questions are answered by the same
/// fresh samples. What to specify is told once more where it was verified.
#[test]
fn bands_of_all_parts_are_verified_on_samples_of_their_own() {
    let parts = [
        "on_resistance",
        "primary_winding_resistance",
        "secondary_winding_resistance",
        "rectifier_resistance",
        "switch_thermal_resistance",
        "rectifier_thermal_resistance",
    ];
    let scatter =
        |part: &&str| format!("[tolerance.{part}]\nshape = \"uniform\"\nband = \"10 %\"\n");
    let text = shelf(&parts.iter().map(scatter).collect::<String>());
    let folder = folder_with(&[("shelf.toml", &text)]);
    succeed(folder.path(), "bands shelf.toml --samples 620 --out bands");
    let mut all = Vec::new();
    streams(&json(&folder.path().join("bands/summary.json")), "", &mut all);
    all.retain(|(_, place)| !place.starts_with("/decision/bands_to_specify"));
    let count = all.len();
    all.sort();
    all.dedup_by_key(|(stream, _)| *stream);
    assert!(all.len() == count && count > 13, "{count}: {all:?}");
}

/// A limit on the hottest junction counts like any other: every sample above it misses it.
#[test]
fn a_limit_on_the_junction_counts_in_the_yield() {
    let scatter = "[tolerance.on_resistance]\nshape = \"uniform\"\nband = \"20 %\"\n";
    let limit = |celsius: &str| {
        let limited = format!("[limits]\njunction_temperature = \"{celsius} °C\"");
        changed(&shelf(scatter), "[limits]", &limited)
    };
    let folder = folder_with(&[("shelf.toml", &limit("85"))]);
    succeed(folder.path(), "run shelf.toml --samples 400 --threads 1 --out run");
    let frame = parquet(&folder.path().join("run/samples.parquet"));
    let summary = json(&folder.path().join("run/summary.json"));
    let hottest = floats(&frame, "junction_temperature_C");
    // Rows: chain and paralleled of each sample.
    let sum: u64 = (0..2)
        .map(|n| summary["results"][n]["missed"]["junction_temperature_C"].as_u64().unwrap())
        .sum();
    let above = hottest.iter().filter(|own| **own > 85.0).count() as u64;
    assert!(above > 0 && above < hottest.len() as u64, "{above}: choose another limit");
    assert_eq!(sum, above);
    assert_eq!(summary["limits"]["chain"]["junction_temperature_C"], 85.0);
    let again = folder_with(&[("shelf.toml", &limit("85"))]);
    succeed(again.path(), "run shelf.toml --samples 400 --threads 8 --out run");
    for file in ["summary.json", "samples.parquet", "population.parquet"] {
        let [one, eight] =
            [&folder, &again].map(|f| fs::read(f.path().join("run").join(file)).unwrap());
        assert!(one == eight, "{file} differs with 8 threads");
    }
    let said =
        succeed(folder_with(&[("shelf.toml", &limit("60"))]).path(), "check shelf.toml --tables");
    assert!(said.contains("junction temperature") && said.contains("at most 60"), "{said}");
}

/// Invented switches that turn on hard.
const HARD: &str = "[switch]\noutput_capacitance = \"1 nF\"\ndead_time = \"15 ns\"\n";

/// What the switches lose at turn-on warms them, and counts in the efficiency: by hand, from what the
/// summary tells of each switch, and of the dead times.
#[test]
fn losses_at_turn_on_count() {
    let summary = check(&shelf(HARD));
    let without = check(&shelf(""));
    for (n, result) in summary["results"].as_array().unwrap().iter().enumerate() {
        let losses = &result["losses"];
        let phases = losses["phases"].as_array().unwrap();
        let switches: Vec<&Value> =
            phases.iter().flat_map(|phase| phase["switches"].as_array().unwrap()).collect();
        let of_all: f64 = switches.iter().map(|own| number(own, "turn_on_loss_W")).sum();
        let told = number(losses, "turn_on_loss_W");
        assert!(told > 1.0 && (of_all / told - 1.0).abs() < 1e-12, "{told} W");
        assert!((number(result, "commutation_loss_W") / told - 1.0).abs() < 1e-12, "{result}");
        for own in switches {
            let [loss, junction] = ["loss_W", "junction_temperature_C"].map(|key| number(own, key));
            assert!((junction - 50.0 - 2.5 * loss).abs() < 1e-9, "{own}");
        }
        let kinds = ["switch_loss_W", "winding_loss_W", "rectifier_loss_W", "turn_on_loss_W"];
        let sum: f64 = kinds.iter().map(|kind| number(losses, kind)).sum::<f64>()
            + number(losses, "series_resistance_loss_W");
        assert!((number(losses, "efficiency") - 3000.0 / (3000.0 + sum)).abs() < 1e-12);
        let soft = &without["results"][n]["losses"];
        let first_high =
            |losses: &Value| number(&losses["phases"][0]["switches"][0], "junction_temperature_C");
        assert!(first_high(losses) > first_high(soft) + 1.0, "{losses}");
        assert!(soft["turn_on_loss_W"].is_null());
    }
    let say = |command: &str| {
        let said = succeed(folder_with(&[("shelf.toml", &shelf(HARD))]).path(), command);
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let said = say("check shelf.toml --tables");
    assert!(said.contains("Losses at turn-on are included, those at turn-off are not"), "{said}");
    let said = say("check shelf.toml --solver averaged --tables");
    assert!(said.contains("Losses at turn-on and turn-off are not included"), "{said}");
}

/// A lowest efficiency counts like any other limit: every sample below it misses it, and the nominal
/// converter is judged by it.
#[test]
fn a_limit_on_the_efficiency_counts_in_the_yield() {
    let scatter = "[tolerance.on_resistance]\nshape = \"uniform\"\nband = \"40 %\"\n";
    let limited = |least: &str| {
        let limits = format!("[limits]\nefficiency = \"{least} %\"");
        changed(&shelf(&format!("{HARD}{scatter}")), "[limits]", &limits)
    };
    let nominal = check(&shelf(HARD));
    let nominal = nominal["results"][0]["losses"]["efficiency"].as_f64().unwrap();
    let percent = format!("{:.4}", 100.0 * nominal - 0.001);
    let least = percent.parse::<f64>().unwrap() / 100.0;
    let folder = folder_with(&[("shelf.toml", &limited(&percent))]);
    succeed(folder.path(), "run shelf.toml --samples 300 --out run");
    let frame = parquet(&folder.path().join("run/samples.parquet"));
    let summary = json(&folder.path().join("run/summary.json"));
    let efficiency = floats(&frame, "efficiency");
    let below = efficiency.iter().filter(|own| **own < least).count() as u64;
    let missed = |n: usize| summary["results"][n]["missed"]["lost_share"].as_u64().unwrap();
    assert!(below > 100 && below < 500, "{below} of 600: choose another limit");
    assert_eq!(missed(0) + missed(1), below);
    let lost = floats(&frame, "lost_share");
    assert!((0..lost.len()).all(|n| (lost[n] + efficiency[n] - 1.0).abs() < 1e-12));
    assert!((summary["limits"]["chain"]["efficiency"].as_f64().unwrap() - least).abs() < 1e-12);
    let folder = folder_with(&[("shelf.toml", &limited("99"))]);
    let said = succeed(folder.path(), "check shelf.toml --tables").replace(['\n', '\u{a0}'], " ");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("lost power") && said.contains("(efficiency at least 99 %)"), "{said}");
    let plain = changed(SHELF, "[limits]", "[limits]\nefficiency = \"95 %\"");
    let folder = folder_with(&[("shelf.toml", &plain)]);
    let said = fairphase(folder.path(), "check shelf.toml --tables");
    assert!(
        said.status == 2 && said.stderr.contains("losses of the parts are not told"),
        "{}",
        said.stderr
    );
}

/// Where every switch runs away nothing is solved, and every verb says why.
#[test]
fn a_converter_without_steady_temperatures_is_not_solved() {
    for (from, to) in [("2.5 K/W", "80 K/W"), ("2.5 K/W", "900 K/W"), ("3 °C/W", "300 °C/W")] {
        let warmer = "[temperature_coefficient.rectifier_resistance]\nvalue = \"0.9 %/K\"\n";
        let hot = changed(&shelf(warmer), &format!("\"{from}\""), &format!("\"{to}\""));
        let folder = folder_with(&[("shelf.toml", &hot)]);
        let said = fairphase(folder.path(), "check shelf.toml --tables");
        let is_told = said.stderr.contains("no steady temperature");
        assert!(said.status != 0 && is_told, "{to}: {}", said.stderr);
    }
}

/// What tells of parts that no one told of is an error that points at the place.
#[test]
fn what_has_no_nominal_value_is_refused() {
    let cases = [
        ("[tolerance.on_resistance]\nshape = \"uniform\"\nband = \"5 %\"", "no nominal value"),
        (
            "[temperature_coefficient.rectifier_resistance]\nvalue = \"0.3 %/K\"",
            "without a nominal value",
        ),
        ("[converter.losses]\nswitch_thermal_resistance = \"2 K/W\"", "without `on_resistance`"),
        ("[converter.losses]\non_resistance = \"2 K/W\"", "wrong unit"),
        (
            "[converter.losses]\nrectifier_resistance = \"2 mΩ\"\n[converter.losses.paralleled]\non_resistance = \"1 Ω\"",
            "tells of switches",
        ),
    ];
    for (more, expected) in cases {
        let text = format!("{SHELF}\n{more}\n");
        let folder = folder_with(&[("shelf.toml", &text)]);
        let said = fairphase(folder.path(), "check shelf.toml --tables");
        assert!(said.status != 0 && said.stderr.contains(expected), "{expected}: {}", said.stderr);
    }
    let limited = changed(SHELF, "[limits]", "[limits]\njunction_temperature = \"90 °C\"");
    let folder = folder_with(&[("shelf.toml", &limited)]);
    let said = fairphase(folder.path(), "check shelf.toml --tables");
    assert!(said.status != 0 && said.stderr.contains("no thermal resistance"), "{}", said.stderr);
}

/// What scatters of losses, beside the parts of every converter.
const SCATTERED: &str = "\
[tolerance.on_resistance]
shape = \"uniform\"
band  = \"25 %\"
[tolerance.primary_winding_resistance]
shape = \"uniform\"
band  = \"10 %\"
[tolerance.rectifier_resistance]
shape = \"uniform\"
band  = \"20 %\"
[tolerance.switch_thermal_resistance]
shape = \"uniform\"
band  = \"15 %\"
[tolerance.rectifier_thermal_resistance]
shape = \"uniform\"
band  = \"15 %\"
";

/// What `units` tells as `run` does.
const FIGURES: [&str; 9] = [
    "switching_frequency_Hz",
    "sharing_error",
    "switch_rms_current_A",
    "switch_peak_current_A",
    "blocking_voltage_V",
    "loss_W",
    "efficiency",
    "switch_junction_temperature_C",
    "rectifier_junction_temperature_C",
];

/// The parts file of a run tells the parts that tell losses apart, and coefficients of parts that heat
/// themselves: `units` finds every figure of these samples again, which nominal parts do not give. A run
/// begins with a solution nearby, where two rounds of losses may differ by 2e-5 of the output power. Phases that
/// are paralleled make several times that of it in their currents.
#[test]
fn units_reproduce_a_run_whose_losses_scatter() {
    let text = changed(
        &shelf(SCATTERED),
        "value = \"0.7 %/K\"",
        "value = \"0.7 %/K\"\nshape = \"uniform\"\nband = \"0.2 %/K\"",
    );
    let folder = folder_with(&[("shelf.toml", &text)]);
    let path = |name: &str| folder.path().join(name);
    succeed(folder.path(), "run shelf.toml --samples 60 --no-explain --quiet --out run");
    let worst = fs::read_to_string(path("run/worst_converters.csv")).unwrap();
    let header = worst.lines().next().unwrap();
    assert_eq!(header.split(',').count(), 10 + 4 + 1 + 1 + 1 + 4 + 1 + 4, "{header}");
    cells_are_those_of_the_population(&worst, &parquet(&path("run/population.parquet")));
    let plain = worst.lines().map(|row| {
        let cells = row.split(',').take(10);
        cells.collect::<Vec<_>>().join(",") + "\n"
    });
    fs::write(path("plain.csv"), plain.collect::<String>()).unwrap();
    let solved = |parts: &str| -> Value {
        let verb = format!("units shelf.toml --parts {parts} --json --out units");
        serde_json::from_str(&succeed(folder.path(), &verb)).unwrap()
    };
    let (again, without) = (solved("run/worst_converters.csv"), solved("plain.csv"));
    losses_add_up(&fs::read_to_string(path("units/unit_losses.csv")).unwrap());
    let run = json(&path("run/summary.json"));
    let frame = parquet(&path("run/samples.parquet"));
    let arrangements = crate::support::words(&frame, "arrangement");
    let mut changed = 0;
    for result in run["results"].as_array().unwrap() {
        let (arrangement, sample) =
            (result["arrangement"].as_str().unwrap(), number(&result["worst"], "sample"));
        let samples = crate::support::counts(&frame, "sample");
        let is_it = |n: &usize| samples[*n] as f64 == sample && arrangements[*n] == arrangement;
        let row = (0..samples.len()).find(is_it).unwrap();
        let begin = format!("sample {sample}: worst {arrangement} at ");
        let of = |units: &Value| {
            let is_it = |own: &&Value| {
                own["unit"].as_str().unwrap().starts_with(&begin)
                    && own["arrangement"] == result["arrangement"]
            };
            units["results"].as_array().unwrap().iter().find(is_it).unwrap().clone()
        };
        for figure in FIGURES {
            let sampled = floats(&frame, figure)[row];
            let (own, nominal) = (number(&of(&again), figure), number(&of(&without), figure));
            let scale = if figure == "sharing_error" { 1.0 } else { sampled };
            let error = ((own - sampled) / scale).abs();
            let tolerance = if arrangement == "chain" { 2e-5 } else { 1e-4 };
            assert!(error < tolerance, "{arrangement} {figure}: {own} against {sampled}");
            changed += usize::from(((nominal - sampled) / scale).abs() > 5.0 * tolerance);
        }
    }
    assert!(changed >= 6, "nominal losses give others: {changed}");
}

/// The kinds of losses of each unit make up all of them, and the efficiency of 3 kW.
fn losses_add_up(text: &str) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let columns: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let mut rows = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let cell = |name: &str| -> f64 {
            let place = columns.iter().position(|own| own == name);
            record[place.unwrap_or_else(|| panic!("no {name} in {columns:?}"))].parse().unwrap()
        };
        let kinds =
            ["switch_loss_W", "winding_loss_W", "rectifier_loss_W", "series_resistance_loss_W"];
        let (loss, sum) = (cell("loss_W"), kinds.iter().map(|kind| cell(kind)).sum::<f64>());
        assert!((sum / loss - 1.0).abs() < 1e-9, "{sum} W of {loss} W");
        assert!((cell("efficiency") - 3000.0 / (3000.0 + loss)).abs() < 1e-9);
        let hottest =
            cell("switch_junction_temperature_C").max(cell("rectifier_junction_temperature_C"));
        assert!((cell("junction_temperature_C") - hottest).abs() < 1e-9);
        rows += 1;
    }
    assert!(rows >= 4, "{rows} rows");
}

/// Every cell of a sample's losses is the part that was drawn. Of switches the population counts the high
/// ones of all phases first, then the low ones, the low and the high ones of the return leg.
fn cells_are_those_of_the_population(worst: &str, population: &Frame) {
    let mut reader = csv::Reader::from_reader(worst.as_bytes());
    let columns: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let places = ["_high", "_low", "_return_leg_low", "_return_leg_high"];
    let mut compared = 0;
    for row in reader.records() {
        let row = row.unwrap();
        let sample = row[0].strip_prefix("sample ").unwrap().split(':').next().unwrap();
        let (sample, phase): (usize, usize) = (sample.parse().unwrap(), row[1].parse().unwrap());
        for (name, cell) in columns.iter().zip(&row).skip(10) {
            let (stem, unit) = ["_ohm", "_K_per_W", "_1_per_K"]
                .iter()
                .find_map(|unit| Some((name.strip_suffix(unit)?, unit)))
                .unwrap();
            // The longest place goes last: `_high` ends `_return_leg_high` too.
            let found = places.iter().enumerate().rev();
            let place = found.into_iter().find_map(|(n, own)| Some((n, stem.strip_suffix(own)?)));
            let (block, stem) = place.unwrap_or((0, stem));
            let drawn = floats(population, &format!("{stem}_{}{unit}", 3 * block + phase));
            assert_eq!(cell.parse::<f64>().unwrap(), drawn[sample], "{name} of phase {phase}");
            compared += 1;
        }
    }
    assert_eq!(compared, 2 * 3 * 16);
}

/// A run solves its converters next to the nominal one, `units` from the start: both tell the dead times of the
/// currents that they found, with their losses. They were up to 1.3 % apart where those of an earlier round were told.
#[test]
fn dead_times_are_those_of_the_currents_that_are_told() {
    let folder = folder_with(&[("warm.toml", include_str!("../data/warm_ties.toml"))]);
    for seed in [7, 19, 53] {
        let line =
            format!("run warm.toml --samples 1 --seed {seed} --no-explain --quiet --out run");
        succeed(folder.path(), &line);
        succeed(
            folder.path(),
            "units warm.toml --parts run/worst_converters.csv --quiet --out units",
        );
        let [run, units] =
            ["run", "units"].map(|name| json(&folder.path().join(name).join("summary.json")));
        let all = |found: &Value| found["results"].as_array().unwrap().clone();
        let of_run = all(&run);
        let chains = of_run.iter().filter(|own| own["arrangement"] == "chain");
        for own in chains {
            let is_same = |theirs: &&Value| {
                ["operating_point", "arrangement"].iter().all(|key| theirs[*key] == own[*key])
            };
            let theirs = all(&units).iter().find(is_same).unwrap().clone();
            let [one, other] = [&own["blocking_voltage_V"]["max"], &theirs["blocking_voltage_V"]]
                .map(|value| value.as_f64().unwrap());
            assert!((one / other - 1.0).abs() < 1e-3, "{seed}: {one} V against {other} V");
            let [one, other] = [
                &own["soft_switching"]["commutation_loss_W"]["max"],
                &theirs["commutation_loss_W"],
            ]
            .map(|value| value.as_f64().unwrap());
            assert!((one - other).abs() < 1e-2 * other.max(0.1), "{seed}: {one} W, {other} W");
        }
    }
}
