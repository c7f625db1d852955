//! Steady state and temperatures together: what the losses make of the parts, until both agree.

use std::borrow::Cow;

use arrayvec::ArrayVec;

use super::losses::{Dissipation, TankLoad};
use crate::converter::{Arrangement, Converter, Drive, MAX_PHASES, Parameter, SwitchPlace};
use crate::solver::case::Case;
use crate::solver::loading::{Loaded, Loading};
use crate::solver::steady_state::{SteadyState, Unsolved};
use crate::units::{Ohm, Volt};

/// By how much the losses of two rounds may differ, of the output power.
const AGREES: f64 = 1e-10;
/// The same where a solution nearby told what to begin with: mostly the first round is the last. The
/// currents then are right to some 1e-6, and temperatures, which follow from them, to a millikelvin.
const AGREES_NEARBY: f64 = 2e-5;
/// Rounds before a converter counts as not solved. Four are usual.
const ROUNDS: usize = 40;

/// A converter whose resistances and drops follow from its losses.
pub(in crate::solver) struct SelfHeated<'a> {
    /// Its parts, under the condition of the case.
    converter: &'a Converter,
    case: &'a Case,
    rounds: usize,
}

impl<'a> SelfHeated<'a> {
    /// A converter under the condition of a case.
    pub(in crate::solver) fn new(converter: &'a Converter, case: &'a Case) -> Self {
        Self { converter, case, rounds: 0 }
    }

    /// What its tanks may see, to begin with: with the currents of a solution nearby, else with a guess
    /// of them.
    pub(in crate::solver) fn first(&self) -> Converter {
        let nearby = self.case.nearby.as_deref();
        let of_nearby = nearby.and_then(|state| {
            let own = self.dissipation(state).ok()?;
            Some(own.loads(state))
        });
        let loads = of_nearby
            .unwrap_or_else(|| (0..self.converter.phases()).map(|k| self.guess(k)).collect());
        let mut tanks = self.converter.clone();
        tanks.losses = None;
        tanks.responses.clear();
        apply(&loads, &mut tanks);
        tanks
    }

    fn dissipation(&self, state: &SteadyState) -> Result<Dissipation, Unsolved> {
        let own = Dissipation::of(state, self.converter, &self.case.point, self.case.arrangement);
        own.map_err(|_| Unsolved::ThermalRunaway)
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
            Arrangement::Paralleled => 1.0 / (phases * phases) as f64,
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

    fn load(&mut self, state: &SteadyState, tanks: &mut Cow<'_, Converter>) -> Loaded {
        let loads = match self.dissipation(state) {
            Ok(own) => own.loads(state),
            Err(why) => return Loaded::Failed(why),
        };
        let agrees = if self.case.nearby.is_some() { AGREES_NEARBY } else { AGREES };
        if self.change(state, &loads, tanks) < agrees {
            return Loaded::Settled;
        }
        self.rounds += 1;
        if self.rounds > ROUNDS {
            return Loaded::Failed(Unsolved::Lost);
        }
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
