//! The file of `units --waveforms`, judged by the circuit's own equations: Kirchhoff's laws, the charge of every
//! capacitor, the flux of every inductance. Integrals are those of the written rows; nothing of the solver
//! enters but these rows. All converters are invented.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]
#![allow(non_snake_case, reason = "columns are named by their units")]
#![allow(clippy::float_cmp, reason = "two rows share one time to the last bit")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde::Deserialize;

use crate::support::{SHELF, changed, entries, fairphase, folder_with, succeed};

/// Parts of one phase, SI units.
#[derive(Clone, Copy)]
struct Tank {
    lr: f64,
    cr: f64,
    lm: f64,
    n: f64,
    r: f64,
    drop: f64,
    /// Flying capacitors to the next phase, in the driven and in the return leg; zero where there is none.
    flying: [f64; 2],
}

/// A converter with unequal parts at one operating point.
struct Circuit {
    name: &'static str,
    tanks: Vec<Tank>,
    full_bridge: bool,
    rectifier: &'static str,
    input: f64,
    output: f64,
    current: f64,
}

impl Circuit {
    fn new(name: &'static str, phases: usize, full_bridge: bool, rectifier: &'static str) -> Self {
        // Up to ±8 % in steps that no two parts have in common.
        let off = |n: usize| 1.0 + 0.08 * ((n * 7 % 11) as f64 / 5.0 - 1.0);
        let tank = |k: usize| Tank {
            lr: 4.56e-6 * off(k),
            cr: 247e-9 * off(k + 3),
            lm: 22.8e-6 * off(k + 5),
            n: 2.4 * (1.0 + 0.01 * k as f64),
            r: 0.03 * off(k + 1),
            drop: 0.7,
            flying: if k + 1 < phases {
                [50e-6 * off(k + 2), 50e-6 * off(k + 6)]
            } else {
                [0.0; 2]
            },
        };
        // Each bridge's share and the rectifier set the gain; all stay near resonance.
        let share = 380.0 / 3.0;
        let swing = if full_bridge { 1.0 } else { 0.5 };
        let doubled = if rectifier == "voltage-doubler" { 2.0 } else { 1.0 };
        Self {
            name,
            tanks: (0..phases).map(tank).collect(),
            full_bridge,
            rectifier,
            input: share * phases as f64,
            output: 48.0 * swing * doubled,
            current: 20.0 * phases as f64 / doubled,
        }
    }

    fn all() -> [Self; 4] {
        [
            Self::new("three", 3, true, "full-bridge"),
            Self::new("two", 2, false, "centre-tap"),
            Self::new("four", 4, true, "voltage-doubler"),
            Self::new("twelve", 12, false, "full-bridge"),
        ]
    }

    fn scenario(&self) -> String {
        let text = changed(SHELF, "phases = 3", &format!("phases = {}", self.tanks.len()));
        let text = changed(&text, "\"380 V\"", &format!("\"{} V\"", self.input));
        let text = changed(&text, "\"48 V\"", &format!("\"{} V\"", self.output));
        let current = format!("output_current = \"{} A\"", self.current);
        let text = changed(&text, "output_power   = \"3 kW\"", &current);
        let drive = if self.full_bridge { "full-bridge" } else { "half-bridge" };
        let text = changed(&text, "drive     = \"full-bridge\"", &format!("drive = \"{drive}\""));
        let rectifier = format!("rectifier = \"{}\"", self.rectifier);
        let text = changed(&text, "rectifier = \"full-bridge\"", &rectifier);
        changed(&text, "\"300 kHz\"", "\"400 kHz\"")
    }

    fn parts(&self) -> String {
        let rows = self.tanks.iter().enumerate().map(|(k, t)| {
            let flying = t.flying.map(|c| if c > 0.0 { c.to_string() } else { String::new() });
            let [driven, returned] = flying;
            let Tank { lr, cr, lm, n, r, drop, .. } = t;
            format!("unequal,{},{lr},{cr},{lm},{n},{r},{drop},{driven},{returned}\n", k + 1)
        });
        let header = "unit,phase,resonant_inductance_H,resonant_capacitance_F,magnetising_inductance_H,\
                      turns_ratio,series_resistance_ohm,rectifier_drop_V,flying_capacitance_F,\
                      flying_capacitance_return_leg_F\n";
        header.to_owned() + &rows.collect::<String>()
    }

