//! The whole switched circuit with body diodes, step by step: nodal equations, the trapezoidal rule, and
//! backward Euler after each event. It shares nothing with the solver.

use std::collections::HashMap;

use fairphase::converter::{FailureMode, Fault, Leg};

use super::designs::RandomDesign;

const STEPS: usize = 500;
const CLOSED: f64 = 1e3;
const OPEN: f64 = 1e-7;
const DIODE: f64 = 0.8;

/// A period as it was followed.
#[derive(Debug, Clone)]
pub(super) struct FollowedPeriod {
    /// Output current of every phase.
    pub(super) currents: Vec<f64>,
    /// Mean voltage of every flying capacitor, leg by leg.
    pub(super) capacitors: Vec<Vec<f64>>,
    /// Highest voltage across the high and the low switch of every phase while it is off, leg by leg.
    pub(super) blocking: Vec<Vec<[f64; 2]>>,
}

impl FollowedPeriod {
    pub(super) fn total(&self) -> f64 {
        self.currents.iter().sum()
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct TankState {
    current: f64,
    capacitor: f64,
    magnetising: f64,
    /// Voltage across the whole tank at the last step.
    source: f64,
    /// +1 or −1: the rectifier conducts with this sign.
    sign: f64,
}

/// A converter on its way through time.
pub(super) struct Circuit<'a> {
    design: &'a RandomDesign,
    fault: Option<Fault>,
    tanks: Vec<TankState>,
    /// Voltage and current of C(k) at index k − 1.
    flying: Vec<Vec<[f64; 2]>>,
    /// Whether the body diode of the high and of the low switch conducts.
    diodes: Vec<Vec<[bool; 2]>>,
    euler: u8,
    half: usize,
    blocking: Vec<Vec<[f64; 2]>>,
    inverses: HashMap<Vec<u8>, Vec<f64>>,
}

/// What a step is solved with.
struct Step {
    length: f64,
    theta: f64,
    gates: Vec<Vec<[bool; 2]>>,
}

impl<'a> Circuit<'a> {
    /// From the ideal voltages.
    pub(super) fn new(design: &'a RandomDesign) -> Self {
        let (n, input) = (design.phases(), design.point.input_voltage.0);
        let legs = design.point.drive.legs();
        let ideal = |k: usize| input * (n - k) as f64 / n as f64;
        let offset = if legs == 1 { 0.5 * input / n as f64 } else { 0.0 };
        Self {
            design,
            fault: None,
            tanks: vec![TankState { capacitor: offset, ..TankState::default() }; n],
            flying: vec![(1..n).map(|k| [ideal(k), 0.0]).collect(); legs],
            diodes: vec![vec![[false; 2]; n]; legs],
            euler: 2,
            half: 1,
            blocking: vec![vec![[0.0; 2]; n]; legs],
            inverses: HashMap::new(),
        }
    }

    /// From here on a part has failed.
    pub(super) fn fail(&mut self, fault: Fault) {
        self.fault = Some(fault);
        self.inverses.clear();
        self.euler = 2;
    }

    fn failed(&self, leg: usize, k: usize, failures: &[FailureMode]) -> bool {
        self.fault.is_some_and(|own| {
            own.phase == k && own.is_in_leg(Leg::ALL[leg]) && failures.contains(&own.failure)
        })
    }

    /// Follows a period at a switching frequency.
    pub(super) fn period(&mut self, frequency: f64) -> FollowedPeriod {
        self.inverses.clear();
        let n = self.tanks.len();
        let length = 1.0 / frequency / STEPS as f64;
        let mut charge = vec![0.0; n];
        let mut means = vec![vec![0.0; n - 1]; self.flying.len()];
        self.blocking.iter_mut().flatten().for_each(|own| *own = [0.0; 2]);
        for step in 0..STEPS {
            let half = 2 * step / STEPS;
            if half != self.half {
                (self.half, self.euler) = (half, 2);
            }
            self.advance(length, &mut charge);
            for (mean, own) in means.iter_mut().flatten().zip(self.flying.iter().flatten()) {
                *mean += own[0] / STEPS as f64;
            }
        }
        let point = &self.design.point;
        let gain =
            |k: usize| point.rectifier.current_gain(self.design.converter.tanks[k].turns_ratio);
        let currents = charge.iter().enumerate().map(|(k, q)| gain(k) * q * frequency).collect();
        FollowedPeriod { currents, capacitors: means, blocking: self.blocking.clone() }
    }

