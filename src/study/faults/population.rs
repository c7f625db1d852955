//! Drawn converters with the same faults: how many meet the limits where the nominal one runs.
//!
//! All faults are tried on the same converters. Where parts are drawn from files, intervals hold for all the
//! parts that the files were drawn from, as those of `run` do.
//!
//! Of the first of them it is also told whether an aged flying capacitor traps the controller. That may mean to
//! follow thousands of periods, so that few converters have to do.

use super::counted_drift::CountedDrift;
use super::judged::{FaultedFigures, JudgedConverter, figures, judged_limits};
use super::result::{FaultResult, RemainingYield};
use crate::converter::{Arrangement, AssumedDrift, Converter};
use crate::engine::{Layout, SampleRow, Status};
use crate::solver::fault::{FaultCase, FaultOutcome, FaultedState, NoSteadyState};
use crate::solver::{Case, Outcome, Solver};
use crate::statistics::{Confidence, FileEffect, Yield};
use crate::study::common::demand::Count;
use crate::study::common::error::StudyError;
use crate::study::common::measured_influence::MeasuredInfluence;
use crate::study::common::nominal::Baseline;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;

/// Most drawn converters of which it is told whether the controller is trapped.
const FOLLOWED: u64 = 200;

/// The yield with every fault; none where the nominal converter does not run with it.
pub(super) fn sample(
    session: &Session,
    results: &[FaultResult],
    progress: &mut dyn Progress,
) -> Result<Vec<Option<RemainingYield>>, StudyError> {
    let scenario = session.scenario();
    let draws = session.settings().draws();
    let circuits = Circuits::new(results);
    let cases: Vec<&FaultCase> = circuits.cases.iter().map(|n| &results[*n].case).collect();
    let mut counts: Vec<CircuitCount> =
        cases.iter().map(|case| CircuitCount::new(session, case)).collect();
    let population = session.population(&scenario.tolerances, draws);
    let mut influence = MeasuredInfluence::new(session, &population, cases.len());
    let solver = session.solver();
    // Behind the figures stands whether the controller is trapped: 1, or 0.
    let layout = Layout::of_rows(cases.len(), figures(&scenario.limits).len() + 1);
    let before: Vec<Option<&Baseline>> = cases.iter().map(|case| baseline(session, case)).collect();
    progress.stage("converters with a fault", draws.samples);
    let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
        let converter = population.draw(sample);
        let rows = numbers.chunks_mut(layout.width);
        for (((case, before), status), row) in cases.iter().zip(&before).zip(statuses).zip(rows) {
            let is_followed = sample < FOLLOWED && may_trap(case);
            let before = *before;
            let judged = JudgedSample { session, case, before, is_followed, solver: &solver };
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
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let remaining = |(place, count): (usize, &CircuitCount)| {
        count.remaining(&influence.effects(place, cases[place].arrangement), confidence)
    };
    let yields: Vec<RemainingYield> =
        counts.iter().enumerate().map(remaining).collect::<Result<_, StudyError>>()?;
    Ok(circuits.of_results.into_iter().map(|own| own.map(|n| yields[n].clone())).collect())
}

/// What became of the drawn converters with one fault.
struct CircuitCount {
    count: Count,
    /// How many are trapped; none where that is not asked.
    trapped: Option<u64>,
}

impl CircuitCount {
    fn new(session: &Session, fault: &FaultCase) -> Self {
        let limits = &session.scenario().limits;
        let case = Case::new(fault.point.clone(), fault.band, fault.arrangement);
        let count = Count::new(&judged_limits(limits, fault), &case, &figures(limits));
        Self { count, trapped: may_trap(fault).then_some(0) }
    }

    /// Counts a converter; gives whether it meets all limits.
    fn add(&mut self, row: SampleRow) -> bool {
        let is_trapped = row.figures.last().is_some_and(|own| *own > 0.5);
        if let Some(trapped) = &mut self.trapped {
            *trapped += u64::from(is_trapped);
        }
        self.count.add(row)
    }

    fn remaining(
        &self,
        effects: &[FileEffect],
        confidence: Confidence,
    ) -> Result<RemainingYield, StudyError> {
        let trials = self.count.statuses.iter().sum();
        let sampled = Yield::new(self.count.good, trials, confidence)?;
        let share = |trapped: u64| Yield::new(trapped, trials.min(FOLLOWED), confidence);
        Ok(RemainingYield {
            counts: self.count.statuses,
            good: sampled.of_population(effects),
            good_of_measured_parts: (!effects.is_empty()).then_some(sampled),
            trapped: self.trapped.map(share).transpose()?,
        })
    }
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

/// The healthy nominal converter in the case of a fault.
fn baseline<'a>(session: &'a Session, fault: &FaultCase) -> Option<&'a Baseline> {
    let asked = (fault.arrangement, &fault.point.name);
    let is_same = |own: &&Baseline| (own.case.arrangement, &own.case.point.name) == asked;
    session.baselines().iter().find(is_same)
}

/// Whether a fault may trap the controller: an aged flying capacitor of a chain.
fn may_trap(case: &FaultCase) -> bool {
    case.fault.failure.remaining().is_some() && case.arrangement == Arrangement::Chain
}

/// A drawn converter with a fault.
struct JudgedSample<'a> {
    session: &'a Session<'a>,
    case: &'a FaultCase,
    /// The nominal converter before the fault.
    before: Option<&'a Baseline>,
    /// Whether it is told if the controller is trapped.
    is_followed: bool,
    solver: &'a Solver<'a>,
}

impl JudgedSample<'_> {
    /// Solves it, and writes its figures into a row.
    fn take(&self, converter: &Converter, row: &mut [f64]) -> Status {
        row.fill(f64::NAN);
        let own = self.with_own_drift(converter);
        let case = own.as_ref().unwrap_or(self.case);
        match case.solve(self.solver, converter) {
            FaultOutcome::Runs(found) => {
                let scenario = self.session.scenario();
                let (found, drift) = (&*found, CountedDrift::Own);
                let judged = JudgedConverter { scenario, case, converter, found, drift };
                let figures = FaultedFigures::new(judged);
                let (trapped, row) = (row.len() - 1, row);
                row[..trapped].copy_from_slice(figures.values());
                row[trapped] = f64::from(u8::from(self.is_trapped(converter, found)));
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

    /// The case with the drift that its own flying capacitors have beside the nominal currents; none where the drift
    /// does not depend on them, and where all parts still work.
    fn with_own_drift(&self, converter: &Converter) -> Option<FaultCase> {
        let scenario = self.session.scenario();
        let is_stated = matches!(scenario.drift, AssumedDrift::Stated(_));
        if is_stated || self.case.arrangement == Arrangement::Paralleled || may_trap(self.case) {
            return None;
        }
        let converter = converter.at(&self.case.point.condition);
        let drift = CountedDrift::Own.of(scenario, self.case, &converter, &self.before?.state);
        Some(self.case.clone().with_drift(drift))
    }

    /// Whether a controller that starts from the frequency before the fault is trapped.
    fn is_trapped(&self, converter: &Converter, found: &FaultedState) -> bool {
        let healthy = self.before.filter(|_| self.is_followed).map(|own| &own.case);
        let before = healthy.map(|case| self.solver.solve(converter, case));
        let before = before.as_ref().and_then(Outcome::solved);
        before.is_some_and(|before| {
            let frequency = before.switching_frequency;
            self.case.trap_if_short(self.solver, converter, frequency, found).is_some()
        })
    }
}
