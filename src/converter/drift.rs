//! How far the voltages of flying capacitors drift apart in the two legs of a full bridge, which charge
//! balance does not hold back.
//!
//! Node k of N − 1 holds C(k) of the driven and C′(k) of the return leg, both near U(k) = Vin (N−k)/N.
//! With the drift δ(k) = (v(k) − v′(k))/2 and what leaves the capacitors besides the phases' charges,
//!
//! ```text
//! (C + C′) dδ(k)/dt = −(I(k) − I′(k))
//! ```
//!
//! So each cause moves each node by itself. Derived from Kirchhoff's laws; symbols at the functions.

use std::ops::Range;

use arrayvec::ArrayVec;

use super::MAX_PHASES;
use crate::units::{Ampere, Farad, Hertz, Ohm, Second, Siemens, Volt, Watt};

/// One value a node of the chain.
pub type NodeValues<T> = ArrayVec<T, { MAX_PHASES - 1 }>;

/// How far each flying-capacitor voltage may drift in full-bridge drive, as the scenario has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AssumedDrift {
    /// Each by at most this voltage.
    Stated(Volt),
    /// By what follows from these causes.
    FromCauses(DriftCauses),
}

/// What brings the voltages of both legs apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftCauses {
    /// How the flying capacitors are charged at a start.
    pub charging: Charging,
    /// Leakage of a flying capacitor.
    pub capacitor_leakage: Leakage,
    /// Leakage of a switch that blocks.
    pub switch_leakage: Leakage,
    /// By how much the two legs of a phase may turn off apart.
    pub turn_off_skew: Second,
    /// Time in operation until the capacitors are discharged again; none where it has no end.
    pub operating_time: Option<Second>,
    /// The resistor across each flying capacitor; none where there is none.
    pub balancing_resistance: Option<Ohm>,
    /// Half of the largest relative difference of two such resistors, also of those that are looked for.
    pub balancing_mismatch: f64,
    /// The drift that balancing resistors are to keep to; none where the blocking voltage decides.
    pub highest_wanted: Option<Volt>,
}

/// How the flying capacitors are charged at a start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Charging {
    /// By the phases, while the gates run: both legs receive the same charge.
    ByGates,
    /// By resistors before the gates run.
    ByResistors {
        /// Half of the largest relative difference of two resistors.
        mismatch: f64,
    },
}

/// What a part conducts while it should not; from the least to the most of all parts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Leakage {
    /// The tightest part.
    pub least: Siemens,
    /// The leakiest part.
    pub most: Siemens,
}

/// The flying capacitors of a node, as far as its drift depends on them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NodeCapacitors {
    /// Those of both legs together at least, C + C′.
    pub sum: Farad,
    /// And at most.
    pub largest_sum: Farad,
    /// How far they are apart, |C − C′|/(C + C′).
    pub mismatch: f64,
}

impl NodeCapacitors {
    /// Of capacitors of both legs that may lie anywhere within a band about these values, its ends as
    /// fractions: the least sum and the largest mismatch.
    pub fn within(both: [Farad; 2], [low, high]: [f64; 2]) -> Self {
        let [driven, returned] = both.map(|own| own.0);
        let mismatch = |a: f64, b: f64| {
            (a * (1.0 + high) - b * (1.0 + low)) / (a * (1.0 + high) + b * (1.0 + low))
        };
        Self {
            sum: Farad((driven + returned) * (1.0 + low)),
            largest_sum: Farad((driven + returned) * (1.0 + high)),
            mismatch: mismatch(driven, returned).max(mismatch(returned, driven)),
        }
    }
}

/// Where a chain works, as far as its drift depends on that.
#[derive(Debug, Clone, PartialEq)]
pub struct DriftConditions {
    /// The flying capacitors of every node.
    pub capacitors: NodeValues<NodeCapacitors>,
    /// Input voltage.
    pub input_voltage: Volt,
    /// Switching frequency.
    pub switching_frequency: Hertz,
    /// Tank current of each phase at the end of its high interval.
    pub turn_off_currents: ArrayVec<Ampere, MAX_PHASES>,
}

