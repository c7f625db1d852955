//! The main question: how probable is it, over all parts and operating points, that sharing stays
//! within the limit and no switch is overloaded?
//!
//! [`run`] goes through all samples (`sampling`), solves the first ones with both solvers
//! (`comparison`) and reads the results from what was kept (`evaluation`).

mod arrangement_ratio;
mod batches;
mod comparison;
mod drawn;
mod evaluation;
mod limit_counts;
mod measured;
mod median_sample;
mod over_points;
mod result;
mod sample_size;
mod sampling;
mod solver_difference;
mod waveforms;

pub use self::batches::{ArrangementBatches, Batches};
pub use self::comparison::SolverComparison;
pub use self::drawn::{DrawnConverter, DrawnConverters, DrawnResult};
use self::evaluation::TallyReader;
pub use self::limit_counts::{LimitCounts, ScopeCounts};
pub use self::measured::MeasuredPartsYield;
pub use self::median_sample::MedianSample;
pub use self::over_points::{CommonBins, LargestFigure, OverPoints};
pub use self::result::{
    AgeYield, Allowance, ArrangementWaveforms, CaseResult, ConverterWaveforms, DecidingRun,
    Forecast, Joint, PointWaveforms, Run, ToleranceLimit, WaveformChoice, Worst,
};
pub use self::sample_size::SampleSize;
use self::sampling::SampledRun;
pub use self::sampling::{BothSinks, NoSink, SampleSink};
pub use self::solver_difference::SolverDifference;
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::solver::Case;
use crate::statistics::{Confidence, HeldOutPlan};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settings::{Draws, Settings};

/// The figures that are taken of every sample.
pub fn sampled_figures(session: &Session) -> Vec<Figure> {
    let scenario = session.scenario();
    let mut figures = Figure::all(scenario.phases, session.size().legs);
    let method = session.settings().method;
    figures.extend(LossFigure::told(scenario, method).map(Figure::Losses));
    figures.extend(session.part_figures());
    // Such as the time to settle: what no run takes unless it is limited.
    let limited = Demand::figures(&scenario.limits);
    figures.extend(limited.into_iter().filter(|own| matches!(own, Figure::Settling(_))));
    figures
}

/// Draws and solves samples of a source, so many as `size` asks for; `sink` receives them as they
/// are solved.
///
/// # Errors
///
/// When the user asks to stop, when `sink` fails.
pub fn run(
    session: &Session,
    source: RandomSource,
    size: SampleSize,
    sink: &mut dyn SampleSink,
    progress: &mut dyn Progress,
) -> Result<Run, StudyError> {
    let scenario = session.scenario();
    let estimator = size.estimator(Confidence::new(scenario.limits.confidence)?);
    let draws = Draws { source, samples: size.most() };
    let population = &session.population(&scenario.tolerances, draws);
    let figures = sampled_figures(session);
    let cases: Vec<Case> =
        session.baselines().iter().map(|b| b.case.clone().with_stress()).collect();
    let plan = SamplePlan {
        method: session.settings().method,
        populations: std::slice::from_ref(population),
        rows: &PlannedRow::of_one_population(&cases),
        figures: &figures,
    };
    let target = scenario.limits.yield_target;
    let held_out = HeldOutPlan::of_quantiles(size.most(), target, &estimator);
    let question = SampledRun { session, plan: &plan, size: &size, held_out };
    let sampled = &sampling::sample(question, sink, progress)?;
    let compared = comparison::compare(session, population, sampled.samples);
    let compared = compared.map_err(|error| match error {
        EngineError::Interrupted(_) => StudyError::Comparing,
        other => other.into(),
    })?;
    let batches = scenario.lots.map(|lots| {
        let draws = Draws { source, samples: lots.converters * lots.batches };
        batches::batches(session, lots, draws, progress)
    });
    let reader = TallyReader { session, population, figures: &figures, sampled, estimator };
    let [chain, paralleled] = Arrangement::ALL.map(|arrangement| reader.joint(arrangement));
    let (chain, paralleled, results) = (chain?, paralleled?, reader.cases()?);
    let waveforms = waveforms::at_limiting_point(&reader, &results, &chain);
    Ok(Run {
        limit_counts: sampled.limits.counts(),
        yields: reader.yields()?,
        drawn: reader.drawn_converters(&results, &chain, waveforms.as_ref()),
        settings: Settings { samples: sampled.samples, ..session.settings() },
        size,
        source,
        waveforms,
        cases: results,
        switching: reader.switching()?,
        nominal_misses: session.nominal_misses(),
        ratings: reader.ratings(&cases)?,
        over_points: reader.over_points()?,
        joint: [chain, paralleled],
        by_age: reader.by_age()?,
        comparison: compared.cases,
        compared: compared.samples,
        batches: batches.transpose()?,
        has_files: sink.has_files(),
        figures,
    })
}
