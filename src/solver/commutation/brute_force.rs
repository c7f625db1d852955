//! The dead time against small implicit steps with resistive diodes, on random converters: another
//! way to the same, without events, series or groups.

use arrayvec::ArrayVec;
use nalgebra::{DMatrix, DVector};

use super::leg::MovingLeg;
use super::lone_node::LoneNode;
use super::lone_swing::LoneSwing;
use super::motion::Motion;
use super::nodes::{LegCapacitances, LegNodes, PerNode};
use super::tank::{HeldTank, TankCurrents};
use super::transition::{HELD_CURRENTS, HeldLoad, Swing};
use crate::converter::{Leg, MAX_PHASES};

const STEPS: u32 = 4000;
/// Of a conducting diode, in ohm.
const DIODE: f64 = 1e-4;
const E: f64 = 100.0;

/// Numbers between 0 and 1 (xorshift, Marsaglia 2003).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// An invented converter of 2 to 4 phases at the begin of a dead time, and how long that is.
fn converter(numbers: &mut Numbers, phases: usize, legs: usize) -> (Motion, f64) {
    let first_falls = numbers.next() < 0.5;
    let (inductance, capacitance) = (numbers.between(2e-6, 12e-6), numbers.between(1e-10, 6e-10));
    let (ratio, current) = (numbers.between(2.0, 10.0), numbers.between(0.5, 15.0));
    let unbalance = numbers.next() * numbers.next();
    let (mut tanks, mut currents) = (ArrayVec::new(), ArrayVec::new());
    for k in 0..phases {
        let mean = if legs == 2 { 0.0 } else { 0.6 * E };
        tanks.push(HeldTank {
            resonant_inductance: inductance * numbers.between(0.95, 1.05),
            magnetising_inductance: ratio * inductance * numbers.between(0.95, 1.05),
            resistance: numbers.between(0.0, 0.1),
            clamp: E * numbers.between(0.5, 1.1),
            capacitor_voltage: mean + numbers.between(-0.15, 0.15) * E,
        });
        let sign = if k.is_multiple_of(2) == first_falls { 1.0 } else { -1.0 };
        let tank = sign * current * (1.0 + unbalance * numbers.between(-2.0, 2.0));
        let magnetising =
            if numbers.next() < 0.5 { tank } else { tank * numbers.between(0.2, 0.8) };
        let conducting = if tank > 0.0 { 1 } else { -1 };
        let rectifier = if magnetising.to_bits() == tank.to_bits() { 0 } else { conducting };
        currents.push(TankCurrents { tank, magnetising, rectifier });
    }
    let mut leg = |returns: bool| {
        let mut every = |low: f64, high: f64| -> PerNode {
            let mut all = [0.0; MAX_PHASES];
            all[..phases].fill_with(|| numbers.between(low, high));
            all
        };
        let low = every(capacitance, 1.2 * capacitance);
        let high = every(0.3 * capacitance, 1.3 * capacitance);
        let intervals = every(E, 1.03 * E);
        let mut start = intervals;
        for (k, node) in start.iter_mut().enumerate() {
            let falls = (k.is_multiple_of(2) == first_falls) != returns;
            *node = if falls { *node } else { 0.0 };
        }
        let circuit = LegNodes::chain(phases, LegCapacitances { low, high }, intervals);
        MovingLeg::new(circuit, if returns { -1.0 } else { 1.0 }, start)
    };
    let legs = [false, true][..legs].iter().map(|returns| leg(*returns)).collect();
    (Motion::new(tanks, currents, legs), numbers.between(20e-9, 400e-9))
}

/// Tanks and nodes, stepped by the trapezoidal rule with the diodes at the end of each step.
struct Stepped<'a> {
    motion: &'a Motion,
    currents: ArrayVec<TankCurrents, MAX_PHASES>,
    /// Leg after leg.
    nodes: DVector<f64>,
    /// Leg and node of low switches that are on.
    held: Vec<(usize, usize)>,
    step: f64,
}

impl<'a> Stepped<'a> {
    fn phases(&self) -> usize {
        self.currents.len()
    }

    /// What a switch adds to its voltage, node by node.
    fn incidence(&self, leg: usize, switch: usize) -> DVector<f64> {
        let (n, mut a) = (self.phases(), DVector::zeros(self.nodes.len()));
        let at = leg * n + switch % n;
        if switch < n {
            a[at] = 1.0;
        } else {
            a[at] = -1.0;
            if switch > n {
                a[at - 1] = 1.0;
            }
        }
        a
    }

    fn voltage(&self, leg: usize, switch: usize) -> f64 {
        self.incidence(leg, switch).dot(&self.nodes) + self.offset(leg, switch)
    }

    /// Voltage of a switch where all nodes stand at zero. Here the high switches count on from the low
    /// ones.
    fn offset(&self, leg: usize, switch: usize) -> f64 {
        let circuit = &self.motion.legs[leg].circuit;
        switch.checked_sub(self.phases()).map_or(0.0, |k| circuit.interval(k))
    }

