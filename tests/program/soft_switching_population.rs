//! Soft switching of a population in `run`, from outside: shares recomputed from the samples, samples
//! solved again by `units`, searches against counts and closed forms.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{
    Frame, SHELF, changed, counts, fairphase, floats, folder_with, json, parquet, succeed, truths,
    words,
};

const SWITCH: &str = "[switch]\noutput_capacitance = \"350 pF\"\ndead_time = \"150 ns\"\n";

/// The invented shelf with invented switches; `limits` goes into `[limits]`.
fn shelf(switch: &str, limits: &str) -> String {
    let text = changed(SHELF, "[limits]\n", &format!("[limits]\n{limits}\n"));
    format!("{text}\n{switch}")
}

struct Ran {
    folder: tempfile::TempDir,
    summary: Value,
    samples: Frame,
}

impl Ran {
    fn new(text: &str, options: &str) -> Self {
        let folder = folder_with(&[("shelf.toml", text)]);
        succeed(folder.path(), &format!("run shelf.toml --out run --quiet {options}"));
        let out = folder.path().join("run");
        let (summary, samples) =
            (json(&out.join("summary.json")), parquet(&out.join("samples.parquet")));
        Self { folder, summary, samples }
    }

    fn out(&self) -> std::path::PathBuf {
        self.folder.path().join("run")
    }

    /// Rows of an arrangement, sample by sample; the shelf has one operating point.
    fn rows(&self, arrangement: &str) -> Vec<usize> {
        let all = words(&self.samples, "arrangement").into_iter().enumerate();
        all.filter(|(_, own)| own == arrangement).map(|(row, _)| row).collect()
    }
}

fn successes(share: &Value) -> u64 {
    share["successes"].as_u64().unwrap()
}

/// A largest shortfall of at most 5 % − 20 % is soft, of at least 5 % + 20 % hard. All else is not
/// decided, and misses the limit.
#[test]
fn shares_and_yields_follow_from_the_shortfalls_of_the_samples() {
    let ran = Ran::new(&shelf(SWITCH, "soft_switching = true"), "--samples 400 --no-explain");
    let shortfall = floats(&ran.samples, "swing_shortfall");
    let (hard, open) =
        (floats(&ran.samples, "hard_transitions"), floats(&ran.samples, "transitions_not_decided"));
    let meets = truths(&ran.samples, "meets_limits");
    let mut kinds = 0;
    for (n, arrangement) in ["chain", "paralleled"].into_iter().enumerate() {
        let rows = ran.rows(arrangement);
        let count = |is: &dyn Fn(usize) -> bool| rows.iter().filter(|r| is(**r)).count() as u64;
        let soft = |row: usize| shortfall[row] <= 0.05 - 0.2;
        let is_hard = |row: usize| shortfall[row] >= 0.05 + 0.2;
        let expected = [count(&soft), count(&|row| !soft(row) && !is_hard(row)), count(&is_hard)];
        for told in [
            &ran.summary["joint"][arrangement]["soft_switching"],
            &ran.summary["results"][n]["soft_switching"],
        ] {
            let told = ["soft", "not_decided", "hard"].map(|key| successes(&told[key]));
            assert_eq!(told, expected, "{arrangement}");
        }
        kinds += expected.iter().filter(|own| **own > 0).count();
        for row in &rows {
            assert_eq!(hard[*row] > 0.0, is_hard(*row), "row {row}");
            assert_eq!(soft(*row), hard[*row] + open[*row] == 0.0, "row {row}");
            assert!(soft(*row) || !meets[*row], "row {row} meets the limits and is not soft");
        }
        let missed = ran.summary["results"][n]["missed"]["soft_switching"].as_u64();
        assert_eq!(missed, Some(rows.len() as u64 - expected[0]), "{arrangement}");
    }
    assert!(kinds >= 3, "several kinds of converters were seen");
}

/// Without `[switch]` no column, no key and no cost.
#[test]
fn nothing_is_told_where_no_switches_are_described() {
    let ran = Ran::new(SHELF, "--samples 40 --no-explain");
    assert!(ran.summary["soft_switching"].is_null());
    assert!(ran.summary["joint"]["chain"]["soft_switching"].is_null());
    let page = fs::read_to_string(ran.out().join("report.html")).unwrap();
    assert!(!page.contains("Soft switching"));
    let folder = folder_with(&[("shelf.toml", &shelf("", "soft_switching = true"))]);
    let said = fairphase(folder.path(), "run shelf.toml --quiet");
    assert_eq!(said.status, 2);
    assert!(said.stderr.contains("nothing describes the switches"), "{}", said.stderr);
    // A table with an error in it is there.
    let wrong = SWITCH.replace("dead_time = \"150 ns\"", "dead_time = \"150 parsec\"");
    assert_ne!(wrong, SWITCH);
    let folder = folder_with(&[("shelf.toml", &shelf(&wrong, "soft_switching = true"))]);
    let said = fairphase(folder.path(), "run shelf.toml --quiet");
    assert!(said.stderr.contains("parsec"), "{}", said.stderr);
    assert!(!said.stderr.contains("nothing describes the switches"), "{}", said.stderr);
}

