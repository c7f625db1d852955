//! The verb `capacitors` from the outside: files, figures against the circuit's own laws, the yields
//! against those of `run`, wrong scenarios.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::fs;
use std::path::Path;

use serde_json::{Value, json};

use crate::support::{SHELF, TELECOM, changed, fairphase, folder_with, json, succeed};

/// Half bridge, two phases. The data are invented.
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");

/// The text of a scenario with lines added to its end.
fn with(text: &str, lines: &str) -> String {
    format!("{text}\n{lines}\n")
}

/// The text with another flying capacitance.
fn sized(text: &str, capacitance: &str) -> String {
    let (before, after) = text.split_once("flying_capacitance = \"").unwrap();
    let (_, rest) = after.split_once('"').unwrap();
    format!("{before}flying_capacitance = \"{capacitance}\"{rest}")
}

fn summary(folder: &Path, arguments: &str) -> Value {
    succeed(folder, &format!("{arguments} --out out --quiet"));
    json(&folder.join("out/summary.json"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

fn sweep(summary: &Value) -> &[Value] {
    summary["capacitors"]["sweep"].as_array().unwrap()
}

fn close(value: f64, wanted: f64, relative: f64) {
    assert!((value / wanted - 1.0).abs() < relative, "{value} for {wanted}");
}

/// The same double.
fn same(cell: f64, value: &Value) {
    assert!(cell.total_cmp(&number(value)).is_eq(), "{cell} for {value}");
}

/// Rows of `capacitors.csv` as maps from column to cell.
fn rows(folder: &Path) -> Vec<std::collections::HashMap<String, String>> {
    let mut reader = csv::Reader::from_path(folder.join("out/capacitors.csv")).unwrap();
    reader.deserialize().collect::<Result<_, _>>().unwrap()
}

/// Measured parts are judged by themselves here, which a pass does not tell: it is said before it.
#[test]
fn what_holds_for_measured_parts_alone_is_said_first() {
    let folder = folder_with(&[
        ("dome.toml", include_str!("../../scenarios/observatory-dome.toml")),
        ("incoming-cores.csv", include_str!("../../scenarios/incoming-cores.csv")),
        ("incoming-rectifiers.csv", include_str!("../../scenarios/incoming-rectifiers.csv")),
    ]);
    let said =
        succeed(folder.path(), "capacitors dome.toml --samples 60 --solver averaged --out out");
    let words = "Verdicts and intervals hold for the measured parts in incoming-cores.csv";
    let said = said.replace('\n', " ");
    assert!(said.find(words).unwrap() < said.find(" samples of each size").unwrap(), "{said}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert_eq!(page.matches(words).count(), 2, "on the first sheet, and in its section");
}

/// The chain of a run at the same size, on the same samples: every count is the same, whatever the
/// solution that the solver starts from.
#[test]
fn the_yield_of_a_size_is_that_of_a_run_with_it() {
    let folder = folder_with(&[
        ("shelf.toml", &with(TELECOM, "[capacitors]\nseries = \"E3\"")),
        ("run.toml", &sized(TELECOM, "4.7 µF")),
    ]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 300 --seed 5");
    let size = sweep(&found).iter().find(|own| own["flying_capacitance_F"] == 4.7e-6).unwrap();
    succeed(folder.path(), "run run.toml --samples 300 --seed 5 --no-explain --quiet --out run");
    let run = json(&folder.path().join("run/summary.json"));
    assert_eq!(size["yield"], run["joint"]["chain"]["yield"]);
    assert!(number(&size["yield"]["estimate"]) < 1.0, "some fail: {}", size["yield"]);
    assert_eq!(size["verdict"], run["joint"]["chain"]["verdict"]);
    for (case, result) in
        size["cases"].as_array().unwrap().iter().zip(
            run["results"].as_array().unwrap().iter().filter(|own| own["arrangement"] == "chain"),
        )
    {
        assert_eq!(case["operating_point"], result["operating_point"]);
        assert_eq!(case["samples"]["counts"], result["counts"]);
        let [own, other] = [&case["samples"], result].map(|of| number(&of["sharing_error"]["p95"]));
        close(own, other, 5e-4);
    }
}

/// Two phases in full-bridge drive next to without loss, at a voltage gain of 1. The data are invented.
const TWO_PHASES: &str = r#"
title = "two phases without loss"
[converter]
phases = 2
[converter.tank]
resonant_inductance    = "10 µH"
resonant_capacitance   = "100 nF"
magnetising_inductance = "80 µH"
turns_ratio            = 2
series_resistance      = "1 µΩ"
rectifier_drop         = "0 V"
[converter.chain]
flying_capacitance = "10 µF"
[converter.frequency]
minimum = "80 kHz"
maximum = "400 kHz"
[[operating_point]]
name = "unit gain"
input_voltage  = "400 V"
output_voltage = "100 V"
output_current = "20 A"
drive     = "full-bridge"
rectifier = "full-bridge"
[capacitors]
smallest = "330 nF"
largest  = "330 µF"
"#;

/// Each tank sees its own capacitor in series with the one flying capacitor. At a voltage gain of 1 it works
/// at the resonance of both, whatever the load (the well-known load-independent point), and its current is
/// a sine: amplitude of the load's share B, and the magnetising current at the switching instants Im, a
/// quarter period apart. The capacitor is common to both phases and carries this sine all the time. So
/// its RMS current is √((B² + Im²)/2), and its ripple 2 √(B² + Im²)/(ω C). Derived by hand.
#[test]
fn two_phases_without_loss_follow_closed_forms_at_every_size() {
    let folder = folder_with(&[("two.toml", TWO_PHASES)]);
    let found = summary(folder.path(), "capacitors two.toml --samples 1");
    let sizes = sweep(&found);
    assert_eq!(sizes.len(), 19, "values of E6, that of the scenario among them");
    for size in sizes {
        let capacitance = number(&size["flying_capacitance_F"]);
        let nominal = &size["cases"][0]["nominal"];
        let series = 1.0 / (1.0 / 100e-9 + 1.0 / capacitance);
        let omega = 1.0 / (10e-6 * series).sqrt();
        let frequency = omega / std::f64::consts::TAU;
        close(number(&nominal["switching_frequency_Hz"]), frequency, 1e-6);
        // What it is compared with is a million resonant capacitances: half a millionth of the frequency.
        let shift = (1.0 + 100e-9 / capacitance).sqrt() - 1.0;
        assert!((number(&size["frequency_shift"]) - shift).abs() < 1e-6, "{capacitance}");
        // A phase delivers 10 A: half of that at the primary, the mean of half sines.
        let load = std::f64::consts::FRAC_PI_2 * 5.0;
        let magnetising = 200.0 / (4.0 * 80e-6 * frequency);
        let amplitude = load.hypot(magnetising);
        let ripple = 2.0 * amplitude / (omega * capacitance);
        close(number(&size["ripple_V"]), ripple, 1e-6);
        close(number(&size["rms_current_A"]), amplitude / 2.0_f64.sqrt(), 1e-6);
        let own = &nominal["flying_capacitors"][0];
        close(number(&own["mean_voltage_V"]), 200.0, 1e-6);
        close(number(&own["peak_voltage_V"]), 200.0 + 0.5 * ripple, 1e-6);
        let blocking = &nominal["blocking_voltage_V"];
        for part in ["inner_low_switch", "last_low_switch"] {
            close(number(&blocking[part]), 200.0 + 0.5 * ripple, 1e-6);
        }
        // While the first high switch is off, the capacitor gives back the charge 2 B/ω of half a period and
        // ends there: what flows back comes while that switch is on.
        let first = 200.0 + load / (omega * capacitance);
        close(number(&blocking["first_high_switch"]), first, 1e-6);
        close(number(&blocking["other_high_switch"]), 400.0, 1e-6);
        let error = number(&nominal["sharing_error"]);
        assert!(error < 1e-9, "the capacitor is common to both phases: {error}");
        // ½ C v² of one capacitor in each leg.
        close(number(&size["largest_energy_J"]), 0.5 * capacitance * 200.0 * 200.0, 1e-12);
        close(number(&size["chain_energy_J"]), capacitance * 200.0 * 200.0, 1e-12);
        close(number(&size["total_capacitance_F"]), 2.0 * capacitance, 1e-12);
    }
}

/// Charge balance: each flying capacitor of a chain takes in each period the charge Q that every phase
/// draws, and power balance tells it: output = legs × input voltage × Q × frequency. With a large
/// magnetising inductance next to nothing flows back, and the ripple is Q/C at all places.
#[test]
fn the_ripple_of_large_capacitors_follows_from_the_power() {
    for (drive, legs, output) in [("full-bridge", 2.0, 65.0), ("half-bridge", 1.0, 32.0)] {
        let text = TWO_PHASES
            .replace("phases = 2", "phases = 3")
            .replace("\"80 µH\"", "\"2 mH\"")
            .replace("\"100 V\"", &format!("\"{output} V\""))
            .replace("drive     = \"full-bridge\"", &format!("drive     = \"{drive}\""));
        let folder = folder_with(&[("three.toml", &text)]);
        let found = summary(folder.path(), "capacitors three.toml --samples 1");
        let size = sweep(&found).last().unwrap();
        let nominal = &size["cases"][0]["nominal"];
        let frequency = number(&nominal["switching_frequency_Hz"]);
        let charge = output * 20.0 / (legs * 400.0 * frequency);
        let places = nominal["flying_capacitors"].as_array().unwrap();
        assert_eq!(places.len(), 2);
        for (own, voltage) in places.iter().zip([800.0 / 3.0, 400.0 / 3.0]) {
            let least = charge / number(&size["flying_capacitance_F"]);
            let ripple = number(&own["ripple_V"]);
            assert!(ripple > least * (1.0 - 1e-6) && ripple < 1.05 * least, "{ripple} {least}");
            close(number(&own["mean_voltage_V"]), voltage, 2e-3);
        }
        // Energies ½ C v² at two and one thirds of the input, in every leg.
        let farads = number(&size["flying_capacitance_F"]);
        let wanted = legs * 0.5 * farads * 160_000.0 * (4.0 + 1.0) / 9.0;
        close(number(&size["chain_energy_J"]), wanted, 1e-12);
    }
}

/// Capacitors that age apart, against a brute-force integration of the whole circuit with body diodes: three
/// phases in full-bridge drive, flying capacitors of 50 µF, one of them left with 10 %, at either place.
/// The integration is good to 0.06 % of the frequency, and tells currents in four digits.
#[test]
fn one_worn_out_capacitor_agrees_with_an_integration_of_the_circuit() {
    let lines = "[capacitors]\nsmallest = \"33 µF\"\nlargest = \"68 µF\"\nend_of_life = \"10 %\"";
    let folder = folder_with(&[("shelf.toml", &with(SHELF, lines))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 1");
    let size = sweep(&found).iter().find(|own| own["present"] == true).unwrap();
    let corners = size["one_worn_out"].as_array().unwrap();
    assert_eq!(corners.len(), 2);
    for (own, [frequency, error]) in
        corners.iter().zip([[170_534.354_9, 0.004_49], [170_534.260_1, 0.004_54]])
    {
        close(number(&own["switching_frequency_Hz"]), frequency, 6e-4);
        assert!((number(&own["sharing_error"]) - error).abs() < 1e-4, "{own}");
    }
    // With all of them worn out, in both legs, the inner phase differs more from the outer ones.
    let all = size["cases"].as_array().unwrap();
    let worn = all.iter().find(|case| case["capacitance_left"] == 0.1).unwrap();
    assert!(number(&worn["nominal"]["sharing_error"]) > 0.0046, "{worn}");
}

/// With more phases the outer ones see one flying capacitor and the inner ones two: the error of a nominal
/// converter falls with the size, and vanishes with very large ones.
#[test]
fn the_error_of_three_phases_falls_with_the_size() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 1");
    let errors: Vec<f64> = sweep(&found)
        .iter()
        .map(|size| number(&size["cases"][0]["nominal"]["sharing_error"]))
        .collect();
    assert!(errors.windows(2).all(|pair| pair[1] < pair[0]), "{errors:?}");
    let very_large = &found["capacitors"]["very_large"]["cases"][0]["nominal"]["sharing_error"];
    assert!(number(very_large) < 1e-6 && errors[0] > 0.01, "{very_large} {errors:?}");
}

/// Every row of the file stands in the summary.
#[test]
fn the_file_tells_what_the_summary_tells() {
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 20");
    let mut rows = rows(folder.path()).into_iter();
    for size in sweep(&found) {
        for case in size["cases"].as_array().unwrap() {
            for own in case["nominal"]["flying_capacitors"].as_array().unwrap() {
                let row = rows.next().unwrap();
                let cell = |column: &str| row[column].parse::<f64>().unwrap();
                assert_eq!(row["operating_point"], case["operating_point"].as_str().unwrap());
                same(cell("flying_capacitance_F"), &size["flying_capacitance_F"]);
                same(cell("yield"), &size["yield"]["estimate"]);
                same(cell("flying_capacitor"), &own["place"]);
                for key in ["ripple_V", "rms_current_A", "mean_voltage_V", "peak_voltage_V"] {
                    same(cell(key), &own[key]);
                }
                let p95 = &case["samples"]["sharing_error"]["p95"];
                same(cell("sharing_error_p95"), p95);
            }
        }
    }
    assert!(rows.next().is_none());
}

/// Worn-out capacitors are those of a size that is so much smaller.
#[test]
fn a_worn_out_size_is_a_smaller_one() {
    let lines = "[capacitors]\nsmallest = \"10 µF\"\nlargest = \"33 µF\"\nend_of_life = \"66.6666666666667 %\"";
    let folder = folder_with(&[("shelf.toml", &with(TELECOM, lines))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 40");
    let size = |farads: f64| {
        sweep(&found).iter().find(|own| own["flying_capacitance_F"] == farads).unwrap()
    };
    let cases = |own: &'static str, left: f64| {
        let size = size(if own == "worn" { 15e-6 } else { 10e-6 });
        let cases = size["cases"].as_array().unwrap().iter();
        cases.filter(move |case| (number(&case["capacitance_left"]) - left).abs() < 1e-9)
    };
    let worn: Vec<&Value> = cases("worn", 2.0 / 3.0).collect();
    let new: Vec<&Value> = cases("new", 1.0).collect();
    assert_eq!((worn.len(), new.len()), (4, 4));
    for (worn, new) in worn.iter().zip(&new) {
        let [name, plain] = [worn, new].map(|case| case["operating_point"].as_str().unwrap());
        assert_eq!(name, format!("{plain}, capacitors worn out"));
        let [a, b] = [worn, new].map(|case| number(&case["nominal"]["switching_frequency_Hz"]));
        close(a, b, 1e-9);
        assert_eq!(worn["samples"]["counts"], new["samples"]["counts"]);
        let [a, b] = [worn, new].map(|case| number(&case["samples"]["sharing_error"]["p95"]));
        close(a, b, 1e-6);
    }
}

/// Every row of the page's table has a cell for each heading.
#[test]
fn the_table_of_the_page_has_a_heading_for_each_cell() {
    let folder = folder_with(&[("pump.toml", PUMP)]);
    let found = summary(folder.path(), "capacitors pump.toml --samples 20");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    let section = page.split("<section id=\"sizes\"").nth(1).unwrap();
    let table = section.split("</table>").next().unwrap();
    let rows: Vec<&str> = table.split("<tr").skip(1).collect();
    let cells = |row: &str| row.matches("<td").count() + row.matches("<th ").count();
    assert_eq!(rows.len(), sweep(&found).len() + 1);
    assert!(rows.iter().all(|row| cells(row) == cells(rows[0])), "{table}");
}

#[test]
fn results_do_not_depend_on_the_number_of_threads() {
    let folder = folder_with(&[("pump.toml", PUMP)]);
    let bytes = |threads: u32| {
        let out = format!("out-{threads}");
        let line = format!("capacitors pump.toml --samples 700 --threads {threads} --out {out}");
        succeed(folder.path(), &format!("{line} --quiet"));
        ["report.html", "capacitors.csv", "summary.json"]
            .map(|name| fs::read(folder.path().join(&out).join(name)).unwrap())
    };
    assert_eq!(bytes(1), bytes(3));
}

#[test]
fn wrong_tables_are_refused() {
    for (lines, words) in [
        ("smallest = \"1 mF\"", ["0 values of E6", "expected 2 to 60"]),
        ("series = \"E24\"", ["`series` is \"E24\"", "\"E12\""]),
        ("end_of_life = \"100 %\"", ["is 100 %", "above 0 % and below 100 %"]),
        ("smallest = \"1 pF\"\nseries = \"E12\"", ["values of E12", "expected 2 to 60"]),
        (
            "end_of_life = \"80 %\"\n[ageing]\nservice_life = \"9 h\"\n\
             [ageing.flying_capacitance]\ndrift = \"-20 %\"",
            ["both tell how they age", "expected one of the two"],
        ),
    ] {
        let folder = folder_with(&[("a.toml", &with(TELECOM, &format!("[capacitors]\n{lines}")))]);
        let said = fairphase(folder.path(), "capacitors a.toml --out out --tables");
        assert_eq!(said.status, 2, "{lines}: {}", said.stderr);
        for word in words {
            assert!(said.stderr.contains(word), "{lines}: {}", said.stderr);
        }
    }
}

/// No size keeps this limit in any sample: more of them would not help, and none is asked for.
#[test]
fn more_samples_are_advised_only_where_a_size_may_pass() {
    let hopeless = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"0.001 %\"");
    let folder = folder_with(&[("a.toml", &hopeless)]);
    let said = succeed(folder.path(), "capacitors a.toml --samples 20 --out out --tables");
    assert!(said.contains("misses the target") && !said.contains("So few samples"), "{said}");
}

/// The answer on the terminal, the page and in the summary are one; --require-pass follows it.
#[test]
fn the_smallest_size_is_told_everywhere() {
    let limits = "sharing_error = \"5 %\"";
    assert!(TELECOM.contains("sharing_error"), "{limits}");
    let folder = folder_with(&[("shelf.toml", TELECOM)]);
    let line = "capacitors shelf.toml --samples 1500 --out out --tables --require-pass";
    let said = succeed(folder.path(), line);
    let found = json(&folder.path().join("out/summary.json"));
    let parts = &found["capacitors"];
    let smallest = number(&parts["smallest_F"]);
    assert!(number(&parts["found_F"]) <= smallest);
    let micro = format!("{} µF", (1e9 * smallest).round() / 1e3);
    assert!(said.contains(&format!("Use {micro} or more")), "{micro}: {said}");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains(&format!("Use {} or more", micro.replace(' ', "\u{a0}"))));
    let last = parts["verification"].as_array().unwrap().last().unwrap();
    assert_eq!((&last["meets"], &last["yield"]["trials"]), (&true.into(), &6000.into()));
    assert!(number(&last["yield"]["lower"]) >= 0.99);
    for size in sweep(&found).iter().filter(|own| number(&own["flying_capacitance_F"]) >= smallest)
    {
        assert!(number(&size["yield"]["estimate"]) >= 0.99, "{size}");
    }
    for line in said.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let few = fairphase(
        folder.path(),
        "capacitors shelf.toml --samples 20 --out few --require-pass --tables",
    );
    assert_eq!(few.status, 1, "{}", few.stderr);
    assert!(few.stdout.contains("So few samples cannot show the target"), "{}", few.stdout);
}

/// τ = 4 Lr/R near resonance, and the definitions of what is told of the slowest mode.
#[test]
fn settling_is_told_of_the_scenarios_own_capacitors() {
    let folder = folder_with(&[("pump.toml", PUMP), ("shelf.toml", TELECOM)]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 40");
    let settling = found["capacitors"]["settling"].as_array().unwrap();
    assert_eq!(settling.len(), 4, "operating points");
    for own in settling {
        let decay = number(&own["decay_per_period"]);
        let periods = number(&own["periods_to_1_percent"]);
        close(periods, 0.01_f64.ln() / (1.0 - decay).ln(), 1e-9);
        let largest = &own["eigenvalues"][0];
        let modulus = number(&largest[0]).hypot(number(&largest[1]));
        close(1.0 - modulus, decay, 1e-6);
        assert_eq!(own["neutral_modes"], 2, "one a node of three phases");
        let shape = own["shape"].as_array().unwrap();
        let most = shape.iter().map(|node| number(&node["amplitude"])).fold(0.0, f64::max);
        close(most, 1.0, 1e-12);
        let at_full_load = own["over_load"].as_array().unwrap().last().unwrap();
        close(number(&at_full_load["periods_to_1_percent"]), periods, 1e-6);
        assert_eq!(own["sampled_periods"]["count"], 40);
        // The nominal converter is an ordinary one among the samples.
        let [low, high] = ["min", "max"].map(|end| number(&own["sampled_periods"][end]));
        assert!(low < periods && periods < high, "{low} < {periods} < {high}");
    }
    let found = summary(folder.path(), "capacitors pump.toml --samples 20");
    for own in found["capacitors"]["settling"].as_array().unwrap() {
        assert_eq!(own["neutral_modes"], 0, "half bridge");
    }
    assert_eq!(found["capacitors"]["drift"], serde_json::json!([]), "half bridge");
}

/// The averaged solver does not tell the currents at the switching instants.
#[test]
fn the_averaged_solver_tells_nothing_of_settling() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 20 --solver averaged");
    let settling = &found["capacitors"]["settling"][0];
    assert!(settling["decay_per_period"].is_null() && settling["sampled_periods"]["p50"].is_null());
}

/// Rule by rule for three phases on 380 V: capacitors of ± 10 % charged by the gates, leakage against
/// balancing resistors, and a skew over a time. Every voltage by hand.
#[test]
fn the_drift_follows_from_its_causes() {
    let causes = "[converter.chain.drift]\nleakage_current = \"10 µA\"\n\
        leakage_voltage = \"250 V\"\nbalancing_resistance = \"1 Mohm\"\n\
        balancing_tolerance = \"2 %\"\nhighest_drift = \"9 V\"\n\
        [converter.frequency]";
    let flying = "[tolerance.flying_capacitance]\nshape = \"uniform\"\nband = \"10 %\"";
    let text = with(&SHELF.replace("[converter.frequency]", causes), flying);
    let stated = SHELF.replace("\"50 µF\"", "\"50 µF\"\nneutral_split = \"5 V\"");
    let folder =
        folder_with(&[("causes.toml", &text), ("stated.toml", &stated), ("shelf.toml", SHELF)]);
    let found = summary(folder.path(), "capacitors causes.toml --samples 20");
    let drift = &found["capacitors"]["drift"][0];
    let (leak, balance, mismatch) = (10e-6 / 250.0, 1e-6, 0.02);
    for (node, ideal) in [2.0 * 380.0 / 3.0, 380.0 / 3.0].into_iter().enumerate() {
        let own = &drift["nodes"][node];
        close(number(&own["start_V"]), 0.1 * ideal, 1e-9);
        let leakage = ideal * (leak + 2.0 * mismatch * balance) / (leak + 2.0 * balance);
        close(number(&own["leakage_V"]), leakage, 1e-9);
        assert_eq!(own["timing_V"], 0.0);
        close(number(&own["drift_V"]), 0.1 * ideal + leakage, 1e-9);
        close(number(&own["corner_V"]), 380.0 / 3.0, 1e-9);
        let resistor = 2.0 * (9.0 - mismatch * ideal) / (leak * (ideal - 9.0));
        close(number(&own["balancing"]["resistance_ohm"]), resistor, 1e-9);
        close(number(&own["balancing"]["dissipation_W"]), ideal * ideal / resistor, 1e-9);
    }
    // High 3 stands on the first node alone, low 2 on both; high 1 on the first.
    let [first, second] = [0, 1].map(|node| number(&drift["nodes"][node]["drift_V"]));
    for (switch, added) in
        [("high_1", first), ("high_2", second), ("high_3", first), ("low_2", first + second)]
    {
        let own = drift["switches"].as_array().unwrap();
        let own = own.iter().find(|own| own["switch"] == switch).unwrap();
        let with_drift = number(&own["with_drift_V"]) - number(&own["without_drift_V"]);
        close(with_drift, added, 1e-9);
    }
    // The other verbs add the same to what the switches block, but for the start.
    let blocking = |file: &str| {
        let said = succeed(folder.path(), &format!("check {file} --json"));
        let check: Value = serde_json::from_str(&said).unwrap();
        assert_eq!(check["results"][0]["arrangement"], "chain");
        number(&check["results"][0]["blocking_voltage_V"])
    };
    // Nominal capacitors are equal: a start moves them not at all.
    let leakage = number(&drift["nodes"][0]["leakage_V"]);
    close(blocking("causes.toml") - blocking("stated.toml"), leakage - 5.0, 1e-6);
    assert!(found["limits"]["neutral_split_V"].is_null());
    let found = summary(folder.path(), "capacitors stated.toml --samples 20");
    assert_eq!(found["limits"]["neutral_split_V"], 5.0);
    assert_eq!(found["capacitors"]["drift"][0]["nodes"][1]["drift_V"], 5.0);
    // Mean and peak of the capacitors themselves: a shifted voltage has both shifted.
    let without = summary(folder.path(), "capacitors shelf.toml --samples 20");
    let shifted = sweep(&found).iter().zip(sweep(&without));
    for (with, without) in shifted {
        let [with, without] =
            [with, without].map(|size| &size["cases"][0]["nominal"]["flying_capacitors"]);
        for place in 0..2 {
            for key in ["mean_voltage_V", "peak_voltage_V"] {
                close(number(&with[place][key]) - number(&without[place][key]), 5.0, 1e-9);
            }
        }
    }
}

/// The resistors that are told hold what the blocking limit leaves: with them in the scenario the limit is kept, with
/// larger ones it is not. A start that leaves a split takes its part of the room.
#[test]
fn the_resistors_that_are_told_keep_the_blocking_limit() {
    let shelf = |resistors: &str| {
        let causes = format!(
            "[converter.chain.drift]\ncharging_resistor_tolerance = \"1 %\"\nleakage_current = \"10 µA\"\n\
             leakage_voltage = \"253.333 V\"\nbalancing_tolerance = \"1 %\"\n{resistors}\n\
             [converter.frequency]"
        );
        SHELF
            .replace("[converter.frequency]", &causes)
            .replace("[limits]", "[limits]\nblocking_voltage = \"262 V\"")
    };
    let drift = |resistors: &str| {
        let folder = folder_with(&[("shelf.toml", &shelf(resistors))]);
        summary(folder.path(), "capacitors shelf.toml --samples 20")["capacitors"]["drift"][0]
            .clone()
    };
    let told = number(&drift("")["balancing"]["resistance_ohm"]);
    let highest = |factor: f64| {
        let found = drift(&format!("balancing_resistance = \"{:.6} ohm\"", factor * told));
        let switches = found["switches"].as_array().unwrap().iter();
        switches.map(|own| number(&own["with_drift_V"])).fold(0.0, f64::max)
    };
    let kept = highest(1.0);
    assert!(kept > 261.9 && kept < 262.0 + 1e-6, "{kept}");
    assert!(highest(1.05) > 262.05, "{}", highest(1.05));
}

/// An operating time bounds what leakage and late gates do. By hand: 10 µA at 250 V for 20 s on two capacitors of
/// 50 µF, (C + C′) dδ/dt = −I; and a current into each node that fills both within the time.
#[test]
fn an_operating_time_bounds_the_drift() {
    let causes = |more: &str| format!("[converter.chain.drift]\n{more}\n[converter.frequency]");
    let leak =
        "leakage_current = \"10 µA\"\nleakage_voltage = \"250 V\"\noperating_time = \"20 s\"";
    let late = "turn_off_skew = \"20 ps\"\noperating_time = \"1 s\"";
    let shelf = |more: &str| SHELF.replace("[converter.frequency]", &causes(more));
    let folder = folder_with(&[("leak.toml", &shelf(leak)), ("late.toml", &shelf(late))]);
    let drift = |file: &str| {
        let found = summary(folder.path(), &format!("capacitors {file} --samples 20"));
        found["capacitors"]["drift"][0].clone()
    };
    let found = drift("leak.toml");
    for (node, ideal) in [2.0 * 380.0 / 3.0, 380.0 / 3.0].into_iter().enumerate() {
        let by_hand = ideal * (1.0 - (-10e-6 / 250.0 * 20.0 / 100e-6_f64).exp());
        close(number(&found["nodes"][node]["leakage_V"]), by_hand, 1e-9);
    }
    let found = drift("late.toml");
    let nodes = found["nodes"].as_array().unwrap().iter();
    let highest = nodes.map(|own| number(&own["timing_V"])).fold(0.0, f64::max);
    assert!(highest > 0.0 && highest < 100.0, "{highest}");
    close(number(&found["timing_current_A"]), highest * 100e-6, 1e-9);
}

/// A table without a cause but equal capacitors: nothing drifts.
#[test]
fn without_a_cause_nothing_drifts() {
    let causes = "[converter.chain.drift]\n[converter.frequency]";
    let folder = folder_with(&[("shelf.toml", &SHELF.replace("[converter.frequency]", causes))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 20");
    for node in found["capacitors"]["drift"][0]["nodes"].as_array().unwrap() {
        assert_eq!(node["drift_V"], 0.0, "{node}");
    }
}

/// Without resistors any leakage or skew goes on until diodes stop it.
#[test]
fn without_resistors_the_drift_ends_where_diodes_stop_it() {
    let causes = "[converter.chain.drift]\nturn_off_skew = \"1 ns\"\n[converter.frequency]";
    let folder = folder_with(&[("shelf.toml", &SHELF.replace("[converter.frequency]", causes))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 20");
    let drift = &found["capacitors"]["drift"][0];
    for node in drift["nodes"].as_array().unwrap() {
        close(number(&node["drift_V"]), 380.0 / 3.0, 1e-9);
    }
    // Neighbouring nodes differ by Vin/N at most: a low switch blocks twice its normal voltage.
    for switch in drift["switches"].as_array().unwrap() {
        let name = switch["switch"].as_str().unwrap();
        let added = number(&switch["with_drift_V"]) - number(&switch["without_drift_V"]);
        close(added, 380.0 / 3.0, 1e-9);
        assert!(number(&switch["with_drift_V"]) < 381.0, "{name}");
    }
}

/// The first law of a start, by hand for three phases: a chain that meets the full input empty puts all of
/// it across one switch, three times the normal voltage. A ramp keeps the factor once it is as long as the
/// law asks, and a crooked chain is told where the output cannot take the energy of the fill.
#[test]
fn starts_are_told_by_their_laws() {
    let start = |lines: &str| with(SHELF, &format!("[start_up]\n{lines}"));
    let folder = folder_with(&[
        ("plain.toml", SHELF),
        ("small.toml", &start("output_capacitance = \"1 mF\"")),
        ("large.toml", &start("output_capacitance = \"4 mF\"")),
        ("fast.toml", &start("ramp_time = \"1 ms\"")),
        ("resistors.toml", &start("precharge_resistance = \"22 ohm\"\nramp_time = \"30 ms\"")),
    ]);
    let entry = |file: &str| {
        let found = summary(folder.path(), &format!("capacitors {file} --samples 20"));
        found["capacitors"]["start_up"][0].clone()
    };
    let sequence = |entry: &Value, name: &str| {
        let all = entry["sequences"].as_array().unwrap().clone();
        all.into_iter().find(|own| own["sequence"].as_str().unwrap().starts_with(name)).unwrap()
    };
    let plain = entry("plain.toml");
    // Two legs of 50 µF on 380 V: C Vin² (9 − 1)/36 each.
    close(number(&plain["fill_energy_J"]), 2.0 * 50e-6 * 380.0 * 380.0 * 8.0 / 36.0, 1e-9);
    let cold = sequence(&plain, "input first, then");
    assert_eq!(cold["factor"], 3.0);
    assert_eq!(cold["outcome"], "exceeds");
    close(number(&cold["highest_blocking_voltage_V"]), 380.0, 1e-9);
    close(number(&sequence(&plain, "input first, gates off")["factor"]), 3.0 * 8.0 / 13.0, 1e-9);
    let rising = "gates at operating frequency, input ramp, output rises";
    assert_eq!(sequence(&plain, rising)["outcome"], "keeps");
    assert_eq!(sequence(&plain, "pre-charge")["outcome"], "resistors not told");
    // 3.2 J against 1.15 J and 4.6 J.
    assert_eq!(sequence(&entry("small.toml"), rising)["outcome"], "stays crooked");
    assert_eq!(sequence(&entry("large.toml"), rising)["outcome"], "keeps");
    // Integrated independently: a factor of 1.22 (`tests/data/startup.json`, design A, 1 ms).
    let fast = sequence(&entry("fast.toml"), rising);
    assert_eq!(fast["outcome"], "exceeds");
    close(number(&fast["factor"]), 1.224, 0.03);
    let resistors = sequence(&entry("resistors.toml"), "pre-charge");
    // R C (N−1)(2N−1)/(6 · 0.2).
    let needed = 22.0 * 50e-6 * 10.0 / 1.2;
    close(number(&resistors["needed_ramp_s"]), needed, 1e-9);
    // Longer than needed: the lag shrinks in proportion.
    let factor = 1.0 + 0.2 * needed / 30e-3;
    close(number(&resistors["factor"]), factor, 1e-3);
}

/// What may not be done is not advised, though it keeps what the switches may block: an input without gates on
/// two phases has a factor of 1.2, and a slow ramp charges the chain of a shorted output.
#[test]
fn no_start_is_advised_that_may_not_be_done() {
    let start = |text: &str, lines: &str| with(text, &format!("[start_up]\n{lines}"));
    let two = SHELF.replace("phases = 3", "phases = 2").replace("\"380 V\"", "\"253.3 V\"");
    assert_ne!(two, SHELF);
    let folder = folder_with(&[
        ("gates-off.toml", &start(&two, "ramp_time = \"20 us\"")),
        ("shorted.toml", &start(SHELF, "ramp_time = \"20 s\"\noutput_capacitance = \"1 mF\"")),
    ]);
    let tell = |file: &str| {
        let said = succeed(folder.path(), &format!("capacitors {file} --samples 20 --out out"));
        let found = json(&folder.path().join("out/summary.json"));
        let sequences = found["capacitors"]["start_up"][0]["sequences"].as_array().unwrap().clone();
        let kept = sequences.into_iter().filter(|own| own["outcome"] == "keeps");
        let kept: Vec<String> = kept.map(|own| own["sequence"].as_str().unwrap().into()).collect();
        (said.split_whitespace().collect::<Vec<_>>().join(" "), kept)
    };
    let (said, kept) = tell("gates-off.toml");
    assert_eq!(kept, ["input first, gates off"]);
    assert!(said.contains("No sequence is shown to keep every switch"), "{said}");
    assert!(!said.contains("does: input first"), "{said}");
    let (said, kept) = tell("shorted.toml");
    assert!(kept.contains(&"gates at the top, input ramp, output shorted".to_owned()), "{kept:?}");
    // The own capacitor takes too little: the screen says so, and what the start then needs.
    for words in [
        "Start like this: gates at operating frequency, input ramp, output held,",
        "Another source must hold the output at its voltage.",
        "The output overshoots and the chain stays crooked: add a load for the start.",
        "Never apply the input first: once gates begin",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

/// Where the ramp is too fast for any sequence, the one that is told to do does: from outside, by trying it.
#[test]
fn the_ramp_that_is_told_to_do_does() {
    told_ramp_does(SHELF);
    // Less than 1.2 times the normal 253.3 V: the limit decides.
    let limit = "[limits]\nblocking_voltage = \"262 V\"";
    told_ramp_does(&SHELF.replace("[limits]", limit));
}

fn told_ramp_does(scenario: &str) {
    let start = |ramp: &str| with(scenario, &format!("[start_up]\nramp_time = \"{ramp}\""));
    let say = |ramp: &str| {
        let folder = folder_with(&[("shelf.toml", &start(ramp))]);
        let said = succeed(folder.path(), "capacitors shelf.toml --samples 20 --tables");
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let fast = say("1 ms");
    let told =
        fast.split("input ramp of 1.000 ms. A ramp of ").nth(1).unwrap_or_else(|| panic!("{fast}"));
    let (ramp, best) = told.split_once(" or more does: ").unwrap();
    assert!(best.starts_with("gates at operating frequency, input ramp, output rises with it."));
    assert!(say(ramp).contains(&format!("output rises with it, in {ramp}.")), "{ramp}");
    let number: f64 = ramp.split(' ').next().unwrap().parse().unwrap();
    let shorter = format!("{:.3} ms", 0.99 * number);
    assert!(say(&shorter).contains("No sequence is shown to keep"), "{shorter}");
}

/// The peak of an empty chain into a shorted output, and how long switches block too much, as integrated
/// independently (`tests/data/startup.json`, design A).
#[test]
fn starts_are_integrated_on_request() {
    let lines = "[start_up]\noutput_capacitance = \"1 mF\"\nramp_time = \"5 ms\"";
    let folder = folder_with(&[("shelf.toml", &with(SHELF, lines))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 20");
    let plain = &found["capacitors"]["start_up"][0]["sequences"][1];
    assert_eq!((&plain["integrated"], &plain["integrated_outcome"]), (&json!([]), &Value::Null));
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("Not asked for: ") && !page.contains("Starts integrated, beside"));

    let said =
        succeed(folder.path(), "capacitors shelf.toml --samples 20 --integrate --out out --tables");
    assert!(said.contains("Integrated at “full load”, beside the laws"), "{said}");
    let found = json(&folder.path().join("out/summary.json"));
    let sequences = found["capacitors"]["start_up"][0]["sequences"].as_array().unwrap().clone();
    let runs = |name: &str| {
        let own = sequences.iter().find(|own| own["sequence"].as_str().unwrap().starts_with(name));
        own.unwrap()["integrated"].as_array().unwrap().clone()
    };
    assert!(runs("input first, gates off").is_empty());
    let cold = runs("input first, then");
    let outputs: Vec<&str> = cold.iter().map(|own| own["output"].as_str().unwrap()).collect();
    assert_eq!(outputs, ["shorted", "held"]);
    close(number(&cold[0]["peak_tank_current_A"]), 174.2, 0.01);
    close(number(&cold[1]["peak_tank_current_A"]), 122.8, 0.01);
    close(number(&cold[1]["time_above_factor_s"]), 1133.0 / 300e3, 0.005);
    close(number(&cold[1]["factor"]), 3.0, 0.003);
    assert_eq!(cold[0]["switches"].as_array().unwrap().len(), 12);
    // The operating frequency of the data is rounded.
    let rising = runs("gates at operating frequency, input ramp, output rises");
    assert_eq!(
        (&rising[0]["output"], &rising[1]["output"]),
        (&json!("rising"), &json!("capacitor"))
    );
    close(number(&rising[0]["factor"]), 1.014, 0.005);
    close(number(&rising[1]["factor"]), 1.396, 0.005);
    assert_eq!(rising[1]["outcome"], "stays crooked");
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    for text in ["Starts integrated, beside their laws", "the chain stays crooked", "--integrate"] {
        assert!(page.contains(text), "{text}");
    }
}

/// A ramp that the law asks for keeps every limit while the output rises, and leaves the chain crooked with the
/// output capacitor: each is told by its own end.
#[test]
fn a_ramp_that_is_needed_is_told_by_its_own_end() {
    let lines = "[start_up]\noutput_capacitance = \"2 mF\"";
    let folder = folder_with(&[("shelf.toml", &with(TELECOM, lines))]);
    let command = "capacitors shelf.toml --samples 20 --integrate --out out --tables";
    let said = succeed(folder.path(), command);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("which the law asks for: integrated, the chain stays crooked."),
        "{said}"
    );
    assert!(!said.contains("That is too much"), "{said}");
}

/// Two phases of 200 V, half bridge: design B of `tests/data/faults.json`, whose aged capacitor traps the
/// controller at 1 % of 5 µF, and not at 10 %.
const TRAPPED: &str = concat!(
    include_str!("../data/ageing_phases.toml"),
    r#"[tolerance.flying_capacitance]
shape = "uniform"
band  = "0.0001 %"
[limits]
sharing_error = "5 %"
"#
);

/// Below which size an aged capacitor traps the controller, as integrated independently.
#[test]
fn sizes_that_can_trap_the_controller_are_told() {
    let aged = |left: &str| {
        let text = TRAPPED;
        let lines = format!(
            "[capacitors]\nsmallest = \"4.7 µF\"\nlargest = \"680 µF\"\nseries = \"E3\"\nend_of_life = \"{left}\""
        );
        let folder = folder_with(&[("b.toml", &with(text, &lines))]);
        let found = summary(folder.path(), "capacitors b.toml --samples 20");
        let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        (found, page)
    };
    let (found, page) = aged("1 %");
    let size = |found: &Value, capacitance: f64| {
        let all = sweep(found).iter();
        let mut own = all
            .filter(|own| (number(&own["flying_capacitance_F"]) / capacitance - 1.0).abs() < 1e-6);
        own.next().unwrap()["traps"].as_array().unwrap().clone()
    };
    let trapped = size(&found, 5e-6);
    assert_eq!(trapped.len(), 1);
    close(number(&trapped[0]["switching_frequency_Hz"]), 70e3, 1e-9);
    close(number(&trapped[0]["output_current_A"]), 11.0, 0.05);
    assert!(size(&found, 470e-6).is_empty());
    assert!(page.contains("let a slow controller of the nominal converter get trapped"));
    let (found, page) = aged("10 %");
    assert!(size(&found, 5e-6).is_empty());
    assert!(page.contains("no size lets a slow controller"));
}

/// By hand, for three phases on 380 V in full-bridge drive: places at 253 V and 127 V, and the cheapest part
/// that is large enough at each.
#[test]
fn what_to_buy_for_a_size_is_told() {
    let lines = "[capacitors]\nsmallest = \"22 µF\"\nlargest = \"47 µF\"\nseries = \"E3\"\n\
        [[capacitors.dc_bias]]\nvoltage = \"100 V\"\nshare = \"80 %\"\n\
        [[capacitors.dc_bias]]\nvoltage = \"300 V\"\nshare = \"40 %\"\n\
        [[capacitors.part]]\ncapacitance = \"150 µF\"\nprice = 5\n\
        [[capacitors.part]]\ncapacitance = \"68 µF\"\nprice = 2\n";
    let folder = folder_with(&[("shelf.toml", &with(SHELF, lines))]);
    let found = summary(folder.path(), "capacitors shelf.toml --samples 50");
    let own = &sweep(&found)[1];
    close(number(&own["flying_capacitance_F"]), 47e-6, 1e-9);
    let bought = &own["purchase"];
    for (n, voltage) in [760.0 / 3.0, 380.0 / 3.0].into_iter().enumerate() {
        let place = &bought["places"][n];
        let left = 0.8 - 0.4 * (voltage - 100.0) / 200.0;
        close(number(&place["dc_voltage_V"]), voltage, 1e-9);
        close(number(&place["capacitance_left"]), left, 1e-9);
        close(number(&place["capacitance_to_buy_F"]), 47e-6 / left, 1e-9);
    }
    // 95.3 µF and 63 µF, in two legs.
    close(number(&bought["price"]), 2.0 * (5.0 + 2.0), 1e-9);
    let left = |n: usize| number(&bought["places"][n]["capacitance_left"]);
    for (n, part) in [150e-6, 68e-6].into_iter().enumerate() {
        close(number(&bought["places"][n]["part_at_dc_voltage_F"]), left(n) * part, 1e-9);
    }
    let per_good = 14.0 / number(&bought["yield"]["estimate"]);
    close(number(&bought["price_per_good_converter"]), per_good, 1e-9);
    let page = fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    assert!(page.contains("What every size costs") && page.contains("at its DC voltage, buy"));
    // Without these tables nothing is said of it.
    let plain =
        summary(folder_with(&[("shelf.toml", SHELF)]).path(), "capacitors shelf.toml --samples 5");
    assert!(sweep(&plain)[0].get("purchase").is_none());

    let wrong = "[[capacitors.dc_bias]]\nvoltage = \"300 V\"\nshare = \"80 %\"\n\
        [[capacitors.dc_bias]]\nvoltage = \"100 V\"\nshare = \"90 %\"\n";
    let folder = folder_with(&[("wrong.toml", &with(SHELF, wrong))]);
    let said = fairphase(folder.path(), "capacitors wrong.toml").stderr;
    assert!(said.contains("do not rise") && said.contains("wrong.toml:"), "{said}");
}

/// Parts on offer are larger than what is to buy. Where a limit on the settling ends the sizes to use, converters with
/// them fail though those of the size pass; and a drift takes more of the capacitance.
#[test]
fn parts_on_offer_are_judged_for_themselves() {
    let sizes = "[capacitors]\nsmallest = \"22 µF\"\nlargest = \"470 µF\"\nseries = \"E3\"\n";
    let part = "[[capacitors.part]]\ncapacitance = \"400 µF\"\nprice = 5\n";
    let limited = SHELF
        .replace("[limits]", "[limits]\nsettling_time = \"0.4 ms\"")
        .replace("\"99 %\"", "\"90 %\"");
    let bias = "[[capacitors.dc_bias]]\nvoltage = \"100 V\"\nshare = \"80 %\"\n\
        [[capacitors.dc_bias]]\nvoltage = \"300 V\"\nshare = \"40 %\"\n";
    let drifting = SHELF.replace("\"50 µF\"", "\"50 µF\"\nneutral_split = \"20 V\"");
    let folder = folder_with(&[
        ("slow.toml", &with(&limited, &format!("{sizes}{part}"))),
        ("drift.toml", &with(&drifting, &format!("{sizes}{bias}"))),
    ]);
    let said = succeed(folder.path(), "capacitors slow.toml --samples 200 --tables --out out");
    let found = json(&folder.path().join("out/summary.json"));
    let smallest = number(&found["capacitors"]["smallest_F"]);
    let is_own = |own: &&Value| own["flying_capacitance_F"] == smallest;
    let own = sweep(&found).iter().find(is_own).unwrap();
    assert!(number(&own["yield"]["estimate"]) > 0.9, "{own}");
    assert!(number(&own["purchase"]["yield"]["estimate"]) < 0.1, "{own}");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("At their DC voltage these have 400 µF, 400 µF. With them 0.00 %"),
        "{said}"
    );
    assert!(said.contains("of the converters meet every limit: fail."), "{said}");
    let found = summary(folder.path(), "capacitors drift.toml --samples 20");
    let bought = &sweep(&found)[0]["purchase"];
    for (n, ideal) in [760.0 / 3.0, 380.0 / 3.0].into_iter().enumerate() {
        let left = 0.8 - 0.4 * (ideal + 20.0 - 100.0) / 200.0;
        close(number(&bought["places"][n]["dc_voltage_V"]), ideal + 20.0, 1e-9);
        close(number(&bought["places"][n]["capacitance_left"]), left, 1e-9);
    }
}

/// A limit on the settling of the chain: it fails what settles more slowly, in `run` and in `capacitors`
/// alike, and the paralleled reference has none.
#[test]
fn settling_can_be_a_limit() {
    let limited =
        |time: &str| SHELF.replace("[limits]", &format!("[limits]\nsettling_time = \"{time}\""));
    assert!(SHELF.contains("[limits]"));
    let folder = folder_with(&[("slow.toml", &limited("1 s")), ("fast.toml", &limited("1 µs"))]);
    let joint = |file: &str| {
        let found = summary(folder.path(), &format!("run {file} --samples 50 --no-explain"));
        ["chain", "paralleled"].map(|own| number(&found["joint"][own]["yield"]["estimate"]))
    };
    let (slow, fast) = (joint("slow.toml"), joint("fast.toml"));
    assert!(slow[0] > 0.9 && fast[0] < 1e-12, "{slow:?} {fast:?}");
    assert_eq!(slow[1].to_bits(), fast[1].to_bits());
    let found = summary(folder.path(), "capacitors fast.toml --samples 20");
    assert_eq!(found["limits"]["chain"]["settling_time_s"], 1e-6);
    for own in sweep(&found) {
        assert!(number(&own["yield"]["estimate"]) < 1e-12);
    }
    // The limit is the median of the samples: about half of them keep to it.
    let settling = &found["capacitors"]["settling"][0];
    let median = number(&settling["sampled_time_s"]["p50"]);
    let text = limited(&format!("{median} s"));
    let folder = folder_with(&[("median.toml", &text)]);
    let found = summary(folder.path(), "run median.toml --samples 200 --no-explain");
    let kept = number(&found["joint"]["chain"]["yield"]["estimate"]);
    assert!(kept > 0.3 && kept < 0.7, "{kept}");
}

/// The settling time rises with the size: a limit on it ends the sizes to use, and does not forbid all of them.
#[test]
fn a_limit_on_settling_leaves_the_sizes_below_it() {
    let text = SHELF.replace("[limits]", "[limits]\nsettling_time = \"0.4 ms\"");
    let folder = folder_with(&[("shelf.toml", &text)]);
    let said = succeed(folder.path(), "capacitors shelf.toml --samples 800 --out out");
    let found: Value = json(&folder.path().join("out/summary.json"));
    let parts = &found["capacitors"];
    let [smallest, largest] = ["smallest_F", "largest_F"].map(|key| number(&parts[key]));
    assert!(smallest < largest, "{smallest} {largest}");
    for own in sweep(&found) {
        let (size, passes) = (number(&own["flying_capacitance_F"]), own["verdict"] == "pass");
        // Those between may be open, and none beyond them meets the target.
        assert!(!passes || size <= largest, "{size}");
        assert!(own["verdict"] != "fail" || size < smallest || size > largest, "{size}");
        if size > 1.5 * largest {
            assert_eq!(own["binding"]["limit"], "settling_time_s", "{size}");
        }
    }
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("because they settle slowly"), "{said}");
    let range = said.split("Use ").nth(1).unwrap().split(": on fresh").next().unwrap();
    let ends: Vec<f64> = range
        .split(" to ")
        .map(|own| own.strip_suffix(" µF").unwrap().parse::<f64>().unwrap() * 1e-6)
        .collect();
    close(ends[0], smallest, 1e-9);
    close(ends[1], largest, 1e-9);
    // Where no size that slow is tried, the range ends all the same: very large ones tell that there is an end.
    let most = (smallest * largest).sqrt();
    let text = sized(&text, &format!("{smallest} F"));
    let text = with(&text, &format!("[capacitors]\nlargest = \"{most} F\""));
    let folder = folder_with(&[("shelf.toml", &text)]);
    let said = succeed(folder.path(), "capacitors shelf.toml --samples 800 --tables --out out");
    let found: Value = json(&folder.path().join("out/summary.json"));
    let parts = &found["capacitors"];
    assert_eq!(parts["very_large"]["verdict"], "fail");
    assert!(number(&parts["largest_F"]) <= most, "{parts}");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!said.contains(" or more: on fresh"), "{said}");
    assert!(said.contains("were not tried. Very large ones miss the target: 0.00 %"), "{said}");
}

/// Sizes are priced with parts that meet the target alone; where what is to buy is not known, nothing is said to be too
/// small.
#[test]
fn parts_that_miss_the_target_are_not_the_cheapest() {
    let part = |farad: &str, price: f64| {
        format!("[[capacitors.part]]\ncapacitance = \"{farad}\"\nprice = {price}\n")
    };
    let sizes = "[capacitors]\nsmallest = \"1 µF\"\nlargest = \"47 µF\"\nseries = \"E3\"\n";
    let tight = changed(SHELF, "sharing_error = \"5 %\"", "sharing_error = \"2 %\"");
    let offers = [part("1 µF", 0.01), part("47 µF", 5.0), part("60 µF", 4.0)].concat();
    let bias = "[[capacitors.dc_bias]]\nvoltage = \"10 V\"\nshare = \"80 %\"\n\
        [[capacitors.dc_bias]]\nvoltage = \"100 V\"\nshare = \"70 %\"\n";
    let folder = folder_with(&[
        ("offers.toml", &with(&tight, &format!("{sizes}{offers}"))),
        ("bias.toml", &with(&tight, &format!("{sizes}{bias}{offers}"))),
    ]);
    let said = succeed(folder.path(), "capacitors offers.toml --samples 700 --tables --out out");
    let found = json(&folder.path().join("out/summary.json"));
    let per_good = |own: &Value| own["purchase"]["price_per_good_converter"].as_f64();
    let all = || sweep(&found).iter();
    let passing = all().filter(|own| own["purchase"]["yield"]["lower"].as_f64() >= Some(0.99));
    let least = passing.filter_map(per_good).fold(f64::INFINITY, f64::min);
    let own = &sweep(&found)[0];
    assert!(per_good(own).unwrap() < least, "parts of 1 µF cost less per good one: {own}");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!said.contains("1 µF costs least") && !said.contains("1 µF, 1 µF costs"), "{said}");
    let said = succeed(folder.path(), "capacitors bias.toml --samples 50 --tables --out out");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("is not known: dc_bias ends too low"), "{said}");
    assert!(!said.contains("No part on offer is large enough"), "{said}");
}

/// Of several operating points the one is told at which the chain delivers most while it fills.
#[test]
fn the_energy_of_a_start_is_that_of_the_hardest_point() {
    let point = "[[operating_point]]\nname = \"high input\"\ninput_voltage = \"400 V\"\n\
        output_voltage = \"48 V\"\noutput_power = \"2 kW\"\ndrive = \"full-bridge\"\n\
        rectifier = \"full-bridge\"\n\n[limits]";
    let two = changed(SHELF, "[limits]", point);
    for (lines, words) in [
        ("", "to the output at “high input”. Give"),
        (
            "[start_up]\noutput_capacitance = \"0.1 mF\"\n",
            "to the output at “high input”, which takes",
        ),
    ] {
        let folder = folder_with(&[("two.toml", &with(&two, lines))]);
        let said = succeed(folder.path(), "capacitors two.toml --samples 20 --tables --out out");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(words), "{said}");
    }
}
