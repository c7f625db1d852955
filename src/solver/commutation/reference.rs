//! The dead time against a brute-force integration, written apart from this crate: every node of the
//! chain and every capacitance by itself, diodes of 10 µΩ, implicit steps. Invented converters of 2
//! to 4 phases (`tests/data/commutation.json` tells more).

use arrayvec::ArrayVec;
use serde_json::Value;

use super::case::CommutationCase;
use super::instant::{Ready, SwitchingInstant};
use super::leg::MovingLeg;
use super::lone_node::LoneNode;
use super::lone_phase::LonePhase;
use super::motion::Motion;
use super::nodes::{LegCapacitances, LegNodes, PerNode};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::{
    Arrangement, Condition, Converter, Drive, FlyingCapacitors, FrequencyBand, Leg, MAX_PHASES,
    OperatingPoint, Rectifier, SwitchSpecification, SwitchTiming, Tank,
};
use crate::solver::{Case, Method, SteadyState};
use crate::units::{Ampere, Farad, Henry, Hertz, Ohm, Second, Volt};

/// Node voltages and currents must agree within this share of interval voltage and current at the
/// start. The brute force repeated with other accuracy moves by 1e-5.
const AGREES: f64 = 2e-5;

fn file() -> Vec<Value> {
    let text = include_str!("../../../tests/data/commutation.json");
    let file: Value = serde_json::from_str(text).unwrap();
    file["cases"].as_array().unwrap().clone()
}

fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().into_iter().flatten().map(|x| x.as_f64().unwrap()).collect()
}

fn per_node<const ROOM: usize>(v: &Value) -> PerNode<ROOM> {
    let mut all = [0.0; ROOM];
    all.iter_mut().zip(numbers(v)).for_each(|(slot, x)| *slot = x);
    all
}

fn instants(case: &Value) -> impl Iterator<Item = (SwitchingInstant, &Value)> {
    SwitchingInstant::ALL.into_iter().zip(case["instants"].as_array().unwrap())
}

/// Capacitances of a leg's switches, which differ from phase to phase.
fn capacitances<const ROOM: usize>(case: &Value, leg: usize, factor: f64) -> LegCapacitances<ROOM> {
    let ending = if leg == 0 { "_F" } else { "_return_leg_F" };
    let side = |side: &str| {
        per_node(&case[&format!("output_capacitance_{side}{ending}")]).map(|c| c * factor)
    };
    LegCapacitances { low: side("low"), high: side("high") }
}

/// Tanks and legs as the file has them at the begin of the dead time.
fn start_of_file<const ROOM: usize>(case: &Value, instant: &Value) -> Motion<ROOM> {
    let parts = case["parts"].as_array().unwrap();
    let [tank, magnetising, capacitor] =
        ["tank_current_A", "magnetising_current_A", "resonant_capacitor_V"]
            .map(|key| numbers(&instant[key]));
    let tanks = parts.iter().zip(&capacitor).map(|(part, capacitor_voltage)| HeldTank {
        resonant_inductance: number(part, "resonant_inductance_H"),
        magnetising_inductance: number(part, "magnetising_inductance_H"),
        resistance: number(part, "series_resistance_ohm"),
        clamp: number(part, "winding_clamp_V"),
        capacitor_voltage: *capacitor_voltage,
    });
    let states = numbers(&instant["rectifier_state_start"]);
    let currents = (0..parts.len()).map(|k| TankCurrents {
        tank: tank[k],
        magnetising: magnetising[k],
        rectifier: if states[k] > 0.0 { 1 } else { -i8::from(states[k] < 0.0) },
    });
    let legs = instant["legs"].as_array().unwrap().iter().enumerate().map(|(n, leg)| {
        let intervals = per_node(&leg["interval_voltage_V"]);
        let circuit = LegNodes::chain(parts.len(), capacitances(case, n, 1.0), intervals);
        MovingLeg::new(circuit, [1.0, -1.0][n], per_node(&leg["node_start_V"]))
    });
    Motion::new(tanks.collect(), currents.collect(), legs.collect())
}

