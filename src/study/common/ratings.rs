//! What every part must be rated for: what the target share of all converters keeps to.

use std::ops::Range;

use rayon::prelude::*;

use crate::converter::{Arrangement, Rating, UsedDrives};
use crate::engine::{Batch, Status};
use crate::solver::Case;
use crate::statistics::{
    Distribution, Estimator, HeldOutLimits, HeldOutPlan, QuantileEnd, StateError, StatisticsError,
    TallyState, Yield,
};
use crate::study::common::figures::Figure;

/// Up to so many samples, quantiles over all operating points are exact.
const EXACT_UP_TO: usize = 1 << 15;

/// What every part of a population must be rated for.
#[derive(Debug, Clone, PartialEq)]
pub struct PopulationRatings {
    /// The chain's parts first; empty with the averaged solver.
    pub parts: Vec<PartRating>,
    /// How many converters keep to all ratings of an arrangement at once, where that is shown.
    pub together: Vec<KeptTogether>,
    /// Drives of all operating points.
    pub drives: UsedDrives,
}

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
    /// Its name.
    pub operating_point: String,
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

/// How many converters keep to all ratings of an arrangement at once, over all operating points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeptTogether {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// First samples of the run, which set limits that are lower than the ratings.
    pub first: u64,
    /// Later samples that keep to these. At least the lower end of all converters keep to the ratings.
    pub kept: Yield,
}

impl RatedLoad {
    /// The same, no higher than over all operating points: there it is exact for longer, and here the middle of a
    /// narrow bin.
    fn within(self, over_all: &Self) -> Self {
        let rating = match (self.rating, over_all.rating) {
            (QuantileEnd::Value(own), QuantileEnd::Value(all)) => QuantileEnd::Value(own.min(all)),
            (own, _) => own,
        };
        Self { rating, ..self }
    }
}

impl PartRating {
    /// What loads the part at an operating point; none where nothing does.
    pub fn at(&self, operating_point: &str) -> Option<&RatedLoad> {
        let own = self.points.iter().find(|own| own.operating_point == operating_point);
        own.map(|own| &own.load)
    }

    /// The operating point that loads the part most: by the rating, else by the largest sample.
    pub fn hardest(&self) -> Option<&PointRating> {
        let load = |point: &PointRating| {
            point.load.rating.value().or(point.load.largest).unwrap_or(point.load.nominal)
        };
        self.points.iter().reduce(|a, b| if load(b) > load(a) { b } else { a })
    }
}

/// Loads of the samples so far, the highest over the operating points of each arrangement.
#[derive(Debug, Clone, Default)]
pub(in crate::study) struct RatingTally {
    columns: Vec<RatingColumn>,
    /// How many samples keep to all ratings at once; none where the samples are too few for ratings.
    together: Vec<TogetherTally>,
}

/// The same of one arrangement.
#[derive(Debug, Clone)]
struct TogetherTally {
    arrangement: Arrangement,
    limits: HeldOutLimits,
}

