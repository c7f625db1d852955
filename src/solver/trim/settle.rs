//! A converter whose loops have settled.

use super::case::{TrimCase, TrimStart, Trimmed};
use super::search::{Evaluated, Failure, TrimSearch};
use crate::converter::{Converter, Sensors};
use crate::solver::steady_state::Outcome;

impl TrimCase<'_> {
    /// Trims the phases of a converter until its sensors agree.
    pub fn settle(&self, converter: &Converter, sensors: &Sensors, from: &TrimStart) -> Trimmed {
        let untrimmed = self.with_resistance(converter);
        let mut search =
            TrimSearch { case: self, untrimmed: &untrimmed, sensors, from, evaluations: 0 };
        let settled = search.settle();
        let evaluations = search.evaluations;
        let nothing = || untrimmed.tanks.iter().map(|_| 0.0).collect();
        let (outcome, trims) = match settled {
            Ok(at) => (Outcome::Solved(at.state), at.trims),
            Err(failure) => (failure.into(), nothing()),
        };
        let solved = outcome.solved().is_some();
        Trimmed {
            outcome,
            converter: self.trimmed(&untrimmed, &trims),
            at_end: trims.iter().map(|x| solved && x.abs() >= self.trim.range).collect(),
            trims,
            evaluations,
        }
    }
}

impl TrimSearch<'_> {
    /// Where the loops are at rest and stable.
    fn settle(&mut self) -> Result<Evaluated, Failure> {
        let start = self.first_solved()?;
        match self.close_in(start.clone()) {
            Some(rest) if self.is_stable(&rest) && self.is_reached(&rest) => Ok(rest),
            _ => self.follow(start),
        }
    }
}
