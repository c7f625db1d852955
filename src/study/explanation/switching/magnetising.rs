//! The largest magnetising inductance with which the target share of all converters still switches
//! softly: all of a converter's are larger or smaller by one factor.
//!
//! The first few samples choose a factor that does. From somewhat below it factors are tried upwards,
//! each once, until one does not show the target. In such a fixed sequence a wrong statement needs the
//! first wrong factor to pass. So it has the error probability of one test, although several are made
//! (Maurer, Hothorn and Lehmacher 1995, from memory).

use super::likely_failures::LikelyFailures;
use super::size::SearchSamples;
use crate::converter::{Arrangement, Converter};
use crate::engine::EngineError;
use crate::population::Population;
use crate::scenario::SwitchSettings;
use crate::solver::Case;
use crate::solver::commutation::{Transition, TurnOn};
use crate::study::common::commutation::SolvedCase;
use crate::study::common::error::StudyError;
use crate::study::explanation::explained::Explained;
use crate::units::{Henry, Second};

/// Steps of the factor in each doubling.
const STEPS_PER_DOUBLING: f64 = 16.0;
/// Steps up and down: to a quarter and to four times the nominal inductance.
const STEPS: i32 = 32;
/// Steps below what the first samples choose.
const BELOW: i32 = 3;

/// Magnetising inductances of a population.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PopulationMagnetising {
    /// The dead time that it holds for.
    pub dead_time: Second,
    /// The largest with which the nominal converter switches softly for certain.
    pub nominal: PopulationLargest,
    /// The largest nominal value with which the target share does.
    pub population: PopulationLargest,
}

/// The largest magnetising inductance that does, as the nominal value of all parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PopulationLargest {
    /// This one; the next larger one that was tried does not.
    Limit(Henry),
    /// The largest that is tried does.
    AtLeast(Henry),
    /// That was not shown of any that was tried.
    NotShown,
}

pub(super) fn search(
    explained: Explained,
    population: &Population,
    arrangement: Arrangement,
    switch: &SwitchSettings,
    samples: &SearchSamples,
) -> Result<PopulationMagnetising, StudyError> {
    let session = explained.session;
    let question = MagnetisingQuestion {
        explained,
        population,
        cases: session.cases(arrangement).cloned().map(without_stress).collect(),
        arrangement,
        switch,
    };
    let softest = TurnOn::softest(switch.soft_share);
    let is_soft = |step: &i32| {
        let nominal = scaled(session.nominal(), *step);
        question.shortfall(&nominal, &question.cases) <= softest
    };
    let nominal = (-STEPS..=STEPS).rev().find(is_soft);
    Ok(PopulationMagnetising {
        dead_time: switch.specification(arrangement).dead_time,
        nominal: question.largest(nominal),
        population: question.largest(question.of_population(samples)?),
    })
}

/// Samples of an arrangement at all its operating points.
struct MagnetisingQuestion<'a> {
    explained: Explained<'a>,
    population: &'a Population,
    cases: Vec<Case>,
    arrangement: Arrangement,
    switch: &'a SwitchSettings,
}