/// How far one node drifts at worst, cause by cause; each at most as far as the diodes let it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NodeDrift {
    /// What the start leaves.
    pub start: Volt,
    /// What leakage adds.
    pub leakage: Volt,
    /// What gates that turn off apart add.
    pub timing: Volt,
    /// Where body diodes stop it.
    pub corner: Volt,
}

impl NodeDrift {
    /// All causes together, at most up to the corner.
    pub fn total(&self) -> Volt {
        Volt((self.start.0 + self.leakage.0 + self.timing.0).min(self.corner.0))
    }
}

/// Which drift balancing resistors are to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeldDrift {
    /// That by leakage.
    Leakage,
    /// That by all causes together: also what the start leaves, and gates that turn off apart.
    AllCauses,
}

/// A resistor across each flying capacitor of a node that keeps its drift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BalancingResistor {
    /// The largest resistance.
    pub resistance: Ohm,
    /// What one dissipates, U²/R.
    pub dissipation: Watt,
    /// How fast a drift that is there decays with it, R C.
    pub time_constant: Second,
}

impl BalancingResistor {
    /// An infinite one: none is needed.
    const NONE: Self = Self {
        resistance: Ohm(f64::INFINITY),
        dissipation: Watt(0.0),
        time_constant: Second(f64::INFINITY),
    };
}

impl DriftConditions {
    fn phases(&self) -> usize {
        self.turn_off_currents.len()
    }

    /// The flying capacitors of node k = 1..N−1.
    fn capacitors_of(&self, node: usize) -> NodeCapacitors {
        self.capacitors[node - 1]
    }

    /// Ideal voltage of a phase, Vin/N.
    fn phase_voltage(&self) -> f64 {
        self.input_voltage.0 / self.phases() as f64
    }

    /// Ideal voltage U(k) = Vin (N−k)/N of the flying capacitors of node k = 1..N−1.
    fn node_voltage(&self, node: usize) -> f64 {
        self.phase_voltage() * (self.phases() - node) as f64
    }

    fn corner(&self, node: usize) -> f64 {
        corner(self.phase_voltage(), self.phases(), node)
    }
}

/// Where body diodes stop the drift of node k: neighbouring nodes differ by Vin/N at most, and both
/// ends of the chain do not drift. So min(k, N−k) Vin/N.
fn corner(phase_voltage: f64, phases: usize, node: usize) -> f64 {
    phase_voltage * node.min(phases - node) as f64
}

impl DriftCauses {
    /// The drift of every node.
    pub fn nodes(&self, at: &DriftConditions) -> NodeValues<NodeDrift> {
        let drift = |node: usize| {
            let corner = at.corner(node);
            // Nothing over nothing: a cause that is not there.
            let volt = |value: f64| Volt(if value > 0.0 { value.min(corner) } else { 0.0 });
            NodeDrift {
                start: volt(self.start(at, node)),
                leakage: volt(self.leakage(at, node)),
                timing: volt(self.timing(at, node)),
                corner: Volt(corner),
            }
        };
        (1..at.phases()).map(drift).collect()
    }

    /// The same without balancing resistors.
    #[must_use]
    pub fn without_resistors(&self) -> Self {
        Self { balancing_resistance: None, ..*self }
    }

    /// What the start leaves: U e, with e the mismatch of what charges. Gates give both legs the same
    /// charge, so δ = −U (C − C′)/(C + C′) with the capacitors of the node.
    fn start(&self, at: &DriftConditions, node: usize) -> f64 {
        let mismatch = match self.charging {
            Charging::ByGates => at.capacitors_of(node).mismatch,
            Charging::ByResistors { mismatch } => mismatch,
        };
        mismatch * at.node_voltage(node)
    }

    /// Conductance of a balancing resistor, in siemens; 0 without.
    fn balancing_conductance(&self) -> f64 {
        self.balancing_resistance.map_or(0.0, |own| 1.0 / own.0)
    }

