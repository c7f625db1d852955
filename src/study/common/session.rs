//! What all sampling of a study is done with: the solutions of the nominal converter and the
//! threads, both prepared once.

use std::ops::{ControlFlow, Range};
use std::sync::atomic::AtomicBool;

use crate::converter::{Arrangement, Converter, ConverterSize, Rating, UsedDrives, driven_legs};
use crate::engine::{Batch, EngineError, Layout, Status, Workers};
use crate::population::{Population, columns};
use crate::scenario::{Scenario, Tolerances};
use crate::solver::{Approach, Case, Method, Outcome, Solver, SteadyState};
use crate::study::common::clear_limits::ClearLimits;
use crate::study::common::error::StudyError;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::missed::NominalMiss;
use crate::study::common::nominal::{Baseline, baselines_in};
use crate::study::common::settings::{Draws, Settings};
use crate::study::common::switching_figures::SwitchingFigure;
use crate::units::{Second, Watt};

/// A scenario that is ready to be sampled.
///
/// Tolerances do not change the nominal converter: a session serves any of them, and any number of
/// populations.
#[derive(Debug)]
pub struct Session<'a> {
    scenario: &'a Scenario,
    settings: Settings,
    nominal: Converter,
    baselines: Vec<Baseline>,
    workers: Workers<'a>,
}

/// What is evaluated of every sample: one row for each population and case.
#[derive(Debug, Clone, Copy)]
pub struct SamplePlan<'a> {
    /// The solver.
    pub method: Method,
    /// Where the converters come from: sample number k of each.
    pub populations: &'a [Population],
    /// The rows; those of a population are neighbours.
    pub rows: &'a [PlannedRow<'a>],
    /// The columns.
    pub figures: &'a [Figure],
}

/// A row of every sample.
#[derive(Debug, Clone, Copy)]
pub struct PlannedRow<'a> {
    /// Index of the population.
    pub population: usize,
    /// What its converter is solved for.
    pub case: &'a Case,
    /// Its limits, where nothing else is asked: a converter that is clear of all of them is not solved to the
    /// end, and the row holds ends of its figures.
    pub clear: Option<&'a ClearLimits>,
    /// The limit on the settling time, where no more is asked than whether it is met.
    pub settling_limit: Option<Second>,
}

/// Solves a converter and takes its figures.
#[derive(Debug, Clone, Copy)]
pub struct Measurement<'a> {
    solver: Solver<'a>,
    scenario: &'a Scenario,
    figures: &'a [Figure],
    settling_limit: Option<Second>,
    standing_loss: Watt,
}

impl<'a> Session<'a> {
    /// Solves the nominal converter at every operating point in both arrangements, and starts the
    /// threads.
    ///
    /// # Errors
    ///
    /// When the nominal converter cannot deliver an operating point, when the threads cannot be
    /// started.
    pub fn new(
        scenario: &'a Scenario,
        settings: Settings,
        stop: &'a AtomicBool,
    ) -> Result<Self, StudyError> {
        Self::in_arrangements(&Arrangement::ALL, scenario, settings, stop)
    }

    /// The same for converters in these arrangements alone.
    ///
    /// # Errors
    ///
    /// As [`Self::new`].
    pub fn in_arrangements(
        arrangements: &[Arrangement],
        scenario: &'a Scenario,
        settings: Settings,
        stop: &'a AtomicBool,
    ) -> Result<Self, StudyError> {
        let solver = Solver::new(settings.method, stop);
        let baselines = baselines_in(arrangements, scenario, solver)?;
        let workers = Workers::new(settings.threads, stop)?;
        let nominal = scenario.nominal_converter();
        Ok(Self { scenario, settings, nominal, baselines, workers })
    }

    /// The same for a great many samples: their solutions are forecast to second order.
    #[must_use]
    pub fn for_many_samples(mut self) -> Self {
        for baseline in &mut self.baselines {
            baseline.case = self.settings.method.bent(&self.nominal, baseline.case.clone());
        }
        self
    }