    /// Voltage at which a conducting rectifier holds the primary winding, and the output current for one
    /// ampere of rectified primary current. The windings and diodes in the path tell both; textbook facts.
    fn clamp_and_gain(&self, k: usize) -> (f64, f64) {
        let Tank { n, drop, .. } = self.tanks[k];
        match self.rectifier {
            "full-bridge" => (n * (self.output + 2.0 * drop), n),
            "centre-tap" => (n * (self.output + drop), n),
            _ => (0.5 * n * (self.output + 2.0 * drop), 0.5 * n),
        }
    }

    /// Charge per volt that the flying capacitors around a phase take in series, inverted: 1/farad, in a leg.
    fn elastance(&self, k: usize, leg: usize) -> f64 {
        let around = [k.checked_sub(1), Some(k)].into_iter().flatten();
        around.map(|n| self.tanks[n].flying[leg]).filter(|c| *c > 0.0).map(f64::recip).sum()
    }
}

#[derive(Debug, Clone, Deserialize)]
struct Row {
    unit: String,
    operating_point: String,
    arrangement: String,
    phase: usize,
    time_s: f64,
    tank_current_A: f64,
    magnetising_current_A: f64,
    rectified_current_A: f64,
    bridge_voltage_V: f64,
    resonant_capacitor_voltage_V: f64,
    flying_capacitor_voltage_V: Option<f64>,
    flying_capacitor_return_leg_voltage_V: Option<f64>,
}

impl Row {
    fn flying(&self, leg: usize) -> Option<f64> {
        [self.flying_capacitor_voltage_V, self.flying_capacitor_return_leg_voltage_V][leg]
    }

    /// What the bridge and the resonant capacitor leave for the rest of the tank.
    fn rest(&self) -> f64 {
        self.bridge_voltage_V - self.resonant_capacitor_voltage_V
    }
}

fn rows(path: &Path) -> Vec<Row> {
    let file = fs::read_to_string(path).unwrap();
    csv::Reader::from_reader(file.as_bytes()).deserialize().map(Result::unwrap).collect()
}

/// A phase of a circuit with its rows, in both halves of the period.
struct Phase<'a> {
    circuit: &'a Circuit,
    chain: bool,
    k: usize,
    halves: [&'a [Row]; 2],
}

/// ∫ y dt over a step from y, y' and y'' at both ends: exact to the fifth degree (Hermite; two-point formula
/// of Euler and Maclaurin's kind, error h⁷ y⁽⁶⁾ / 100 800).
fn hermite(h: f64, from: [f64; 3], to: [f64; 3]) -> f64 {
    h / 2.0 * (from[0] + to[0])
        + h * h / 10.0 * (from[1] - to[1])
        + h * h * h / 120.0 * (from[2] + to[2])
}

/// What a step of the file moves.
struct Step {
    charge: f64,
    /// ∫ (bridge less resonant capacitor) dt.
    flux: f64,
    /// −1, 0 or 1: how the rectifier conducts.
    sign: f64,
}