/// The averaged solver does not tell the currents at the switching instants: a limit on them is refused.
#[test]
fn the_averaged_solver_is_refused_where_soft_switching_is_a_limit() {
    let folder = folder_with(&[("shelf.toml", &shelf(SWITCH, "soft_switching = true"))]);
    for verb in ["run", "check"] {
        let said =
            fairphase(folder.path(), &format!("{verb} shelf.toml --solver averaged --quiet"));
        assert_eq!(said.status, 2, "{verb}: {}", said.stderr);
        assert!(said.stderr.contains("needs the exact solver"), "{verb}: {}", said.stderr);
    }
}

/// The parts of some samples of a run, as `units` reads them.
fn parts_of(out: &Path, wanted: impl Fn(u64) -> bool) -> String {
    let frame = parquet(&out.join("population.parquet"));
    let numbers = counts(&frame, "sample");
    let column = |name: &str, k: usize, unit: &str| floats(&frame, &format!("{name}_{k}{unit}"));
    let mut text =
        "unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,\
                    turns_ratio,series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,\
                    flying_capacitance_return_leg_F\n"
            .to_owned();
    let phases: Vec<[Vec<f64>; 6]> = (1..=3)
        .map(|k| {
            [
                column("resonant_inductance", k, "_H"),
                column("resonant_capacitance", k, "_F"),
                column("magnetising_inductance", k, "_H"),
                column("turns_ratio", k, ""),
                column("series_resistance", k, "_ohm"),
                column("rectifier_drop", k, "_V"),
            ]
        })
        .collect();
    let flying: Vec<[Vec<f64>; 2]> = (1..=2)
        .map(|k| {
            ["flying_capacitance", "flying_capacitance_return_leg"]
                .map(|name| column(name, k, "_F"))
        })
        .collect();
    for (row, number) in numbers.iter().enumerate().filter(|(_, number)| wanted(**number)) {
        for (k, parts) in phases.iter().enumerate() {
            let _ = write!(text, "{number},{}", k + 1);
            for part in parts {
                let _ = write!(text, ",{:e}", part[row]);
            }
            match flying.get(k) {
                Some(both) => both.iter().for_each(|part| {
                    let _ = write!(text, ",{:e}", part[row]);
                }),
                None => text.push_str(",,"),
            }
            text.push('\n');
        }
    }
    text
}

/// What `units` says of parts at a dead time.
fn units(folder: &Path, text: &str, dead_time: f64) -> Value {
    let told = changed(text, "dead_time = \"150 ns\"", &format!("dead_time = \"{dead_time} s\""));
    fs::write(folder.join("now.toml"), told).unwrap();
    serde_json::from_str(&succeed(folder, "units now.toml --parts parts.csv --json")).unwrap()
}

/// Largest shortfall of a unit, with its highest turn-on voltage.
fn transitions<'a>(
    summary: &'a Value,
    unit: &str,
    arrangement: &str,
) -> impl Iterator<Item = &'a Value> {
    let (unit, arrangement) = (unit.to_owned(), arrangement.to_owned());
    let all = summary["commutation"].as_array().unwrap().iter();
    all.filter(move |own| own["unit"] == *unit && own["arrangement"] == *arrangement)
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} of {value}"))
}

