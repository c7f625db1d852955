//! A converter whose loops have settled.

use super::case::{TrimCase, TrimStart, Trimmed};
use super::search::{Evaluated, Failure, TrimSearch};
use crate::converter::{Converter, Sensors};
use crate::solver::exact::SettledLoops;
use crate::solver::steady_state::Outcome;
use crate::units::Hertz;

/// Searches whose work the search for the trims of one converter may take.
const SEARCHES: f64 = 4.0;

impl TrimCase<'_> {
    /// Trims the phases of a converter until its sensors agree, both under the condition of the case.
    pub fn settle(&self, converter: &Converter, sensors: &Sensors, from: &TrimStart) -> Trimmed {
        let untrimmed = self.with_resistance(converter);
        let sensors = &self.sensors(sensors);
        let effort = self.solver.effort(SEARCHES);
        let mut search =
            TrimSearch { case: self, untrimmed: &untrimmed, sensors, from, evaluations: 0, effort };
        let asked = if self.case.with_stress { &from.case_with_stress } else { &from.case };
        if let Some(settled) = search.settle_jointly(asked) {
            return self.settled_jointly(&untrimmed, settled);
        }
        let settled = search.settle();
        let exhaustion = search.effort.exhaustion();
        let evaluations = search.evaluations;
        let nothing = || untrimmed.tanks.iter().map(|_| 0.0).collect();
        let (outcome, trims) = match settled {
            Ok(at) if self.case.with_stress => {
                let trimmed = self.trimmed(&untrimmed, &at.trims);
                (self.solver.solve(&trimmed, &from.case_with_stress), at.trims)
            }
            Ok(at) => (Outcome::Solved(at.state), at.trims),
            Err(failure) => (exhaustion.map_or(failure.into(), Outcome::NotSolved), nothing()),
        };
        let solved = outcome.solved().is_some();
        Trimmed {
            outcome,
            converter: self.trimmed(&untrimmed, &trims),
            at_end: trims.iter().map(|x| solved && x.abs() >= self.trim.range).collect(),
            trims,
            beat: Hertz(0.0),
            evaluations,
        }
    }

    /// Sensors under the condition of the case.
    pub(super) fn sensors(&self, sensors: &Sensors) -> Sensors {
        let condition = &self.case.point.condition;
        sensors.iter().enumerate().map(|(k, sensor)| sensor.at(condition, k)).collect()
    }

    /// As it is told where no phase is at an end.
    fn settled_jointly(&self, untrimmed: &Converter, settled: SettledLoops) -> Trimmed {
        let SettledLoops { state, trims, .. } = settled;
        Trimmed {
            outcome: Outcome::Solved(state),
            converter: self.trimmed(untrimmed, &trims),
            at_end: trims.iter().map(|_| false).collect(),
            trims,
            beat: Hertz(0.0),
            evaluations: 1,
        }
    }
}

impl TrimSearch<'_> {
    /// Where the loops are at rest and stable, by trials of trims.
    pub(super) fn settle(&mut self) -> Result<Evaluated, Failure> {
        let start = self.first_solved()?;
        match self.close_in(start.clone()) {
            Some(rest) if self.is_stable(&rest) && self.is_reached(&rest) => Ok(rest),
            _ => self.follow(start),
        }
    }
}