    /// What leakage leads to within an operating time t:
    ///
    /// ```text
    /// δ = (U (g − g′ + 2 e gb) + ΔI/2) (1 − exp(−G t/(C + C′)))/G    with G = g + g′ + 2 gb
    /// ```
    ///
    /// with the leakage conductances g of the leakiest and g′ of the tightest capacitor, the conductance
    /// gb and the mismatch e of balancing resistors, and the leakage ΔI of switches beside the node.
    fn leakage(&self, at: &DriftConditions, node: usize) -> f64 {
        let Leakage { least, most } = self.capacitor_leakage;
        let balancing = self.balancing_conductance();
        let apart = most.0 - least.0 + 2.0 * self.balancing_mismatch * balancing;
        let current = at.node_voltage(node) * apart + self.switch_leakage_current(at, node);
        let conductance = most.0 + least.0 + 2.0 * balancing;
        let Some(time) = self.operating_time else { return current / conductance };
        let per_ampere = time.0 / at.capacitors_of(node).sum.0;
        let lapsed = conductance * per_ampere;
        if lapsed > 0.0 {
            -libm::expm1(-lapsed) * current / conductance
        } else {
            current * per_ampere
        }
    }

    /// Half of what the leakiest switches beside node k leak more than the tightest, in ampere. High
    /// switch j blocks v(j−2) − v(j) and low switch j blocks v(j−1) − v(j), half of the time each. High k
    /// and k+2 and low k and k+1 lead to the capacitors of node k.
    fn switch_leakage_current(&self, at: &DriftConditions, node: usize) -> f64 {
        let of_high = |phase: usize| match phase {
            1 => 1.0,
            phase if phase <= at.phases() => 2.0,
            _ => 0.0,
        };
        let blocked = of_high(node) + of_high(node + 2) + 2.0;
        let apart = self.switch_leakage.most.0 - self.switch_leakage.least.0;
        0.5 * apart * blocked * at.phase_voltage()
    }

    /// What the gates of one phase do that turn off Δ apart in the two legs: f ioff Δ is a current into
    /// the node. Within an operating time t it moves the node by f ioff Δ t/(C + C′), and against
    /// balancing resistors by f ioff Δ/(2 gb) at most; at the last node by up to twice that.
    fn timing(&self, at: &DriftConditions, node: usize) -> f64 {
        let current = self.timing_current(at, node).0;
        if current == 0.0 {
            return 0.0;
        }
        let against_resistors = current / (2.0 * self.balancing_conductance());
        let sum = at.capacitors_of(node).sum.0;
        let within_time = self.operating_time.map_or(f64::INFINITY, |time| current * time.0 / sum);
        against_resistors.min(within_time)
    }

    /// The current into node k that gates amount to which turn off apart.
    fn timing_current(&self, at: &DriftConditions, node: usize) -> Ampere {
        let off = |phase: usize| at.turn_off_currents[phase].0.abs();
        // Phases k and k + 1, which count from 0 here, meet at node k.
        let turn_off = off(node - 1).max(off(node));
        let last = if node + 1 == at.phases() { 2.0 } else { 1.0 };
        Ampere(last * at.switching_frequency.0 * turn_off * self.turn_off_skew.0)
    }

    /// The largest such current into any node.
    pub fn largest_timing_current(&self, at: &DriftConditions) -> Ampere {
        let all = (1..at.phases()).map(|node| self.timing_current(at, node).0);
        Ampere(all.fold(0.0, f64::max))
    }