/// Compares nodes and energy at the end of the dead time.
fn compare<const ROOM: usize>(case: &Value, instant: &Value, motion: &Motion<ROOM>) {
    let what = format!("{}, {}", case["name"], instant["instant"]);
    for (moving, leg) in motion.legs.iter().zip(instant["legs"].as_array().unwrap()) {
        let [interval, end, target] = ["interval_voltage_V", "node_end_V", "node_target_V"]
            .map(|key| per_node::<ROOM>(&leg[key]));
        let mut residual = [0.0; ROOM];
        for k in 0..motion.tanks.len() {
            let error = (moving.nodes[k] - end[k]).abs() / interval[k];
            assert!(error < AGREES, "{what}: node {k} is off by {error:.1e} E");
            residual[k] = moving.nodes[k] - target[k];
        }
        let scale = moving.circuit.node_capacitance(0) * interval[0] * interval[0];
        let error = (moving.circuit.energy(&residual) - number(leg, "energy_half_rMr_J")).abs();
        assert!(error < 1e-3 * scale, "{what}: energy is off by {error:.1e} J");
    }
    let [starts, ends] = ["tank_current_A", "tank_current_end_A"].map(|key| numbers(&instant[key]));
    for ((found, start), end) in motion.currents.iter().zip(starts).zip(ends) {
        let error = (found.tank - end).abs() / start.abs();
        assert!(error < AGREES, "{what}: current is off by {error:.1e}");
    }
    let states = numbers(&instant["rectifier_state_end"]);
    for (found, expected) in motion.currents.iter().zip(states) {
        assert!((f64::from(found.rectifier) - expected).abs() < 0.5, "{what}: rectifiers");
    }
}

#[test]
fn the_dead_time_agrees_with_brute_force() {
    let mut seen = 0;
    for case in file() {
        let time = number(&case, "dead_time_s");
        for (_, instant) in instants(&case) {
            let mut motion = start_of_file::<MAX_PHASES>(&case, instant);
            motion.advance(time).unwrap();
            compare(&case, instant, &motion);
            // The same with no more room than needed.
            let mut motion = start_of_file::<4>(&case, instant);
            motion.advance(time).unwrap();
            compare(&case, instant, &motion);
            seen += 1;
        }
    }
    assert_eq!(seen, 12);
}

fn converter(case: &Value) -> Converter {
    let tanks = case["parts"].as_array().unwrap().iter().map(|part| Tank {
        resonant_inductance: Henry(number(part, "resonant_inductance_H")),
        resonant_capacitance: Farad(number(part, "resonant_capacitance_F")),
        magnetising_inductance: Henry(number(part, "magnetising_inductance_H")),
        turns_ratio: number(part, "turns_ratio"),
        series_resistance: Ohm(number(part, "series_resistance_ohm")),
        rectifier_drop: Volt(number(case, "rectifier_drop_V")),
    });
    let flying =
        |key: &str| -> FlyingCapacitors { numbers(&case[key]).into_iter().map(Farad).collect() };
    let driven = flying("flying_capacitance_F");
    let returning = flying("flying_capacitance_return_leg_F");
    let flying_return = if returning.is_empty() { driven.clone() } else { returning };
    let tanks: ArrayVec<Tank, MAX_PHASES> = tanks.collect();
    Converter {
        healthy_phases: tanks.len(),
        places: None,
        tanks,
        flying: driven,
        flying_return,
        responses: Vec::new(),
        losses: None,
    }
}