    /// At the begin, with small steps of this length.
    fn new(motion: &'a Motion, step: f64) -> Self {
        let phases = motion.tanks.len();
        let nodes = motion.legs.iter().flat_map(|leg| leg.nodes[..phases].to_vec());
        Self {
            motion,
            currents: motion.currents.clone(),
            nodes: DVector::from_iterator(motion.legs.len() * phases, nodes),
            held: Vec::new(),
            step,
        }
    }

    /// Goes on for so many steps. Gives the mean square of each tank's current over them.
    fn go_steps(&mut self, steps: u32) -> Vec<f64> {
        let (matrix, mut conducting) = (capacitances(self.motion), Vec::new());
        let mut squares = vec![0.0; self.phases()];
        for _ in 0..steps {
            self.go(&matrix, &mut conducting);
            let currents = squares.iter_mut().zip(&self.currents);
            currents.for_each(|(sum, own)| *sum += own.tank.powi(2) / f64::from(steps));
        }
        squares
    }

    /// One step of all unknowns: the nodes, then the tank currents.
    fn go(&mut self, capacitances: &DMatrix<f64>, conducting: &mut Vec<(usize, usize)>) {
        let (n, all) = (self.phases(), self.nodes.len());
        let before = self.nodes.clone();
        for _ in 0..20 {
            let mut matrix = DMatrix::zeros(all + n, all + n);
            let mut right = DVector::zeros(all + n);
            matrix.view_mut((0, 0), (all, all)).copy_from(&(capacitances / self.step));
            right.rows_mut(0, all).copy_from(&(capacitances * &before / self.step));
            for (leg, switch) in conducting.iter().chain(&self.held) {
                let a = self.incidence(*leg, *switch);
                let offset = self.offset(*leg, *switch);
                let mut view = matrix.view_mut((0, 0), (all, all));
                view += &a * a.transpose() / DIODE;
                let mut rows = right.rows_mut(0, all);
                rows -= a * offset / DIODE;
            }
            for k in 0..n {
                self.tank_row(k, &before, &mut matrix, &mut right);
            }
            let solution = matrix.lu().solve(&right).unwrap();
            self.nodes.copy_from(&solution.rows(0, all));
            let switches = (0..self.motion.legs.len())
                .flat_map(|leg| (0..2 * n).map(move |switch| (leg, switch)));
            let below: Vec<_> = switches
                .filter(|own| !self.held.contains(own) && self.voltage(own.0, own.1) < 0.0)
                .collect();
            let settled = below == *conducting;
            *conducting = below;
            if settled {
                return self.go_tanks(&solution.rows(all, n).into_owned());
            }
        }
        panic!("the diodes do not settle");
    }

    fn tank_row(
        &self,
        k: usize,
        before: &DVector<f64>,
        matrix: &mut DMatrix<f64>,
        right: &mut DVector<f64>,
    ) {
        let (n, all) = (self.phases(), before.len());
        let (tank, now) = (&self.motion.tanks[k], &self.currents[k]);
        let inductance = tank.inductance(now.rectifier);
        matrix[(all + k, all + k)] = inductance / self.step + 0.5 * tank.resistance;
        right[all + k] = (inductance / self.step - 0.5 * tank.resistance) * now.tank
            - tank.opposing(now.rectifier);
        for (leg, moving) in self.motion.legs.iter().enumerate() {
            let node = leg * n + k;
            matrix[(all + k, node)] = -0.5 * moving.direction;
            right[all + k] += 0.5 * moving.direction * before[node];
            matrix[(node, all + k)] = 0.5 * moving.direction;
            right[node] -= 0.5 * moving.direction * now.tank;
        }
    }

    /// The tanks after the step, with their rectifiers.
    fn go_tanks(&mut self, tanks: &DVector<f64>) {
        for k in 0..self.phases() {
            let tank = &self.motion.tanks[k];
            let legs = self.motion.legs.iter().enumerate();
            let source: f64 =
                legs.map(|(leg, m)| m.direction * self.nodes[leg * self.phases() + k]).sum();
            let now = &mut self.currents[k];
            now.tank = tanks[k];
            now.magnetising = if now.rectifier == 0 {
                now.tank
            } else {
                now.magnetising + tank.magnetising_slope(now.rectifier) * self.step
            };
            let carried = f64::from(now.rectifier) * (now.tank - now.magnetising);
            if now.rectifier == 0 {
                now.rectifier = tank.at_rest(now.tank, source);
            } else if carried < 0.0 {
                tank.change_state(now, source);
            }
        }
    }
}

/// M of all legs.
fn capacitances(motion: &Motion) -> DMatrix<f64> {
    let n = motion.tanks.len();
    let mut matrix = DMatrix::zeros(motion.legs.len() * n, motion.legs.len() * n);
    for (leg, moving) in motion.legs.iter().enumerate() {
        for k in 0..n {
            let at = leg * n + k;
            matrix[(at, at)] = moving.circuit.node_capacitance(k);
            if k > 0 {
                matrix[(at, at - 1)] = -moving.circuit.high(k);
                matrix[(at - 1, at)] = -moving.circuit.high(k);
            }
        }
    }
    matrix
}

