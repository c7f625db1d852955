//! The study itself: four variants on the same samples, then the searches for break-even factors.

use std::sync::atomic::AtomicBool;

use super::reader::ResultReader;
use super::result::{SensorStudy, Unfinished};
use super::sampling::Sampling;
use super::sensitivity::{Searcher, SensitivityQuestion};
use super::suspects::Stopped;
use super::variant_case::VariantCase;
use crate::engine::EngineError;
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::statistics::Confidence;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::faults::nominal_faults;

/// Carries out the study.
///
/// # Errors
///
/// When the nominal converter does not work in some variant; when it is stopped before anything
/// is done. Stopped later, it gives what is done, marked as [`Unfinished`].
pub fn sensors(
    scenario: &Scenario,
    request: &SensorRequest,
    settings: Settings,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<SensorStudy, StudyError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let session = Session::new(scenario, settings, stop)?;
    let faults = nominal_faults(&session, progress)?;
    let variant_cases = VariantCase::all(&session, request)?;
    let sampling = Sampling {
        session: &session,
        request,
        tolerances: scenario.tolerances.clone(),
        variant_cases: variant_cases.iter().collect(),
        parts: (settings.method == Method::Exact).then_some(confidence),
    };
    progress.stage("four variants", settings.samples);
    let sampled = sampling.run(settings.draws(), progress)?;
    if sampled.samples == 0 {
        return Err(EngineError::Interrupted(0).into());
    }
    let reader = ResultReader { sampling: &sampling, sampled: &sampled, confidence };
    let mut study = reader.study(faults)?;
    if sampled.interrupted {
        study.unfinished = Some(Unfinished::Samples);
        return Ok(study);
    }
    let fresh = study.verification;
    let of_search = |own: VariantCase| own.for_many_samples(&session);
    let variant_cases: Vec<_> = variant_cases.into_iter().map(of_search).collect();
    let searcher = Searcher { session: &session, request, variant_cases: &variant_cases, fresh };
    add_sensitivities(&mut study, &searcher, progress)?;
    Ok(study)
}

/// Answers the questions on which the decision depends, as far as the user lets it.
fn add_sensitivities(
    study: &mut SensorStudy,
    searcher: &Searcher,
    progress: &mut dyn Progress,
) -> Result<(), StudyError> {
    let questions = SensitivityQuestion::all(study.decision().cheapest, searcher.request);
    let is_judged = |own: &SensitivityQuestion| study.variant(own.variant).is_judged;
    for question in questions.into_iter().filter(is_judged).collect::<Vec<_>>() {
        match searcher.answer(question, study.variant(question.variant).good, progress) {
            Ok(sensitivity) => study.sensitivities.push(sensitivity),
            Err(Stopped::Interrupted) => {
                study.unfinished = Some(Unfinished::Factors);
                break;
            }
            Err(Stopped::Failed(e)) => return Err(e),
        }
    }
    Ok(())
}
