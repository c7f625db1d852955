//! Which limits a converter with a failed part is judged by.
//!
//! The sharing error is that of the phases that carry current: a phase that is known to be lost is no
//! finding. Blocking voltages count at the highest value that the history of the legs allows. Limits of
//! single parts, of junction temperatures, of the efficiency and of soft switching are not judged: the
//! parts of a damaged leg are not loaded as in the healthy one.

use crate::converter::Arrangement;
use crate::scenario::{Limits, Scenario, SwitchLimits};
use crate::solver::fault::{FaultCase, FaultedState};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::missed::MissedDemand;

/// The limits that are judged.
pub fn judged_limits(limits: &Limits) -> Limits {
    let of_switches = |own: &SwitchLimits| SwitchLimits {
        rms_current: own.rms_current,
        peak_current: own.peak_current,
        blocking_voltage: own.blocking_voltage,
        ..SwitchLimits::default()
    };
    Limits {
        chain: of_switches(&limits.chain),
        paralleled: of_switches(&limits.paralleled),
        parts: Vec::new(),
        ..limits.clone()
    }
}

/// Names of the limits that the scenario has and that are not judged.
pub fn unjudged(limits: &Limits) -> Vec<String> {
    let judged = judged_limits(limits);
    let of_both = |limits: &Limits| -> Vec<Demand> {
        Arrangement::ALL.iter().flat_map(|own| Demand::all(limits, *own)).collect()
    };
    let known = of_both(&judged);
    let mut names: Vec<String> = Vec::new();
    for demand in of_both(limits) {
        let name = demand.name();
        if !known.contains(&demand) && !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// The figures that are judged, in the order of [`FaultedFigures::values`].
pub(super) fn figures(limits: &Limits) -> [Figure; 4] {
    [
        Figure::SharingError(limits.sharing),
        Figure::WorstSwitchRms,
        Figure::WorstSwitchPeak,
        Figure::WorstBlocking,
    ]
}

/// The figures of a converter that runs with a failed part.
pub(super) struct FaultedFigures {
    values: [f64; 4],
}

impl FaultedFigures {
    /// Of a converter in this state. Switches of the paralleled reference are those on tanks rescaled to
    /// the whole input.
    pub(super) fn new(scenario: &Scenario, case: &FaultCase, found: &FaultedState) -> Self {
        let sharing = scenario.limits.sharing;
        let carrying =
            found.carrying.iter().map(|k| found.state.phases[*k].shared(sharing.share).0);
        let scale = match case.arrangement {
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => 1.0 / scenario.phases as f64,
        };
        let currents = || found.state.phases.iter().flat_map(|phase| phase.switches.all());
        let blocking = match case.arrangement {
            Arrangement::Chain => found.highest_blocking().0,
            Arrangement::Paralleled => case.point.input_voltage.0,
        };
        Self {
            values: [
                sharing.measure.error(carrying),
                scale * currents().map(|c| c.rms.0).fold(0.0, f64::max),
                scale * currents().map(|c| c.peak.0).fold(0.0, f64::max),
                blocking,
            ],
        }
    }

    /// One a figure.
    pub(super) fn values(&self) -> &[f64; 4] {
        &self.values
    }

    /// The judged limits that it misses.
    pub(super) fn missed(&self, limits: &Limits, arrangement: Arrangement) -> Vec<MissedDemand> {
        let figures = figures(limits);
        let value = |demand: &Demand| {
            let figure = demand.figure?;
            let column = figures.iter().position(|own| *own == figure)?;
            Some(self.values[column])
        };
        let missed = |demand: Demand| {
            let value = value(&demand)?;
            let known = Some(value).filter(|value| value.is_finite());
            (value > demand.limit).then_some(MissedDemand { demand, value: known })
        };
        Demand::all(&judged_limits(limits), arrangement).into_iter().filter_map(missed).collect()
    }
}