    /// High and low gate of every switch.
    fn gates(&self) -> Vec<Vec<[bool; 2]>> {
        let of_switch = |leg: usize, k: usize| {
            let is_high = (k + leg + self.half).is_multiple_of(2);
            let dead = |failures: &[FailureMode]| self.failed(leg, k, failures);
            let high = (is_high && !dead(&[FailureMode::BothGatesOff, FailureMode::HighGateOff]))
                || dead(&[FailureMode::HighSwitchShort]);
            let low = (!is_high && !dead(&[FailureMode::BothGatesOff, FailureMode::LowGateOff]))
                || dead(&[FailureMode::LowSwitchShort, FailureMode::Bypassed]);
            [high, low]
        };
        let of_leg = |leg| (0..self.tanks.len()).map(|k| of_switch(leg, k)).collect();
        (0..self.flying.len()).map(of_leg).collect()
    }

    /// The node after phase k (counted from 1) of a leg, T(k); none for the input.
    fn top(&self, leg: usize, k: usize) -> Option<usize> {
        let n = self.tanks.len();
        match k {
            0 => None,
            _ if k == n => Some(self.switching(leg, n)),
            _ => Some(leg * (2 * n - 1) + k - 1),
        }
    }

    /// The switching node S(k), k from 1.
    fn switching(&self, leg: usize, k: usize) -> usize {
        let n = self.tanks.len();
        leg * (2 * n - 1) + n - 1 + k - 1
    }

    fn clamp(&self, k: usize) -> f64 {
        let (tank, point) = (&self.design.converter.tanks[k], &self.design.point);
        point.rectifier.clamp_voltage(tank.turns_ratio, point.output_voltage, tank.rectifier_drop)
    }

    fn is_open(&self, k: usize, failures: &[FailureMode]) -> bool {
        self.fault.is_some_and(|own| own.phase == k && failures.contains(&own.failure))
    }

    /// Conductance and current source of a tank over a step.
    fn companion(&self, k: usize, step: &Step) -> [f64; 2] {
        if self.is_open(k, &[FailureMode::TankOpen, FailureMode::Bypassed]) {
            return [OPEN, 0.0];
        }
        let (own, tank) = (&self.tanks[k], &self.design.converter.tanks[k]);
        let (h, theta) = (step.length, step.theta);
        let is_off = own.sign == 0.0;
        let lm = if is_off { tank.magnetising_inductance.0 } else { 0.0 };
        let (l, c, r) = (
            tank.resonant_inductance.0 + lm,
            tank.resonant_capacitance.0,
            tank.series_resistance.0,
        );
        let clamp = own.sign * self.clamp(k);
        let before = own.source - r * own.current - own.capacitor - clamp;
        let after = -own.capacitor - h / c * (1.0 - theta) * own.current - clamp;
        let constant = own.current + h / l * ((1.0 - theta) * before + theta * after);
        let weight = 1.0 + h * theta * r / l + h * h * theta * theta / (l * c);
        [h * theta / l / weight, constant / weight]
    }

    fn flying_companion(&self, leg: usize, node: usize, step: &Step) -> [f64; 2] {
        if self.failed(leg, node, &[FailureMode::FlyingCapacitorShort]) {
            return [CLOSED, 0.0];
        }
        if self.failed(leg, node, &[FailureMode::FlyingCapacitorOpen]) {
            return [OPEN, 0.0];
        }
        let legs = [&self.design.converter.flying, &self.design.converter.flying_return];
        let share = match self.fault {
            Some(Fault { failure: FailureMode::FlyingCapacitorAged(share), phase, .. })
                if phase == node && self.fault.is_some_and(|own| own.is_in_leg(Leg::ALL[leg])) =>
            {
                share
            }
            _ => 1.0,
        };
        let g = share * legs[leg][node].0 / (step.length * step.theta);
        let [v, i] = self.flying[leg][node];
        [g, -g * v - (1.0 - step.theta) / step.theta * i]
    }

