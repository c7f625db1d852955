//! Figures over all operating points together: what the verdict judges.

use rayon::prelude::*;

use crate::converter::{Arrangement, Sharing};
use crate::engine::{Batch, Status};
use crate::scenario::Limits;
use crate::solver::Case;
use crate::statistics::{
    Distribution, Edges, Estimator, Histogram, KeyFigures, Ordered, QuantileEnd, QuantileInterval,
    StateError, StatisticsError, TallyState,
};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::tally::Tally;
use crate::study::common::yield_curve::{YieldPoint, curve_limits};

/// Up to so many samples, quantiles over all operating points are exact.
const EXACT_UP_TO: usize = 1 << 15;
/// Bins of the sharing errors, and points of the yield curve.
const BINS: u32 = 96;
/// Smallest sharing error of a histogram, of its largest.
const SHOWN: f64 = 2e-4;
/// The yield curve has more points from the limit divided by this to the limit times this.
const NEAR: f64 = 3.0;

/// What all operating points of an arrangement give together.
#[derive(Debug, Clone, PartialEq)]
pub struct OverPoints {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The sharing error and every limited figure: of each converter the largest over the points.
    pub largest: Vec<LargestFigure>,
    /// Samples over the limit of the sharing error at any point, or not solved there; none without a limit.
    pub over_limit: Option<u64>,
    /// Histogram of the largest sharing error; none where nothing was solved.
    pub histogram: Option<Histogram>,
    /// The yield over all points and demands, were the limit of the sharing error another one. Empty
    /// where nothing was solved.
    pub curve: Vec<YieldPoint>,
    /// Interval of the limit of the sharing error that just gives the target yield: from its upper end on
    /// the verdict is pass, below its lower end it is fail.
    pub required_limit: QuantileInterval,
}

/// A figure of each converter at the operating point where it is largest.
#[derive(Debug, Clone, PartialEq)]
pub struct LargestFigure {
    /// The figure.
    pub figure: Figure,
    /// Its limit; none where the sharing error has none.
    pub limit: Option<f64>,
    /// Over the samples that are solved at every point; none where there is none.
    pub key_figures: Option<KeyFigures>,
    /// What the target share of all converters keeps to, at the confidence.
    pub tolerance_limit: QuantileEnd,
    /// Whether more samples that are solved at every point exceed the limit than may fail in all.
    pub is_exceeded: bool,
}

/// The sharing errors of all cases over the same bins.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonBins {
    /// One histogram a case, in the order of the cases; none where nothing was solved.
    pub cases: Vec<Option<Histogram>>,
    /// Both arrangements, over all operating points.
    pub over_points: [OverPoints; 2],
}

/// What is kept of the samples.
#[derive(Debug, Clone)]
pub(super) struct OverPointsTally {
    sharing: usize,
    arrangements: [ArrangementTally; 2],
}

#[derive(Debug, Clone)]
struct ArrangementTally {
    arrangement: Arrangement,
    /// Its cases.
    cases: Vec<usize>,
    columns: Vec<LargestColumn>,
    /// The smallest limit of the sharing error that a sample would pass; none where it misses another
    /// demand.
    required_limit: Distribution,
}

#[derive(Debug, Clone)]
struct LargestColumn {
    figure: Figure,
    limit: Option<f64>,
    column: usize,
    /// The cases in which the figure applies.
    cases: Vec<usize>,
    largest: Distribution,
}

impl OverPointsTally {
    /// Nothing yet; none where the figures lack the sharing error that the limit is on.
    pub(super) fn new(cases: &[Case], figures: &[Figure], limits: &Limits) -> Option<Self> {
        let place = |figure: Figure| figures.iter().position(|own| *own == figure);
        let sharing = place(Figure::SharingError(limits.sharing))?;
        let of = |arrangement| ArrangementTally::new(arrangement, cases, limits, &place);
        Some(Self { sharing, arrangements: Arrangement::ALL.map(of) })
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        for own in &mut self.arrangements {
            own.columns
                .iter_mut()
                .try_for_each(|column| state.distribution(&mut column.largest))?;
            state.distribution(&mut own.required_limit)?;
        }
        Ok(())
    }

