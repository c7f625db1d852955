//! What loads every part of converters that are solved one by one: the nominal one, and listed ones.

use crate::converter::{Arrangement, Rating, UsedDrives};
use crate::study::common::figures::{Figure, SolvedConverter};

/// What loads a part of a solved converter: the highest of those that one orders as one type.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartLoad {
    /// The part and what loads it.
    pub rating: Rating,
    /// The load, in the unit of the stress.
    pub value: f64,
}

impl PartLoad {
    /// All loads that the steady state tells, in the order of [`Rating::all`]. `drives` are those of all
    /// operating points.
    pub fn all(
        solved: &SolvedConverter<'_>,
        arrangement: Arrangement,
        drives: UsedDrives,
    ) -> Vec<Self> {
        let drive = solved.point.drive;
        let load = |rating: Rating| Self { rating, value: solved.value(Figure::Rating(rating)) };
        Rating::all_for(solved.state.phases.len(), drives)
            .filter(|rating| Figure::Rating(*rating).applies(arrangement, drive))
            .map(load)
            .filter(|own| !own.value.is_nan())
            .collect()
    }
}

/// The loads of one of several results.
#[derive(Debug, Clone, Copy)]
pub struct LoadedResult<'a> {
    /// Which of the results it is.
    pub place: usize,
    /// Its loads.
    pub loads: &'a [PartLoad],
}

/// The highest load of a part among several results.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighestLoad {
    /// The part and what loads it.
    pub rating: Rating,
    /// The highest load, in the unit of the stress.
    pub value: f64,
    /// The result that has it; of equals the first.
    pub place: usize,
}

impl HighestLoad {
    /// How much of a limit it uses: their ratio, above 1 where the limit is missed.
    pub fn use_of(&self, limit: f64) -> f64 {
        self.value / limit
    }

    /// The highest of each load, in the order of [`Rating::all`] for so many phases.
    pub fn among(results: &[LoadedResult<'_>], phases: usize) -> Vec<Self> {
        let highest = |rating: Rating| {
            let own = results.iter().filter_map(|LoadedResult { place, loads }| {
                let own = loads.iter().find(|own| own.rating == rating)?;
                Some(Self { rating, value: own.value, place: *place })
            });
            own.reduce(|most, next| if next.value > most.value { next } else { most })
        };
        Rating::all(phases).filter_map(highest).collect()
    }
}