impl Phase<'_> {
    fn tank(&self) -> Tank {
        self.circuit.tanks[self.k]
    }

    /// 1/farad that the tank current sees beside the resonant capacitor in one half of the period told.
    fn beside(&self, half: usize) -> f64 {
        let leg = (half + self.k) % 2;
        let switches = self.chain && (leg == 0 || self.circuit.full_bridge);
        if switches { self.circuit.elastance(self.k, leg) } else { 0.0 }
    }

    /// Integrals over a step, with slopes from Kirchhoff's voltage law.
    fn step(&self, half: usize, from: &Row, to: &Row) -> Step {
        let Tank { lr, cr, lm, r, .. } = self.tank();
        let (clamp, _) = self.circuit.clamp_and_gain(self.k);
        let difference = |row: &Row| row.tank_current_A - row.magnetising_current_A;
        let apart = difference(from) + difference(to);
        let is_off = apart.abs() < 1e-7;
        let sign = if is_off { 0.0 } else { apart.signum() };
        let inductance = if is_off { lr + lm } else { lr };
        let elastance = 1.0 / cr + self.beside(half);
        let jets = |row: &Row| {
            let (i, u) = (row.tank_current_A, row.rest());
            let slope = (u - sign * clamp - r * i) / inductance;
            let fall = -i * elastance;
            let curvature = (fall - r * slope) / inductance;
            ([i, slope, curvature], [u, fall, -slope * elastance])
        };
        let (h, (i0, u0), (i1, u1)) = (to.time_s - from.time_s, jets(from), jets(to));
        Step { charge: hermite(h, i0, i1), flux: hermite(h, u0, u1), sign }
    }

    fn steps(&self) -> impl Iterator<Item = (usize, &Row, &Row, Step)> {
        let of_half = move |half: usize| {
            let pairs = self.halves[half].windows(2);
            pairs.map(move |p| (half, &p[0], &p[1], self.step(half, &p[0], &p[1])))
        };
        of_half(0).chain(of_half(1))
    }

    /// Charge in the half in which its driven leg is high.
    fn own_charge(&self) -> f64 {
        self.steps().filter(|(half, ..)| half % 2 == self.k % 2).map(|(.., step)| step.charge).sum()
    }

    /// Both currents, the resonant capacitor and the magnetising inductance between neighbouring rows.
    fn keeps_its_equations(&self) {
        let Tank { lr, cr, lm, r, .. } = self.tank();
        let (clamp, gain) = self.circuit.clamp_and_gain(self.k);
        let charge = self.own_charge().abs();
        let flux = clamp * self.halves[0].last().unwrap().time_s;
        for (_, from, to, step) in self.steps() {
            let change = |value: fn(&Row) -> f64| value(to) - value(from);
            let stored = cr * change(|row| row.resonant_capacitor_voltage_V);
            assert!(
                (stored - step.charge).abs() < 1e-8 * charge,
                "C v' = i: {stored} {}",
                step.charge
            );
            let winding = lm * change(|row| row.magnetising_current_A);
            let held = step.sign * clamp * (to.time_s - from.time_s);
            assert!(step.sign == 0.0 || (winding - held).abs() < 1e-8 * flux, "Lm im' = ±Vp");
            let missing =
                step.flux - winding - lr * change(|row| row.tank_current_A) - r * step.charge;
            assert!(
                missing.abs() < 1e-8 * flux,
                "the voltages of the tank: {missing} of {flux} V s"
            );
            for row in [from, to] {
                let rectified = gain * (row.tank_current_A - row.magnetising_current_A).abs();
                assert!((rectified - row.rectified_current_A).abs() < 1e-9 * (1.0 + rectified));
            }
        }
    }

    /// Mean output current: of each step what the tank and the magnetising current differ by in charge.
    fn output(&self) -> f64 {
        let (_, gain) = self.circuit.clamp_and_gain(self.k);
        let magnetised = |from: &Row, to: &Row| {
            0.5 * (to.time_s - from.time_s)
                * (from.magnetising_current_A + to.magnetising_current_A)
        };
        let rectified = self.steps().map(|(_, from, to, step)| {
            if step.sign == 0.0 { 0.0 } else { step.sign * (step.charge - magnetised(from, to)) }
        });
        gain * rectified.sum::<f64>() / self.halves[1].last().unwrap().time_s
    }
}

/// Rows of every phase in one arrangement, each split where all bridges switch.
fn phases<'a>(circuit: &'a Circuit, rows: &'a [Row], arrangement: &str) -> Vec<Phase<'a>> {
    let first = rows.iter().position(|row| row.arrangement == arrangement).unwrap();
    let own = &rows[first..];
    let end = own.iter().position(|row| row.arrangement != arrangement).unwrap_or(own.len());
    let all: Vec<&[Row]> = own[..end].chunk_by(|a, b| a.phase == b.phase).collect();
    assert_eq!(all.len(), circuit.tanks.len());
    let of_phase = |(k, rows): (usize, &'a [Row])| {
        assert!(rows.iter().all(|row| row.phase == k + 1 && row.unit == "unequal"));
        assert!(rows.iter().all(|row| row.operating_point == "full load"));
        let half = 1 + rows.windows(2).position(|p| p[0].time_s == p[1].time_s).unwrap();
        let (first, second) = rows.split_at(half);
        let ends = [first[0].time_s, first[half - 1].time_s, second.last().unwrap().time_s];
        assert!(ends[0] == 0.0 && (ends[2] / ends[1] - 2.0).abs() < 1e-12, "{ends:?}");
        Phase { circuit, chain: arrangement == "chain", k, halves: [first, second] }
    };
    all.into_iter().enumerate().map(of_phase).collect()
}

