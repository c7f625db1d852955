//! How many samples would pass, were a limit another one: of every limited figure, at every operating point
//! and over all of them.
//!
//! Samples are counted in bins that the first batch sets, so that memory does not grow with them, and
//! exactly at the limit itself. Every operating point has bins of its own: currents of a small load would fill
//! few of those that suit a large one.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::converter::Arrangement;
use crate::engine::{Batch, Status};
use crate::scenario::Limits;
use crate::solver::Case;
use crate::statistics::{Estimator, StateError, StatisticsError, TallyState, Yield};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::tally::Tally;

/// Bins of a figure at an operating point, about.
const BINS: f64 = 52.0;
/// Ends of bins, at most: far more than there ever are.
const MOST_EDGES: usize = 1000;
/// Figures that are counted, at most: the sharing error, the currents and the voltage of the switches, then
/// what else is limited.
const MOST_FIGURES: usize = 8;
/// The bins reach so much farther beyond the quantiles of 0.5 and 99.5 % as these lie from the median.
const BEYOND: f64 = 0.6;
/// A limit farther from all values than so many times their range lies outside the bins.
const FAR: f64 = 2.0;

/// Samples of a figure in an arrangement, counted by value.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitCounts {
    /// The figure.
    pub figure: Figure,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Its limit, if there is one.
    pub limit: Option<f64>,
    /// Every operating point where the figure applies, then all of them together.
    pub scopes: Vec<ScopeCounts>,
}

/// Samples at an operating point, or at all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct ScopeCounts {
    /// The place of the case; none for the largest value over all operating points.
    pub case: Option<usize>,
    /// Ends of the bins, rising, by equal steps. The limit is one of them, unless it is far from all values.
    pub edges: Vec<f64>,
    /// Samples up to the first edge, in each bin with its upper end, and above the last edge.
    pub values: Vec<u64>,
    /// Those of them that miss another limit.
    pub missing_others: Vec<u64>,
    /// Samples within the limit, and those of them that meet all others too; none without a limit.
    pub within: Option<[u64; 2]>,
}

impl LimitCounts {
    /// What is counted: never more than [`MOST_FIGURES`].
    fn figures(limits: &Limits) -> Vec<Figure> {
        let always = [
            Figure::SharingError(limits.sharing),
            Figure::WorstSwitchRms,
            Figure::WorstSwitchPeak,
            Figure::WorstBlocking,
        ];
        let limited = Demand::figures(limits).into_iter().filter(|own| !always.contains(own));
        // A shortfall has no scale on which one would move its limit.
        let limited = limited.filter(|own| !matches!(own, Figure::Switching(_)));
        always.into_iter().chain(limited).take(MOST_FIGURES).collect()
    }
}

impl ScopeCounts {
    fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        if let Some(read) = state.value(&self.edges)? {
            let is_known = self.edges.is_empty()
                && (1..=MOST_EDGES).contains(&read.len())
                && read.iter().all(|edge| edge.is_finite())
                && read.is_sorted();
            if is_known {
                self.prepare(read);
            } else if self.edges != read {
                return Err(StateError);
            }
        }
        let counts = self.values.iter_mut().chain(&mut self.missing_others);
        let all = counts.chain(self.within.iter_mut().flatten());
        all.into_iter().try_for_each(|own| state.count(own))
    }

    fn new(case: Option<usize>, has_limit: bool) -> Self {
        let [values, missing_others] = [Vec::new(), Vec::new()];
        let within = has_limit.then_some([0; 2]);
        Self { case, edges: Vec::new(), values, missing_others, within }
    }

    fn prepare(&mut self, edges: Vec<f64>) {
        self.values = vec![0; edges.len() + 1];
        self.missing_others = vec![0; edges.len() + 1];
        self.edges = edges;
    }

    fn add(&mut self, value: ScopeValue, limit: Option<f64>) {
        if value.value.is_nan() {
            return;
        }
        let bin = self.edges.partition_point(|edge| *edge < value.value);
        self.values[bin] += 1;
        self.missing_others[bin] += u64::from(!value.meets_others);
        if let (Some(within), Some(limit)) = (&mut self.within, limit) {
            let keeps = value.value <= limit;
            within[0] += u64::from(keeps);
            within[1] += u64::from(keeps && value.meets_others);
        }
    }
}

