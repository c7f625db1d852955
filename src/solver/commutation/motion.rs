//! Tanks and nodes together over the dead time, from event to event.
//!
//! As long as no diode and no rectifier changes its state the circuit is linear. Its state is then a
//! power series in time, whose coefficients follow from each other. A stretch ends where a switch
//! voltage, a diode current or a rectifier current reaches zero, where a blocked winding reaches
//! the clamp voltage, or where the series becomes inaccurate.

use arrayvec::ArrayVec;

use super::leg::{MovingLeg, NO_CURRENT};
use super::nodes::{PerNode, PerSwitch};
use super::series::{ORDER, Series};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

/// Largest last terms of a series, relative to interval voltage and largest current.
const ACCURACY: f64 = 1e-9;
/// Stretches after which a dead time is given up: hundreds of times as many as any has taken.
const MOST_STRETCHES: usize = 5000;
/// Parts of a stretch in which highest voltages are looked for.
const PARTS: u32 = 4;
/// How much longer than the last one a stretch is tried.
const LONGER: f64 = 1.5;
/// Voltage below zero that counts as none, relative to the interval voltage.
const NO_VOLTAGE: f64 = 1e-10;

/// Tanks and legs during the dead time.
#[derive(Debug, Clone)]
pub(super) struct Motion {
    pub(super) tanks: ArrayVec<HeldTank, MAX_PHASES>,
    pub(super) currents: ArrayVec<TankCurrents, MAX_PHASES>,
    pub(super) legs: ArrayVec<MovingLeg, 2>,
}

/// What ends a stretch.
#[derive(Debug, Clone, Copy)]
enum Event {
    /// A switch voltage is zero: its diode begins to conduct.
    Hit { leg: usize, switch: usize },
    /// A diode current is zero.
    Release { leg: usize, switch: usize },
    /// A rectifier changes its state.
    Rectifier(usize),
}

/// One stretch as power series of time over its length.
struct Stretch {
    length: f64,
    /// Tank currents.
    tanks: [PerNode; ORDER + 1],
    /// Magnetising currents of conducting rectifiers: value and rise.
    magnetising: [[f64; 2]; MAX_PHASES],
    /// Nodes of each leg.
    nodes: ArrayVec<[PerNode; ORDER + 1], 2>,
    /// Diode currents of each leg.
    diodes: ArrayVec<[PerSwitch; ORDER + 1], 2>,
}

/// Where a stretch ends.
struct StretchEnd {
    /// As a share of its length.
    u: f64,
    event: Option<Event>,
}

impl StretchEnd {
    /// An event that comes first ends it.
    fn meet(&mut self, u: Option<f64>, event: Event) {
        if let Some(u) = u.filter(|u| *u < self.u || self.event.is_none()) {
            *self = Self { u, event: Some(event) };
        }
    }
}

impl Motion {
    pub(super) fn new(
        tanks: ArrayVec<HeldTank, MAX_PHASES>,
        currents: ArrayVec<TankCurrents, MAX_PHASES>,
        legs: ArrayVec<MovingLeg, 2>,
    ) -> Self {
        let mut motion = Self { tanks, currents, legs };
        motion.settle();
        motion
    }

    /// Finds the conducting diodes anew, as after a change of what holds nodes.
    pub(super) fn settle(&mut self) {
        let currents = self.tank_currents();
        for leg in &mut self.legs {
            leg.settle(&currents);
            leg.groups().tie(&leg.circuit, &mut leg.nodes);
        }
    }

    fn tank_currents(&self) -> PerNode {
        let mut currents = [0.0; MAX_PHASES];
        currents.iter_mut().zip(&self.currents).for_each(|(slot, c)| *slot = c.tank);
        currents
    }

    /// Source voltage of a tank.
    fn source(&self, k: usize) -> f64 {
        self.legs.iter().map(|leg| leg.direction * leg.nodes[k]).sum()
    }