/// The samples of one rating in one arrangement.
#[derive(Debug, Clone)]
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
    /// Nothing yet, of all ratings among the figures, in these rows of the cases.
    pub(in crate::study) fn new(
        cases: &[Case],
        rows: Range<usize>,
        figures: &[Figure],
        plan: Option<HeldOutPlan>,
    ) -> Self {
        let mut columns: Vec<RatingColumn> = Vec::new();
        for arrangement in Arrangement::ALL {
            let ratings = figures.iter().enumerate().filter_map(|(n, figure)| match figure {
                Figure::Rating(rating) => Some((n, *rating)),
                _ => None,
            });
            columns.extend(ratings.filter_map(|(column, rating)| {
                let is_own = |c: &usize| cases[*c].arrangement == arrangement;
                let all: Vec<usize> = rows.clone().filter(is_own).collect();
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
        let together = |arrangement: Arrangement| {
            let own = columns.iter().filter(|column| column.arrangement == arrangement).count();
            let limits = HeldOutLimits::new(plan?, own);
            (own > 0).then_some(TogetherTally { arrangement, limits })
        };
        let together = Arrangement::ALL.into_iter().filter_map(together).collect();
        Self { columns, together }
    }

    /// Takes a batch, in the order of its samples; a thread a column.
    pub(in crate::study) fn take(&mut self, batch: &Batch) {
        let add = |column: &mut RatingColumn| {
            let loads = column.highest_loads(batch);
            for (load, sample) in loads.iter().zip(batch.first..) {
                column.highest.push(sample, *load);
            }
            loads
        };
        let loads: Vec<Vec<f64>> = self.columns.par_iter_mut().map(add).collect();
        self.hold_out(&loads, |limits, loads| limits.take(batch.first, loads));
    }

    /// Learns from first samples of all, which are not counted here.
    pub(in crate::study) fn learn(&mut self, batch: &Batch) {
        let loads: Vec<Vec<f64>> =
            self.columns.par_iter().map(|column| column.highest_loads(batch)).collect();
        self.hold_out(&loads, |limits, loads| limits.learn(batch.first, loads));
    }

    /// Hands the loads of all columns to the limits of their arrangements.
    fn hold_out(&mut self, loads: &[Vec<f64>], hand: impl Fn(&mut HeldOutLimits, &[&[f64]])) {
        for TogetherTally { arrangement, limits } in &mut self.together {
            let columns = self.columns.iter().zip(loads);
            let own = columns.filter(|(column, _)| column.arrangement == *arrangement);
            hand(limits, &own.map(|(_, loads)| loads.as_slice()).collect::<Vec<_>>());
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(in crate::study) fn exchange(
        &mut self,
        state: &mut TallyState<'_>,
    ) -> Result<(), StateError> {
        self.columns.iter_mut().try_for_each(|own| state.distribution(&mut own.highest))?;
        self.together.iter_mut().try_for_each(|own| own.limits.exchange(state))
    }
}

impl RatingColumn {
    /// Of all samples of a batch.
    fn highest_loads(&self, batch: &Batch) -> Vec<f64> {
        (0..batch.len()).map(|n| self.highest_load(batch, n)).collect()
    }

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
pub(in crate::study) struct RatingReader<'a> {
    /// Those of the tally.
    pub(in crate::study) cases: &'a [Case],
    pub(in crate::study) tally: &'a RatingTally,
    /// Distributions of one case and figure.
    pub(in crate::study) of_case: &'a dyn Fn(usize, usize) -> &'a Distribution,
    /// A figure of the nominal converter in a case.
    pub(in crate::study) nominal: &'a dyn Fn(usize, Figure) -> f64,
    pub(in crate::study) target: f64,
    pub(in crate::study) estimator: &'a Estimator,
}

impl RatingReader<'_> {
    /// What every part must be rated for, and how many converters keep to all of it at once.
    pub(in crate::study) fn read(&self) -> Result<PopulationRatings, StatisticsError> {
        let columns = self.tally.columns.iter();
        let parts: Vec<PartRating> = columns.map(|column| self.one(column)).collect();
        Ok(PopulationRatings {
            together: self.together(&parts)?,
            drives: UsedDrives::of(self.cases.iter().map(|case| case.point.drive)),
            parts,
        })
    }

    /// How many converters keep to all these ratings of an arrangement at once, where that is shown.
    fn together(&self, ratings: &[PartRating]) -> Result<Vec<KeptTogether>, StatisticsError> {
        let mut all = Vec::new();
        for TogetherTally { arrangement, limits } in &self.tally.together {
            let own = ratings.iter().filter(|rating| rating.arrangement == *arrangement);
            let given: Vec<_> = own.map(|rating| rating.over_all.rating.value()).collect();
            let kept = limits.kept(&given, self.estimator)?;
            let first = limits.first();
            all.extend(kept.map(|kept| KeptTogether { arrangement: *arrangement, first, kept }));
        }
        Ok(all)
    }

    fn one(&self, column: &RatingColumn) -> PartRating {
        let figure = Figure::Rating(column.rating);
        let point = |case: usize| PointRating {
            operating_point: self.cases[case].point.name.clone(),
            load: self.load((self.nominal)(case, figure), (self.of_case)(case, column.column)),
        };
        let mut points: Vec<PointRating> = column.loaded.iter().map(|case| point(*case)).collect();
        let nominal = points.iter().map(|point| point.load.nominal).fold(f64::NAN, f64::max);
        let over_all = self.load(nominal, &column.highest);
        for point in &mut points {
            point.load = point.load.within(&over_all);
        }
        PartRating { arrangement: column.arrangement, rating: column.rating, over_all, points }
    }

    fn load(&self, nominal: f64, loads: &Distribution) -> RatedLoad {
        let rating = loads.ordered().map_or(QuantileEnd::Beyond, |ordered| {
            ordered.quantile_interval_by(self.target, self.estimator).upper
        });
        RatedLoad { nominal, rating, largest: loads.max().map(|extreme| extreme.value) }
    }
}