/// A sample in a scope.
#[derive(Debug, Clone, Copy)]
struct ScopeValue {
    /// NaN where it has none.
    value: f64,
    /// Whether it meets all limits but that of the figure.
    meets_others: bool,
}

/// What is kept of the samples.
#[derive(Debug, Clone)]
pub(super) struct LimitTally {
    counted: Vec<CountedFigure>,
}

#[derive(Debug, Clone)]
struct CountedFigure {
    counts: LimitCounts,
    column: usize,
    /// All cases of the arrangement, and whether the figure applies there.
    cases: Vec<(usize, bool)>,
}

impl LimitTally {
    /// Nothing yet.
    pub(super) fn new(cases: &[Case], figures: &[Figure], limits: &Limits) -> Self {
        let wanted = LimitCounts::figures(limits);
        let of = |arrangement: Arrangement| {
            let demands = Demand::all(limits, arrangement);
            let limit = move |figure: Figure| {
                let mut own = demands.iter().filter(|demand| demand.figure == Some(figure));
                own.next().map(|demand| demand.limit)
            };
            wanted.iter().filter_map(move |figure| {
                let column = figures.iter().position(|own| own == figure)?;
                CountedFigure::new(*figure, arrangement, limit(*figure), cases, column)
            })
        };
        Self { counted: Arrangement::ALL.into_iter().flat_map(of).collect() }
    }

    /// Takes a batch, in the order of its samples; `tally` tells what meets the demands. A thread a figure.
    pub(super) fn take(&mut self, batch: &Batch, tally: &Tally) {
        self.counted.par_iter_mut().for_each(|own| own.take(batch, tally));
    }

    /// Whether the bins are known.
    pub(super) fn has_learnt(&self) -> bool {
        let mut scopes = self.counted.iter().flat_map(|own| &own.counts.scopes);
        scopes.all(|scope| !scope.edges.is_empty())
    }

    /// Learns the bins from the first batch of all samples, which are not counted here.
    pub(super) fn learn(&mut self, batch: &Batch, tally: &Tally) {
        self.counted.par_iter_mut().for_each(|own| own.set_edges(&own.values(batch, tally)));
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        let mut scopes = self.counted.iter_mut().flat_map(|own| &mut own.counts.scopes);
        scopes.try_for_each(|scope| scope.exchange(state))
    }

    /// The counts.
    pub(super) fn counts(&self) -> Vec<LimitCounts> {
        self.counted.iter().map(|own| own.counts.clone()).collect()
    }
}

impl CountedFigure {
    fn new(
        figure: Figure,
        arrangement: Arrangement,
        limit: Option<f64>,
        cases: &[Case],
        column: usize,
    ) -> Option<Self> {
        let own = cases.iter().enumerate().filter(|(_, case)| case.arrangement == arrangement);
        let applying =
            |(n, case): (usize, &Case)| (n, figure.applies(arrangement, case.point.drive));
        let cases: Vec<(usize, bool)> = own.map(applying).collect();
        let points = cases.iter().filter(|(_, applies)| *applies).map(|(n, _)| Some(*n));
        let scopes: Vec<ScopeCounts> =
            points.chain([None]).map(|case| ScopeCounts::new(case, limit.is_some())).collect();
        let counts = LimitCounts { figure, arrangement, limit, scopes };
        (counts.scopes.len() > 1).then_some(Self { counts, column, cases })
    }

