//! Drawn converters with the same faults: how many meet the limits where the nominal one runs.
//!
//! All faults are tried on the same converters. Where parts are drawn from files, intervals hold for all the
//! parts that the files were drawn from, as those of `run` do.

use super::judged::{FaultedFigures, figures, judged_limits};
use super::result::{FaultResult, RemainingYield};
use crate::converter::Converter;
use crate::engine::{Layout, Status};
use crate::scenario::Limits;
use crate::solver::fault::{FaultCase, FaultOutcome, NoSteadyState};
use crate::solver::{Case, Solver};
use crate::statistics::{Confidence, Yield};
use crate::study::common::demand::Count;
use crate::study::common::error::StudyError;
use crate::study::common::measured_influence::MeasuredInfluence;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;

/// The yield with every fault; none where the nominal converter does not run with it.
pub(super) fn sample(
    session: &Session,
    results: &[FaultResult],
    progress: &mut dyn Progress,
) -> Result<Vec<Option<RemainingYield>>, StudyError> {
    let scenario = session.scenario();
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let draws = session.settings().draws();
    let circuits = Circuits::new(results);
    let cases: Vec<&FaultCase> = circuits.cases.iter().map(|n| &results[*n].case).collect();
    let limits = &scenario.limits;
    let mut counts = empty_counts(&cases, limits);
    let population = session.population(&scenario.tolerances, draws);
    let mut influence = MeasuredInfluence::new(session, &population, cases.len());
    let solver = session.solver();
    let layout = Layout { rows: cases.len(), width: figures(limits).len() };
    progress.stage("converters with a fault", draws.samples);
    let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
        let converter = population.draw(sample);
        let rows = numbers.chunks_mut(layout.width);
        for ((case, status), row) in cases.iter().zip(statuses).zip(rows) {
            let judged = JudgedSample { session, case, solver: &solver };
            *status = judged.take(&converter, row);
        }
    };
    if !cases.is_empty() {
        session.workers().batches(layout, draws.samples, fill, |batch| {
            for n in 0..batch.len() {
                let rows = counts.iter_mut().enumerate();
                let passes: Vec<bool> =
                    rows.map(|(row, count)| count.add(batch.row(n, row))).collect();
                influence.add(batch.first + n as u64, &passes);
            }
            progress.advance(batch.len() as u64);
            Ok(())
        })?;
    }
    let of_circuit = |(place, count): (usize, &Count)| {
        let trials = count.statuses.iter().sum();
        let sampled = Yield::new(count.good, trials, confidence)?;
        let effects = influence.effects(place, cases[place].arrangement);
        let good_of_measured_parts = (!effects.is_empty()).then_some(sampled);
        let good = sampled.of_population(&effects);
        Ok(RemainingYield { counts: count.statuses, good, good_of_measured_parts })
    };
    let yields: Vec<RemainingYield> =
        counts.iter().enumerate().map(of_circuit).collect::<Result<_, StudyError>>()?;
    Ok(circuits.of_results.into_iter().map(|own| own.map(|n| yields[n].clone())).collect())
}

/// Different circuits among the faults with which the nominal converter runs: many faults leave the same.
struct Circuits {
    /// A result of each circuit.
    cases: Vec<usize>,
    /// The circuit of every result; none where the nominal converter does not run.
    of_results: Vec<Option<usize>>,
}

impl Circuits {
    fn new(results: &[FaultResult]) -> Self {
        let mut circuits = Self { cases: Vec::new(), of_results: Vec::new() };
        let representative =
            |own: &FaultResult| own.fault().representative(own.case.point.drive, own.arrangement());
        for (n, result) in results.iter().enumerate() {
            if result.outcome.state().is_none() {
                circuits.of_results.push(None);
                continue;
            }
            let is_same = |known: &usize| {
                let known = &results[*known];
                known.healthy == result.healthy && representative(known) == representative(result)
            };
            let found = circuits.cases.iter().position(is_same);
            circuits.of_results.push(Some(found.unwrap_or(circuits.cases.len())));
            if found.is_none() {
                circuits.cases.push(n);
            }
        }
        circuits
    }
}

fn empty_counts(cases: &[&FaultCase], limits: &Limits) -> Vec<Count> {
    let figures = figures(limits);
    let of_case = |own: &&FaultCase| {
        let case = Case::new(own.point.clone(), own.band, own.arrangement);
        Count::new(&judged_limits(limits, own), &case, &figures)
    };
    cases.iter().map(of_case).collect()
}

/// A drawn converter with a fault.
struct JudgedSample<'a> {
    session: &'a Session<'a>,
    case: &'a FaultCase,
    solver: &'a Solver<'a>,
}

impl JudgedSample<'_> {
    /// Solves it, and writes its figures into a row.
    fn take(&self, converter: &Converter, row: &mut [f64]) -> Status {
        row.fill(f64::NAN);
        match self.case.solve(self.solver, converter) {
            FaultOutcome::Runs(found) => {
                let scenario = self.session.scenario();
                let figures = FaultedFigures::new(scenario, self.case, converter, &found);
                row.copy_from_slice(figures.values());
                Status::Solved
            }
            // As in a run: a converter without a steady temperature is not solved.
            FaultOutcome::Unknown
            | FaultOutcome::NotSolved(_)
            | FaultOutcome::NoSteadyState(NoSteadyState::JunctionRunaway) => Status::NotSolved,
            FaultOutcome::OutOfRange
            | FaultOutcome::Stops
            | FaultOutcome::NoSteadyState(NoSteadyState::InputShorted) => Status::OutOfRange,
        }
    }
}
