//! What every part must be rated for: what the target share of all converters keeps to.

use rayon::prelude::*;

use crate::converter::{Arrangement, Rating};
use crate::engine::{Batch, Status};
use crate::solver::Case;
use crate::statistics::{Distribution, Estimator, QuantileEnd};
use crate::study::common::figures::Figure;

/// Up to so many samples, quantiles over all operating points are exact.
const EXACT_UP_TO: usize = 1 << 15;

/// The rating of a part, over all operating points and at each of them.
#[derive(Debug, Clone, PartialEq)]
pub struct PartRating {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The part and what loads it.
    pub rating: Rating,
    /// Over all operating points.
    pub over_all: RatedLoad,
    /// At each operating point at which anything loads the part.
    pub points: Vec<PointRating>,
}

/// The rating of a part at an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct PointRating {
    /// Index of the case.
    pub case: usize,
    /// What loads it there.
    pub load: RatedLoad,
}

/// A load over the population, in the unit of the stress.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatedLoad {
    /// Of the nominal converter.
    pub nominal: f64,
    /// What the target share of all converters keeps to, at the confidence.
    pub rating: QuantileEnd,
    /// The largest of all solved samples; none where none is solved.
    pub largest: Option<f64>,
}

impl PartRating {
    /// The operating point that loads the part most: by the rating, else by the largest sample.
    pub fn hardest(&self) -> Option<&PointRating> {
        let load = |point: &PointRating| {
            point.load.rating.value().or(point.load.largest).unwrap_or(point.load.nominal)
        };
        self.points.iter().reduce(|a, b| if load(b) > load(a) { b } else { a })
    }
}

/// Loads of the samples so far, the highest over the operating points of each arrangement.
#[derive(Debug)]
pub(super) struct RatingTally {
    columns: Vec<RatingColumn>,
}

/// The samples of one rating in one arrangement.
#[derive(Debug)]
struct RatingColumn {
    arrangement: Arrangement,
    rating: Rating,
    /// Column of the figure.
    column: usize,
    /// Cases in which anything loads the part.
    loaded: Vec<usize>,
    /// All cases of the arrangement.
    all: Vec<usize>,
    /// Samples that fail in any case have no value and stand above all values.
    highest: Distribution,
}

impl RatingTally {
    /// Nothing yet, of all ratings among the figures.
    pub(super) fn new(cases: &[Case], figures: &[Figure]) -> Self {
        let mut columns = Vec::new();
        for arrangement in Arrangement::ALL {
            let ratings = figures.iter().enumerate().filter_map(|(n, figure)| match figure {
                Figure::Rating(rating) => Some((n, *rating)),
                _ => None,
            });
            columns.extend(ratings.filter_map(|(column, rating)| {
                let is_own = |c: &usize| cases[*c].arrangement == arrangement;
                let all: Vec<usize> = (0..cases.len()).filter(is_own).collect();
                let figure = Figure::Rating(rating);
                let applies = |c: &usize| figure.applies(arrangement, cases[*c].point.drive);
                let loaded: Vec<usize> = all.iter().copied().filter(applies).collect();
                let highest = Distribution::exact_up_to(EXACT_UP_TO);
                (!loaded.is_empty()).then_some(RatingColumn {
                    arrangement,
                    rating,
                    column,
                    loaded,
                    all,
                    highest,
                })
            }));
        }
        Self { columns }
    }

    /// Takes a batch, in the order of its samples; a thread a column.
    pub(super) fn take(&mut self, batch: &Batch) {
        self.columns.par_iter_mut().for_each(|column| {
            for n in 0..batch.len() {
                let highest = column.highest_load(batch, n);
                column.highest.push(batch.first + n as u64, highest);
            }
        });
    }
}

impl RatingColumn {
    /// NaN where the sample is not solved at every operating point.
    fn highest_load(&self, batch: &Batch, n: usize) -> f64 {
        if self.all.iter().any(|case| batch.row(n, *case).status != Status::Solved) {
            return f64::NAN;
        }
        let loads = self.loaded.iter().map(|case| batch.row(n, *case).figures[self.column]);
        loads.reduce(|a, b| if b > a || b.is_nan() { b } else { a }).unwrap_or(f64::NAN)
    }
}

/// What ratings are read from.
pub(super) struct RatingReader<'a> {
    pub(super) tally: &'a RatingTally,
    /// Distributions of one case and figure.
    pub(super) of_case: &'a dyn Fn(usize, usize) -> &'a Distribution,
    /// A figure of the nominal converter in a case.
    pub(super) nominal: &'a dyn Fn(usize, Figure) -> f64,
    pub(super) target: f64,
    pub(super) estimator: &'a Estimator,
}

impl RatingReader<'_> {
    /// All ratings, the chain's first.
    pub(super) fn all(&self) -> Vec<PartRating> {
        self.tally.columns.iter().map(|column| self.one(column)).collect()
    }

    fn one(&self, column: &RatingColumn) -> PartRating {
        let figure = Figure::Rating(column.rating);
        let point = |case: usize| PointRating {
            case,
            load: self.load((self.nominal)(case, figure), (self.of_case)(case, column.column)),
        };
        let points: Vec<PointRating> = column.loaded.iter().map(|case| point(*case)).collect();
        let nominal = points.iter().map(|point| point.load.nominal).fold(f64::NAN, f64::max);
        PartRating {
            arrangement: column.arrangement,
            rating: column.rating,
            over_all: self.load(nominal, &column.highest),
            points,
        }
    }

    fn load(&self, nominal: f64, loads: &Distribution) -> RatedLoad {
        let rating = loads.ordered().map_or(QuantileEnd::Beyond, |ordered| {
            ordered.quantile_interval_by(self.target, self.estimator).upper
        });
        RatedLoad { nominal, rating, largest: loads.max().map(|extreme| extreme.value) }
    }
}
