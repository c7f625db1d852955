//! Steady state and temperatures together: what the losses make of the parts, until both agree.

use std::borrow::Cow;

use arrayvec::ArrayVec;

use super::dissipated::Dissipation;
use super::load_numbers::LoadScale;
use super::losses::{TankLoad, TankLoads};
use super::mixing::Mixing;
use super::nearby::Nearby;
use crate::converter::{Arrangement, Converter, Drive, MAX_PHASES, Parameter, SwitchPlace, Tank};
use crate::solver::case::Case;
use crate::solver::commutation::{Commutation, CommutationCase};
use crate::solver::loading::{Loaded, Loading};
use crate::solver::steady_state::{Outcome, SteadyState, Unsolved};
use crate::units::{Ohm, Volt};

/// By how much the losses of two rounds may differ, of the output power.
const AGREES: f64 = 1e-10;
/// The same by the feedback of a solution nearby, which tells where both agree. In a chain mostly a tenth of
/// it is left: currents are right to some 1e-6, and temperatures, which follow from them, to millikelvins.
/// Currents of paralleled phases, which change a lot with a drop, are mostly right to 1e-4, and to 1.5e-3 at worst.
const AGREES_NEARBY: f64 = 5e-6;
/// The part of it that rounds alone must come to: they tell less well how much is left.
const BY_ROUNDS: f64 = 0.1;
/// By how much a step may change output currents, of an equal share, for that to be small. After a larger one
/// losses and turn-on are not told again: both would change once more.
const NEAR: f64 = 0.01;
/// By how much currents may have changed since that was told.
const SAME_CURRENTS: f64 = 5e-4;
/// What a step with that feedback mostly leaves of a change.
const LEFT: f64 = 0.05;
/// What is wrong with losses after a step, of the output power, times the square of what it changes of the
/// currents: some twice the share that is lost.
const LEFT_OF_STEP: f64 = 0.1;
/// Rounds in which that feedback is followed.
const LED_ROUNDS: usize = 3;
/// Rounds before a converter counts as not solved. Four are usual.
const ROUNDS: usize = 100;

/// A converter whose resistances and drops follow from its losses.
pub(in crate::solver) struct SelfHeated<'a> {
    /// Its parts, under the condition of the case.
    converter: &'a Converter,
    case: &'a Case,
    rounds: usize,
    mixing: Mixing,
    /// By how much the losses are expected to change yet, of the output power.
    left: f64,
    /// How the switches turn on, where that loss warms them.
    turn_on: Option<KnownTurnOn>,
    /// The losses that were found to agree with the currents.
    settled: Option<Dissipation>,
    /// Whether a part had no steady temperature with the last currents.
    runs_away: bool,
}

/// How the switches turn on with some currents.
struct KnownTurnOn {
    commutation: Commutation,
    /// RMS currents of the tanks.
    currents: PhaseCurrents,
    /// Whether it was told of the last solution itself, and not of one that is nearly the same: currents at the
    /// switching instants may differ far more.
    is_of_last: bool,
}

type PhaseCurrents = ArrayVec<f64, MAX_PHASES>;

impl<'a> SelfHeated<'a> {
    /// A converter under the condition of a case.
    pub(in crate::solver) fn new(converter: &'a Converter, case: &'a Case) -> Self {
        Self {
            converter,
            case,
            rounds: 0,
            mixing: Mixing::default(),
            left: f64::INFINITY,
            turn_on: None,
            settled: None,
            runs_away: false,
        }
    }

    /// The same by rounds alone, without the feedback of a solution nearby.
    pub(in crate::solver) fn by_rounds(converter: &'a Converter, case: &'a Case) -> Self {
        Self { rounds: LED_ROUNDS, ..Self::new(converter, case) }
    }

    /// What its tanks may see, to begin with: with the currents of a solution nearby, else with a guess
    /// of them.
    pub(in crate::solver) fn first(&self) -> Converter {
        let nearby = self.case.nearby.as_deref().map(|own| &own.state);
        let of_nearby = nearby.map(|state| self.expected(state).loads(state));
        let loads = of_nearby
            .unwrap_or_else(|| (0..self.converter.phases()).map(|k| self.guess(k)).collect());
        self.that_see(&loads)
    }

