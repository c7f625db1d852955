//! What a run rests on: what drives its figures and its failures, and what changes its verdict.
//!
//! [`explain`] takes a finished run and the first samples that [`KeptSamples`] kept of it. It solves at
//! most as many converters again as the run did, and some thousand more where dead times are searched. A
//! wish to stop ends it early and takes nothing from the run.

mod drivers;
mod explained;
mod failure_drivers;
mod kept;
mod retrial;
mod retried;
mod switching;
mod what_if;
pub mod worst_case;

pub use self::drivers::{CaseDrivers, Driver, DriverPart, DriverShares, Drivers, FigureDrivers};
pub use self::explained::Explained;
use self::failure_drivers::failure_drivers;
pub use self::failure_drivers::{ExactPart, FailureDrivers};
pub use self::kept::KeptSamples;
pub use self::retrial::ArrangementChange;
pub use self::retried::RetriedSamples;
pub use self::switching::{
    ArrangementSearch, CountRule, DeadTimeYield, PopulationDeadTimes, PopulationLargest,
    PopulationMagnetising, SearchSamples, SoftRange, SwitchingSearch, best_place, largest_step,
    soft_range,
};
use self::worst_case::{FrequencyExtremes, WorstCase};
use crate::converter::Arrangement;
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::what_if::WhatIf;

/// What explains a run. Parts that are none could not be had; [`Explanation::interrupted`] tells
/// whether the user asked to stop before them.
#[derive(Debug, Default)]
pub struct Explanation {
    /// What drives the figures; none where nothing scatters or the samples are too few.
    pub drivers: Option<Drivers>,
    /// What drives the failures of each arrangement; not here where no sample fails, nothing scatters or
    /// the samples are too few.
    pub failure_drivers: Vec<FailureDrivers>,
    /// The same of the lots that the parts of one converter share.
    pub lot_failure_drivers: Vec<FailureDrivers>,
    /// The verdict again under other assumptions; none where nothing scatters or the samples are too
    /// few.
    pub what_if: Option<WhatIf>,
    /// Which dead times and magnetising inductances let the target share switch softly; none where the
    /// scenario does not ask for it, and with the averaged solver.
    pub switching: Option<SwitchingSearch>,
    /// The worst case of every limited figure, case by case.
    pub worst_cases: Option<Vec<WorstCase>>,
    /// The lowest and highest frequency that converters inside their bands need, case by case.
    pub frequency_extremes: Vec<FrequencyExtremes>,
    /// Whether the user asked to stop before all was done.
    pub interrupted: bool,
}

/// An empty store for what the explanation needs of the run's first samples.
pub fn samples_to_keep(scenario: &Scenario) -> KeptSamples {
    let limited = Demand::figures(&scenario.limits);
    KeptSamples::of(drivers::figures_to_keep(&limited, scenario.phases))
}

/// Explains a run.
///
/// # Errors
///
/// When the run is not one of the scenario that it is explained with. An interrupt is no error: it
/// leaves the rest out.
pub fn explain(
    explained: Explained,
    progress: &mut dyn Progress,
) -> Result<Explanation, StudyError> {
    let mut explanation = Explanation::default();
    match explanation.fill(explained, progress) {
        Err(StudyError::Engine(EngineError::Interrupted(_) | EngineError::Stopped)) => {
            explanation.interrupted = true;
            Ok(explanation)
        }
        other => other.map(|()| explanation),
    }
}

impl Explanation {
    /// Finds one part after the other; those found before an interruption stay. A seventh of
    /// the solutions is left for what is not solved: drawing, fitting, counting.
    fn fill(
        &mut self,
        explained: Explained,
        progress: &mut dyn Progress,
    ) -> Result<(), StudyError> {
        let solves = explained.solves();
        progress.stage("drivers, converters", solves / 5);
        self.drivers = drivers::drivers(explained, solves / 5, progress)?;
        let most = solves * 3 / 10;
        progress.stage("failure drivers, converters", most);
        for (arrangement, share) in Arrangement::ALL.into_iter().zip([7, 1]) {
            let mut found = |part: DriverPart, solves: u64| {
                failure_drivers(explained, arrangement, part, solves * share / 8, progress)
            };
            self.failure_drivers.extend(found(DriverPart::Whole, most)?);
            self.lot_failure_drivers.extend(found(DriverPart::Lot, solves / 20)?);
        }
        progress.stage("worst cases", 0);
        let middles = worst_case::box_middles(explained)?;
        self.worst_cases = Some(worst_case::worst_cases(explained, &middles)?);
        self.frequency_extremes = worst_case::frequency_extremes(explained, &middles)?;
        self.switching = switching::search(explained, progress)?;
        progress.stage("other assumptions, converters", most);
        self.what_if = what_if::what_if(explained, most, progress)?;
        Ok(())
    }
}