#[test]
fn random_converters_move_as_in_small_steps() {
    let mut numbers = Numbers(88_172_645_463_325_252);
    let (mut worst, mut soft, mut hard) = (0.0_f64, 0, 0);
    for case in 0..96 {
        let (phases, legs) = (2 + case % 3, 1 + case / 48);
        let (start, time) = converter(&mut numbers, phases, legs);
        let mut stepped = Stepped::new(&start, time / f64::from(STEPS));
        stepped.go_steps(STEPS);
        let mut moved = start.clone();
        moved.advance(time).unwrap();
        for (leg, moving) in moved.legs.iter().enumerate() {
            for k in 0..phases {
                let error = (moving.nodes[k] - stepped.nodes[leg * phases + k]).abs() / E;
                assert!(error < 3e-3, "case {case}, leg {leg}, node {k}: off by {error:.1e} E");
                worst = worst.max(error);
                let is_soft =
                    moving.voltage(k).min(moving.voltage(LegNodes::<MAX_PHASES>::high_switch(k)))
                        < 0.05 * E;
                (soft, hard) = if is_soft { (soft + 1, hard) } else { (soft, hard + 1) };
            }
        }
    }
    assert!(soft > 80 && hard > 20, "{soft} soft, {hard} not: both kinds were compared");
    assert!(worst > 1e-9, "the two ways differ: {worst:.1e}");
}

/// A node by itself, from where it stands; its neighbours are held at zero.
fn lone(motion: &Motion, leg: usize, k: usize) -> LoneSwing {
    let circuit = &motion.legs[leg].circuit;
    let start = motion.legs[leg].nodes[k];
    LoneSwing {
        leg: Leg::ALL[leg],
        swing: if start > 0.0 { Swing::HighToLow } else { Swing::LowToHigh },
        start,
        interval: circuit.interval(k),
        capacitance: circuit.node_capacitance(k),
        highest_high: 0.0,
        is_mirrored: false,
    }
}

/// Falling phases first: each phase by itself, against all nodes in small steps with the low switches of
/// the others on. Both dead times.
#[test]
fn phases_that_wait_for_others_move_by_themselves() {
    let mut numbers = Numbers(2_463_534_242);
    let (mut worst, mut hard, mut curved) = (0.0_f64, 0, 0.0_f64);
    for case in 0..48 {
        let (phases, legs) = (2 + case % 3, 1 + case / 24);
        let (start, time) = converter(&mut numbers, phases, legs);
        let falls = |leg: usize, k: usize| start.legs[leg].nodes[k] > 0.0;
        let all: Vec<_> = (0..legs).flat_map(|leg| (0..phases).map(move |k| (leg, k))).collect();
        let mut stepped = Stepped::new(&start, time / f64::from(STEPS));
        let mut currents = start.currents.clone();
        for second in [false, true] {
            stepped.held =
                all.iter().copied().filter(|(leg, k)| falls(*leg, *k) == second).collect();
            for (leg, k) in &stepped.held {
                stepped.nodes[leg * phases + k] = 0.0;
            }
            let squares = stepped.go_steps(STEPS);
            for k in 0..phases {
                let swings = (0..legs).find(|leg| falls(*leg, k) != second);
                let swing = swings.map(|leg| lone(&start, leg, k));
                let mut node = match &swing {
                    Some(swing) => swing.begin(start.tanks[k], currents[k]),
                    None => LoneNode::at_rest(start.tanks[k], currents[k]),
                };
                let mut tank = [currents[k].tank; HELD_CURRENTS];
                node.advance_in_steps(time / 4.0, 4, |n, moment| tank[n + 1] = moment.current())
                    .unwrap();
                currents[k] = swing.map_or(node.currents, |swing| swing.of_tank(node.currents));
                let held = HeldLoad::over(&tank);
                curved = curved.max((held.square - squares[k]).abs() / held.peak.0.powi(2));
                let current = currents[k].tank - stepped.currents[k].tank;
                assert!(
                    current.abs() < 3e-3 * start.currents[k].tank.abs().max(1.0),
                    "case {case}"
                );
                if let Some(leg) = swings {
                    let node = node.node;
                    let error = (node - stepped.nodes[leg * phases + k]).abs() / E;
                    assert!(error < 3e-3, "case {case}, leg {leg}, node {k}: off by {error:.1e} E");
                    worst = worst.max(error);
                    hard += usize::from(node > 0.05 * E && node < 0.95 * E);
                }
            }
        }
    }
    assert!(curved < 0.1, "{curved}: five currents tell the mean square of all");
    assert!(hard > 5, "{hard} do not arrive: they were compared too");
    assert!(worst > 1e-9, "the two ways differ: {worst:.1e}");
}