impl MagnetisingQuestion<'_> {
    fn largest(&self, step: Option<i32>) -> PopulationLargest {
        let nominal = self.explained.session.scenario().nominal.magnetising_inductance.0;
        match step {
            None => PopulationLargest::NotShown,
            Some(STEPS) => PopulationLargest::AtLeast(Henry(nominal * factor(STEPS))),
            Some(step) => PopulationLargest::Limit(Henry(nominal * factor(step))),
        }
    }

    /// The last step that shows the target.
    fn of_population(&self, samples: &SearchSamples) -> Result<Option<i32>, StudyError> {
        let mut order = LikelyFailures::new(TurnOn::softest(self.switch.soft_share));
        let fails = |most: u64, numbers: &[u64], step: i32| {
            // Most factors fail in the first chunk: before it is worth while to prepare a start.
            let mut prepared: Option<Vec<Case>> = None;
            let mut is_first = true;
            order.fails_at_most(most, numbers, |chunk| {
                if is_first {
                    is_first = false;
                    return self.shortfalls(chunk, step, &self.cases);
                }
                let cases = prepared.get_or_insert_with(|| self.cases_at(step));
                self.shortfalls(chunk, step, cases)
            })
        };
        Ok(largest_step(samples, fails)?)
    }

    /// The largest shortfall of each of the samples.
    fn shortfalls(
        &self,
        numbers: &[u64],
        step: i32,
        cases: &[Case],
    ) -> Result<Vec<f64>, EngineError> {
        let shortfall =
            |number: &u64| self.shortfall(&scaled(&self.population.draw(*number), step), cases);
        self.explained.session.workers().map(numbers, shortfall)
    }

    /// The cases, whose solutions begin at that of the nominal converter with the factor of a step. Where it
    /// has none, they begin where those without a factor do.
    fn cases_at(&self, step: i32) -> Vec<Case> {
        let nominal = scaled(self.explained.session.nominal(), step);
        let prepared = |case: &Case| {
            let open = Case { start: None, nearby: None, ..case.clone() };
            let (outcome, prepared) = self.explained.session.solver().prepare(&nominal, open);
            if outcome.solved().is_some() { prepared } else { case.clone() }
        };
        self.cases.iter().map(prepared).collect()
    }

    /// By how much the swings of a converter fall short at most, as a share of their interval voltages: over
    /// the operating points up to the first at which it does not switch softly for certain. NaN where it is
    /// not solved.
    fn shortfall(&self, converter: &Converter, cases: &[Case]) -> f64 {
        let softest = TurnOn::softest(self.switch.soft_share);
        let mut most = f64::NEG_INFINITY;
        for case in cases {
            most = larger(most, self.shortfall_at(converter, case).unwrap_or(f64::NAN));
            if most.is_nan() || most > softest {
                break;
            }
        }
        most
    }

    fn shortfall_at(&self, converter: &Converter, case: &Case) -> Option<f64> {
        let outcome = self.explained.session.solve(converter, case);
        let converter = converter.at(&case.point.condition);
        let (state, point, arrangement) = (outcome.solved()?, &case.point, self.arrangement);
        let solved = SolvedCase { converter: &converter, state, point, arrangement };
        let commutation = solved.commutation(self.switch).solve()?;
        let shortfalls = commutation.transitions.iter().map(Transition::shortfall);
        Some(shortfalls.fold(f64::NEG_INFINITY, larger))
    }
}

/// The larger number; NaN where one of them is.
fn larger(a: f64, b: f64) -> f64 {
    if a.is_nan() || a >= b { a } else { b }
}

/// The last step of a fixed sequence that shows the target; none where the first does not.
/// `fails_at_most` tells whether at most so many of these samples fail at a step.
///
/// # Errors
///
/// Those of `fails_at_most`.
pub fn largest_step<E>(
    samples: &SearchSamples,
    mut fails_at_most: impl FnMut(u64, &[u64], i32) -> Result<bool, E>,
) -> Result<Option<i32>, E> {
    let (pilot, counted) = (samples.pilot_numbers(), samples.counted_numbers());
    let permitted = samples.pilot as f64 * (1.0 - samples.rule.target);
    let spared = (1..=samples.pilot).take_while(|n| *n as f64 <= permitted).count() as u64;
    let mut step = STEPS;
    while !fails_at_most(spared, &pilot, step)? {
        if step == -STEPS {
            return Ok(None);
        }
        step -= 1;
    }
    let shows = |failing: &u64| samples.rule.shows(samples.counted - failing, samples.counted);
    let spared = (1..=samples.counted).take_while(shows).count() as u64;
    let mut last = None;
    for step in i32::max(step - BELOW, -STEPS)..=STEPS {
        if !fails_at_most(spared, &counted, step)? {
            break;
        }
        last = Some(step);
    }
    Ok(last)
}

/// Nobody asks what loads the parts.
fn without_stress(case: Case) -> Case {
    Case { with_stress: false, ..case }
}

/// The factor of a step.
fn factor(step: i32) -> f64 {
    libm::exp2(f64::from(step) / STEPS_PER_DOUBLING)
}

/// A converter with its magnetising inductances larger by the factor of a step.
fn scaled(converter: &Converter, step: i32) -> Converter {
    let mut scaled = converter.clone();
    for tank in &mut scaled.tanks {
        tank.magnetising_inductance.0 *= factor(step);
    }
    scaled
}
