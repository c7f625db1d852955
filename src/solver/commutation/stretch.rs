//! One stretch of the dead time, in which no diode and no rectifier changes its state.
//!
//! The circuit is linear then. Nodes follow from the charge that the tanks draw, so the tank currents
//! alone are power series in time:
//!
//! ```text
//! L i″ = −K i − R i′        K = Σ M⁻¹ over the legs, for the nodes that float
//! ```
//!
//! A stretch ends where a switch voltage, a diode current or a rectifier current reaches zero, where a
//! blocked winding reaches the clamp voltage, or where the series becomes inaccurate.

use super::leg::{MovingLeg, NO_CURRENT};
use super::motion::{Event, Motion};
use super::nodes::{PerNode, PerSwitch};
use super::response::{dot, times};
use super::series::{ORDER, Series};
use super::tank::HeldTank;

/// Largest last terms of a series, relative to interval voltage and largest current.
const ACCURACY: f64 = 1e-9;
/// How far a stretch goes beyond the first event that velocities tell.
const BEYOND: f64 = 1.3;
/// 1/n in place n, as far as a charge has powers.
const RECIPROCALS: [f64; ORDER + 3] = {
    let mut all = [0.0; ORDER + 3];
    let mut n = 1;
    while n < all.len() {
        all[n] = 1.0 / n as f64;
        n += 1;
    }
    all
};

/// Where a stretch ends.
pub(super) struct StretchEnd {
    /// As a share of its length.
    pub(super) u: f64,
    pub(super) event: Option<Event>,
}

impl StretchEnd {
    /// An event that comes first ends it.
    fn meet(&mut self, u: Option<f64>, event: Event) {
        if let Some(u) = u.filter(|u| *u < self.u || self.event.is_none()) {
            *self = Self { u, event: Some(event) };
        }
    }
}

/// The tank currents of a stretch as power series of time over its length.
pub(super) struct LinearStretch<const ROOM: usize> {
    length: f64,
    phases: usize,
    /// Highest power.
    order: usize,
    /// Up to which share of its length the last terms are small enough.
    accurate: f64,
    /// Tank currents.
    tanks: [PerNode<ROOM>; ORDER + 1],
    /// K times these: what the sources lose a second.
    pulls: [PerNode<ROOM>; ORDER + 1],
    /// Magnetising currents of conducting rectifiers: value and rise.
    magnetising: [[f64; 2]; ROOM],
    /// Source voltages at the begin.
    sources: PerNode<ROOM>,
    /// Nodes of each leg at the begin.
    nodes: [PerNode<ROOM>; 2],
    /// S′ of each leg's nodes where it has come to.
    velocities: [PerNode<ROOM>; 2],
    /// Charges that the tanks have moved so far.
    moved: PerNode<ROOM>,
    /// Up to which u it has come.
    u: f64,
    /// By how much tank currents, and the charges that they move, can differ at the end from what value
    /// and slope of the currents at the begin say.
    further: [PerNode<ROOM>; 2],
    /// The same of what the sources lose.
    further_pull: PerNode<ROOM>,
    expected: Option<ExpectedHit>,
}

/// The switch whose voltage reaches zero first if all velocities stay.
#[derive(Clone, Copy, PartialEq)]
struct ExpectedHit {
    leg: usize,
    switch: usize,
}

impl<const ROOM: usize> LinearStretch<ROOM> {
    /// None yet.
    pub(super) const NONE: Self = Self {
        length: 0.0,
        phases: 0,
        order: 0,
        accurate: 0.0,
        tanks: [[0.0; ROOM]; ORDER + 1],
        pulls: [[0.0; ROOM]; ORDER + 1],
        magnetising: [[0.0; 2]; ROOM],
        sources: [0.0; ROOM],
        nodes: [[0.0; ROOM]; 2],
        velocities: [[0.0; ROOM]; 2],
        moved: [0.0; ROOM],
        u: 0.0,
        further: [[0.0; ROOM]; 2],
        further_pull: [0.0; ROOM],
        expected: None,
    };

    pub(super) fn length(&self) -> f64 {
        self.length
    }

