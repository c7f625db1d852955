//! The same converters in all variants: drawn once, solved in each at every operating point.

use super::part_tally::{AskedParts, PartTally};
use super::suspects::{Counted, Stopped, SuspectTrials, Suspects, Tried};
use super::tally::{SampleTally, TRIM_FIGURES, figures_of_all};
use super::variant::Variant;
use super::variant_case::{DrawnWithSensors, VariantCase};
use crate::engine::{EngineError, Layout, SampleRow, Status};
use crate::population::SensorScatter;
use crate::scenario::{Limits, SensorRequest, Tolerances};
use crate::solver::Case;
use crate::statistics::{Confidence, Estimator, HeldOutPlan};
use crate::study::common::clear_limits::ClearLimits;
use crate::study::common::demand::{Count, Demand};
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{NearlySolved, Session};
use crate::study::common::settings::Draws;
use crate::study::common::trials::Solving;

/// A variant at an operating point, and what its converters are solved for.
#[derive(Clone, Copy)]
struct AskedCase<'a> {
    variant_case: &'a VariantCase,
    case: &'a Case,
    /// What is taken of them.
    figures: &'a [Figure],
}

/// What tells whether a variant is good at an operating point.
struct Judge<'a> {
    variant_case: &'a VariantCase,
    /// None where every sample is solved to the end.
    clear: Option<ClearLimits>,
    count: Count,
}

impl<'a> Judge<'a> {
    fn new(
        variant_case: &'a VariantCase,
        limits: &Limits,
        figures: &[Figure],
        solving: Solving,
    ) -> Self {
        let case = &variant_case.case;
        let is_asked = solving == Solving::UntilClear;
        let clear = is_asked.then(|| ClearLimits::new(limits, case, figures)).flatten();
        Self { variant_case, clear, count: Count::new(limits, case, figures) }
    }
}

/// What is sampled.
pub(super) struct Sampling<'a> {
    pub session: &'a Session<'a>,
    pub request: &'a SensorRequest,
    pub tolerances: Tolerances,
    /// Those of the variants that are sampled.
    pub variant_cases: Vec<&'a VariantCase>,
    /// Confidence of what loads every part; none where that is not told.
    pub parts: Option<Confidence>,
}