    /// The conductance matrix, inverted; it depends on what conducts alone.
    fn inverse(&mut self, step: &Step, tanks: &[[f64; 2]]) -> Vec<f64> {
        let flags =
            step.gates.iter().chain(&self.diodes).flatten().flatten().map(|on| u8::from(*on));
        let signs = self.tanks.iter().map(|own| (own.sign + 1.0) as u8);
        let key: Vec<u8> =
            flags.chain(signs).chain(std::iter::once(u8::from(step.theta > 0.9))).collect();
        if let Some(known) = self.inverses.get(&key) {
            return known.clone();
        }
        let n = self.tanks.len();
        let size = self.flying.len() * (2 * n - 1);
        let mut matrix = nalgebra::DMatrix::<f64>::zeros(size, size);
        let mut join = |a: Option<usize>, b: Option<usize>, g: f64| {
            for one in [a, b].into_iter().flatten() {
                matrix[(one, one)] += g;
            }
            if let (Some(a), Some(b)) = (a, b) {
                matrix[(a, b)] -= g;
                matrix[(b, a)] -= g;
            }
        };
        for leg in 0..self.flying.len() {
            for k in 1..=n {
                let on =
                    |side: usize| step.gates[leg][k - 1][side] || self.diodes[leg][k - 1][side];
                let g = |side: usize| if on(side) { CLOSED } else { OPEN };
                join(self.top(leg, k - 1), self.top(leg, k), g(0));
                join(Some(self.switching(leg, k)), None, g(1));
            }
            for k in 1..n {
                let [g, _] = self.flying_companion(leg, k - 1, step);
                join(self.top(leg, k), Some(self.switching(leg, k)), g);
            }
        }
        for (k, [g, _]) in tanks.iter().enumerate() {
            let other = (self.flying.len() == 2).then(|| self.switching(1, k + 1));
            join(Some(self.switching(0, k + 1)), other, *g);
        }
        let inverse = matrix.try_inverse().unwrap().as_slice().to_vec();
        self.inverses.insert(key, inverse.clone());
        inverse
    }

    fn sources(&self, step: &Step, tanks: &[[f64; 2]]) -> Vec<f64> {
        let n = self.tanks.len();
        let input = self.design.point.input_voltage.0;
        let mut flows = vec![0.0; self.flying.len() * (2 * n - 1)];
        for leg in 0..self.flying.len() {
            for k in 1..=n {
                let conducts =
                    |side: usize| !step.gates[leg][k - 1][side] && self.diodes[leg][k - 1][side];
                let on = step.gates[leg][k - 1][0] || self.diodes[leg][k - 1][0];
                if let (1, Some(top)) = (k, self.top(leg, k)) {
                    flows[top] += if on { CLOSED } else { OPEN } * input;
                }
                if conducts(0) {
                    self.top(leg, k).into_iter().for_each(|node| flows[node] += CLOSED * DIODE);
                    self.top(leg, k - 1).into_iter().for_each(|node| flows[node] -= CLOSED * DIODE);
                }
                if conducts(1) {
                    flows[self.switching(leg, k)] -= CLOSED * DIODE;
                }
            }
            for k in 1..n {
                let [_, j] = self.flying_companion(leg, k - 1, step);
                self.top(leg, k).into_iter().for_each(|node| flows[node] -= j);
                flows[self.switching(leg, k)] += j;
            }
        }
        for (k, [_, j]) in tanks.iter().enumerate() {
            flows[self.switching(0, k + 1)] -= j;
            if self.flying.len() == 2 {
                flows[self.switching(1, k + 1)] += j;
            }
        }
        flows
    }

    /// Sets the body diodes as these node voltages ask; gives whether any changed.
    fn set_diodes(&mut self, gates: &[Vec<[bool; 2]>], nodes: &[f64]) -> bool {
        let input = self.design.point.input_voltage.0;
        let mut changed = false;
        for (leg, gates) in gates.iter().enumerate() {
            for (k, gate) in gates.iter().enumerate() {
                let at = |node: Option<usize>| node.map_or(input, |node| nodes[node]);
                let above = at(self.top(leg, k + 1)) - at(self.top(leg, k));
                let below = -nodes[self.switching(leg, k + 1)];
                for (side, voltage) in [above, below].into_iter().enumerate() {
                    let conducts = !gate[side] && voltage > DIODE;
                    changed |= conducts != self.diodes[leg][k][side];
                    self.diodes[leg][k][side] = conducts;
                }
            }
        }
        changed
    }

    /// Notes what the switches that are off block.
    fn block(&mut self, gates: &[Vec<[bool; 2]>], nodes: &[f64]) {
        let input = self.design.point.input_voltage.0;
        for (leg, gates) in gates.iter().enumerate() {
            for (k, gate) in gates.iter().enumerate() {
                let at = |node: Option<usize>| node.map_or(input, |node| nodes[node]);
                let above = at(self.top(leg, k)) - at(self.top(leg, k + 1));
                let below = nodes[self.switching(leg, k + 1)];
                for (side, voltage) in [above, below].into_iter().enumerate() {
                    if !gate[side] {
                        let known = self.blocking[leg][k][side];
                        self.blocking[leg][k][side] = known.max(voltage);
                    }
                }
            }
        }
    }