    /// Up to which share of its length the last terms are small enough.
    pub(super) fn accurate(&self) -> f64 {
        self.accurate
    }

    /// Begins where the motion is. It is no longer than `most`, and ends a little behind the first
    /// event, as far as velocities tell.
    pub(super) fn begin(&mut self, motion: &Motion<ROOM>, most: f64) {
        self.phases = motion.tanks.len();
        self.tanks[0] = motion.tank_currents();
        (self.moved, self.u) = ([0.0; ROOM], 0.0);
        for (n, leg) in motion.legs.iter().enumerate() {
            self.nodes[n] = leg.nodes;
            self.velocities[n] = leg.velocities(&self.tanks[0]);
        }
        self.length = f64::min(most, BEYOND * self.expect(motion, most));
        for (k, (tank, currents)) in motion.tanks.iter().zip(&motion.currents).enumerate() {
            let rise = tank.magnetising_slope(currents.rectifier) * self.length;
            self.magnetising[k] = [currents.magnetising, rise];
            self.sources[k] = motion.source(k);
            let net = self.sources[k] - tank.opposing(currents.rectifier);
            let net = net - tank.resistance * currents.tank;
            self.tanks[1][k] = self.length * net / tank.inductance(currents.rectifier);
        }
        self.fill(motion);
        self.bound_further();
    }

    /// When the first switch voltage reaches zero if all velocities stay.
    fn expect(&mut self, motion: &Motion<ROOM>, most: f64) -> f64 {
        let mut first = most;
        self.expected = None;
        for (n, (leg, velocities)) in motion.legs.iter().zip(&self.velocities).enumerate() {
            let (voltages, touches) = (leg.circuit.voltages(&leg.nodes), leg.touches());
            let slopes = PerSwitch::across(velocities);
            let times = voltages.with(&slopes, |voltage, slope| {
                if slope < 0.0 && voltage > touches { -voltage / slope } else { f64::INFINITY }
            });
            for switch in leg.switches() {
                if times[switch] < first {
                    first = times[switch];
                    self.expected = Some(ExpectedHit { leg: n, switch });
                }
            }
        }
        first
    }

    /// Coefficient after coefficient, until the last two terms are small enough.
    fn fill(&mut self, motion: &Motion<ROOM>) {
        let mut stiffness = [[0.0; ROOM]; ROOM];
        for leg in &motion.legs {
            for (sums, row) in stiffness.iter_mut().zip(&leg.response.nodes) {
                sums.iter_mut().zip(row).for_each(|(sum, number)| *sum -= number);
            }
        }
        let scales = Scales::of(motion, &self.tanks[0]);
        let factors = self.factors(motion);
        let mut sizes = [f64::INFINITY; 2];
        self.order = ORDER;
        for power in 0..=ORDER {
            let pull = times(&stiffness, &self.tanks[power]);
            self.pulls[power] = pull;
            sizes = [sizes[1], scales.size(self.length, &self.tanks[power], power)];
            if sizes[0].max(sizes[1]) <= ACCURACY && power > 1 {
                self.order = power;
                break;
            }
            if power + 2 <= ORDER {
                let before = self.tanks[power + 1];
                let [of_one, next] = [1, 2].map(|n| RECIPROCALS[power + n]);
                let following = &mut self.tanks[power + 2];
                for (k, [of_pull, of_change]) in factors.iter().enumerate() {
                    following[k] = next * (of_pull * of_one * pull[k] + of_change * before[k]);
                }
            }
        }
        let reach = |size: f64, power: usize| {
            if size <= ACCURACY { 1.0 } else { libm::pow(ACCURACY / size, 1.0 / power as f64) }
        };
        self.accurate = f64::min(reach(sizes[0], self.order - 1), reach(sizes[1], self.order));
    }

    /// What the next coefficient takes of the pull and of the one before.
    fn factors(&self, motion: &Motion<ROOM>) -> [[f64; 2]; ROOM] {
        let mut factors = [[0.0; 2]; ROOM];
        let tanks = motion.tanks.iter().zip(&motion.currents);
        for (factors, (tank, currents)) in factors.iter_mut().zip(tanks) {
            let per_inductance = self.length / tank.inductance(currents.rectifier);
            *factors = [-self.length * per_inductance, -tank.resistance * per_inductance];
        }
        factors
    }

