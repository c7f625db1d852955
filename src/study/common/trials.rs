//! The yields of converters that differ in their tolerances or their arrangement, on the same
//! samples and without files: what the searches for tolerance bands and part grades ask for.
//!
//! Sample k draws the same probabilities whatever the tolerances, so variants are paired: they
//! differ by their parts alone, not by the luck of the draw. That holds for variants of one call,
//! which are counted in pairs too, and for calls with the same source.

use std::ops::{ControlFlow, Range};

use crate::converter::Arrangement;
use crate::engine::{Batch, EngineError};
use crate::population::{Population, RandomSource};
use crate::scenario::Tolerances;
use crate::solver::Case;
use crate::study::common::clear_limits::ClearLimits;
use crate::study::common::demand::{Binding, Count, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::pairs::{Flags, Pairs};
use crate::study::common::progress::{Progress, Silent};
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settings::Draws;
use crate::units::Second;

/// Converters to be tried: the scenario's, with these tolerances in this arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct ConverterVariant {
    /// How far their parts lie apart.
    pub tolerances: Tolerances,
    /// How their phases are connected to the input.
    pub arrangement: Arrangement,
}

/// How far converters are solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Solving {
    /// All of them to the end.
    ToTheEnd,
    /// Those that are clear of all limits no farther than that is told ([`ClearLimits`]): the same counts
    /// follow in a fraction of the time.
    UntilClear,
}

/// How many samples of a variant pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Samples that meet all demands at all operating points.
    pub good: u64,
    /// All samples.
    pub samples: u64,
    /// The demand missed most often; none when all samples pass.
    pub binding: Option<Binding>,
}

/// The trials of several variants on the same samples.
#[derive(Debug)]
pub struct PairedTrials {
    /// One a variant, in their order.
    pub trials: Vec<Trial>,
    /// How often each two of them pass together.
    pub pairs: Pairs,
    /// Whether they were stopped before the last sample; they hold the samples done by then.
    pub interrupted: bool,
}

/// Tries several variants on the same samples. `progress` advances by every converter of a sample,
/// one a variant. Stopped, it gives what is done, if that is anything.
///
/// # Errors
///
/// When the user asks to stop before the first samples are done.
pub fn paired_trials(
    session: &Session,
    variants: &[ConverterVariant],
    draws: Draws,
    solving: Solving,
    progress: &mut dyn Progress,
) -> Result<PairedTrials, StudyError> {
    let populations: Vec<Population> =
        variants.iter().map(|variant| session.population(&variant.tolerances, draws)).collect();
    let judged = JudgedCases::new(session, solving);
    let rows: Vec<PlannedRow> = variants
        .iter()
        .enumerate()
        .flat_map(|(population, variant)| judged.rows(population, variant.arrangement))
        .collect();
    let plan = judged.plan(&populations, &rows);
    let mut counts = VariantCounts::new(session, &plan);
    let ended = session.evaluate(&plan, draws.samples, |batch| {
        counts.add(batch);
        progress.advance((batch.len() * variants.len()) as u64);
        Ok(())
    });
    let interrupted = match ended {
        Err(EngineError::Interrupted(_)) if counts.pairs.samples() > 0 => true,
        other => other.map(|()| false)?,
    };
    Ok(counts.trials(interrupted))
}

/// Tries a single variant.
///
/// # Errors
///
/// When the user asks to stop before the last sample is done.
pub fn trial(
    session: &Session,
    variant: ConverterVariant,
    draws: Draws,
    solving: Solving,
) -> Result<Trial, StudyError> {
    let mut all = paired_trials(session, &[variant], draws, solving, &mut Silent)?;
    match all.trials.pop() {
        Some(only) if !all.interrupted => Ok(only),
        _ => Err(EngineError::Interrupted(all.pairs.samples()).into()),
    }
}

/// How many of the converters with these numbers pass.
pub type CountPassing<'a> = dyn FnMut(Range<u64>) -> Result<u64, StudyError> + 'a;