/// By arrangement and phase: output current and peak tank current.
type Told = BTreeMap<(String, usize), [f64; 2]>;

/// The file of a circuit, and its `units.csv` by arrangement and phase: output current and peak tank current.
fn written(circuit: &Circuit) -> (Vec<Row>, Told) {
    let files = [("scenario.toml", circuit.scenario()), ("parts.csv", circuit.parts())];
    let folder = folder_with(&files.each_ref().map(|(name, text)| (*name, text.as_str())));
    succeed(
        folder.path(),
        "units scenario.toml --parts parts.csv --waveforms waves.csv --out out --quiet",
    );
    let text = fs::read_to_string(folder.path().join("out/units.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let of_row = |row: BTreeMap<String, String>| {
        assert_eq!(row["status"], "solved", "{}", circuit.name);
        let number = |name: &str| row[name].parse::<f64>().unwrap();
        let told = ["output_current_A", "peak_tank_current_A"].map(number);
        ((row["arrangement"].clone(), row["phase"].parse().unwrap()), told)
    };
    let told = reader.deserialize().map(|row| of_row(row.unwrap())).collect();
    (rows(&folder.path().join("waves.csv")), told)
}

#[test]
fn every_tank_keeps_kirchhoffs_laws_and_delivers_its_current() {
    for circuit in Circuit::all() {
        let (rows, told) = written(&circuit);
        for arrangement in ["chain", "paralleled"] {
            let phases = phases(&circuit, &rows, arrangement);
            let mut delivered = 0.0;
            for phase in &phases {
                phase.keeps_its_equations();
                let [output, peak] = told[&(arrangement.to_owned(), phase.k + 1)];
                let missing = phase.output() - output;
                assert!(missing.abs() < 1e-8 * circuit.current, "{}: {missing} A", circuit.name);
                delivered += phase.output();
                let currents =
                    phase.halves.iter().copied().flatten().map(|row| row.tank_current_A.abs());
                let highest = currents.fold(0.0, f64::max);
                assert!(
                    (highest / peak - 1.0).abs() < 1e-9,
                    "extremes have rows: {highest} {peak}"
                );
            }
            assert!((delivered / circuit.current - 1.0).abs() < 1e-8, "{}", circuit.name);
        }
    }
}

/// The rating of the resonant capacitors is the highest voltage of the curves, with the mean that unequal legs leave on
/// them.
#[test]
fn resonant_capacitors_are_rated_for_what_the_curves_show() {
    for circuit in Circuit::all() {
        let files = [("scenario.toml", circuit.scenario()), ("parts.csv", circuit.parts())];
        let folder = folder_with(&files.each_ref().map(|(name, text)| (*name, text.as_str())));
        let command =
            "units scenario.toml --parts parts.csv --waveforms waves.csv --out out --quiet";
        succeed(folder.path(), command);
        let curves = rows(&folder.path().join("waves.csv"));
        let chain = curves.iter().filter(|row| row.arrangement == "chain");
        let highest = chain.map(|row| row.resonant_capacitor_voltage_V.abs()).fold(0.0, f64::max);
        let text = fs::read_to_string(folder.path().join("out/unit_ratings.csv")).unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let mut told = reader.deserialize().map(Result::unwrap);
        let row: BTreeMap<String, String> =
            told.find(|row: &BTreeMap<String, String>| row["arrangement"] == "chain").unwrap();
        let rated: f64 = row["resonant_capacitor_peak_voltage_V"].parse().unwrap();
        assert!((rated / highest - 1.0).abs() < 1e-9, "{}: {rated} {highest}", circuit.name);
    }
}

#[test]
fn neighbouring_phases_of_a_chain_move_the_same_charge() {
    for circuit in Circuit::all() {
        let (rows, _) = written(&circuit);
        let charges = |arrangement: &str| {
            let phases = phases(&circuit, &rows, arrangement);
            phases.iter().map(Phase::own_charge).collect::<Vec<_>>()
        };
        for pair in charges("chain").windows(2) {
            assert!((pair[1] / pair[0] - 1.0).abs() < 1e-9, "{}: {pair:?}", circuit.name);
        }
        let apart = charges("paralleled").windows(2).any(|p| (p[1] / p[0] - 1.0).abs() > 0.01);
        assert!(apart, "{}: unequal tanks differ where nothing balances them", circuit.name);
    }
}

/// `C dv/dt = i` for every flying capacitor, and the bridge voltage between its neighbours.
#[test]
fn flying_capacitors_hold_what_their_phases_bring_and_take() {
    for circuit in Circuit::all() {
        let (rows, _) = written(&circuit);
        let phases = phases(&circuit, &rows, "chain");
        let count = phases.len();
        let legs = if circuit.full_bridge { 2 } else { 1 };
        for (half, phase) in phases.iter().flat_map(|phase| [0, 1].map(|half| (half, phase))) {
            let leg = (half + phase.k) % 2;
            if leg >= legs {
                assert!(phase.halves[half].iter().all(|row| row.bridge_voltage_V.abs() < 1e-9));
                continue;
            }
            let at = |node: usize, n: usize| match node {
                0 => circuit.input,
                node if node == count => 0.0,
                node => phases[node - 1].halves[half][n].flying(leg).unwrap(),
            };
            let sign = if leg == 0 { 1.0 } else { -1.0 };
            let rows = phase.halves[half];
            for (n, row) in rows.iter().enumerate() {
                let between = sign * (at(phase.k, n) - at(phase.k + 1, n));
                let missing = row.bridge_voltage_V - between;
                assert!(missing.abs() < 1e-6, "{}: {missing} V", circuit.name);
            }
            for (n, pair) in rows.windows(2).enumerate() {
                let charge = sign * phase.step(half, &pair[0], &pair[1]).charge;
                for (node, direction) in [(phase.k, -1.0), (phase.k + 1, 1.0)] {
                    if node == 0 || node == count {
                        continue;
                    }
                    let capacitance = circuit.tanks[node - 1].flying[leg];
                    let stored = capacitance * (at(node, n + 1) - at(node, n));
                    let missing = stored - direction * charge;
                    let whole = phase.own_charge();
                    assert!(missing.abs() < 1e-8 * whole, "{}: {missing} C", circuit.name);
                }
            }
        }
        let last = phases.last().unwrap().halves[0];
        assert!(last.iter().all(|row| row.flying(0).is_none() && row.flying(1).is_none()));
        let first = phases[0].halves[0];
        assert!(first.iter().all(|row| row.flying(1).is_some() == circuit.full_bridge));
    }
}

/// After a period everything is where it was, and all phases are told at the same instants, few enough to plot
/// and near enough for straight lines.
#[test]
fn the_period_closes_and_rows_are_as_dense_as_the_curves_need() {
    for circuit in Circuit::all() {
        let (rows, _) = written(&circuit);
        for arrangement in ["chain", "paralleled"] {
            let phases = phases(&circuit, &rows, arrangement);
            let times = |phase: &Phase<'_>| -> Vec<f64> {
                phase.halves.iter().copied().flatten().map(|row| row.time_s).collect()
            };
            let shared = times(&phases[0]);
            assert!((40..=600).contains(&shared.len()), "{}: {}", circuit.name, shared.len());
            let largest = rows.iter().map(|row| row.tank_current_A.abs()).fold(0.0, f64::max);
            for phase in &phases {
                assert_eq!(times(phase), shared);
                let (first, last) = (&phase.halves[0][0], phase.halves[1].last().unwrap());
                let ends: [fn(&Row) -> f64; 4] = [
                    |row| row.tank_current_A,
                    |row| row.magnetising_current_A,
                    |row| row.resonant_capacitor_voltage_V,
                    |row| row.flying_capacitor_voltage_V.unwrap_or_default(),
                ];
                for value in ends {
                    let scale = value(first).abs().max(1.0);
                    assert!((value(first) - value(last)).abs() < 1e-7 * scale, "{}", circuit.name);
                }
                // The integral of a straight line and the true one: their difference tells the bend.
                for (_, from, to, step) in phase.steps() {
                    let h = to.time_s - from.time_s;
                    let straight = 0.5 * h * (from.tank_current_A + to.tank_current_A);
                    assert!(
                        (step.charge - straight).abs() <= 1e-3 * largest * h,
                        "{}",
                        circuit.name
                    );
                }
            }
        }
    }
}