    fn take(&mut self, batch: &Batch, tally: &Tally) {
        let values = self.values(batch, tally);
        self.set_edges(&values);
        let LimitCounts { scopes, limit, .. } = &mut self.counts;
        for row in values.chunks(scopes.len()) {
            for (scope, value) in scopes.iter_mut().zip(row) {
                scope.add(*value, *limit);
            }
        }
    }

    /// All samples of a batch, one after the other, each in every scope.
    fn values(&self, batch: &Batch, tally: &Tally) -> Vec<ScopeValue> {
        let mut values = Vec::with_capacity(batch.len() * self.counts.scopes.len());
        (0..batch.len()).for_each(|n| self.add_values(batch, n, tally, &mut values));
        values
    }

    /// Sets the bins by the first batch.
    fn set_edges(&mut self, values: &[ScopeValue]) {
        let LimitCounts { scopes, limit, .. } = &mut self.counts;
        let all = scopes.len();
        for (n, scope) in scopes.iter_mut().enumerate().filter(|(_, scope)| scope.edges.is_empty())
        {
            let values = values.iter().skip(n).step_by(all).map(|own| own.value);
            scope.prepare(edges(values.filter(|value| value.is_finite()).collect(), *limit));
        }
    }

    /// Adds a sample in every scope.
    fn add_values(&self, batch: &Batch, n: usize, tally: &Tally, values: &mut Vec<ScopeValue>) {
        let beside = [self.counts.figure];
        let mut largest = f64::NEG_INFINITY;
        let mut meets_all_others = true;
        let mut has_all = true;
        for (case, applies) in &self.cases {
            let row = batch.row(n, *case);
            let count = &tally.cases[*case].count;
            let meets_others = count.meets_beside(&beside, row);
            meets_all_others &= meets_others;
            if *applies {
                let is_solved = row.status == Status::Solved;
                let value = if is_solved { row.figures[self.column] } else { f64::NAN };
                has_all &= !value.is_nan();
                largest = largest.max(value);
                values.push(ScopeValue { value, meets_others });
            }
        }
        // One that has no value at a point has none over all of them.
        let largest = if has_all { largest } else { f64::NAN };
        values.push(ScopeValue { value: largest, meets_others: meets_all_others });
    }
}

/// Ends of bins for such values, by equal steps; the limit is one of them, unless it is far.
fn edges(mut values: Vec<f64>, limit: Option<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the list")]
    let quantile = |p: f64| {
        let place = (p * values.len() as f64) as usize;
        values.get(place.min(values.len().saturating_sub(1))).copied()
    };
    let (Some(low), Some(middle), Some(high)) = (quantile(0.005), quantile(0.5), quantile(0.995))
    else {
        let limit = limit.unwrap_or(1.0);
        return vec![limit];
    };
    let least = 1e-3 * high.abs().max(1e-9);
    let (below, above) = ((middle - low).max(least), (high - middle).max(least));
    let (mut from, mut to) = (low - BEYOND * below, high + BEYOND * above);
    let range = to - from;
    let near = limit.filter(|limit| (from - FAR * range..=to + FAR * range).contains(limit));
    if let Some(limit) = near {
        (from, to) = (from.min(limit - 0.1 * range), to.max(limit + 0.1 * range));
    }
    // No bins where no value can lie.
    if low >= 0.0 {
        from = from.max(0.0);
    }
    let step = (to - from) / BINS;
    // Whole steps from the limit.
    let base = near.unwrap_or(from);
    let [first, last] = [((from - base) / step).ceil(), ((to - base) / step).floor()];
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some fifty")]
    let bins = (last - first) as usize;
    (0..=bins).map(|n| base + (first + n as f64) * step).collect()
}