fn operating_point(case: &Value) -> OperatingPoint {
    let is = |word: &str, key: &str| case[key] == word;
    OperatingPoint {
        name: case["name"].as_str().unwrap().to_owned(),
        input_voltage: Volt(number(case, "input_voltage_V")),
        output_voltage: Volt(number(case, "output_voltage_V")),
        output_current: Ampere(number(case, "output_current_A")),
        drive: Drive::ALL.into_iter().find(|d| is(d.name(), "drive")).unwrap(),
        rectifier: Rectifier::ALL.into_iter().find(|r| is(r.name(), "rectifier")).unwrap(),
        condition: Condition::default(),
    }
}

/// A case of the file, solved by the exact solver.
struct Solved {
    converter: Converter,
    point: OperatingPoint,
    arrangement: Arrangement,
    state: SteadyState,
    switch: SwitchSpecification,
}

impl Solved {
    fn new(case: &Value, arrangement: Arrangement) -> Self {
        let (converter, point) = (converter(case), operating_point(case));
        let band = FrequencyBand { minimum: Hertz(20e3), maximum: Hertz(2e6) };
        let question = Case::new(point.clone(), band, arrangement);
        let state = Method::Exact.solve(&converter, &question).solved().unwrap().clone();
        let switch = SwitchSpecification {
            low_capacitance: Farad(200e-12),
            high_capacitance: Farad(200e-12),
            dead_time: Second(number(case, "dead_time_s")),
            timing: SwitchTiming::Together,
        };
        Self { converter, point, arrangement, state, switch }
    }

    fn case(&self) -> CommutationCase<'_> {
        CommutationCase {
            state: &self.state,
            converter: &self.converter,
            point: &self.point,
            arrangement: self.arrangement,
            switch: &self.switch,
        }
    }

    /// Tanks and legs of a chain at the begin of the dead time, with the capacitances of the file.
    fn chain(&self, file: &Value, instant: SwitchingInstant) -> Motion<4> {
        let phases = self.converter.phases();
        let mut motion: Motion<4> = Ready::new(self.case()).motion(instant).unwrap();
        for (n, moving) in motion.legs.iter_mut().enumerate() {
            let intervals = std::array::from_fn(|k| moving.circuit.interval(k));
            let circuit = LegNodes::chain(phases, capacitances(file, n, 1.0), intervals);
            *moving = MovingLeg::new(circuit, moving.direction, moving.nodes);
        }
        motion.settle();
        motion
    }

    /// Tank and both legs of a paralleled phase with these capacitances.
    fn both_legs(
        &self,
        phase: usize,
        instant: SwitchingInstant,
        capacitances: [LegCapacitances<1>; 2],
    ) -> Motion<1> {
        let case = self.case();
        let ready = Ready::new(case);
        let interval = ready.lone_swings(instant, phase).unwrap()[0].unwrap().interval;
        let legs: ArrayVec<MovingLeg<1>, 2> = [1.0, -1.0][..self.point.drive.legs()]
            .iter()
            .zip(Leg::ALL)
            .zip(capacitances)
            .map(|((direction, leg), capacitances)| {
                let circuit = LegNodes::chain(1, capacitances, [interval]);
                let start = if instant.falls(phase, leg) { interval } else { 0.0 };
                MovingLeg::new(circuit, *direction, [start])
            })
            .collect();
        let source = legs.iter().map(|leg| leg.source(0)).sum();
        let (tank, currents) = ready.tank(phase, instant, source).unwrap();
        Motion::new(ArrayVec::from([tank]), ArrayVec::from([currents]), legs)
    }

    /// The node of a paralleled phase's driven leg, which stands for both.
    fn one_leg(&self, phase: usize, instant: SwitchingInstant) -> LoneNode {
        let case = self.case();
        let ready = Ready::new(case);
        LonePhase::new(&ready, instant, phase).unwrap().begin_first()
    }
}

