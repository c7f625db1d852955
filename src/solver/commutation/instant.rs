//! The two instants of a period at which all phases switch, and how tanks and nodes stand there.

use arrayvec::ArrayVec;

use super::case::CommutationCase;
use super::leg::MovingLeg;
use super::motion::Motion;
use super::nodes::{LegCapacitances, LegNodes, PerNode};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::{Arrangement, Leg, MAX_PHASES};
use crate::solver::{ChainVoltages, PhaseState, TankState, chain_voltages};

/// An instant at which all phases switch, named by the driven leg of the odd phases: 1, 3, …
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SwitchingInstant {
    OddFall,
    OddRise,
}

impl SwitchingInstant {
    pub(super) const ALL: [Self; 2] = [Self::OddFall, Self::OddRise];

    /// Whether a phase, counted from 0, goes from high to low in a leg.
    pub(super) fn falls(self, phase: usize, leg: Leg) -> bool {
        let is_odd = phase.is_multiple_of(2);
        (is_odd == (self == Self::OddFall)) == (leg == Leg::Driven)
    }
}

/// Everything about a steady state that both instants take their start from.
pub(super) struct Ready<'a> {
    case: CommutationCase<'a>,
    /// Flying-capacitor voltages; none in the paralleled arrangement.
    chain: Option<ChainVoltages>,
}

impl<'a> Ready<'a> {
    pub(super) fn new(case: CommutationCase<'a>) -> Self {
        let is_chain = case.arrangement == Arrangement::Chain;
        let chain = is_chain.then(|| chain_voltages(case.state, case.converter, case.point));
        Self { case, chain }
    }

    fn phases(&self) -> usize {
        self.case.converter.phases()
    }

    /// The legs that switch.
    pub(super) fn legs(&self) -> &'static [Leg] {
        &Leg::ALL[..self.case.point.drive.legs()]
    }

    /// Tanks and legs at the begin of the dead time; none where the solver does not tell the tanks'
    /// state.
    pub(super) fn motion(&self, instant: SwitchingInstant) -> Option<Motion> {
        let legs: ArrayVec<MovingLeg, 2> =
            self.legs().iter().map(|leg| self.leg(*leg, instant)).collect();
        let (mut tanks, mut currents) = (ArrayVec::new(), ArrayVec::new());
        for (k, phase) in self.case.state.phases.iter().enumerate() {
            let falls = instant.falls(k, Leg::Driven);
            let state = if falls { phase.middle? } else { phase.start? };
            let source: f64 = legs.iter().map(|leg| leg.direction * leg.nodes[k]).sum();
            let tank = self.tank(k, phase, &state);
            currents.push(TankCurrents {
                tank: state.tank_current.0,
                magnetising: state.magnetising_current.0,
                rectifier: tank.rectifier(
                    state.tank_current.0,
                    state.magnetising_current.0,
                    source,
                ),
            });
            tanks.push(tank);
        }
        Some(Motion::new(tanks, currents, legs))
    }

    /// A leg whose falling phases stand at their interval voltages, and the rising ones at zero.
    fn leg(&self, leg: Leg, instant: SwitchingInstant) -> MovingLeg {
        let (phases, switch) = (self.phases(), self.case.switch);
        let intervals = self.intervals(leg, instant);
        let mut nodes = [0.0; MAX_PHASES];
        for k in (0..phases).filter(|k| instant.falls(*k, leg)) {
            nodes[k] = intervals[k];
        }
        let all = |c: f64| LegCapacitances {
            low: [c * switch.low_capacitance.0; MAX_PHASES],
            high: [c * switch.high_capacitance.0; MAX_PHASES],
        };
        let circuit = match self.case.arrangement {
            Arrangement::Chain => LegNodes::chain(phases, all(1.0), intervals),
            // The original tanks on their share of the input: the same currents charge N² times the
            // capacitance as the rescaled ones' N times smaller currents charge it over the input.
            Arrangement::Paralleled => {
                LegNodes::alone(phases, all((phases * phases) as f64), intervals)
            }
        };
        MovingLeg::new(circuit, if leg == Leg::Driven { 1.0 } else { -1.0 }, nodes)
    }

    /// E(k) = v(k−1) − v(k): for a falling phase at the end of its high interval, for a rising one at
    /// the start of its own.
    fn intervals(&self, leg: Leg, instant: SwitchingInstant) -> PerNode {
        let (phases, input) = (self.phases(), self.case.point.input_voltage.0);
        let mut intervals = [0.0; MAX_PHASES];
        let Some(chain) = &self.chain else {
            intervals[..phases].fill(input / phases as f64);
            return intervals;
        };
        let Some(voltages) = chain.legs.get(usize::from(leg == Leg::Return)) else {
            return intervals;
        };
        let capacitors = match leg {
            Leg::Driven => &self.case.converter.flying,
            Leg::Return => &self.case.converter.flying_return,
        };
        let mut above = input;
        for (k, interval) in intervals.iter_mut().enumerate().take(phases) {
            let below = voltages.flying.get(k).zip(capacitors.get(k)).map_or(0.0, |(v, c)| {
                let half_ripple = 0.5 * self.case.state.phases[k].charge / c.0;
                // Its phase has charged it to the end, or is about to.
                v.middle.0 + if instant.falls(k, leg) { half_ripple } else { -half_ripple }
            });
            *interval = above - below;
            above = below;
        }
        intervals
    }

    fn tank(&self, k: usize, phase: &PhaseState, state: &TankState) -> HeldTank {
        let (parts, point) = (&self.case.converter.tanks[k], self.case.point);
        // The solution takes the mean of a full bridge's source for zero. The legs' voltages differ
        // by their ripple, and the capacitor takes up that mean.
        let rises = SwitchingInstant::ALL.into_iter().find(|i| !i.falls(k, Leg::Driven));
        let starts_at = rises.map_or(0.0, |instant| self.intervals(Leg::Driven, instant)[k]);
        HeldTank {
            resonant_inductance: parts.resonant_inductance.0,
            magnetising_inductance: parts.magnetising_inductance.0,
            resistance: parts.series_resistance.0,
            clamp: point.rectifier.clamp_voltage(
                parts.turns_ratio,
                point.output_voltage,
                parts.rectifier_drop,
            ),
            capacitor_voltage: state.capacitor_voltage.0 + starts_at - phase.start_voltage.0,
        }
    }
}
