//! How far the flying-capacitor voltages drift apart in full-bridge drive, what every switch then blocks,
//! and which resistors hold them.

use crate::converter::{
    Arrangement, AssumedDrift, BalancingResistor, ChainDrift, Converter, DriftCauses,
    DriftConditions, Drive, HeldDrift, Leg, NodeDrift, NodeValues, OperatingPoint,
};
use crate::scenario::Scenario;
use crate::solver::{ChainVoltages, LegVoltages, SteadyState, chain_voltages};
use crate::study::common::commutation::SoftSwitching;
use crate::study::common::drift::DriftingChain;
use crate::study::common::figures::{Side, SolvedConverter, Switch};
use crate::study::common::point_case::case_at;
use crate::study::common::session::Session;
use crate::units::{Ampere, Ohm, Volt, Watt};

/// The drift at every operating point in full-bridge drive.
#[derive(Debug, Clone)]
pub struct DriftStudy {
    /// What the scenario assumes.
    pub assumed: AssumedDrift,
    /// One an operating point in full-bridge drive, at each age. Half bridges have no drift.
    pub points: Vec<PointDrift>,
    /// Those at which the nominal converter is not solved with the scenario's flying capacitors.
    pub unsolved: Vec<String>,
}

/// The drift at one operating point.
#[derive(Debug, Clone)]
pub struct PointDrift {
    /// Name of the operating point.
    pub operating_point: String,
    /// How far each node drifts; none where the scenario states one voltage.
    pub causes: Option<NodeValues<NodeDrift>>,
    /// How far each node drifts at worst.
    pub nodes: NodeValues<Volt>,
    /// What each switch of a leg blocks; both legs alike.
    pub switches: Vec<SwitchMargin>,
    /// The largest current into a node that late gates amount to; none where the scenario states one voltage.
    pub timing_current: Option<Ampere>,
    /// What holds the drift.
    pub balancing: Balancing,
}

/// What holds the drift, so that it keeps to what is wanted or what the limit on the blocking voltage leaves.
#[derive(Debug, Clone)]
pub enum Balancing {
    /// Nothing is asked: the scenario states one voltage, or no voltage to hold is known.
    NotAsked,
    /// A switch misses the limit on the blocking voltage without any drift: no resistor helps.
    Missed,
    /// Every switch keeps to the limit on the blocking voltage without any resistor.
    NotNeeded,
    /// Resistors, if there are any that do.
    Resistors(DriftResistors),
}

/// What a switch blocks.
#[derive(Debug, Clone, Copy)]
pub struct SwitchMargin {
    /// The switch, of the driven leg.
    pub switch: Switch,
    /// Ideal voltage: Vin/N, or twice that for high switches after the first.
    pub normal: Volt,
    /// Highest voltage of both legs without drift, the dead times included.
    pub without_drift: Volt,
    /// The same with the drift.
    pub with_drift: Volt,
}

/// Balancing resistors that hold the drift by leakage, or by all causes where the blocking voltage decides.
#[derive(Debug, Clone)]
pub struct DriftResistors {
    /// The drift that they keep to.
    pub highest: Volt,
    /// Whether the limit on the blocking voltage asks for it, or the scenario by itself.
    pub by_blocking_limit: bool,
    /// The largest for each node; none where no resistor does.
    pub nodes: Vec<Option<BalancingResistor>>,
    /// The same resistance at all nodes; none where no resistor does at some node.
    pub equal: Option<EqualResistors>,
}

/// One resistance across all flying capacitors.
#[derive(Debug, Clone, Copy)]
pub struct EqualResistors {
    /// The resistance.
    pub resistance: Ohm,
    /// What all of both legs dissipate together.
    pub dissipation: Watt,
}

/// The drift at every operating point of a session, with the scenario's own flying capacitors.
pub(in crate::study) fn drift(scenario: &Scenario, session: &Session) -> DriftStudy {
    let cases = session.cases(Arrangement::Chain);
    let mut study =
        DriftStudy { assumed: scenario.drift, points: Vec::new(), unsolved: Vec::new() };
    for case in cases.filter(|case| case.point.drive == Drive::FullBridge) {
        match PointDrift::new(scenario, session, &case.point) {
            Some(point) => study.points.push(point),
            None => study.unsolved.push(case.point.name.clone()),
        }
    }
    study
}

