//! Steady state and temperatures together: what the losses make of the parts, until both agree.

use std::borrow::Cow;

use arrayvec::ArrayVec;

use super::losses::{Dissipation, TankLoad};
use super::mixing::Mixing;
use crate::converter::{Arrangement, Converter, Drive, MAX_PHASES, Parameter, SwitchPlace};
use crate::solver::case::Case;
use crate::solver::commutation::{Commutation, CommutationCase};
use crate::solver::loading::{Loaded, Loading};
use crate::solver::steady_state::{Outcome, SteadyState, Unsolved};
use crate::units::{Ohm, Volt};

/// By how much the losses of two rounds may differ, of the output power.
const AGREES: f64 = 1e-10;
/// The same where a solution nearby told what to begin with: mostly the first round is the last. The
/// currents then are right to some 1e-6, and temperatures, which follow from them, to millikelvins.
const AGREES_NEARBY: f64 = 2e-5;
/// Rounds before a converter counts as not solved. Four are usual.
const ROUNDS: usize = 100;

/// Resistances and drops are compared at some ten ampere.
const OHM_PER_VOLT: f64 = 0.1;

/// A converter whose resistances and drops follow from its losses.
pub(in crate::solver) struct SelfHeated<'a> {
    /// Its parts, under the condition of the case.
    converter: &'a Converter,
    case: &'a Case,
    rounds: usize,
    mixing: Mixing,
    /// By how much the losses changed in the last round, of the output power.
    last_change: Option<f64>,
    /// How the switches turn on in the last solution, where that loss warms them.
    commutation: Option<Commutation>,
}

impl<'a> SelfHeated<'a> {
    /// A converter under the condition of a case.
    pub(in crate::solver) fn new(converter: &'a Converter, case: &'a Case) -> Self {
        Self {
            converter,
            case,
            rounds: 0,
            mixing: Mixing::default(),
            last_change: None,
            commutation: None,
        }
    }

    /// What its tanks may see, to begin with: with the currents of a solution nearby, else with a guess
    /// of them.
    pub(in crate::solver) fn first(&self) -> Converter {
        let nearby = self.case.nearby.as_deref();
        let of_nearby = nearby.map(|state| self.expected(state).loads(state));
        let loads = of_nearby
            .unwrap_or_else(|| (0..self.converter.phases()).map(|k| self.guess(k)).collect());
        let Converter { tanks, flying, flying_return, healthy_phases, .. } = self.converter;
        let mut seen = Converter {
            tanks: tanks.clone(),
            flying: flying.clone(),
            flying_return: flying_return.clone(),
            responses: Vec::new(),
            losses: None,
            healthy_phases: *healthy_phases,
        };
        apply(&loads, &mut seen);
        seen
    }

    fn dissipation(&self, state: &SteadyState, commutation: Option<&Commutation>) -> Dissipation {
        let Case { point, arrangement, .. } = self.case;
        Dissipation::of(state, commutation, self.converter, point, *arrangement)
    }

    /// What expected currents make of the parts: with the loss at turn-on of the solution nearby.
    fn expected(&self, state: &SteadyState) -> Dissipation {
        let nearby = self.case.nearby.as_deref();
        self.dissipation(state, nearby.and_then(|own| own.commutation.as_ref()))
    }

    /// Follows the dead times of a solution, whose tanks saw these parts; whether that can be done, or
    /// nobody asks for it.
    fn turn_on(&mut self, state: &SteadyState, tanks: &Converter) -> bool {
        let knows_currents = state.phases.iter().all(|phase| phase.start.is_some());
        let Some(switch) = self.case.switch.as_ref().filter(|_| knows_currents) else {
            return true;
        };
        let Case { point, arrangement, .. } = self.case;
        let case =
            CommutationCase { state, converter: tanks, point, arrangement: *arrangement, switch };
        self.commutation = case.solve();
        self.commutation.is_some()
    }

    /// The outcome, whose steady state then tells how the switches turn on.
    pub(in crate::solver) fn complete(self, outcome: Outcome) -> Outcome {
        match outcome {
            Outcome::Solved(state) => {
                Outcome::Solved(SteadyState { commutation: self.commutation, ..state })
            }
            other => other,
        }
    }