    /// The converter as tanks that see these loads.
    fn that_see(&self, loads: &TankLoads) -> Converter {
        let Converter { tanks, flying, flying_return, healthy_phases, places, .. } = self.converter;
        let mut seen = Converter {
            tanks: tanks.clone(),
            flying: flying.clone(),
            flying_return: flying_return.clone(),
            responses: Vec::new(),
            losses: None,
            healthy_phases: *healthy_phases,
            places: places.clone(),
        };
        apply(loads, &mut seen);
        seen
    }

    /// What the steady state of this converter tells of others nearby, and how losses come back to
    /// themselves: from what `solve` makes of tanks that see a little else.
    pub(in crate::solver) fn nearby(
        &self,
        state: &SteadyState,
        solve: impl Fn(&Converter) -> Outcome,
    ) -> Nearby {
        let commutation = state.commutation.as_ref();
        let loads_of = |seen: &TankLoads| match solve(&self.that_see(seen)) {
            Outcome::Solved(other) => Some(self.dissipation(&other, commutation).loads(&other)),
            Outcome::OutOfRange | Outcome::NotSolved(_) => None,
        };
        let seen = self.dissipation(state, commutation).loads(state);
        Nearby::new(state.clone()).with_feedback(&seen, self.load_scale(), loads_of)
    }

    fn load_scale(&self) -> LoadScale {
        LoadScale::new(&self.case.point, self.converter.phases())
    }

    fn dissipation(&self, state: &SteadyState, commutation: Option<&Commutation>) -> Dissipation {
        let Case { point, arrangement, .. } = self.case;
        Dissipation::of(state, commutation, self.converter, point, *arrangement)
    }

    /// What expected currents make of the parts: with the loss at turn-on of the last solution, else of
    /// that nearby.
    fn expected(&self, state: &SteadyState) -> Dissipation {
        let nearby = self.case.nearby.as_deref().and_then(|own| own.state.commutation.as_ref());
        self.dissipation(state, self.commutation().or(nearby))
    }

    fn commutation(&self) -> Option<&Commutation> {
        self.turn_on.as_ref().map(|own| &own.commutation)
    }

    /// Whether it is known how the switches turn on with these currents, or with some that are nearly the
    /// same.
    fn knows_turn_on(&self, state: &SteadyState) -> bool {
        let known = self.turn_on.as_ref().filter(|_| self.is_led());
        known.is_some_and(|own| is_near(&own.currents, state, SAME_CURRENTS))
    }

    /// Whether all tanks have currents like those of the solution nearby.
    fn is_like_nearby(&self, state: &SteadyState) -> bool {
        self.case.nearby.as_deref().is_some_and(|nearby| nearby.is_like(state))
    }

    /// Whether somebody asks how the switches turn on, these currents are known well enough to tell, and
    /// they are not those of the solution nearby, which tells it for currents like its own.
    fn lacks_turn_on(&self, expected: &SteadyState, step: f64) -> bool {
        self.case.switch.is_some()
            && self.turn_on.is_none()
            && step < NEAR
            && !self.is_like_nearby(expected)
    }

    /// Follows the dead times of a solution, whose tanks saw these parts; whether that can be done, or
    /// nobody asks for it.
    fn turn_on(&mut self, state: &SteadyState, tanks: &Converter) -> bool {
        if self.knows_turn_on(state) {
            self.turn_on.iter_mut().for_each(|own| own.is_of_last = false);
            return true;
        }
        let knows_currents = state.phases.iter().all(|phase| phase.start.is_some());
        let Some(switch) = self.case.switch.as_ref().filter(|_| knows_currents) else {
            return true;
        };
        let Case { point, arrangement, .. } = self.case;
        let case =
            CommutationCase { state, converter: tanks, point, arrangement: *arrangement, switch };
        let currents: PhaseCurrents = rms_currents(state).collect();
        let told =
            |commutation| KnownTurnOn { commutation, currents: currents.clone(), is_of_last: true };
        self.turn_on = case.solve().map(told);
        self.turn_on.is_some()
    }