    /// The largest balancing resistors of node k with which it drifts by no more than this voltage. With r what the
    /// causes that no resistor holds leave of it, and I of gates that turn off apart:
    ///
    /// ```text
    /// (U (g − g′) + ΔI/2 + e U x)/(g + g′ + x) + I/x = r    with x = 2 gb
    /// ```
    ///
    /// None where the mismatch e of the resistors alone drifts it as far. Without leakage and such gates any
    /// resistor does: an infinite one. An operating time is left out: it can but shorten the drift.
    pub fn resistor(
        &self,
        at: &DriftConditions,
        node: usize,
        highest: Volt,
        held: HeldDrift,
    ) -> Option<BalancingResistor> {
        if highest.0 >= at.corner(node) {
            // Diodes stop it before.
            return Some(BalancingResistor::NONE);
        }
        let Leakage { least, most } = self.capacitor_leakage;
        let voltage = at.node_voltage(node);
        let (start, gates) = match held {
            HeldDrift::Leakage => (0.0, 0.0),
            HeldDrift::AllCauses => (self.start(at, node), self.timing_current(at, node).0),
        };
        let left = highest.0 - start;
        let room = left - self.balancing_mismatch * voltage;
        let conductance = most.0 + least.0;
        let leaked = voltage * (most.0 - least.0) + self.switch_leakage_current(at, node);
        let current = leaked + gates - left * conductance;
        // Of room x² − current x − gates (g + g′) = 0 the positive root, without a difference of like numbers.
        let root = libm::sqrt(current * current + 4.0 * room * gates * conductance);
        let resistance = if current >= 0.0 {
            4.0 * room / (current + root)
        } else {
            (root - current) / (gates * conductance)
        };
        (room > 0.0).then(|| BalancingResistor {
            resistance: Ohm(resistance),
            dissipation: Watt(voltage * voltage / resistance),
            time_constant: Second(0.5 * resistance * at.capacitors_of(node).largest_sum.0),
        })
    }
}

/// How far all nodes of a chain may be off, and what that adds to the voltages of its parts. By default none drifts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChainDrift {
    nodes: NodeValues<f64>,
    /// How far two neighbouring nodes may be apart.
    apart: f64,
}

impl ChainDrift {
    /// No node drifts.
    pub fn none(phases: usize) -> Self {
        Self::stated(phases, Volt(0.0), Volt(0.0))
    }

    /// Each node by the same voltage, in whatever direction, at most up to where body diodes stop it at this
    /// input voltage.
    pub fn stated(phases: usize, drift: Volt, input_voltage: Volt) -> Self {
        let phases = phases.min(MAX_PHASES);
        let apart = input_voltage.0 / phases as f64;
        let nodes = (1..phases).map(|node| drift.0.min(corner(apart, phases, node)));
        Self { nodes: nodes.collect(), apart }
    }

    /// What causes lead to under these conditions.
    pub fn from_causes(causes: &DriftCauses, at: &DriftConditions) -> Self {
        let nodes = causes.nodes(at).iter().map(|node| node.total().0).collect();
        Self { nodes, apart: at.phase_voltage() }
    }

    /// How far the node drifts that drifts farthest.
    pub fn largest(&self) -> Volt {
        Volt(self.nodes.iter().copied().fold(0.0, f64::max))
    }

    /// How far the flying capacitor after a phase drifts, which counts from 0; the end of the chain does
    /// not.
    pub fn after(&self, phase: usize) -> Volt {
        Volt(self.nodes.get(phase).copied().unwrap_or(0.0))
    }

    /// The same of the capacitor before a phase.
    fn before(&self, phase: usize) -> f64 {
        phase.checked_sub(1).map_or(0.0, |before| self.after(before).0)
    }

    /// What the drift adds to the voltage between the flying capacitors before and after a phase: across
    /// its low switch, and to its resonant capacitor.
    pub fn across_phase(&self, phase: usize) -> Volt {
        self.across(&(phase..phase + 1))
    }

    /// What it adds to the voltage across the high switch of a phase.
    pub fn across_high_switch(&self, phase: usize) -> Volt {
        self.across(&(phase.saturating_sub(1)..phase + 1))
    }

    /// What it adds to the voltage between the flying capacitors before and after some neighbouring phases.
    pub fn across(&self, phases: &Range<usize>) -> Volt {
        let ends = self.before(phases.start) + self.before(phases.end);
        Volt(ends.min(phases.len() as f64 * self.apart))
    }
}