    /// The scenario.
    pub fn scenario(&self) -> &'a Scenario {
        self.scenario
    }

    /// How it is sampled.
    pub fn settings(&self) -> Settings {
        self.settings
    }

    /// The converter whose parts are all nominal.
    pub fn nominal(&self) -> &Converter {
        &self.nominal
    }

    /// Its solutions: one for each operating point and arrangement asked for, the chain first.
    pub fn baselines(&self) -> &[Baseline] {
        &self.baselines
    }

    /// The limits that it misses.
    pub fn nominal_misses(&self) -> Vec<NominalMiss> {
        NominalMiss::all(self.scenario, &self.baselines)
    }

    /// What converters in an arrangement are solved for, one case for each operating point.
    pub fn cases(&self, arrangement: Arrangement) -> impl Iterator<Item = &Case> {
        let all = self.baselines.iter().map(|baseline| &baseline.case);
        all.filter(move |case| case.arrangement == arrangement)
    }

    /// Phases of the converter, and driven legs of the chain: as many as any operating point
    /// drives.
    pub fn size(&self) -> ConverterSize {
        let drives = self.baselines.iter().map(|baseline| baseline.case.point.drive);
        ConverterSize { phases: self.scenario.phases, legs: driven_legs(drives) }
    }

    /// What loads every part, and how the switches turn on where the scenario describes them; nothing with the
    /// averaged solver, which tells neither.
    pub fn part_figures(&self) -> Vec<Figure> {
        if self.settings.method == Method::Averaged {
            return Vec::new();
        }
        let drives = UsedDrives::of(self.baselines.iter().map(|own| own.case.point.drive));
        let ratings = Rating::all_for(self.scenario.phases, drives).map(Figure::Rating);
        let switching = self.scenario.switch.map(|_| SwitchingFigure::ALL.map(Figure::Switching));
        ratings.chain(switching.into_iter().flatten()).collect()
    }

    /// The threads.
    pub fn workers(&self) -> &Workers<'a> {
        &self.workers
    }

    /// Converters with these tolerances.
    pub fn population(&self, tolerances: &Tolerances, draws: Draws) -> Population {
        let population =
            Population::with_tolerances(self.nominal.clone(), tolerances, draws.source);
        population.with_driven_legs(self.size().legs)
    }

    /// What converters are solved with.
    pub fn solver(&self) -> Solver<'a> {
        self.workers.solver(self.settings.method)
    }

    /// Solves a converter with the session's solver.
    pub fn solve(&self, converter: &Converter, case: &Case) -> Outcome {
        self.solver().solve(converter, case)
    }

    /// Takes these figures with the session's solver.
    pub fn measurement<'f>(&self, figures: &'f [Figure]) -> Measurement<'f>
    where
        'a: 'f,
    {
        Measurement {
            solver: self.solver(),
            scenario: self.scenario,
            figures,
            settling_limit: None,
            standing_loss: Watt(0.0),
        }
    }

    /// Evaluates so many samples; `consume` takes the batches in order.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, when `consume` fails.
    pub fn evaluate(
        &self,
        plan: &SamplePlan,
        samples: u64,
        mut consume: impl FnMut(&Batch) -> anyhow::Result<()> + Send,
    ) -> Result<(), EngineError> {
        let go_on = |batch: &Batch| consume(batch).map(|()| ControlFlow::Continue(()));
        self.evaluate_until(plan, plan.layout(), 0..samples, go_on)
    }

    /// Evaluates the samples of these numbers into batches of a layout of the plan; `consume` takes them in
    /// order, until it breaks off.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, when `consume` fails.
    pub fn evaluate_until(
        &self,
        plan: &SamplePlan,
        layout: Layout,
        samples: Range<u64>,
        consume: impl FnMut(&Batch) -> anyhow::Result<ControlFlow<()>> + Send,
    ) -> Result<(), EngineError> {
        let SamplePlan { method, figures, .. } = *plan;
        let solver = self.solver().with_method(method);
        let measurement = Measurement { solver, ..self.measurement(figures) };
        let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            plan.fill(sample, &measurement, statuses, numbers);
        };
        self.workers.batches_until(layout, samples, fill, consume)
    }
}

impl<'a> PlannedRow<'a> {
    /// A row that holds all its figures.
    pub fn of_figures(population: usize, case: &'a Case) -> Self {
        Self { population, case, clear: None, settling_limit: None }
    }

    /// A row for each case, all of the same converter.
    pub fn of_one_population(cases: &'a [Case]) -> Vec<Self> {
        cases.iter().map(|case| Self::of_figures(0, case)).collect()
    }
}