    /// Sets the rectifiers as these tank currents ask; gives whether any changed.
    fn set_rectifiers(&mut self, voltages: &[f64], currents: &[f64], step: &Step) -> bool {
        let mut changed = false;
        for (k, current) in currents.iter().enumerate() {
            let is_open = self.is_open(
                k,
                &[FailureMode::RectifierOpen, FailureMode::TankOpen, FailureMode::Bypassed],
            );
            let own = self.tanks[k];
            let tank = &self.design.converter.tanks[k];
            let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
            let mean = step.theta * current + (1.0 - step.theta) * own.current;
            let capacitor = own.capacitor + step.length / tank.resonant_capacitance.0 * mean;
            let winding =
                lm * (voltages[k] - tank.series_resistance.0 * current - capacitor) / (lr + lm);
            let clamp = self.clamp(k);
            let rectified = own.sign
                * (current - own.magnetising - own.sign * step.length * own.sign * clamp / lm);
            let sign = if is_open {
                0.0
            } else if own.sign == 0.0 {
                if winding.abs() > clamp { winding.signum() } else { 0.0 }
            } else if rectified < 0.0 && own.sign * (own.current - own.magnetising) <= 1e-12 {
                0.0
            } else {
                own.sign
            };
            changed |= sign != own.sign;
            self.tanks[k].sign = sign;
        }
        changed
    }

    fn advance(&mut self, length: f64, charge: &mut [f64]) {
        let gates = self.gates();
        for _ in 0..60 {
            let theta = if self.euler > 0 { 1.0 } else { 0.5 };
            let step = Step { length, theta, gates: gates.clone() };
            let tanks: Vec<[f64; 2]> =
                (0..self.tanks.len()).map(|k| self.companion(k, &step)).collect();
            let inverse = self.inverse(&step, &tanks);
            let flows = self.sources(&step, &tanks);
            let nodes: Vec<f64> = inverse
                .chunks(flows.len())
                .map(|row| row.iter().zip(&flows).map(|(a, b)| a * b).sum())
                .collect();
            let voltages: Vec<f64> = (0..tanks.len())
                .map(|k| {
                    let other =
                        if self.flying.len() == 2 { nodes[self.switching(1, k + 1)] } else { 0.0 };
                    nodes[self.switching(0, k + 1)] - other
                })
                .collect();
            let currents: Vec<f64> =
                tanks.iter().zip(&voltages).map(|([g, j], v)| g * v + j).collect();
            let is_event =
                self.set_diodes(&gates, &nodes) || self.set_rectifiers(&voltages, &currents, &step);
            if !is_event {
                self.block(&gates, &nodes);
                self.accept(&step, &nodes, &voltages, &currents, charge);
                return;
            }
            self.euler = self.euler.max(1);
        }
    }

    fn accept(
        &mut self,
        step: &Step,
        nodes: &[f64],
        voltages: &[f64],
        currents: &[f64],
        charge: &mut [f64],
    ) {
        let mut is_event = false;
        for (k, current) in currents.iter().enumerate() {
            let clamp = self.clamp(k);
            let tank = &self.design.converter.tanks[k];
            let own = &mut self.tanks[k];
            let mean = step.theta * current + (1.0 - step.theta) * own.current;
            own.capacitor += step.length / tank.resonant_capacitance.0 * mean;
            let before = (own.current - own.magnetising).abs();
            own.source = voltages[k];
            own.current = *current;
            if own.sign == 0.0 {
                own.magnetising = *current;
                continue;
            }
            own.magnetising += step.length * own.sign * clamp / tank.magnetising_inductance.0;
            if own.sign * (own.current - own.magnetising) < 0.0 {
                own.current = own.magnetising;
                own.sign = 0.0;
                is_event = true;
            }
            charge[k] += 0.5 * step.length * (before + (own.current - own.magnetising).abs());
        }
        for leg in 0..self.flying.len() {
            for k in 1..self.tanks.len() {
                let v = nodes[self.top(leg, k).unwrap()] - nodes[self.switching(leg, k)];
                let [g, j] = self.flying_companion(leg, k - 1, step);
                self.flying[leg][k - 1] = [v, g * v + j];
            }
        }
        self.euler = if is_event { 2 } else { self.euler.saturating_sub(1) };
    }
}
