//! One tank over a stretch of time from any state, in closed form: what integrations of a whole chain are
//! made of.

use super::half::{HalfCircuit, Help, Hints, StartState, Stretch};
use super::ring::{Ring, Signal};
use crate::solver::effort::Effort;

/// Halvings that leave no error in the instant at which a charge is reached.
const HALVINGS: usize = 60;

/// A tank behind a source that its own charge lowers. SI units.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct TransientTank {
    circuit: HalfCircuit,
}

/// Values of a [`TransientTank`]: henry, farad, ohm and volt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solver) struct TransientParts {
    pub(in crate::solver) resonant_inductance: f64,
    pub(in crate::solver) magnetising_inductance: f64,
    /// 1/farad that the tank current sees.
    pub(in crate::solver) elastance: f64,
    pub(in crate::solver) resistance: f64,
    /// Primary voltage at which the rectifier conducts.
    pub(in crate::solver) clamp: f64,
}

/// Where a tank is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solver) struct TransientState {
    /// Rectifier current, tank less magnetising current.
    pub(in crate::solver) rectifier_current: f64,
    pub(in crate::solver) magnetising_current: f64,
    /// Source less resonant-capacitor voltage.
    pub(in crate::solver) net_voltage: f64,
}

impl TransientState {
    pub(in crate::solver) fn tank_current(&self) -> f64 {
        self.rectifier_current + self.magnetising_current
    }
}

/// What a tank does in a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solver) struct TransientPassage {
    pub(in crate::solver) end: TransientState,
    /// Charge ∫ i dt.
    pub(in crate::solver) charge: f64,
    /// Lowest and highest ∫ i dt on the way, its start at zero included.
    pub(in crate::solver) charge_range: [f64; 2],
    /// ∫ |d| dt.
    pub(in crate::solver) rectified: f64,
    /// Highest magnitude of the tank current.
    pub(in crate::solver) peak: f64,
}

impl TransientTank {
    pub(in crate::solver) fn new(parts: TransientParts) -> Self {
        let TransientParts { resonant_inductance: lr, magnetising_inductance: lm, .. } = parts;
        let TransientParts { elastance, resistance, clamp, .. } = parts;
        Self { circuit: HalfCircuit::new(lr, lm, elastance, resistance, clamp) }
    }

    /// The tank with the clamp at another voltage.
    #[must_use]
    pub(in crate::solver) fn clamped_at(self, clamp: f64) -> Self {
        Self { circuit: self.circuit.clamped_at(clamp) }
    }

    /// Follows the tank; `None` once the effort is spent.
    pub(in crate::solver) fn follow(
        &self,
        from: TransientState,
        time: f64,
        effort: &Effort,
    ) -> Option<TransientPassage> {
        let mut way = Way::new(from.tank_current());
        let half = {
            let help = Help { hints: &Hints::default(), effort };
            let see = |stretch: Stretch| way.add(self.circuit.ring(stretch.sign), &stretch);
            self.circuit.trace(start(from), time, help, see)?
        };
        Some(TransientPassage {
            end: TransientState {
                rectifier_current: half.d.value,
                magnetising_current: half.im.value,
                net_voltage: half.e.value,
            },
            charge: way.charge,
            charge_range: way.range,
            rectified: half.rectified.value,
            peak: way.peak,
        })
    }

    /// First instant within a time at which the charge is as far as a limit on its side of zero; none where
    /// it does not come so far.
    pub(in crate::solver) fn reaches_charge(
        &self,
        from: TransientState,
        time: f64,
        limit: f64,
        effort: &Effort,
    ) -> Option<f64> {
        let mut way = Way::new(from.tank_current());
        self.first_instant(from, time, effort, |ring, stretch| {
            let (begin, within) = (way.charge, StretchCharge::new(ring, stretch));
            way.add(ring, stretch);
            within.first_at(limit - begin)
        })
    }