/// From the parts to the end of the dead time: the states at the instants are those of the solver.
#[test]
fn solved_converters_commutate_as_brute_force_says() {
    for file in file() {
        let solved = Solved::new(&file, Arrangement::Chain);
        let expected = number(&file, "switching_frequency_Hz");
        assert!((solved.state.switching_frequency.0 / expected - 1.0).abs() < 1e-7);
        let time = solved.switch.dead_time.0;
        for (instant, json) in instants(&file) {
            let mut motion = solved.chain(&file, instant);
            let what = format!("{}, {}", file["name"], json["instant"]);
            for (k, expected) in numbers(&json["resonant_capacitor_V"]).into_iter().enumerate() {
                let found = motion.tanks[k].capacitor_voltage;
                assert!(
                    (found - expected).abs() < 1e-5 * expected.abs().max(1.0),
                    "{what}: {found} {expected}"
                );
            }
            motion.advance(time).unwrap();
            compare(&file, json, &motion);
        }
    }
}

/// Each leg by itself, as the original tanks on their share of the input.
#[test]
fn paralleled_legs_commutate_as_brute_force_says() {
    let mut seen = 0;
    for file in file() {
        let solved = Solved::new(&file, Arrangement::Paralleled);
        let time = solved.switch.dead_time.0;
        let share = solved.point.input_voltage.0 / solved.converter.phases() as f64;
        for (instant, n) in SwitchingInstant::ALL.into_iter().zip(0..) {
            for (k, phase) in file["paralleled"]["phases"].as_array().unwrap().iter().enumerate() {
                let factor = (solved.converter.phases() * solved.converter.phases()) as f64;
                let legs = [0, 1].map(|leg| {
                    let LegCapacitances { low, high } = capacitances::<4>(&file, leg, factor);
                    LegCapacitances { low: [low[k]], high: [high[k]] }
                });
                let mut motion = solved.both_legs(k, instant, legs);
                motion.advance(time).unwrap();
                // The file has each phase's own fall first.
                let turn = &phase[(n + k) % 2];
                let nodes = [&turn["node_end_V"], &turn["return_node_end_V"]];
                for (moving, expected) in motion.legs.iter().zip(nodes) {
                    let error = (moving.nodes[0] - expected.as_f64().unwrap()).abs() / share;
                    assert!(
                        error < AGREES,
                        "{} {instant:?}: {k} off by {error:.1e} E",
                        file["name"]
                    );
                    seen += 1;
                }
            }
        }
    }
    assert_eq!(seen, 2 * (2 + 4 + 6 + 3 + 4 + 8));
}

/// One leg that stands for two, and one instant for both of the period: both legs at both instants end
/// where these say.
#[test]
fn a_paralleled_phase_mirrors_itself() {
    let (mut worst, mut seen) = (0.0_f64, 0);
    for file in file() {
        let solved = Solved::new(&file, Arrangement::Paralleled);
        let (time, square) =
            (solved.switch.dead_time.0, (solved.converter.phases() as f64).powi(2));
        let (low, high) = (solved.switch.low_capacitance.0, solved.switch.high_capacitance.0);
        let equal = LegCapacitances { low: [low * square], high: [high * square] };
        for k in 0..solved.converter.phases() {
            let mut one = solved.one_leg(k, SwitchingInstant::OddFall);
            one.advance(time).unwrap();
            let interval = one.interval;
            let falls = SwitchingInstant::OddFall.falls(k, Leg::Driven);
            for instant in SwitchingInstant::ALL {
                let mut both = solved.both_legs(k, instant, [equal, equal]);
                both.advance(time).unwrap();
                for (moving, leg) in both.legs.iter().zip(Leg::ALL) {
                    let is_alike = instant.falls(k, leg) == falls;
                    let node = if is_alike { moving.nodes[0] } else { interval - moving.nodes[0] };
                    worst = worst.max((node - one.node).abs() / interval);
                    seen += 1;
                }
            }
        }
    }
    assert_eq!(seen, 2 * (2 + 4 + 6 + 3 + 4 + 8));
    assert!(worst < 1e-7, "{worst:.1e} E apart");
}