    fn bound_further(&mut self) {
        let [mut currents, mut charges, mut pulled] = [[0.0; ROOM]; 3];
        for power in 1..=self.order {
            let factor = self.length * RECIPROCALS[power + 1];
            for k in 0..ROOM {
                pulled[k] += factor * self.pulls[power][k].abs();
                if power > 1 {
                    currents[k] += self.tanks[power][k].abs();
                    charges[k] += factor * self.tanks[power][k].abs();
                }
            }
        }
        (self.further, self.further_pull) = ([currents, charges], pulled);
    }

    /// Where it ends: at the first event, or where the series becomes inaccurate.
    pub(super) fn end(&self, motion: &Motion<ROOM>) -> StretchEnd {
        let mut end = StretchEnd { u: self.accurate, event: None };
        let negligible = NO_CURRENT * largest(&self.tanks[0]);
        let expected = self.expected.filter(|own| motion.legs[own.leg].is_off(own.switch));
        if let Some(ExpectedHit { leg, switch }) = expected {
            self.meet_hit(&motion.legs[leg], leg, switch, &mut end);
        }
        for (n, leg) in motion.legs.iter().enumerate() {
            let lowest = self.lowest_voltages(leg, n, end.u);
            for switch in leg.switches() {
                let is_met = expected == Some(ExpectedHit { leg: n, switch });
                if !is_met && lowest[switch] < -leg.no_voltage() && leg.is_off(switch) {
                    self.meet_hit(leg, n, switch, &mut end);
                }
            }
            for switch in leg.conducting.members() {
                if self.lowest_current(leg, switch, end.u) < -negligible {
                    let current = self.diode_current(leg, switch);
                    let event = Event::Release { leg: n, switch };
                    end.meet(current.first_below(end.u, negligible), event);
                }
            }
        }
        for k in 0..self.phases {
            self.meet_rectifier(motion, k, negligible, &mut end);
        }
        end
    }

    fn meet_hit(&self, leg: &MovingLeg<ROOM>, n: usize, switch: usize, end: &mut StretchEnd) {
        let below = self.voltage(leg, switch).first_below(end.u, leg.no_voltage());
        end.meet(below, Event::Hit { leg: n, switch });
    }

    /// Voltage of a switch that is off.
    fn voltage(&self, leg: &MovingLeg<ROOM>, switch: usize) -> Series {
        let row = leg.row(switch);
        Series::new(self.order + 2, |power| match power.checked_sub(1) {
            None => leg.voltage(switch),
            Some(before) => self.length * RECIPROCALS[power] * dot(&row, &self.tanks[before]),
        })
    }

    /// The least that each switch voltage of a leg can be up to u. The first two terms follow a parabola;
    /// all further ones fall.
    fn lowest_voltages(&self, leg: &MovingLeg<ROOM>, n: usize, u: f64) -> PerSwitch<ROOM> {
        let slopes = PerSwitch::across(&self.velocities[n]);
        let bends = PerSwitch::across(&leg.velocities(&self.tanks[1]));
        let further = leg.response.velocities(&self.further[1]).map(f64::abs);
        let further = PerSwitch::most_across(&further);
        let length = self.length;
        let least = slopes.with(&bends, |slope, bend| {
            let (slope, bend) = (length * slope, 0.5 * length * bend);
            let at_end = (slope + bend * u) * u;
            let turns = bend > 0.0 && slope < 0.0 && -slope < 2.0 * bend * u;
            let least = if turns { -0.25 * slope * slope / bend } else { at_end };
            if least < 0.0 { least } else { 0.0 }
        });
        let least = least.with(&further, |least, further| least - further * (u * u * u));
        leg.circuit.voltages(&leg.nodes).with(&least, |voltage, least| voltage + least)
    }

    fn diode_current(&self, leg: &MovingLeg<ROOM>, switch: usize) -> Series {
        let row = leg.response.diode(switch);
        Series::new(self.order + 1, |power| leg.direction * dot(row, &self.tanks[power]))
    }