    /// First instant within a time after which the tank current no longer has the sign of a side; none
    /// where it keeps it.
    pub(in crate::solver) fn current_ends(
        &self,
        from: TransientState,
        time: f64,
        side: f64,
        effort: &Effort,
    ) -> Option<f64> {
        self.first_instant(from, time, effort, |ring, stretch| {
            if side * stretch.i < 0.0 {
                return Some(0.0);
            }
            let zero = ring.zeros(ring.current(stretch.i, stretch.u)).next();
            zero.filter(|t| *t <= stretch.duration)
        })
    }

    fn first_instant(
        &self,
        from: TransientState,
        time: f64,
        effort: &Effort,
        mut find: impl FnMut(&Ring, &Stretch) -> Option<f64>,
    ) -> Option<f64> {
        let mut found = None;
        let help = Help { hints: &Hints::default(), effort };
        let see = |stretch: Stretch| {
            if found.is_none() {
                let within = find(self.circuit.ring(stretch.sign), &stretch);
                found = within.map(|t| stretch.begin + t);
            }
        };
        self.circuit.trace(start(from), time, help, see)?;
        found
    }
}

fn start(from: TransientState) -> StartState {
    let TransientState { rectifier_current: d, magnetising_current: im, net_voltage: e } = from;
    StartState { d, im, e }
}

/// The charge of a stretch, q = (u(0) − u)/K, monotone between the zeros of the current.
struct StretchCharge<'a> {
    ring: &'a Ring,
    voltage: Signal,
    current: Signal,
    duration: f64,
}

impl<'a> StretchCharge<'a> {
    fn new(ring: &'a Ring, stretch: &Stretch) -> Self {
        Self {
            ring,
            voltage: ring.voltage(stretch.i, stretch.u),
            current: ring.current(stretch.i, stretch.u),
            duration: stretch.duration,
        }
    }

    fn at(&self, t: f64) -> f64 {
        (self.voltage.a - self.voltage.at(self.ring.basis(t))) / self.ring.elastance()
    }

    /// First instant at which it is as far as a limit on that side of zero.
    fn first_at(&self, limit: f64) -> Option<f64> {
        let side = limit.signum();
        let reaches = |t: f64| side * (self.at(t) - limit) >= 0.0;
        let turns = self.ring.zeros(self.current).take_while(|t| *t < self.duration);
        let mut from = 0.0;
        for to in turns.chain([self.duration]) {
            if reaches(to) {
                let (mut low, mut high) = (from, to);
                for _ in 0..HALVINGS {
                    let middle = 0.5 * (low + high);
                    if reaches(middle) { high = middle } else { low = middle }
                }
                return Some(high);
            }
            from = to;
        }
        None
    }
}

/// What a tank has done so far.
struct Way {
    charge: f64,
    range: [f64; 2],
    peak: f64,
}

impl Way {
    fn new(current: f64) -> Self {
        Self { charge: 0.0, range: [0.0; 2], peak: current.abs() }
    }

    fn add(&mut self, ring: &Ring, stretch: &Stretch) {
        let charge = StretchCharge::new(ring, stretch);
        let end = charge.current.at(stretch.end);
        // Zeros of one signal lie half a turn apart: between equal signs there is none in less.
        let is_short = ring.half_turns(stretch.duration) < 1.0;
        let inside = |signal: Signal, end: f64| {
            let has_none = is_short && signal.a * end > 0.0;
            let zeros = (!has_none).then(|| ring.zeros(signal)).into_iter().flatten();
            zeros.take_while(|t| *t < stretch.duration)
        };
        for t in inside(charge.current, end) {
            self.reach(self.charge + charge.at(t));
        }
        let slope = ring.derivative(charge.current);
        for t in inside(slope, slope.at(stretch.end)) {
            self.peak = self.peak.max(charge.current.at(ring.basis(t)).abs());
        }
        self.peak = self.peak.max(end.abs());
        self.charge += (charge.voltage.a - charge.voltage.at(stretch.end)) / ring.elastance();
        self.reach(self.charge);
    }

    fn reach(&mut self, charge: f64) {
        self.range = [self.range[0].min(charge), self.range[1].max(charge)];
    }
}