    /// Goes on for a time. None where that takes too many stretches: nothing is known then.
    pub(super) fn advance(&mut self, time: f64) -> Option<()> {
        let (mut left, mut length) = (time, time);
        for _ in 0..MOST_STRETCHES {
            if left <= 1e-12 * time {
                return Some(());
            }
            length = f64::min(length, left);
            let stretch = Stretch::new(self, length);
            let accurate = stretch.accurate_until(self);
            let mut end = StretchEnd { u: accurate, event: None };
            stretch.meet_events(self, &mut end);
            stretch.go(self, end.u);
            left -= end.u * length;
            if let Some(event) = end.event {
                self.pass(event);
            }
            length = f64::max(LONGER * accurate * length, 1e-6 * time);
        }
        None
    }

    /// Goes over an event.
    fn pass(&mut self, event: Event) {
        let currents = self.tank_currents();
        match event {
            Event::Hit { leg, switch } => {
                let leg = &mut self.legs[leg];
                leg.conducting = leg.conducting.with(switch);
                leg.settle(&currents);
            }
            Event::Release { leg, switch } => self.legs[leg].release(switch),
            Event::Rectifier(k) => {
                let source = self.source(k);
                self.tanks[k].change_state(&mut self.currents[k], source);
            }
        }
    }
}

impl Stretch {
    /// The series of a stretch of this length that begins here.
    fn new(motion: &mut Motion, length: f64) -> Self {
        let mut stretch = Self {
            length,
            tanks: [[0.0; MAX_PHASES]; ORDER + 1],
            magnetising: [[0.0; 2]; MAX_PHASES],
            nodes: ArrayVec::new(),
            diodes: ArrayVec::new(),
        };
        stretch.tanks[0] = motion.tank_currents();
        for (k, (tank, currents)) in motion.tanks.iter().zip(&motion.currents).enumerate() {
            let rise = tank.magnetising_slope(currents.rectifier) * length;
            stretch.magnetising[k] = [currents.magnetising, rise];
        }
        for leg in &mut motion.legs {
            leg.groups().tie(&leg.circuit, &mut leg.nodes);
            stretch.nodes.push([leg.nodes; ORDER + 1]);
            stretch.diodes.push([PerSwitch::default(); ORDER + 1]);
        }
        stretch.fill(motion);
        stretch
    }

    /// Coefficient after coefficient: each of the nodes follows from that of the currents before,
    /// and the other way round.
    fn fill(&mut self, motion: &Motion) {
        let groups: ArrayVec<_, 2> = motion.legs.iter().map(MovingLeg::groups).collect();
        for power in 0..=ORDER {
            let factor = self.length / (power + 1) as f64;
            for (n, (leg, groups)) in motion.legs.iter().zip(&groups).enumerate() {
                let drawn = leg.drawn(&self.tanks[power]);
                let velocities = groups.velocities(&leg.circuit, &drawn);
                self.diodes[n][power] = groups.diode_currents(&leg.circuit, &velocities, &drawn);
                if power < ORDER {
                    self.nodes[n][power + 1] = velocities.map(|v| v * factor);
                }
            }
            if power < ORDER {
                for (k, tank) in motion.tanks.iter().enumerate() {
                    let rectifier = motion.currents[k].rectifier;
                    let source = self.source(motion, k, power);
                    let fixed = if power == 0 { tank.opposing(rectifier) } else { 0.0 };
                    let net = source - fixed - tank.resistance * self.tanks[power][k];
                    self.tanks[power + 1][k] = net * factor / tank.inductance(rectifier);
                }
            }
        }
    }

    fn source(&self, motion: &Motion, k: usize, power: usize) -> f64 {
        let legs = motion.legs.iter().zip(&self.nodes);
        legs.map(|(leg, nodes)| leg.direction * nodes[power][k]).sum()
    }

    /// Up to which share of its length the last terms are small enough.
    fn accurate_until(&self, motion: &Motion) -> f64 {
        let current = largest(&self.tanks[0]);
        let voltage = motion.legs.iter().map(|leg| leg.circuit.interval(0)).fold(0.0, f64::max);
        let shares = [ORDER - 1, ORDER].map(|power| {
            let nodes = self.nodes.iter().map(|nodes| largest(&nodes[power]) / voltage);
            let tanks = largest(&self.tanks[power]) / current.max(f64::MIN_POSITIVE);
            let term = nodes.fold(tanks, f64::max);
            if term <= ACCURACY { 1.0 } else { libm::pow(ACCURACY / term, 1.0 / power as f64) }
        });
        f64::min(shares[0], shares[1])
    }