impl DriftStudy {
    /// The most that a start leaves of unequal parts at any node; none where the causes are not told, or leave nothing.
    pub fn largest_start(&self) -> Option<Volt> {
        let nodes = self.points.iter().flat_map(|point| point.causes.iter().flatten());
        let most = nodes.map(|node| node.start.0).fold(0.0, f64::max);
        (most > 0.0).then_some(Volt(most))
    }
}

impl PointDrift {
    /// None where the nominal converter is not solved.
    fn new(scenario: &Scenario, session: &Session, point: &OperatingPoint) -> Option<Self> {
        let nominal = scenario.nominal_converter();
        let case = case_at(scenario, point, Arrangement::Chain);
        let outcome = session.solve(&nominal, &case);
        let state = outcome.solved()?;
        let converter = nominal.at(&point.condition);
        let voltages = chain_voltages(state, &converter, point);
        let chain = DriftingChain { converter: &converter, state, point };
        let drift = chain.worst_drift(scenario);
        let without = Undrifted {
            voltages: &voltages,
            switching: in_dead_times(scenario, &converter, state, point),
        };
        let switches = margins(&without, &drift, point);
        let at = chain.worst_conditions(scenario);
        let causes = match &scenario.drift {
            AssumedDrift::FromCauses(causes) => Some(causes),
            AssumedDrift::Stated(_) => None,
        };
        Some(Self {
            operating_point: point.name.clone(),
            causes: causes.map(|causes| causes.nodes(&at)),
            nodes: (0..scenario.phases - 1).map(|node| drift.after(node)).collect(),
            timing_current: causes.map(|causes| causes.largest_timing_current(&at)),
            balancing: causes.map_or(Balancing::NotAsked, |causes| {
                let unaided = ChainDrift::from_causes(&causes.without_resistors(), &at);
                Balancing::new(scenario, causes, &at, &margins(&without, &unaided, point))
            }),
            switches,
        })
    }

    /// The switch that blocks most.
    pub fn worst(&self) -> Option<&SwitchMargin> {
        self.switches.iter().reduce(|a, b| if b.with_drift > a.with_drift { b } else { a })
    }
}

/// What switches see without drift.
struct Undrifted<'a> {
    voltages: &'a ChainVoltages,
    /// In the dead times; none where that is no more.
    switching: Option<SoftSwitching>,
}

impl Undrifted<'_> {
    /// The most that a switch sees in both legs, in volt.
    fn highest(&self, side: Side, phase: usize) -> f64 {
        let of_leg = |leg: &LegVoltages| match side {
            Side::High => leg.high_blocking[phase].0,
            Side::Low => leg.low_blocking[phase].0,
        };
        let in_dead_time = |(own, leg): (&SoftSwitching, Leg)| {
            let [low, high] = own.highest_voltages_of(phase, leg);
            if side == Side::High { high } else { low }
        };
        let steady = self.voltages.legs.iter().map(of_leg);
        let switching = self.switching.iter().flat_map(|own| Leg::ALL.map(|leg| (own, leg)));
        steady.chain(switching.map(in_dead_time)).fold(0.0, f64::max)
    }
}

/// The dead times of phases that switch all at once.
fn in_dead_times(
    scenario: &Scenario,
    converter: &Converter,
    state: &SteadyState,
    point: &OperatingPoint,
) -> Option<SoftSwitching> {
    let (arrangement, none) = (Arrangement::Chain, AssumedDrift::Stated(Volt(0.0)));
    let solved = SolvedConverter::new(state, converter, point, arrangement, &none)
        .with_switches(scenario.switch.as_ref());
    if solved.may_overshoot() { solved.switching().cloned() } else { None }
}