/// Samples solved again one by one have the figures that the run wrote.
#[test]
fn listed_samples_turn_on_as_the_run_said() {
    let text = shelf(SWITCH, "");
    let ran = Ran::new(&text, "--samples 12 --no-explain");
    let folder = ran.folder.path();
    fs::write(folder.join("parts.csv"), parts_of(&ran.out(), |_| true)).unwrap();
    let summary = units(folder, &text, 150e-9);
    let column = |name: &str| floats(&ran.samples, name);
    let (volt, shortfall, blocking) =
        (column("turn_on_voltage_V"), column("swing_shortfall"), column("blocking_voltage_V"));
    for arrangement in ["chain", "paralleled"] {
        for (sample, row) in ran.rows(arrangement).into_iter().enumerate() {
            let unit = sample.to_string();
            let own = || transitions(&summary, &unit, arrangement);
            let most = |value: &dyn Fn(&Value) -> f64| own().map(value).fold(-1e9, f64::max);
            let highest = most(&|t| number(t, "turn_on_voltage_V"));
            assert!((highest - volt[row]).abs() < 1e-4, "sample {sample}: {highest}");
            let short = most(&|t| {
                number(t, "turn_on_voltage_V") / number(t, "interval_voltage_V")
                    - number(t, "spare")
            });
            assert!((short - shortfall[row]).abs() < 1e-6, "sample {sample}: {short}");
            let results = summary["results"].as_array().unwrap().iter();
            let mut results =
                results.filter(|r| r["unit"] == unit && r["arrangement"] == arrangement);
            let result = results.next().unwrap();
            let in_dead_time = number(&result["soft_switching"], "highest_voltage_V");
            assert!(in_dead_time <= blocking[row] + 1e-4, "sample {sample}: {in_dead_time}");
        }
    }
}

/// In half bridge the timing makes each high interval a dead time shorter. What that does to the nominal high
/// switches is told, and beside the verdict where a limit may be exceeded by it.
#[test]
fn short_high_intervals_are_told_beside_the_verdict() {
    let switch = format!("{SWITCH}timing = \"falling-first\"\n");
    let half = |limits: &str| {
        let text = changed(
            &shelf(&switch, limits),
            "full-bridge\"\nrectifier",
            "half-bridge\"\nrectifier",
        );
        changed(&text, "380 V", "760 V")
    };
    let told = |ran: &Ran| ran.summary["soft_switching"]["short_high_intervals"].clone();
    let page = |ran: &Ran| fs::read_to_string(ran.out().join("report.html")).unwrap();
    let ran = Ran::new(&half(""), "--samples 500 --no-explain");
    let short = told(&ran);
    for key in ["rms_factor", "peak_factor"] {
        let factor = short[0]["currents"][key].as_f64().unwrap();
        assert!((1.005..1.2).contains(&factor), "{short}");
    }
    let shorter = "each high interval a dead time shorter";
    assert!(page(&ran).contains(shorter));
    let over = "a limit of switches may be exceeded";
    assert!(!page(&ran).contains(over));
    let currents = floats(&ran.samples, "switch_rms_current_A");
    let highest = ran.rows("chain").into_iter().map(|row| currents[row]).fold(0.0, f64::max);
    let limit = format!("switch_rms_current = \"{} A\"", 1.002 * highest);
    let limited = Ran::new(&half(&limit), "--samples 500 --no-explain");
    assert!(page(&limited).contains(over));
    // Both half waves of a full bridge are alike.
    let full = Ran::new(&shelf(&switch, ""), "--samples 50 --no-explain");
    assert_eq!(told(&full), serde_json::json!([]));
    assert!(!page(&full).contains(shorter));
}

const SEARCH: &str =
    "[switch]\noutput_capacitance = \"350 pF\"\ndead_time = \"150 ns\"\nsearch = true\n";

/// The shares over dead times are counts of converters that `units` finds soft, and the range is where
/// these show the target around where the search began.
#[test]
fn the_range_of_dead_times_follows_from_units_solved_again() {
    let text = changed(
        &shelf(&SEARCH.replace("350 pF", "60 pF"), ""),
        "yield_target",
        "yield_target = \"90 %\"\n#",
    );
    let ran = Ran::new(&text, "--samples 200");
    let folder = ran.folder.path();
    let search = &ran.summary["soft_switching"]["search"];
    let first = search["samples_to_choose"].as_u64().unwrap();
    let counted = search["samples_counted"].as_u64().unwrap();
    let wanted = |number: u64| number >= first && number < first + counted;
    fs::write(folder.join("parts.csv"), parts_of(&ran.out(), wanted)).unwrap();
    for (n, arrangement) in ["chain", "paralleled"].into_iter().enumerate() {
        let own = &search["arrangements"][n];
        let tried = own["dead_times"].as_array().unwrap();
        let ends = ["shortest_s", "longest_s"].map(|key| own[key].as_f64());
        for place in [9, 19, 29, 49] {
            let time = number(&tried[place], "dead_time_s");
            let summary = units(folder, &text, time);
            let is_soft = |number: &u64| {
                transitions(&summary, &number.to_string(), arrangement)
                    .all(|t| t["verdict"] == "soft")
            };
            let soft = (first..first + counted).filter(is_soft).count() as f64;
            let told = number(&tried[place], "soft") * counted as f64;
            assert!((soft - told).abs() < 1e-6, "{arrangement} at {time}: {soft} against {told}");
            if let [Some(shortest), Some(longest)] = ends
                && time >= shortest
                && time <= longest
            {
                assert!(number(&tried[place], "soft_lower") >= 0.9, "{arrangement} at {time}");
            }
        }
    }
    let shown = search["arrangements"][1]["shortest_s"].as_f64();
    assert!(shown.is_some(), "a range was shown of the paralleled phases");
}