/// Lets `ask` learn how many converters of a variant pass where they are delivered in batches of so many
/// that share the lots of their parts. They are numbered through all batches.
///
/// # Errors
///
/// Those of `ask`, which meets one when the user asks to stop.
pub fn passing_in_batches<T>(
    session: &Session,
    variant: &ConverterVariant,
    source: RandomSource,
    converters: u64,
    ask: impl FnOnce(&mut CountPassing<'_>) -> Result<T, StudyError>,
) -> Result<T, StudyError> {
    let draws = Draws { source, ..session.settings().draws() };
    let populations = [session.population(&variant.tolerances, draws).in_batches(converters)];
    let judged = JudgedCases::new(session, Solving::UntilClear);
    let rows: Vec<PlannedRow> = judged.rows(0, variant.arrangement).collect();
    let plan = judged.plan(&populations, &rows);
    ask(&mut |numbers| {
        let mut counts = VariantCounts::new(session, &plan);
        session.evaluate_until(&plan, plan.layout(), numbers, |batch| {
            counts.add(batch);
            Ok(ControlFlow::Continue(()))
        })?;
        Ok(counts.pairs.good(0))
    })
}

/// The cases of a session, and how far converters are solved in each.
struct JudgedCases<'a> {
    session: &'a Session<'a>,
    figures: Vec<Figure>,
    /// Of each case of a chain, then of paralleled phases; none where all are solved to the end.
    clear: [Vec<Option<ClearLimits>>; 2],
    settling_limit: Option<Second>,
}

impl<'a> JudgedCases<'a> {
    fn new(session: &'a Session<'a>, solving: Solving) -> Self {
        let limits = &session.scenario().limits;
        let figures = Demand::figures(limits);
        let until_clear = solving == Solving::UntilClear;
        let of_case =
            |case: &Case| until_clear.then(|| ClearLimits::new(limits, case, &figures)).flatten();
        let clear = Arrangement::ALL.map(|own| session.cases(own).map(of_case).collect());
        let settling_limit = limits.chain.settling_time.filter(|_| until_clear);
        Self { session, figures, clear, settling_limit }
    }

    /// The rows of a variant, whose population has this index.
    fn rows(
        &self,
        population: usize,
        arrangement: Arrangement,
    ) -> impl Iterator<Item = PlannedRow<'_>> {
        let slot = usize::from(arrangement == Arrangement::Paralleled);
        let cases = self.session.cases(arrangement).zip(&self.clear[slot]);
        cases.map(move |(case, clear)| PlannedRow {
            clear: clear.as_ref(),
            settling_limit: self.settling_limit,
            ..PlannedRow::of_figures(population, case)
        })
    }

    fn plan<'p>(&'p self, populations: &'p [Population], rows: &'p [PlannedRow]) -> SamplePlan<'p> {
        let method = self.session.settings().method;
        SamplePlan { method, populations, rows, figures: &self.figures }
    }
}

/// What has become of the samples so far.
struct VariantCounts<'a> {
    plan: &'a SamplePlan<'a>,
    /// One a row.
    counts: Vec<Count>,
    pairs: Pairs,
}

impl<'a> VariantCounts<'a> {
    fn new(session: &Session, plan: &'a SamplePlan<'a>) -> Self {
        let limits = &session.scenario().limits;
        let count = |row: &PlannedRow| Count::new(limits, row.case, plan.figures);
        let counts = plan.rows.iter().map(count).collect();
        Self { plan, counts, pairs: Pairs::new(plan.populations.len()) }
    }

    fn add(&mut self, batch: &Batch) {
        let mut passed = vec![Flags::all(batch.len()); self.plan.populations.len()];
        for (r, (row, count)) in self.plan.rows.iter().zip(&mut self.counts).enumerate() {
            for n in 0..batch.len() {
                if !count.add(batch.row(n, r)) {
                    passed[row.population].clear(n);
                }
            }
        }
        self.pairs.take(&passed, batch.len());
    }

    fn trials(self, interrupted: bool) -> PairedTrials {
        let samples = self.pairs.samples();
        let trials = (0..self.plan.populations.len()).map(|n| {
            let rows = self.plan.rows.iter().zip(&self.counts);
            let counts = rows
                .filter(|(row, _)| row.population == n)
                .map(|(row, count)| (row.case.point.name.as_str(), count));
            Trial { good: self.pairs.good(n), samples, binding: Binding::among(counts) }
        });
        PairedTrials { trials: trials.collect(), pairs: self.pairs, interrupted }
    }
}