/// The yields that numbers of failures stand for: few failures one by one, more in steps of 15 %, few
/// passes one by one, and those at the limits themselves. In between, lines lead from one to the next within
/// 0.1 % of a failure's own share (a test shows it).
pub(super) fn yields(
    counts: &[LimitCounts],
    estimator: &Estimator,
    samples: u64,
) -> Result<Vec<Yield>, StatisticsError> {
    let exact = counts.iter().flat_map(|own| &own.scopes).filter_map(|scope| scope.within);
    let mut failures: BTreeSet<u64> = exact.flatten().map(|within| samples - within).collect();
    for few in few_to_half(samples) {
        failures.extend([few, samples - few]);
    }
    failures.into_iter().map(|failed| estimator.estimate(samples - failed, samples)).collect()
}

fn few_to_half(samples: u64) -> impl Iterator<Item = u64> {
    const ONE_BY_ONE: u64 = 12;
    let next =
        |last: &u64| Some(if *last < ONE_BY_ONE { last + 1 } else { last + last.div_ceil(7) });
    std::iter::successors(Some(0), next).take_while(move |few| 2 * few <= samples)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Confidence;

    #[test]
    fn the_limit_is_an_edge_and_values_lie_within() {
        let values: Vec<f64> = (0..=1000).map(|n| 0.01 + 0.01 * f64::from(n) / 1000.0).collect();
        for limit in [0.0, 0.013, 0.02, 0.025, 0.04] {
            let edges = edges(values.clone(), Some(limit));
            assert!(edges.contains(&limit), "{limit}");
            assert!((44..=53).contains(&edges.len()), "{limit}: {}", edges.len());
            assert!(edges.first().is_some_and(|from| *from <= 0.01), "{limit}");
            assert!(edges.last().is_some_and(|to| *to > 0.02), "{limit}");
        }
        let far = edges(values, Some(10.0));
        assert!(far.last().is_some_and(|to| *to < 0.03), "one bin would hold all");
        assert_eq!(edges(Vec::new(), Some(0.5)), [0.5]);
        assert!(edges(vec![2.0; 9], None).len() > 44, "equal values");
        let wide = edges((0..=100).map(f64::from).collect(), Some(2.0));
        assert!(wide.contains(&2.0) && wide.iter().all(|edge| *edge >= 0.0), "{wide:?}");
    }

    /// By hand: two samples within, one of which misses another limit, one beyond, one not solved.
    #[test]
    fn samples_are_counted_by_value_and_by_other_limits() {
        let mut scope = ScopeCounts::new(None, true);
        scope.prepare(vec![1.0, 2.0, 3.0]);
        for (value, meets_others) in [(2.0, true), (1.5, false), (9.0, true), (f64::NAN, false)] {
            scope.add(ScopeValue { value, meets_others }, Some(2.0));
        }
        assert_eq!(scope.values, [0, 2, 0, 1]);
        assert_eq!(scope.missing_others, [0, 1, 0, 0]);
        assert_eq!(scope.within, Some([2, 1]));
    }

    /// Clopper and Pearson (1934) at every number of failures, against lines between those that are kept.
    #[test]
    fn lines_between_the_yields_are_close_to_all_others() {
        let estimator = Estimator::Fixed(Confidence::new(0.95).unwrap());
        let kept = yields(&[], &estimator, 2000).unwrap();
        for failed in 0..=2000 {
            let own = estimator.estimate(2000 - failed, 2000).unwrap();
            let failures = |own: &Yield| own.trials - own.successes;
            let next = kept.iter().position(|other| failures(other) >= failed).unwrap();
            let (a, b) = (&kept[next.saturating_sub(1)], &kept[next]);
            let wide = (failures(b) - failures(a)).max(1) as f64;
            let share = if next == 0 { 1.0 } else { (failed - failures(a)) as f64 / wide };
            for (a, b, exact) in [(a.lower, b.lower, own.lower), (a.upper, b.upper, own.upper)] {
                let line = a + share * (b - a);
                assert!(
                    (line - exact).abs() < 1e-3 * (1.0 - exact).max(0.01),
                    "{failed}: {line} {exact}"
                );
            }
        }
        assert!(kept.len() < 140, "{}", kept.len());
    }
}