/// The shelf at resonance and a tenth of its power, where the load's current crosses zero as the phases
/// switch: a paralleled tank then carries `n (Vo + 2 Vd)/(4 Lm f)`. Only these tolerances.
fn at_resonance(tolerances: &str, limits: &str) -> String {
    let text = changed(SHELF, "output_power   = \"3 kW\"", "output_power   = \"300 W\"");
    let text = changed(&text, "output_voltage = \"48 V\"", "output_voltage = \"51.3 V\"");
    let (before, rest) = text.split_once("[tolerance").unwrap();
    let (_, run) = rest.split_once("[run]").unwrap();
    format!(
        "{before}[tolerance.magnetising_inductance]\nshape = \"uniform\"\nband = \"10 %\"\n\n\
         {tolerances}\n[limits]\n{limits}\nyield_target = \"90 %\"\n\n[run]{run}"
    )
}

/// A swing is soft for certain where I td is 1.15 times the charge (CL + CH) Vin. In the rescaled
/// converter I is an N-th of the tank's current. Of three phases with a uniform ±10 % the largest
/// inductance decides: with a target of 90 % the nominal value must be lower by 1.093 to 1.1.
#[test]
fn the_largest_inductance_of_a_population_follows_from_the_charge() {
    let switch = SEARCH.replace("350 pF", "140 pF").replace("150 ns", "60 ns");
    let ran = Ran::new(&format!("{}\n{switch}", at_resonance("", "")), "--samples 400");
    let own = &ran.summary["soft_switching"]["search"]["arrangements"][1];
    let largest = &own["largest_magnetising_inductance"];
    let [nominal, population] =
        ["nominal_parts_H", "target_share_H"].map(|key| number(largest, key));
    assert_eq!(number(largest, "dead_time_s"), 60e-9);
    let frequency = number(&ran.summary["results"][1], "nominal_switching_frequency_Hz");
    let charge = 1.15 * 2.0 * 140e-12 * 380.0;
    let expected = 2.4 * (51.3 + 1.4) / (4.0 * frequency) / 3.0 * 60e-9 / charge;
    // Steps of 2^(1/16); the frequency lies 1 % above resonance, so that the current is a little less.
    let step = 2.0_f64.powf(1.0 / 16.0);
    let within = |found: f64, least: f64, most: f64| {
        assert!(found > least / step / 1.03 && found < most * 1.01, "{found}: {least} to {most}");
    };
    within(nominal, expected, expected);
    within(population, expected / 1.1, expected / 1.093);
    assert!(nominal / population > 1.04, "{nominal} {population}");
}

/// What drives the failures of soft switching is the magnetising inductance where it alone decides: with
/// exact ones all converters pass.
#[test]
fn the_price_of_a_tolerance_shows_among_what_drives_the_failures() {
    let others = "[tolerance.resonant_inductance]\nshape = \"uniform\"\nband = \"0.5 %\"\n\n\
                  [tolerance.resonant_capacitance]\nshape = \"uniform\"\nband = \"0.5 %\"\n";
    let switch = SWITCH.replace("350 pF", "190 pF").replace("150 ns", "60 ns");
    let text = at_resonance(others, "soft_switching = true");
    let ran = Ran::new(&format!("{text}\n{switch}"), "--samples 1600");
    let failing = 1.0 - number(&ran.summary["joint"]["paralleled"]["yield"], "estimate");
    assert!(failing > 0.2 && failing < 0.9, "{failing}");
    let drivers = ran.summary["failure_drivers"].as_array().unwrap();
    let saved = |parameter: &str| {
        let own = drivers.iter().find(|own| {
            own["arrangement"] == "paralleled"
                && own["operating_point"] == "all"
                && own["parameter"] == parameter
        });
        own.map(|own| number(&own["saved"], "estimate")).unwrap()
    };
    assert!(saved("magnetising_inductance") > 0.8 * failing);
    for other in ["resonant_inductance", "resonant_capacitance"] {
        assert!(saved(other) < 0.3 * failing, "{other}: {} of {failing}", saved(other));
    }
}