    /// Looks for the event that comes first.
    fn meet_events(&self, motion: &Motion, end: &mut StretchEnd) {
        let negligible = NO_CURRENT * largest(&self.tanks[0]);
        for (n, leg) in motion.legs.iter().enumerate() {
            for switch in leg.switches().filter(|switch| !leg.is_on(*switch)) {
                if leg.conducting.holds(switch) {
                    let current = Series::new(|power| self.diodes[n][power][switch]);
                    let event = Event::Release { leg: n, switch };
                    end.meet(current.first_below(end.u, negligible), event);
                } else {
                    let voltage = self.voltage(leg, n, switch);
                    let below = NO_VOLTAGE * leg.circuit.interval(0);
                    let event = Event::Hit { leg: n, switch };
                    end.meet(voltage.first_below(end.u, below), event);
                }
            }
        }
        for k in 0..motion.tanks.len() {
            self.meet_rectifier(motion, k, negligible, end);
        }
    }

    fn meet_rectifier(&self, motion: &Motion, k: usize, negligible: f64, end: &mut StretchEnd) {
        let (tank, rectifier) = (&motion.tanks[k], motion.currents[k].rectifier);
        let event = Event::Rectifier(k);
        if rectifier != 0 {
            let [value, rise] = self.magnetising[k];
            let mut current = self.tank(k);
            current.0[0] -= value;
            current.0[1] -= rise;
            let current = current.times(f64::from(rectifier));
            end.meet(current.first_below(end.u, 1e-2 * negligible), event);
            return;
        }
        let winding = Series::new(|power| {
            let fixed = if power == 0 { tank.opposing(0) } else { 0.0 };
            let net = self.source(motion, k, power) - fixed;
            tank.winding_share() * (net - tank.resistance * self.tanks[power][k])
        });
        for sign in [1.0, -1.0] {
            let below_clamp = winding.times(-sign).plus(tank.clamp);
            end.meet(below_clamp.first_below(end.u, 1e-11 * tank.clamp), event);
        }
    }

    fn tank(&self, k: usize) -> Series {
        Series::new(|power| self.tanks[power][k])
    }

    fn voltage(&self, leg: &MovingLeg, n: usize, switch: usize) -> Series {
        let nodes = &self.nodes[n];
        let changes = Series::new(|power| leg.circuit.across(switch, &nodes[power]));
        changes.plus(leg.circuit.offset(switch))
    }

    fn nodes_at(&self, n: usize, u: f64) -> PerNode {
        std::array::from_fn(|k| Series::new(|power| self.nodes[n][power][k]).at(u))
    }

    /// Brings tanks and legs to where they are at u.
    fn go(&self, motion: &mut Motion, u: f64) {
        for (n, leg) in motion.legs.iter_mut().enumerate() {
            for switch in leg.switches().filter(|switch| leg.conducting.holds(*switch)) {
                let current = Series::new(|power| self.diodes[n][power][switch]);
                leg.carried[switch] += current.integral(u) * self.length;
                leg.diode_currents[switch] = current.at(u);
            }
            for part in 1..=PARTS {
                let nodes = self.nodes_at(n, u * f64::from(part) / f64::from(PARTS));
                leg.note_highest(&nodes);
                leg.nodes = nodes;
            }
        }
        for (k, currents) in motion.currents.iter_mut().enumerate() {
            let [value, rise] = self.magnetising[k];
            currents.tank = self.tank(k).at(u);
            currents.magnetising =
                if currents.rectifier == 0 { currents.tank } else { value + rise * u };
        }
    }
}

/// The largest of some numbers, without signs.
fn largest(numbers: &PerNode) -> f64 {
    numbers.iter().fold(0.0, |most, number| most.max(number.abs()))
}