impl SamplePlan<'_> {
    /// How many rows a sample has, and how long they are.
    pub const fn layout(&self) -> Layout {
        Layout::of_rows(self.rows.len(), self.figures.len())
    }

    /// The same with all parts of a sample, of the first population, as its own numbers.
    pub fn layout_with_parts(&self) -> Layout {
        let first = self.populations.first();
        let own = first.map_or(0, |population| columns::values(population.nominal()).count());
        Layout { own, ..self.layout() }
    }

    /// Draws a sample of every population, and measures it in all its rows.
    fn fill(
        &self,
        sample: u64,
        measurement: &Measurement,
        statuses: &mut [Status],
        numbers: &mut [f64],
    ) {
        let mut drawn: Option<(usize, Converter)> = None;
        let width = self.layout().width;
        let (numbers, own) = numbers.split_at_mut(self.rows.len() * width);
        let outputs = statuses.iter_mut().zip(numbers.chunks_mut(width));
        for (row, (status, numbers)) in self.rows.iter().zip(outputs) {
            let (_, converter) = match &drawn {
                Some(last) if last.0 == row.population => last,
                _ => {
                    let converter = self.populations[row.population].draw(sample);
                    if row.population == 0 {
                        own.iter_mut().zip(columns::values(&converter)).for_each(|(to, x)| *to = x);
                    }
                    &*drawn.insert((row.population, converter))
                }
            };
            let measurement = Measurement { settling_limit: row.settling_limit, ..*measurement };
            *status = match row.clear {
                Some(clear) => measurement.take_until_clear(converter, row.case, clear, numbers),
                None => measurement.take(converter, row.case, numbers),
            };
        }
    }
}

/// A converter close to its solution in a case.
#[derive(Debug, Clone, Copy)]
pub struct NearlySolved<'a> {
    /// What is told there.
    pub approach: &'a Approach,
    /// The converter.
    pub converter: &'a Converter,
    /// What it is solved for.
    pub case: &'a Case,
}

impl<'a> Measurement<'a> {
    /// The same for converters in which something else loses so much.
    #[must_use]
    pub fn with_standing_loss(self, standing_loss: Watt) -> Self {
        Self { standing_loss, ..self }
    }

    /// Solves a converter and writes its figures into a row; NaN where it is not solved.
    pub fn take(&self, converter: &Converter, case: &Case, row: &mut [f64]) -> Status {
        self.take_with(converter, case, row, |converter| self.solver.solve(converter, case))
    }

    fn take_with(
        &self,
        converter: &Converter,
        case: &Case,
        row: &mut [f64],
        solve: impl Fn(&Converter) -> Outcome,
    ) -> Status {
        row.fill(f64::NAN);
        // Once, for both the solver and the figures.
        let converter = &*converter.at(&case.point.condition);
        let outcome = solve(converter);
        if let Some(state) = outcome.solved() {
            self.write(state, converter, case, row);
        }
        Status::from(&outcome)
    }

    /// The same, no farther than tells that the converter is clear of all limits; then the row holds ends of
    /// the limited figures.
    pub fn take_until_clear(
        &self,
        converter: &Converter,
        case: &Case,
        clear: &ClearLimits,
        row: &mut [f64],
    ) -> Status {
        let Some(approach) = &self.solver.approach(converter, case, clear.detail()) else {
            return self.take(converter, case, row);
        };
        let near = NearlySolved { approach, converter, case };
        self.take_near(&near, clear, row).unwrap_or_else(|| {
            self.take_with(converter, case, row, |own| self.solver.finish(own, case, approach))
        })
    }

    /// Writes ends of the limited figures into a row, if an approached converter is clear of all limits.
    pub fn take_near(
        &self,
        near: &NearlySolved,
        clear: &ClearLimits,
        row: &mut [f64],
    ) -> Option<Status> {
        let NearlySolved { approach, converter, case } = *near;
        let solved = approach.state.as_ref().map(|state| self.solved(state, converter, case));
        clear.are_clear(approach, solved.as_ref(), case, row).then_some(Status::Solved)
    }

    /// Writes the figures of a solved converter into a row; those that do not apply stay as they
    /// are.
    pub fn write(&self, state: &SteadyState, converter: &Converter, case: &Case, row: &mut [f64]) {
        let (arrangement, drive) = (case.arrangement, case.point.drive);
        let solved = self.solved(state, converter, case);
        for (value, figure) in row.iter_mut().zip(self.figures) {
            if figure.applies(arrangement, drive) {
                *value = solved.value(*figure);
            }
        }
    }

    /// A solved converter, ready to be measured.
    pub fn solved<'c>(
        &self,
        state: &'c SteadyState,
        converter: &'c Converter,
        case: &'c Case,
    ) -> SolvedConverter<'c>
    where
        'a: 'c,
    {
        let drift = &self.scenario.drift;
        SolvedConverter::new(state, converter, &case.point, case.arrangement, drift)
            .with_switches(self.scenario.switch.as_ref())
            .with_settling_limit(self.settling_limit)
            .with_standing_loss(self.standing_loss)
    }
}