    /// Takes a batch, in the order of its samples; `tally` tells what meets the demands.
    pub(super) fn take(&mut self, batch: &Batch, tally: &Tally, sharing: Sharing) {
        let column = self.sharing;
        for own in &mut self.arrangements {
            own.columns.par_iter_mut().for_each(|column| column.take(batch));
            for n in 0..batch.len() {
                let required = own.required_limit(batch, n, tally, column, sharing);
                own.required_limit.push(batch.first + n as u64, required);
            }
        }
    }
}

impl ArrangementTally {
    fn new(
        arrangement: Arrangement,
        cases: &[Case],
        limits: &Limits,
        place: &dyn Fn(Figure) -> Option<usize>,
    ) -> Self {
        let mut wanted = vec![(Figure::SharingError(limits.sharing), limits.sharing_error)];
        for demand in Demand::all(limits, arrangement) {
            let new = demand.figure.filter(|f| wanted.iter().all(|(known, _)| known != f));
            wanted.extend(new.map(|figure| (figure, Some(demand.limit))));
        }
        let own = |c: &usize| cases[*c].arrangement == arrangement;
        let all: Vec<usize> = (0..cases.len()).filter(own).collect();
        let column = |(figure, limit): (Figure, Option<f64>)| {
            let applies = |c: &usize| figure.applies(arrangement, cases[*c].point.drive);
            let applying: Vec<usize> = all.iter().copied().filter(applies).collect();
            (!applying.is_empty()).then_some(())?;
            let largest = Distribution::exact_up_to(EXACT_UP_TO).marked_at(limit);
            Some(LargestColumn { figure, limit, column: place(figure)?, cases: applying, largest })
        };
        Self {
            arrangement,
            columns: wanted.into_iter().filter_map(column).collect(),
            cases: all,
            required_limit: Distribution::exact_up_to(EXACT_UP_TO).marked_at(limits.sharing_error),
        }
    }

    /// The largest sharing error of a sample that meets every other demand at every point; NaN of others.
    fn required_limit(
        &self,
        batch: &Batch,
        n: usize,
        tally: &Tally,
        column: usize,
        sharing: Sharing,
    ) -> f64 {
        let beside = [Figure::SharingError(sharing)];
        self.cases.iter().fold(0.0, |largest, case| {
            let row = batch.row(n, *case);
            let meets = tally.cases[*case].count.meets_beside(&beside, row);
            if meets { larger(largest, row.figures[column]) } else { f64::NAN }
        })
    }
}

/// The larger of two; NaN where either is.
fn larger(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() { f64::NAN } else { a.max(b) }
}

impl LargestColumn {
    fn take(&mut self, batch: &Batch) {
        for n in 0..batch.len() {
            let values = self.cases.iter().map(|case| {
                let row = batch.row(n, *case);
                if row.status == Status::Solved { row.figures[self.column] } else { f64::NAN }
            });
            let largest = values.reduce(larger).unwrap_or(f64::NAN);
            self.largest.push(batch.first + n as u64, largest);
        }
    }
}

/// What figures over all operating points are read from.
pub(super) struct OverPointsReader<'a> {
    pub(super) tally: &'a OverPointsTally,
    /// Sharing errors, case by case. They are put in order one after the other: in order they take much more
    /// memory.
    pub(super) of_cases: Vec<&'a Distribution>,
    pub(super) limits: &'a Limits,
    pub(super) estimator: &'a Estimator,
    pub(super) samples: u64,
}

