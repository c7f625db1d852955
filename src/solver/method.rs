//! The solvers by name.

use schemars::JsonSchema;
use serde::Serialize;

use super::case::{Case, Start};
use super::dissipation::SelfHeated;
use super::effort::Effort;
use super::loading::{Loading, Unloaded};
use super::steady_state::{Outcome, SteadyState, Unsolved};
use super::{averaged, exact};
use crate::converter::Converter;

/// By how much losses may move a frequency, as a factor.
const WIDER: f64 = 1.5;

/// How a steady state is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// The exact periodic steady state of the model.
    Exact,
    /// The fundamental-harmonic approximation.
    Averaged,
}

impl Method {
    /// The word used on the command line and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::Averaged => "averaged",
        }
    }

    /// The converter's steady state in a case, whose condition is applied to its parts. A start that the other method prepared is not used.
    pub fn solve(self, converter: &Converter, case: &Case) -> Outcome {
        self.solve_within(&Effort::default(), converter, case)
    }

    /// As [`solve`](Self::solve), with no more than this work.
    pub fn solve_within(self, effort: &Effort, converter: &Converter, case: &Case) -> Outcome {
        let converter = converter.at(&case.point.condition);
        if converter.losses.is_none() {
            return self.solve_tanks(&converter, case, effort, &mut Unloaded);
        }
        let (outcome, ()) = led_or_by_rounds(&converter, case, |mut heated, case| {
            let outcome = self.solve_tanks(&heated.first(), case, effort, &mut heated);
            (heated.complete(outcome), ())
        });
        outcome
    }

    /// Solves a converter without a start, and gives the case back with the solution as the start
    /// of converters nearby. Without a solution the case has no start.
    pub fn prepare(self, converter: &Converter, case: Case) -> (Outcome, Case) {
        self.prepare_within(&Effort::default(), converter, case)
    }

    /// As [`prepare`](Self::prepare), with no more than this work.
    pub fn prepare_within(
        self,
        effort: &Effort,
        converter: &Converter,
        case: Case,
    ) -> (Outcome, Case) {
        self.prepare_nearby(effort, converter, Case { start: None, ..case })
    }

    /// As [`prepare_within`](Self::prepare_within), from the case's own start.
    pub fn prepare_nearby(
        self,
        effort: &Effort,
        converter: &Converter,
        case: Case,
    ) -> (Outcome, Case) {
        let converter = &*converter.at(&case.point.condition);
        if converter.losses.is_none() {
            let (outcome, start) = self.prepare_tanks(converter, &case, effort, &mut Unloaded);
            return (outcome, Case { start, ..case });
        }
        let (outcome, start) = led_or_by_rounds(converter, &case, |mut heated, case| {
            let tanks = heated.first();
            let (outcome, start) = self.prepare_tanks(&tanks, case, effort, &mut heated);
            (heated.complete(outcome), start)
        });
        let case = Case { start, ..case };
        let solve = |tanks: &Converter| self.solve_tanks(tanks, &case, effort, &mut Unloaded);
        let heated = SelfHeated::new(converter, &case);
        let nearby = outcome.solved().map(|state| Box::new(heated.nearby(state, solve)));
        (outcome, Case { nearby, ..case })
    }

    /// The case with a start that follows the parts to second order. `nominal` is the converter whose solution
    /// it is. It takes the time of some hundred solutions, and pays for itself with thousands of samples.
    #[must_use]
    pub fn bent(self, nominal: &Converter, mut case: Case) -> Case {
        if let Some(Start::Exact(start)) = &case.start
            && nominal.losses.is_none()
        {
            let mut start = start.clone();
            exact::bend(&mut start, &nominal.at(&case.point.condition), &case);
            case.start = Some(Start::Exact(start));
        }
        case
    }

    fn solve_tanks(
        self,
        tanks: &Converter,
        case: &Case,
        effort: &Effort,
        loading: &mut dyn Loading,
    ) -> Outcome {
        match self {
            Self::Exact => exact::solve(tanks, case, effort, loading),
            Self::Averaged => averaged::solve(tanks, case, effort, loading),
        }
    }

    fn prepare_tanks(
        self,
        tanks: &Converter,
        case: &Case,
        effort: &Effort,
        loading: &mut dyn Loading,
    ) -> (Outcome, Option<Start>) {
        match self {
            Self::Exact => {
                let (outcome, start) = exact::prepare(tanks, case, effort, loading);
                (outcome, start.map(Start::Exact))
            }
            Self::Averaged => {
                let (outcome, start) = averaged::prepare(tanks, case, effort, loading);
                (outcome, start.map(Start::Averaged))
            }
        }
    }
}

/// What is found of a converter with losses: with the feedback of a solution nearby, else by rounds alone. That
/// feedback is of another converter and may lead astray: that there is nothing is told without it.
///
/// The rounds begin with losses that are guessed, and the band is for those that agree. So where nothing is found
/// inside, the rounds are gone through in a wider band. Their end decides.
fn led_or_by_rounds<T>(
    converter: &Converter,
    case: &Case,
    find: impl Fn(SelfHeated<'_>, &Case) -> (Outcome, T),
) -> (Outcome, T) {
    let heated = SelfHeated::new(converter, case);
    let is_led = heated.is_led();
    let found = match find(heated, case) {
        (Outcome::OutOfRange | Outcome::NotSolved(_), _) if is_led => {
            find(SelfHeated::by_rounds(converter, case), case)
        }
        found => found,
    };
    if !matches!(found.0, Outcome::OutOfRange) {
        return found;
    }
    let wide = Case { band: case.band.widened(WIDER), ..case.clone() };
    let agreed = find(SelfHeated::by_rounds(converter, &wide), &wide);
    let is_inside = |own: &SteadyState| case.band.contains(own.switching_frequency);
    match &agreed.0 {
        Outcome::Solved(state) if is_inside(state) => agreed,
        Outcome::NotSolved(Unsolved::Interrupted) => agreed,
        Outcome::Solved(_) | Outcome::OutOfRange | Outcome::NotSolved(_) => found,
    }
}
