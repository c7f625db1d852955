//! The two instants of a period at which all phases switch, and how tanks and nodes stand there.

use arrayvec::ArrayVec;

use super::case::CommutationCase;
use super::leg::MovingLeg;
use super::lone_swing::LoneSwing;
use super::motion::Motion;
use super::nodes::{LegCapacitances, LegNodes, PerNode};
use super::tank::{HeldTank, TankCurrents};
use super::transition::Swing;
use crate::converter::{Arrangement, Leg, MAX_PHASES, SwitchTiming};
use crate::solver::chain_voltages::middle_voltages;
use crate::solver::{PhaseState, TankState};

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
    /// E(k) of each leg at each instant.
    intervals: [[PerNode; 2]; 2],
}

impl<'a> Ready<'a> {
    pub(super) fn new(case: CommutationCase<'a>) -> Self {
        let mut ready = Self { case, intervals: [[[0.0; MAX_PHASES]; 2]; 2] };
        match case.arrangement {
            Arrangement::Chain => ready.set_chain_intervals(),
            Arrangement::Paralleled => {
                let share = case.point.input_voltage.0 / ready.phases() as f64;
                ready.intervals.as_flattened_mut().iter_mut().for_each(|all| all.fill(share));
            }
        }
        ready
    }

    pub(super) fn case(&self) -> CommutationCase<'a> {
        self.case
    }

    /// The instants that are followed. In a paralleled phase both halves of the period mirror each other.
    pub(super) fn followed_instants(&self) -> &'static [SwitchingInstant] {
        match self.case.arrangement {
            Arrangement::Chain => &SwitchingInstant::ALL,
            Arrangement::Paralleled => &SwitchingInstant::ALL[..1],
        }
    }

    /// Whether each phase's nodes move by themselves: in a chain where falling phases go first.
    pub(super) fn phases_are_lone(&self) -> bool {
        match self.case.arrangement {
            Arrangement::Chain => self.case.switch.timing == SwitchTiming::FallingFirst,
            Arrangement::Paralleled => true,
        }
    }

    pub(super) fn phases(&self) -> usize {
        self.case.converter.phases()
    }

    /// The legs that switch.
    pub(super) fn legs(&self) -> &'static [Leg] {
        &Leg::ALL[..self.case.point.drive.legs()]
    }

    /// Tanks and legs of a chain at the begin of the dead time; none where the solver does not tell the tanks'
    /// state, and where a phase has no voltage to swing over.
    pub(super) fn motion<const ROOM: usize>(
        &self,
        instant: SwitchingInstant,
    ) -> Option<Motion<ROOM>> {
        let phases = 0..self.phases();
        let legs: ArrayVec<MovingLeg<ROOM>, 2> =
            self.legs().iter().map(|leg| self.leg(*leg, instant)).collect();
        let intervals = legs.iter().flat_map(|leg| phases.clone().map(|k| leg.circuit.interval(k)));
        if intervals.fold(f64::INFINITY, f64::min) <= 0.0 {
            return None;
        }
        let (mut tanks, mut currents) = (ArrayVec::new(), ArrayVec::new());
        for k in phases {
            let source: f64 = legs.iter().map(|leg| leg.source(k)).sum();
            let (tank, current) = self.tank(k, instant, source)?;
            currents.push(current);
            tanks.push(tank);
        }
        Some(Motion::new(tanks, currents, legs))
    }

    /// A phase's tank and its currents at an instant, with the source voltage there; none where the solver
    /// does not tell them.
    pub(super) fn tank(
        &self,
        phase: usize,
        instant: SwitchingInstant,
        source: f64,
    ) -> Option<(HeldTank, TankCurrents)> {
        let solved = &self.case.state.phases[phase];
        let falls = instant.falls(phase, Leg::Driven);
        let state = if falls { solved.middle? } else { solved.start? };
        let tank = self.held_tank(phase, solved, &state);
        let (current, magnetising) = (state.tank_current.0, state.magnetising_current.0);
        let rectifier = tank.rectifier(current, magnetising, source);
        Some((tank, TankCurrents { tank: current, magnetising, rectifier }))
    }

    /// A leg whose falling phases stand at their interval voltages, and the rising ones at zero.
    fn leg<const ROOM: usize>(&self, leg: Leg, instant: SwitchingInstant) -> MovingLeg<ROOM> {
        let switch = self.case.switch;
        let (all_intervals, mut intervals) = (self.intervals(leg, instant), [0.0; ROOM]);
        let mut nodes = [0.0; ROOM];
        for k in 0..self.phases() {
            intervals[k] = all_intervals[k];
            if instant.falls(k, leg) {
                nodes[k] = intervals[k];
            }
        }
        let capacitances = LegCapacitances {
            low: [switch.low_capacitance.0; ROOM],
            high: [switch.high_capacitance.0; ROOM],
        };
        let circuit = LegNodes::chain(self.phases(), capacitances, intervals);
        let direction = match leg {
            Leg::Driven => 1.0,
            Leg::Return => -1.0,
        };
        MovingLeg::new(circuit, direction, nodes)
    }

    /// What swings in each dead time of a phase that moves by itself; none where it has no voltage to swing
    /// over.
    pub(super) fn lone_swings(
        &self,
        instant: SwitchingInstant,
        phase: usize,
    ) -> Option<ArrayVec<Option<LoneSwing>, 2>> {
        let swings: ArrayVec<LoneSwing, 2> = match self.case.arrangement {
            Arrangement::Chain => {
                self.legs().iter().map(|leg| self.swing_in_chain(*leg, instant, phase)).collect()
            }
            Arrangement::Paralleled => {
                std::iter::once(self.paralleled_swing(instant, phase)).collect()
            }
        };
        if swings.iter().any(|swing| swing.interval <= 0.0) {
            return None;
        }
        Some(match self.case.arrangement {
            Arrangement::Chain => [Swing::HighToLow, Swing::LowToHigh]
                .map(|way| swings.iter().find(|swing| swing.swing == way).copied())
                .into(),
            Arrangement::Paralleled => swings.into_iter().map(Some).collect(),
        })
    }

    /// The node of one phase of a chain while those beside it are held at zero.
    fn swing_in_chain(&self, leg: Leg, instant: SwitchingInstant, phase: usize) -> LoneSwing {
        let (switch, intervals) = (self.case.switch, self.intervals(leg, instant));
        let (low, high) = (switch.low_capacitance.0, switch.high_capacitance.0);
        let behind = if phase + 1 < self.phases() { high } else { 0.0 };
        let alone = LoneSwing {
            leg,
            swing: Swing::LowToHigh,
            start: 0.0,
            interval: intervals[phase],
            capacitance: low + high + behind,
            highest_high: 0.0,
            is_mirrored: false,
        };
        if instant.falls(phase, leg) {
            return alone.falling();
        }
        // The node before stood at its interval voltage, and fell from there.
        let above = phase.checked_sub(1).map_or(0.0, |above| intervals[above]);
        LoneSwing { highest_high: above + alone.interval, ..alone }
    }

    /// The node of the driven leg of a paralleled phase: the original tank on its share of the input. The
    /// same currents charge N² times the capacitance as the rescaled ones' N times smaller currents charge it
    /// over the input.
    fn paralleled_swing(&self, instant: SwitchingInstant, phase: usize) -> LoneSwing {
        let (phases, switch) = (self.case.converter.healthy_phases, self.case.switch);
        let capacitance = switch.low_capacitance.0 + switch.high_capacitance.0;
        let alone = LoneSwing {
            leg: Leg::Driven,
            swing: Swing::LowToHigh,
            start: 0.0,
            interval: self.intervals(Leg::Driven, instant)[phase],
            capacitance: (phases * phases) as f64 * capacitance,
            highest_high: 0.0,
            is_mirrored: self.legs().len() == 2,
        };
        if instant.falls(phase, Leg::Driven) { alone.falling() } else { alone }
    }

    /// E(k) of a leg at an instant.
    fn intervals(&self, leg: Leg, instant: SwitchingInstant) -> &PerNode {
        &self.intervals[usize::from(leg == Leg::Return)][instant as usize]
    }

    /// E(k) = v(k−1) − v(k): for a falling phase at the end of its high interval, for a rising one at
    /// the start of its own.
    fn set_chain_intervals(&mut self) {
        let CommutationCase { state, converter, point, .. } = self.case;
        let legs = self.legs().iter();
        let middles = middle_voltages(state, converter, point);
        let capacitors = [&converter.flying, &converter.flying_return];
        for ((leg, capacitors), of_leg) in legs.zip(capacitors).zip(&mut self.intervals) {
            for (instant, intervals) in SwitchingInstant::ALL.into_iter().zip(of_leg) {
                let mut above = point.input_voltage.0;
                for (k, interval) in intervals.iter_mut().enumerate().take(state.phases.len()) {
                    let below = middles.get(k).zip(capacitors.get(k)).map_or(0.0, |(middle, c)| {
                        let half_ripple = 0.5 * state.phases[k].charge / c.0;
                        // Its phase has charged it to the end, or is about to.
                        middle + if instant.falls(k, *leg) { half_ripple } else { -half_ripple }
                    });
                    *interval = above - below;
                    above = below;
                }
            }
        }
    }

    fn held_tank(&self, k: usize, phase: &PhaseState, state: &TankState) -> HeldTank {
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