/// A folder with a circuit to solve and a file that is not ours.
fn prepared() -> tempfile::TempDir {
    let circuit = Circuit::new("two", 2, false, "centre-tap");
    let (scenario, parts) = (circuit.scenario(), circuit.parts());
    folder_with(&[("scenario.toml", &scenario), ("parts.csv", &parts), ("notes.csv", "mine,1\n")])
}

#[test]
fn only_a_former_file_of_waveforms_is_replaced() {
    let folder = prepared();
    let units = "units scenario.toml --parts parts.csv --out out --quiet --waveforms";
    let before: Vec<Vec<u8>> = ["scenario.toml", "parts.csv", "notes.csv"]
        .map(|name| fs::read(folder.path().join(name)).unwrap())
        .into();
    let refusals = [
        ("parts.csv", "this command reads it"),
        ("./scenario.toml", "this command reads it"),
        ("notes.csv", "no former file of this kind"),
        ("out/units.csv", "a result file has this name"),
        ("out/../out/summary.json", "a result file has this name"),
        ("gone/waves.csv", "there is no folder gone"),
        (".", "no former file of this kind"),
    ];
    for (file, why) in refusals {
        let said = fairphase(folder.path(), &format!("{units} {file}"));
        assert_eq!(said.status, 2, "{file}: {}", said.stderr);
        assert!(said.stderr.contains(why), "{file}: {}", said.stderr);
        assert_eq!(entries(folder.path()), ["notes.csv", "parts.csv", "scenario.toml"], "{file}");
    }
    for (name, bytes) in ["scenario.toml", "parts.csv", "notes.csv"].iter().zip(before) {
        assert_eq!(fs::read(folder.path().join(name)).unwrap(), bytes, "{name}");
    }
    succeed(folder.path(), &format!("{units} waves.csv --threads 1"));
    let first = fs::read(folder.path().join("waves.csv")).unwrap();
    succeed(folder.path(), &format!("{units} waves.csv --threads 4"));
    assert_eq!(
        fs::read(folder.path().join("waves.csv")).unwrap(),
        first,
        "for any number of threads"
    );
    let there = ["notes.csv", "out", "parts.csv", "scenario.toml", "waves.csv"];
    assert_eq!(entries(folder.path()), there);
}

#[test]
fn the_averaged_solver_has_no_waveforms_and_what_is_not_solved_has_no_rows() {
    let folder = prepared();
    let units = "units scenario.toml --parts parts.csv --out out --quiet --waveforms waves.csv";
    let said = fairphase(folder.path(), &format!("{units} --solver averaged"));
    assert_eq!(said.status, 2);
    assert!(said.stderr.contains("exclude each other"), "{}", said.stderr);
    assert!(!folder.path().join("waves.csv").exists());
    // An output voltage that the band does not reach.
    let scenario = fs::read_to_string(folder.path().join("scenario.toml")).unwrap();
    let beyond = changed(&scenario, "\"24 V\"", "\"300 V\"");
    fs::write(folder.path().join("scenario.toml"), beyond).unwrap();
    succeed(folder.path(), units);
    let told = fs::read_to_string(folder.path().join("out/units.csv")).unwrap();
    assert!(!told.contains(",solved,"), "{told}");
    let text = fs::read_to_string(folder.path().join("waves.csv")).unwrap();
    assert_eq!(text.lines().count(), 1, "the names of the columns alone");
}