impl OverPointsReader<'_> {
    /// Both arrangements, and all cases over the same bins.
    pub(super) fn read(&self) -> Result<CommonBins, StatisticsError> {
        let edges = self.edges();
        let bins = |ordered: &Ordered| Some(Histogram::new(ordered, edges.as_ref()?));
        let bins_of_case = |own: &&Distribution| own.ordered().as_ref().and_then(bins);
        let [chain, paralleled] = self.tally.arrangements.each_ref().map(|own| {
            let sharing = own.columns.first().and_then(|column| column.largest.ordered());
            Ok::<_, StatisticsError>(OverPoints {
                arrangement: own.arrangement,
                largest: own.columns.iter().map(|column| self.largest(column)).collect(),
                over_limit: self.limits.sharing_error.map(|limit| {
                    self.samples - sharing.as_ref().map_or(0, |own| own.count_at_most(limit))
                }),
                histogram: sharing.as_ref().and_then(bins),
                curve: self.curve(&own.required_limit, edges.as_ref())?,
                required_limit: self.required_limit(&own.required_limit),
            })
        });
        Ok(CommonBins {
            cases: self.of_cases.iter().map(bins_of_case).collect(),
            over_points: [chain?, paralleled?],
        })
    }

    /// From the smallest sharing error worth showing to the largest, with the limit inside.
    fn edges(&self) -> Option<Edges> {
        let columns = self.tally.arrangements.iter().filter_map(|own| own.columns.first());
        let largest = columns.map(|column| &column.largest);
        let ends = self.of_cases.iter().copied().chain(largest).filter_map(|own| {
            let ordered = own.ordered()?;
            Some([ordered.quantile_of_values(0.002)?, ordered.quantile_of_values(0.9995)?])
        });
        let limit = self.limits.sharing_error;
        let limits = [limit.unwrap_or(f64::INFINITY) / 1.2, 1.2 * limit.unwrap_or(0.0)];
        let [least, most] = ends.fold(limits, |[least, most], [low, high]| {
            [f64::min(least, low), f64::max(most, high)]
        });
        Edges::by_ratio(least.clamp(most * SHOWN, most), most, BINS)
    }

    fn largest(&self, column: &LargestColumn) -> LargestFigure {
        let (ordered, target) = (column.largest.ordered(), self.limits.yield_target);
        let tolerance_limit = ordered.as_ref().map_or(QuantileEnd::Beyond, |ordered| {
            ordered.quantile_interval_by(target, self.estimator).upper
        });
        let above = ordered.zip(column.limit).map(|(ordered, limit)| {
            ordered.count_at_most(f64::INFINITY) - ordered.count_at_most(limit)
        });
        let may_fail = (1.0 - target) * self.samples as f64;
        LargestFigure {
            is_exceeded: above.is_some_and(|above| above as f64 > may_fail),
            figure: column.figure,
            limit: column.limit,
            key_figures: column.largest.key_figures_by(self.estimator),
            tolerance_limit,
        }
    }

    fn required_limit(&self, required: &Distribution) -> QuantileInterval {
        let target = self.limits.yield_target;
        let none = QuantileInterval { lower: QuantileEnd::Beyond, upper: QuantileEnd::Beyond };
        let interval = |o: Ordered| o.quantile_interval_by(target, self.estimator);
        required.ordered().map_or(none, interval)
    }

    fn curve(
        &self,
        required: &Distribution,
        edges: Option<&Edges>,
    ) -> Result<Vec<YieldPoint>, StatisticsError> {
        let Some(edges) = edges else { return Ok(Vec::new()) };
        let ordered = required.ordered();
        let point = |limit: f64| {
            let good = ordered.as_ref().map_or(0, |ordered| ordered.count_at_most(limit));
            Ok(YieldPoint { limit, good: self.estimator.estimate(good, self.samples)? })
        };
        let limit = self.limits.sharing_error;
        let near = limit.and_then(|limit| Edges::by_ratio(limit / NEAR, limit * NEAR, BINS));
        let mut limits = curve_limits(edges, limit);
        limits.extend(near.iter().flat_map(Edges::values));
        limits.sort_by(f64::total_cmp);
        limits.dedup();
        limits.into_iter().map(point).collect()
    }
}