    /// The least that a diode's current can be up to u.
    fn lowest_current(&self, leg: &MovingLeg<ROOM>, switch: usize, u: f64) -> f64 {
        let row = leg.response.diode(switch);
        let value = leg.direction * dot(row, &self.tanks[0]);
        let slope = leg.direction * dot(row, &self.tanks[1]);
        let further: f64 = row.iter().zip(&self.further[0]).map(|(a, b)| a.abs() * b).sum();
        value + (slope.min(0.0) - further * u) * u
    }

    fn meet_rectifier(
        &self,
        motion: &Motion<ROOM>,
        k: usize,
        negligible: f64,
        end: &mut StretchEnd,
    ) {
        let (tank, rectifier) = (&motion.tanks[k], motion.currents[k].rectifier);
        let event = Event::Rectifier(k);
        if rectifier != 0 {
            let (sign, negligible) = (f64::from(rectifier), 1e-2 * negligible);
            let value = sign * (self.tanks[0][k] - self.magnetising[k][0]);
            let slope = sign * (self.tanks[1][k] - self.magnetising[k][1]);
            if value + (slope.min(0.0) - self.further[0][k] * end.u) * end.u < -negligible {
                let current = Series::new(self.order + 1, |power| match power {
                    0 => value,
                    1 => slope,
                    _ => sign * self.tanks[power][k],
                });
                end.meet(current.first_below(end.u, negligible), event);
            }
            return;
        }
        let (negligible, begin) = (1e-11 * tank.clamp, self.winding_begin(tank, k));
        for sign in [1.0, -1.0] {
            if begin.lowest_below_clamp(sign, tank.clamp, end.u) < -negligible {
                let below_clamp = self.winding(tank, k).times(-sign).plus(tank.clamp);
                end.meet(below_clamp.first_below(end.u, negligible), event);
            }
        }
    }

    /// What the voltage of a blocked winding begins with.
    fn winding_begin(&self, tank: &HeldTank, k: usize) -> WindingBegin {
        let (share, pull) = (tank.winding_share(), self.length * self.pulls[0][k]);
        let net = self.sources[k] - tank.opposing(0) - tank.resistance * self.tanks[0][k];
        WindingBegin {
            value: share * net,
            slope: -share * (pull + tank.resistance * self.tanks[1][k]),
            further: share * (self.further_pull[k] + tank.resistance * self.further[0][k]),
        }
    }

    /// Voltage of a blocked winding.
    fn winding(&self, tank: &HeldTank, k: usize) -> Series {
        Series::new(self.order + 1, |power| {
            let net = match power.checked_sub(1) {
                None => self.sources[k] - tank.opposing(0),
                Some(before) => -self.length * RECIPROCALS[power] * self.pulls[before][k],
            };
            tank.winding_share() * (net - tank.resistance * self.tanks[power][k])
        })
    }

    /// Tank currents at u.
    fn currents(&self, u: f64) -> PerNode<ROOM> {
        let mut currents = [0.0; ROOM];
        for terms in self.tanks[..=self.order].iter().rev() {
            for (current, term) in currents.iter_mut().zip(terms) {
                *current = *current * u + term;
            }
        }
        currents
    }

    /// Charges that the tanks have moved up to u.
    fn charges(&self, u: f64) -> PerNode<ROOM> {
        let mut charges = [0.0; ROOM];
        for (power, terms) in self.tanks[..=self.order].iter().enumerate().rev() {
            let factor = RECIPROCALS[power + 1];
            for (charge, term) in charges.iter_mut().zip(terms) {
                *charge = *charge * u + factor * term;
            }
        }
        charges.map(|charge| charge * u * self.length)
    }