    /// The outcome, whose steady state then tells how the switches turn on, and what its parts lose.
    pub(in crate::solver) fn complete(self, outcome: Outcome) -> Outcome {
        match outcome {
            Outcome::Solved(state) => {
                let commutation = self.turn_on.map(|own| own.commutation);
                Outcome::Solved(SteadyState { commutation, dissipation: self.settled, ..state })
            }
            // With parts as hot as that no frequency may deliver the output, or none be found.
            Outcome::OutOfRange | Outcome::NotSolved(Unsolved::Lost) if self.runs_away => {
                Outcome::NotSolved(Unsolved::ThermalRunaway)
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

    /// Whether the solution nearby still tells what to see next. Where its feedback is not that of this
    /// converter, the rounds are to tell.
    pub(in crate::solver) fn is_led(&self) -> bool {
        self.case.nearby.is_some() && self.rounds < LED_ROUNDS
    }

    /// What the tanks are to see next: where both agree by the feedback of the solution nearby.
    fn agreed(&self, found: TankLoads, state: &SteadyState, tanks: &Converter) -> TankLoads {
        let nearby = self.case.nearby.as_deref().filter(|_| self.is_led());
        nearby.and_then(|own| own.agreed(&seen_by(tanks), &found, state)).unwrap_or(found)
    }

    /// Below which change the losses agree.
    fn tolerance(&self) -> f64 {
        match self.case.nearby {
            Some(_) if self.is_led() => AGREES_NEARBY,
            Some(_) => BY_ROUNDS * AGREES_NEARBY,
            None => AGREES,
        }
    }

    /// What the last rounds together tell.
    fn mixed(&mut self, found: &TankLoads, tanks: &Converter) -> TankLoads {
        let scale = self.load_scale();
        scale.loads(&self.mixing.next(&scale.numbers(&seen_by(tanks)), &scale.numbers(found)))
    }

    /// By how much the losses change with the loads, of the output power.
    fn change(&self, state: &SteadyState, loads: &TankLoads, tanks: &Converter) -> f64 {
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
    fn anticipates(&self, step: f64) -> bool {
        // The first time in any case.
        let is_worth = self.left.is_infinite() || step < NEAR;
        self.is_led() && self.left > AGREES_NEARBY && is_worth
    }

    fn anticipate(&mut self, expected: &SteadyState, step: f64, tanks: &mut Cow<'_, Converter>) {
        if self.lacks_turn_on(expected, step) {
            self.turn_on(expected, tanks);
        }
        let own = self.expected(expected);
        self.runs_away = own.runs_away;
        let next = self.agreed(own.loads(expected), expected, tanks);
        self.left = LEFT * self.change(expected, &next, tanks) + LEFT_OF_STEP * step * step;
        apply(&next, tanks.to_mut());
    }

    fn load(&mut self, state: &SteadyState, tanks: &mut Cow<'_, Converter>) -> Loaded {
        if !self.turn_on(state, tanks) {
            return Loaded::Failed(Unsolved::TurnOnUnknown);
        }
        let own = self.dissipation(state, self.commutation());
        self.runs_away = own.runs_away;
        let next = self.agreed(own.loads(state), state, tanks);
        let change = self.change(state, &next, tanks);
        if change < self.tolerance() {
            if own.runs_away {
                return Loaded::Failed(Unsolved::ThermalRunaway);
            }
            // What the result tells of its dead times is that of its own currents.
            if self.turn_on.as_ref().is_some_and(|own| !own.is_of_last) {
                self.turn_on = None;
                return self.load(state, tanks);
            }
            self.settled = Some(own);
            return Loaded::Settled;
        }
        let next = if self.is_led() { next } else { self.mixed(&next, tanks) };
        self.left = LEFT * change;
        self.rounds += 1;
        if self.rounds > ROUNDS {
            return Loaded::Failed(Unsolved::Lost);
        }
        apply(&next, tanks.to_mut());
        Loaded::Changed
    }
}

/// Whether all tanks have nearly these RMS currents.
fn is_near(currents: &PhaseCurrents, state: &SteadyState, within: f64) -> bool {
    let is_same = |(then, now): (&f64, f64)| (now / then - 1.0).abs() < within;
    currents.iter().zip(rms_currents(state)).all(is_same)
}

fn rms_currents(state: &SteadyState) -> impl Iterator<Item = f64> {
    state.phases.iter().map(|phase| phase.rms_current.0)
}

fn seen_by(tanks: &Converter) -> TankLoads {
    let seen =
        |tank: &Tank| TankLoad { resistance: tank.series_resistance, drop: tank.rectifier_drop };
    tanks.tanks.iter().map(seen).collect()
}

fn apply(loads: &TankLoads, tanks: &mut Converter) {
    for (tank, load) in tanks.tanks.iter_mut().zip(loads) {
        tank.series_resistance = load.resistance;
        tank.rectifier_drop = load.drop;
    }
}