    /// What a tank sees at the reference temperature if the rectifier carries all of its current, and a
    /// low switch of a chain that two phases share carries none.
    fn guess(&self, k: usize) -> TankLoad {
        let (converter, arrangement) = (self.converter, self.case.arrangement);
        let phases = converter.phases();
        let told = |parameter: Parameter, index: usize| {
            let losses = converter.losses.as_ref();
            losses.and_then(|own| own.in_arrangement(parameter, index, arrangement)).unwrap_or(0.0)
        };
        let is_last = k + 1 == phases;
        let scale = match arrangement {
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => (converter.healthy_phases as f64).powi(-2),
        };
        let shares = |place: SwitchPlace| match (place, self.case.point.drive) {
            (SwitchPlace::ReturnHigh, Drive::HalfBridge) => 0.0,
            (SwitchPlace::ReturnLow, Drive::HalfBridge) => 1.0,
            (SwitchPlace::High | SwitchPlace::ReturnHigh, _) => 0.5,
            _ if is_last || arrangement == Arrangement::Paralleled => 0.5,
            _ => 0.0,
        };
        let switches = SwitchPlace::ALL.map(|place| {
            scale * shares(place) * told(Parameter::OnResistance, place.part(k, phases))
        });
        let tank = &converter.tanks[k];
        let at_secondary = told(Parameter::SecondaryWindingResistance, k)
            + self.case.point.rectifier.diodes_in_path() * told(Parameter::RectifierResistance, k);
        let resistance = tank.series_resistance.0
            + told(Parameter::PrimaryWindingResistance, k)
            + switches.iter().sum::<f64>()
            + tank.turns_ratio.powi(2) * at_secondary;
        TankLoad { resistance: Ohm(resistance), drop: tank.rectifier_drop }
    }

    /// Below which change the losses agree. Where each round leaves the share q of the last change, what is
    /// still to come is 1/(1 − q) times the change: a large q asks for more rounds.
    fn agrees(&self, change: f64) -> f64 {
        let left = self.last_change.map_or(1.0, |last| change / last);
        let is_near = self.case.nearby.is_some();
        if is_near { AGREES.max(AGREES_NEARBY * (1.0 - 2.0 * left)) } else { AGREES }
    }

    /// What the tanks are to see next: the loads, or what the last rounds together tell.
    fn mixed(
        &mut self,
        loads: &ArrayVec<TankLoad, MAX_PHASES>,
        tanks: &Converter,
    ) -> ArrayVec<TankLoad, MAX_PHASES> {
        let numbers = |of: &mut dyn Iterator<Item = TankLoad>| {
            of.flat_map(|load| [load.resistance.0, OHM_PER_VOLT * load.drop.0]).collect::<Vec<_>>()
        };
        let seen = tanks
            .tanks
            .iter()
            .map(|tank| TankLoad { resistance: tank.series_resistance, drop: tank.rectifier_drop });
        let (seen, found) = (numbers(&mut { seen }), numbers(&mut loads.iter().copied()));
        let mixed = self.mixing.next(&seen, &found);
        let load = |pair: &[f64]| TankLoad {
            resistance: Ohm(pair[0].max(0.0)),
            drop: Volt((pair[1] / OHM_PER_VOLT).max(0.0)),
        };
        mixed.chunks_exact(2).map(load).collect()
    }

    /// By how much the losses change with the loads, of the output power.
    fn change(
        &self,
        state: &SteadyState,
        loads: &ArrayVec<TankLoad, MAX_PHASES>,
        tanks: &Converter,
    ) -> f64 {
        let point = &self.case.point;
        let power = point.output_current.0 * point.output_voltage.0;
        let of_phase =
            loads.iter().zip(&tanks.tanks).zip(&state.phases).map(|((load, tank), phase)| {
                let by_resistance = (load.resistance.0 - tank.series_resistance.0).abs()
                    * phase.rms_current.0.powi(2);
                let clamp = |drop: Volt| point.rectifier.clamp_voltage(1.0, Volt(0.0), drop);
                let by_drop = (clamp(load.drop) - clamp(tank.rectifier_drop)).abs();
                by_resistance + by_drop * phase.output_current.0 / point.rectifier.current_gain(1.0)
            });
        of_phase.sum::<f64>() / power
    }
}

impl Loading for SelfHeated<'_> {
    fn anticipates(&self) -> bool {
        self.case.nearby.is_some()
    }

    fn anticipate(&mut self, expected: &SteadyState, tanks: &mut Cow<'_, Converter>) {
        let loads = self.expected(expected).loads(expected);
        self.last_change = Some(self.change(expected, &loads, tanks));
        apply(&loads, tanks.to_mut());
    }

    fn load(&mut self, state: &SteadyState, tanks: &mut Cow<'_, Converter>) -> Loaded {
        if !self.turn_on(state, tanks) {
            return Loaded::Failed(Unsolved::TurnOnUnknown);
        }
        let own = self.dissipation(state, self.commutation.as_ref());
        let loads = own.loads(state);
        let change = self.change(state, &loads, tanks);
        if change < self.agrees(change) {
            let runaway = Loaded::Failed(Unsolved::ThermalRunaway);
            return if own.runs_away { runaway } else { Loaded::Settled };
        }
        self.last_change = Some(change);
        self.rounds += 1;
        if self.rounds > ROUNDS {
            let why = if own.runs_away { Unsolved::ThermalRunaway } else { Unsolved::Lost };
            return Loaded::Failed(why);
        }
        let loads = self.mixed(&loads, tanks);
        apply(&loads, tanks.to_mut());
        Loaded::Changed
    }
}

fn apply(loads: &ArrayVec<TankLoad, MAX_PHASES>, tanks: &mut Converter) {
    for (tank, load) in tanks.tanks.iter_mut().zip(loads) {
        tank.series_resistance = load.resistance;
        tank.rectifier_drop = load.drop;
    }
}