/// What every switch of a leg sees at most.
fn margins(
    undrifted: &Undrifted<'_>,
    drift: &ChainDrift,
    point: &OperatingPoint,
) -> Vec<SwitchMargin> {
    let phases = undrifted.voltages.legs[0].low_blocking.len();
    let phase_voltage = point.input_voltage.0 / phases as f64;
    let margin = |(side, phase): (Side, usize)| {
        let without = undrifted.highest(side, phase);
        let (normal, added) = match side {
            Side::High if phase > 0 => (2.0 * phase_voltage, drift.across_high_switch(phase)),
            Side::High => (phase_voltage, drift.across_high_switch(phase)),
            Side::Low => (phase_voltage, drift.across_phase(phase)),
        };
        SwitchMargin {
            switch: Switch { phase, leg: Leg::Driven, side },
            normal: Volt(normal),
            without_drift: Volt(without),
            with_drift: Volt(without + added.0),
        }
    };
    let sides = [Side::High, Side::Low].into_iter();
    sides.flat_map(|side| (0..phases).map(move |phase| (side, phase))).map(margin).collect()
}

impl Balancing {
    /// By what every switch sees without resistors.
    fn new(
        scenario: &Scenario,
        causes: &DriftCauses,
        at: &DriftConditions,
        unaided: &[SwitchMargin],
    ) -> Self {
        if let Some(wanted) = causes.highest_wanted {
            return Self::Resistors(DriftResistors::new(causes, at, wanted));
        }
        let Some(limit) = scenario.limits.chain.blocking_voltage else { return Self::NotAsked };
        if unaided.iter().all(|own| own.with_drift <= limit) {
            return Self::NotNeeded;
        }
        let room = blocking_room(scenario, limit, unaided);
        room.map_or(Self::Missed, |room| Self::Resistors(DriftResistors::new(causes, at, room)))
    }

    /// The resistors; none where they are not asked for, not needed or no help.
    pub fn resistors(&self) -> Option<&DriftResistors> {
        match self {
            Self::Resistors(own) => Some(own),
            Self::NotAsked | Self::Missed | Self::NotNeeded => None,
        }
    }
}

/// The drift of all nodes that the limit on the blocking voltage leaves; none where a switch misses it without any
/// drift.
fn blocking_room(scenario: &Scenario, limit: Volt, switches: &[SwitchMargin]) -> Option<Volt> {
    let last = scenario.phases - 1;
    let room = |own: &SwitchMargin| {
        let Switch { phase, side, .. } = own.switch;
        let after = usize::from(phase < last);
        let capacitors = match side {
            Side::High => usize::from(phase >= 2) + after,
            Side::Low => usize::from(phase >= 1) + after,
        };
        let left = limit.0 - own.without_drift.0;
        if capacitors == 0 { f64::INFINITY } else { left / capacitors as f64 }
    };
    let least = switches.iter().map(room).fold(f64::INFINITY, f64::min);
    (least > 0.0 && least.is_finite()).then_some(Volt(least))
}

impl DriftResistors {
    fn new(causes: &DriftCauses, at: &DriftConditions, highest: Volt) -> Self {
        let by_blocking_limit = causes.highest_wanted.is_none();
        // A limit on the blocking voltage is for all causes together.
        let held = if by_blocking_limit { HeldDrift::AllCauses } else { HeldDrift::Leakage };
        let nodes: Vec<Option<BalancingResistor>> = (1..at.turn_off_currents.len())
            .map(|node| causes.resistor(at, node, highest, held))
            .collect();
        let all: Option<Vec<BalancingResistor>> = nodes.iter().copied().collect();
        let least = |all: &[BalancingResistor]| {
            Ohm(all.iter().map(|own| own.resistance.0).fold(f64::INFINITY, f64::min))
        };
        let equal = all.filter(|all| !all.is_empty()).map(|all| {
            let resistance = least(&all);
            let phases = at.turn_off_currents.len();
            let voltage = |node: usize| at.input_voltage.0 * (phases - node) as f64 / phases as f64;
            let squares: f64 = (1..phases).map(|node| voltage(node).powi(2)).sum();
            EqualResistors { resistance, dissipation: Watt(2.0 * squares / resistance.0) }
        });
        Self { highest, by_blocking_limit, nodes, equal }
    }
}
