//! Which dead times, and which magnetising inductances, let the target share of all converters switch
//! softly over all operating points together.
//!
//! A first few samples choose where to look; others are counted (`size`). Soft means decided: what lies
//! within the margin of the verdicts counts as a miss, as it does in the yield.

mod dead_times;
mod likely_failures;
mod magnetising;
mod size;

pub use self::dead_times::{DeadTimeYield, PopulationDeadTimes, SoftRange, best_place, soft_range};
pub use self::magnetising::{PopulationLargest, PopulationMagnetising, largest_step};
pub use self::size::{CountRule, SearchSamples};
use super::explained::Explained;
use crate::converter::Arrangement;
use crate::solver::Method;
use crate::statistics::Confidence;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;

/// What the target share of all converters needs to switch softly.
#[derive(Debug)]
pub struct SwitchingSearch {
    /// The samples that it took; none where the run has too few.
    pub samples: Option<SearchSamples>,
    /// Samples that a run must have at least.
    pub needed: u64,
    /// Chain, paralleled; empty where the run has too few samples.
    pub arrangements: Vec<ArrangementSearch>,
}

/// The same in one arrangement.
#[derive(Debug)]
pub struct ArrangementSearch {
    /// Dead times.
    pub dead_times: PopulationDeadTimes,
    /// Magnetising inductances.
    pub magnetising: PopulationMagnetising,
}

/// Searches, where the scenario asks for it and the exact solver is used.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn search(
    explained: Explained,
    progress: &mut dyn Progress,
) -> Result<Option<SwitchingSearch>, StudyError> {
    let scenario = explained.session.scenario();
    let is_exact = explained.run.settings.method == Method::Exact;
    let Some(switch) = scenario.switch.filter(|switch| switch.search && is_exact) else {
        return Ok(None);
    };
    let limits = &scenario.limits;
    let confidence = Confidence::new(limits.confidence)?;
    let rule = CountRule { target: limits.yield_target, confidence };
    let needed = SearchSamples::needed(rule)?;
    let samples = SearchSamples::of_run(explained.run.settings.samples, rule);
    let Some(taken) = samples else {
        return Ok(Some(SwitchingSearch { samples, needed, arrangements: Vec::new() }));
    };
    progress.stage("dead times and magnetising inductances", 0);
    let session = explained.session;
    let population = &session.population(&scenario.tolerances, explained.draws());
    let of_arrangement = |arrangement: Arrangement| -> Result<_, StudyError> {
        let dead_times = dead_times::search(explained, population, arrangement, &switch, &taken)?;
        let switch = switch.with_dead_time(dead_times.chosen);
        let magnetising = magnetising::search(explained, population, arrangement, &switch, &taken)?;
        Ok(ArrangementSearch { dead_times, magnetising })
    };
    let arrangements =
        Arrangement::ALL.map(of_arrangement).into_iter().collect::<Result<_, _>>()?;
    Ok(Some(SwitchingSearch { samples, needed, arrangements }))
}