    /// Brings tanks and legs on to where they are at u.
    pub(super) fn go(&mut self, motion: &mut Motion<ROOM>, u: f64) {
        let (currents, moved) = (self.currents(u), self.charges(u));
        let mut between = moved;
        between.iter_mut().zip(&self.moved).for_each(|(to, from)| *to -= from);
        for (n, leg) in motion.legs.iter_mut().enumerate() {
            leg.carry(&between, &currents);
            let velocities = leg.velocities(&currents);
            self.note_peaks(leg, n, [self.velocities[n], velocities], u);
            self.velocities[n] = velocities;
            leg.nodes = self.nodes[n];
            let changes = leg.velocities(&moved);
            leg.nodes.iter_mut().zip(&changes).for_each(|(node, change)| *node += change);
            leg.note_highest();
        }
        for (k, now) in motion.currents.iter_mut().enumerate() {
            let [value, rise] = self.magnetising[k];
            now.tank = currents[k];
            now.magnetising = if now.rectifier == 0 { now.tank } else { value + rise * u };
        }
        (self.moved, self.u) = (moved, u);
    }

    /// Keeps the highest voltage of switches whose voltage rises at first and falls then, up to u.
    fn note_peaks(
        &self,
        leg: &mut MovingLeg<ROOM>,
        n: usize,
        velocities: [PerNode<ROOM>; 2],
        u: f64,
    ) {
        let rises = PerSwitch::across(&velocities[0]);
        let falls = PerSwitch::across(&velocities[1]);
        let peaks = rises.with(&falls, |rise, fall| f64::from(u8::from(rise > 0.0 && fall < 0.0)));
        if peaks.0.as_flattened().iter().sum::<f64>() < 0.5 {
            return;
        }
        for switch in leg.switches() {
            let (rise, fall) = (rises[switch], falls[switch]);
            if rise <= 0.0 || fall >= 0.0 {
                continue;
            }
            // Two steps of false position: the height hardly depends on what is left.
            let first = self.u + (u - self.u) * rise / (rise - fall);
            let middle = leg.circuit.across(switch, &leg.velocities(&self.currents(first)));
            let top = if middle > 0.0 {
                first + (u - first) * middle / (middle - fall)
            } else {
                self.u + (first - self.u) * rise / (rise - middle)
            };
            let change = leg.circuit.across(switch, &leg.velocities(&self.charges(top)));
            let peak = leg.circuit.voltage(switch, &self.nodes[n]) + change;
            leg.highest[switch] = leg.highest[switch].max(peak);
        }
    }
}

/// Value and slope of a winding's voltage, and by how much it can differ at the end from what they say.
struct WindingBegin {
    value: f64,
    slope: f64,
    further: f64,
}

impl WindingBegin {
    /// The least that clamp voltage less winding voltage, of a sign, can be up to u.
    fn lowest_below_clamp(&self, sign: f64, clamp: f64, u: f64) -> f64 {
        // Its bound bends downward: it is lowest at an end.
        let change = (-sign * self.slope - self.further * u) * u;
        clamp - sign * self.value + change.min(0.0)
    }
}

/// What the terms of a series are compared with.
struct Scales {
    /// One over the largest current.
    per_current: f64,
    /// Largest row sum of the legs' M⁻¹ over the interval voltage.
    stiffness_per_voltage: f64,
}

impl Scales {
    fn of<const ROOM: usize>(motion: &Motion<ROOM>, currents: &PerNode<ROOM>) -> Self {
        let legs = || motion.legs.iter();
        let sums = legs().flat_map(|leg| leg.response.velocities(&[-1.0; ROOM]));
        // Without a leg no node moves.
        let voltage = legs().map(|leg| leg.circuit.interval(0)).fold(1e-300, f64::max);
        Self {
            per_current: 1.0 / largest(currents).max(1e-300),
            stiffness_per_voltage: sums.fold(0.0, f64::max) / voltage,
        }
    }

    /// The largest term of a power, of currents or of nodes, in its own scale.
    fn size<const ROOM: usize>(&self, length: f64, terms: &PerNode<ROOM>, power: usize) -> f64 {
        let term = largest(terms);
        let swing = self.stiffness_per_voltage * length * RECIPROCALS[power + 1];
        term * f64::max(self.per_current, swing)
    }
}

/// The largest of some numbers, without signs.
fn largest<const ROOM: usize>(numbers: &PerNode<ROOM>) -> f64 {
    numbers.iter().fold(0.0, |most, number| {
        let number = number.abs();
        if number > most { number } else { most }
    })
}
