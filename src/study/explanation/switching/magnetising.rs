//! The largest magnetising inductance with which the target share of all converters still switches
//! softly: all of a converter's are larger or smaller by one factor.
//!
//! The first few samples choose a factor that does. From somewhat below it factors are tried upwards,
//! each once, until one does not show the target. In such a fixed sequence a wrong statement needs the
//! first wrong factor to pass. So it has the error probability of one test, although several are made
//! (Maurer, Hothorn and Lehmacher 1995, from memory).

use super::size::SearchSamples;
use crate::converter::{Arrangement, Converter};
use crate::engine::EngineError;
use crate::population::Population;
use crate::scenario::SwitchSettings;
use crate::solver::Case;
use crate::solver::commutation::TurnOn;
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
/// Samples before the first count of those that fail. Most factors fail at once. Then twice as many each
/// time, up to the most.
const FIRST_CHUNK: usize = 8;
/// Most samples between two counts.
const MOST_IN_CHUNK: usize = 512;

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
        cases: session.cases(arrangement).cloned().collect(),
        arrangement,
        switch,
    };
    let is_soft = |step: &i32| question.is_soft(session.nominal(), *step, &question.cases);
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
        let fails = |most: u64, numbers: &[u64], step: i32| self.fails_at_most(most, numbers, step);
        Ok(largest_step(samples, fails)?)
    }

    /// Whether at most so many of the samples fail. It ends once more have failed.
    fn fails_at_most(&self, most: u64, numbers: &[u64], step: i32) -> Result<bool, EngineError> {
        let (first, others) = numbers.split_at(FIRST_CHUNK.min(numbers.len()));
        let mut failing = self.failing(first, step, &self.cases)?;
        if failing > most || others.is_empty() {
            return Ok(failing <= most);
        }
        let cases = self.cases_at(step);
        let (mut left, mut size) = (others, 2 * FIRST_CHUNK);
        while failing <= most && !left.is_empty() {
            let (chunk, rest) = left.split_at(size.min(left.len()));
            failing += self.failing(chunk, step, &cases)?;
            (left, size) = (rest, MOST_IN_CHUNK.min(2 * size));
        }
        Ok(failing <= most)
    }

    /// How many of the samples fail.
    fn failing(&self, numbers: &[u64], step: i32, cases: &[Case]) -> Result<u64, EngineError> {
        let is_soft = |number: &u64| self.is_soft(&self.population.draw(*number), step, cases);
        let soft = self.explained.session.workers().map(numbers, is_soft)?;
        Ok(soft.iter().filter(|is_soft| !**is_soft).count() as u64)
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

    /// Whether a converter switches softly for certain at all operating points with its magnetising
    /// inductances larger by a factor. Where it is not solved, it does not.
    fn is_soft(&self, converter: &Converter, step: i32, cases: &[Case]) -> bool {
        let scaled = scaled(converter, step);
        cases.iter().all(|case| self.is_soft_at(&scaled, case))
    }

    fn is_soft_at(&self, converter: &Converter, case: &Case) -> bool {
        let outcome = self.explained.session.solve(converter, case);
        let converter = converter.at(&case.point.condition);
        let commutation = outcome.solved().and_then(|state| {
            let (point, arrangement) = (&case.point, self.arrangement);
            let solved = SolvedCase { converter: &converter, state, point, arrangement };
            solved.commutation(self.switch).solve()
        });
        let limit = self.switch.soft_share;
        commutation.is_some_and(|found| {
            found.transitions.iter().all(|own| own.verdict(limit) == TurnOn::Soft)
        })
    }
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