impl Sampling<'_> {
    /// Goes through all samples; `progress` advances by every sample. Where it is stopped, what is
    /// done is given.
    pub(super) fn run(
        &self,
        draws: Draws,
        progress: &mut dyn Progress,
    ) -> Result<SampleTally, EngineError> {
        let figures = self.figures();
        let common = figures_of_all(self.session.scenario()).len();
        let width = figures.len() + TRIM_FIGURES;
        let population = self.session.population(&self.tolerances, draws);
        let scatter = SensorScatter::new(self.request);
        let cases = self.cases();
        let variants: Vec<Variant> = self.variant_cases.iter().map(|v| v.variant).collect();
        let limits = &self.session.scenario().limits;
        let mut all = SampleTally::new(&cases, &figures, common, limits);
        if let Some(confidence) = self.parts {
            all.parts = self.part_tallies(&cases, &figures, draws.samples, confidence);
        }
        let layout = Layout::of_rows(self.variant_cases.len(), width);
        let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            let converter = population.draw(sample);
            let sensors = population.draw_sensors(&scatter, sample);
            let drawn = DrawnWithSensors { converter: &converter, sensors: &sensors };
            let rows = numbers.chunks_mut(width);
            let asked = self.variant_cases.iter().zip(&cases);
            for (((variant_case, case), status), row) in asked.zip(statuses).zip(rows) {
                let asked = AskedCase { variant_case, case, figures: &figures };
                *status = self.solve(asked, drawn, row);
            }
        };
        let ended = self.session.workers().batches(layout, draws.samples, fill, |batch| {
            all.take(batch, &variants, &cases, &figures);
            progress.advance(batch.len() as u64);
            Ok(())
        });
        match ended {
            Err(EngineError::Interrupted(_)) => all.interrupted = true,
            other => other?,
        }
        Ok(all)
    }

    /// How many samples are good. It goes through them until `is_certain` of the good ones and those left to try;
    /// then the others do not count. A sample that is not good at one operating point is not solved at others.
    pub(super) fn good(
        &self,
        draws: Draws,
        suspects: &Suspects,
        solving: Solving,
        is_certain: impl Fn(Counted) -> Result<bool, Stopped>,
        progress: &mut dyn Progress,
    ) -> Result<Tried, Stopped> {
        let population = self.session.population(&self.tolerances, draws);
        let scatter = SensorScatter::new(self.request);
        let limits = &self.session.scenario().limits;
        let figures = Demand::figures(limits);
        let all = self.variant_cases.iter();
        let judges: Vec<Judge> =
            all.map(|own| Judge::new(own, limits, &figures, solving)).collect();
        let is_good = |sample: u64| {
            let converter = population.draw(sample);
            let sensors = population.draw_sensors(&scatter, sample);
            let drawn = DrawnWithSensors { converter: &converter, sensors: &sensors };
            judges.iter().all(|judge| self.is_good(judge, drawn, &figures))
        };
        let workers = self.session.workers();
        SuspectTrials::new(workers, is_good, is_certain, draws.samples, progress).run(suspects)
    }

    /// Whether a converter meets all limits at an operating point.
    fn is_good(&self, judge: &Judge, drawn: DrawnWithSensors, figures: &[Figure]) -> bool {
        let mut row = vec![f64::NAN; figures.len() + TRIM_FIGURES];
        let Judge { variant_case, clear, count } = judge;
        let case = &variant_case.case;
        let clear = clear.as_ref().and_then(|clear| {
            let measurement = variant_case.measurement(self.session, figures);
            if !variant_case.variant.has_sensors() {
                let converter = drawn.converter;
                return Some(measurement.take_until_clear(converter, case, clear, &mut row));
            }
            let (solver, detail) = (self.session.solver(), clear.detail());
            let near = variant_case.approach(self.request, solver, drawn, detail)?;
            let (approach, converter) = (&near.approach, &near.converter);
            measurement.take_near(&NearlySolved { approach, converter, case }, clear, &mut row)
        });
        let status = clear.unwrap_or_else(|| {
            self.solve(AskedCase { variant_case, case, figures }, drawn, &mut row)
        });
        count.meets(SampleRow { status, figures: &row })
    }

    /// The figures that are taken, in the order of the columns.
    pub(super) fn figures(&self) -> Vec<Figure> {
        let mut figures = figures_of_all(self.session.scenario());
        if self.parts.is_some() {
            let parts = self.session.part_figures().into_iter();
            let others: Vec<Figure> = parts.filter(|own| !figures.contains(own)).collect();
            figures.extend(others);
        }
        figures
    }

    /// What is solved, a row each: variants without sensors come first.
    pub(super) fn cases(&self) -> Vec<Case> {
        let of_variant = |asked: &&VariantCase| {
            let case = asked.case.clone();
            if self.parts.is_some() { case.with_stress() } else { case }
        };
        self.variant_cases.iter().map(of_variant).collect()
    }

    /// Nothing yet, without sensors and with them.
    fn part_tallies(
        &self,
        cases: &[Case],
        figures: &[Figure],
        samples: u64,
        confidence: Confidence,
    ) -> [PartTally; 2] {
        let target = self.session.scenario().limits.yield_target;
        let plan = HeldOutPlan::of_quantiles(samples, target, &Estimator::Fixed(confidence));
        let asked = AskedParts { session: self.session, cases, figures, plan };
        let without = self.variant_cases.iter().filter(|own| !own.variant.has_sensors()).count();
        [0..without, without..cases.len()].map(|rows| PartTally::new(&asked, rows))
    }

    /// Solves one converter, and writes its figures into a row.
    fn solve(&self, asked: AskedCase, drawn: DrawnWithSensors, row: &mut [f64]) -> Status {
        let AskedCase { variant_case, case, figures } = asked;
        let settled = self.settle(asked, drawn, row);
        settled.unwrap_or_else(|| {
            let (measured, trims) = row.split_at_mut(row.len() - TRIM_FIGURES);
            let measurement = variant_case.measurement(self.session, figures);
            let status = measurement.take(drawn.converter, case, measured);
            trims.fill(if status == Status::Solved { 0.0 } else { f64::NAN });
            status
        })
    }

    /// Solves one converter with settled trim loops; none where the case has none.
    fn settle(&self, asked: AskedCase, drawn: DrawnWithSensors, row: &mut [f64]) -> Option<Status> {
        let AskedCase { variant_case, case, figures } = asked;
        let solver = self.session.solver();
        let trimmed = variant_case.settle(self.request, solver, case, drawn)?;
        row.fill(f64::NAN);
        if let Some(state) = trimmed.outcome.solved() {
            let (measured, trims) = row.split_at_mut(row.len() - TRIM_FIGURES);
            let measurement = variant_case.measurement(self.session, figures);
            measurement.write(state, &trimmed.converter, case, measured);
            let at_end = trimmed.at_end.iter().filter(|x| **x).count();
            trims[0] = at_end as f64;
            trims[1] = trimmed.trims.iter().fold(0.0, |a, x| f64::max(a, x.abs()));
            trims[2] = trimmed.beat.0;
        }
        Some(Status::from(&trimmed.outcome))
    }
}
