//! The main question: how probable is it, over all parts and operating points, that sharing stays
//! within the limit and no switch is overloaded?
//!
//! [`run`] goes through all samples (`sampling`), solves the first ones with both solvers
//! (`comparison`) and reads the results from what was kept (`evaluation`).

mod arrangement_ratio;
mod comparison;
mod evaluation;
mod result;
mod sampling;
mod solver_difference;

pub use self::comparison::SolverComparison;
use self::evaluation::TallyReader;
pub use self::result::{CaseResult, Joint, Run, Worst};
pub use self::sampling::{NoSink, SampleSink};
pub use self::solver_difference::SolverDifference;
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::statistics::Confidence;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;

/// Draws and solves as many samples of a source as the session's settings ask for; `sink` receives
/// them as they are solved.
///
/// # Errors
///
/// When the user asks to stop, when `sink` fails.
pub fn run(
    session: &Session,
    source: RandomSource,
    sink: &mut dyn SampleSink,
    progress: &mut dyn Progress,
) -> Result<Run, StudyError> {
    let (scenario, settings) = (session.scenario(), session.settings());
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let draws = Draws { source, samples: settings.samples };
    let population = &session.population(&scenario.tolerances, draws);
    let figures = Figure::all(scenario.phases, session.size().legs);
    progress.stage("samples", draws.samples);
    let tally = &sampling::sample(session, population, &figures, sink, progress)?;
    let compared = comparison::compare(session, population).map_err(|error| match error {
        EngineError::Interrupted(_) => StudyError::Comparing,
        other => other.into(),
    })?;
    let reader = TallyReader { session, population, figures: &figures, tally, confidence };
    let [chain, paralleled] = Arrangement::ALL.map(|arrangement| reader.joint(arrangement));
    Ok(Run {
        settings,
        source,
        cases: reader.cases()?,
        joint: [chain?, paralleled?],
        comparison: compared.cases,
        compared: compared.samples,
        figures,
    })
}
