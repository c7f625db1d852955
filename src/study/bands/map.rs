//! Two bands traded against each other: a grid of yields, and how far the bands may go together.
//!
//! The search only lays the axes. The grid itself is drawn from fresh samples, and its intervals
//! share the permitted error between the columns. A column's claim is that all its points below
//! the first that misses meet the target. It is wrong only where the narrowest point that truly
//! misses seems to meet it, which is one event a column: so all points claimed hold together, whatever
//! the trend. In the same way a column claims that the points above the last one that may meet the
//! target miss it. That is wrong only where the widest point that truly meets it seems to miss. Either
//! claim takes half of the permitted error, so both hold together at the scenario's confidence. What
//! lies between grid points is drawn, not claimed.

use super::line_search::{BandLine, search};
use super::rule::GRID_POINTS;
use super::trials::Trials;
use crate::converter::Parameter;
use crate::population::RandomSource;
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::common::error::StudyError;

/// How far the axes reach beyond the widest band that passes while the other one is zero.
const BEYOND: f64 = 1.2;

/// Steps of an axis, so that a pair of bands picked from the map can be written down as it is.
const STEPS: [f64; 10] = [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];

/// What the fresh samples say of a grid point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellVerdict {
    /// It meets the target, and so does every narrower band of the second parameter in its column.
    Meets,
    /// The samples do not tell.
    Open,
    /// It misses the target, and so does every wider band of the second parameter in its column.
    Misses,
}

/// A grid point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapCell {
    /// The yield on the map's samples, with its interval at the map's level.
    pub good: Yield,
    /// What that says.
    pub verdict: CellVerdict,
}

/// The trade between two bands; all others are as in the scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct TradeMap {
    /// The parameters along the first and the second axis.
    pub pair: [Parameter; 2],
    /// Their present bands.
    pub present: [f64; 2],
    /// The bands along both axes, rising from zero.
    pub axes: [Vec<f64>; 2],
    /// The samples of the grid, used for nothing else.
    pub source: RandomSource,
    /// Row by row: the first axis runs fastest.
    pub cells: Vec<MapCell>,
    /// Where the lower end of the interval crosses the target, linear between grid points: what is
    /// narrower meets it.
    pub inner: Vec<[f64; 2]>,
    /// Where the upper end crosses it: what is wider misses it.
    pub outer: Vec<[f64; 2]>,
    /// Neighbouring grid points of which the wider one alone is sure to meet the target.
    pub violations: usize,
}

/// Two bands of which no pair meets the target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExcludedPair {
    /// The parameters.
    pub pair: [Parameter; 2],
    /// The yield on the samples of the search where both are exact; its interval misses the target.
    pub exact: Yield,
}

impl ExcludedPair {
    /// Tries both parts exact on the samples of the search. If that misses the target by the upper end
    /// of the interval, wider bands of the two miss it too. A map would show nothing else.
    ///
    /// # Errors
    ///
    /// Those of the trials.
    pub fn find(
        tolerances: &Tolerances,
        pair: [Parameter; 2],
        trials: &mut Trials,
    ) -> Result<Option<Self>, StudyError> {
        let bands = tolerances.with_band(pair[0], 0.0).with_band(pair[1], 0.0);
        let trial = trials.on_search_samples(&bands)?;
        let exact = trials.rule.interval(&trial)?;
        let misses = exact.verdict(trials.rule.target) == Verdict::Fail;
        Ok(misses.then_some(Self { pair, exact }))
    }
}

/// Tries all grid points on fresh samples; no band beyond `widest` or its present value.
///
/// # Errors
///
/// Those of the trials.
pub fn trade_map(
    tolerances: &Tolerances,
    pair: [Parameter; 2],
    widest: f64,
    source: RandomSource,
    trials: &mut Trials,
) -> Result<TradeMap, StudyError> {
    let present = pair.map(|p| tolerances.get(p).map_or(0.0, |tolerance| tolerance.band));
    let axes = [
        axis(tolerances, pair[0], pair[1], widest, trials)?,
        axis(tolerances, pair[1], pair[0], widest, trials)?,
    ];
    let (target, level) = (trials.rule.target, trials.rule.map);
    let mut goods = Vec::new();
    for second in &axes[1] {
        for first in &axes[0] {
            let bands = tolerances.with_band(pair[0], *first).with_band(pair[1], *second);
            let trial = trials.on_samples(&bands, source)?;
            goods.push(Yield::new(trial.good, trial.samples, level)?);
        }
    }
    let grid = Grid { axes: &axes, goods: &goods, target };
    let (inner, outer) = (grid.line(|good| good.lower), grid.line(|good| good.upper));
    let (cells, violations) = (grid.cells(), grid.violations());
    Ok(TradeMap { pair, present, axes, source, cells, inner, outer, violations })
}

/// An axis that reaches beyond all that can pass: the widest band while the other one is zero.
fn axis(
    tolerances: &Tolerances,
    parameter: Parameter,
    other: Parameter,
    widest: f64,
    trials: &mut Trials,
) -> Result<Vec<f64>, StudyError> {
    let own = tolerances.get(parameter);
    let present = own.map_or(0.0, |tolerance| tolerance.band);
    let top = own.map_or(widest, |tolerance| tolerance.widest_band(widest));
    let bands = |band: f64| tolerances.with_band(other, 0.0).with_band(parameter, band);
    let line = BandLine { bands: &bands, present, top };
    let search = search(&line, trials)?;
    let found = search.widest().map_or(0.0, |p| p.at).max(present);
    let end = if found > 0.0 { (BEYOND * found).min(top) } else { top };
    let step = step(end / f64::from(GRID_POINTS - 1), top / f64::from(GRID_POINTS - 1));
    Ok((0..GRID_POINTS).map(|n| step * f64::from(n)).collect())
}

/// The next larger step that is easily written down; the step itself where that is beyond `most`.
fn step(least: f64, most: f64) -> f64 {
    let mut steps = (-9..0).flat_map(|n| STEPS.map(|step| step * 10_f64.powi(n)));
    let next = steps.find(|step| *step >= least * (1.0 - 1e-9));
    next.filter(|step| *step <= most * (1.0 + 1e-9)).unwrap_or(least)
}

impl TradeMap {
    /// The pair of bands of the largest product that meets the target, neither of them zero.
    pub fn widest_pair(&self) -> Option<[f64; 2]> {
        let across = self.axes[0].len();
        let meets =
            self.cells.iter().enumerate().filter(|(_, cell)| cell.verdict == CellVerdict::Meets);
        let pairs = meets.map(|(n, _)| [self.axes[0][n % across], self.axes[1][n / across]]);
        let product = |pair: &[f64; 2]| pair[0] * pair[1];
        let wide = pairs.filter(|pair| product(pair) > 0.0);
        wide.max_by(|a, b| product(a).total_cmp(&product(b)))
    }
}

struct Grid<'a> {
    axes: &'a [Vec<f64>; 2],
    goods: &'a [Yield],
    target: f64,
}

impl Grid<'_> {
    fn good(&self, first: usize, second: usize) -> &Yield {
        &self.goods[second * self.axes[0].len() + first]
    }

    fn meets(&self, first: usize, second: usize) -> bool {
        self.good(first, second).verdict(self.target) == Verdict::Pass
    }

    fn cells(&self) -> Vec<MapCell> {
        let [across, up] = self.axes.each_ref().map(Vec::len);
        let cell = |n: usize, good: &Yield| {
            let (first, second) = (n % across, n / across);
            let all = |mut rows: std::ops::Range<usize>, verdict| {
                rows.all(|j| self.good(first, j).verdict(self.target) == verdict)
            };
            let verdict = match good.verdict(self.target) {
                Verdict::Pass if all(0..second, Verdict::Pass) => CellVerdict::Meets,
                Verdict::Fail if all(second + 1..up, Verdict::Fail) => CellVerdict::Misses,
                _ => CellVerdict::Open,
            };
            MapCell { good: *good, verdict }
        };
        self.goods.iter().enumerate().map(|(n, good)| cell(n, good)).collect()
    }

    /// Along every column the first place where an end of the interval falls below the target,
    /// then the one along the row of zero.
    fn line(&self, end: fn(&Yield) -> f64) -> Vec<[f64; 2]> {
        let [across, up] = self.axes;
        let column = |i: usize| {
            let at = |j: usize| end(self.good(i, j));
            Some([across[i], self.crossing(up, at)?])
        };
        let along = self.crossing(across, |i| end(self.good(i, 0)));
        (0..across.len()).filter_map(column).chain(along.map(|first| [first, 0.0])).collect()
    }

    /// Where along an axis a value falls below the target for the first time.
    fn crossing(&self, axis: &[f64], value: impl Fn(usize) -> f64) -> Option<f64> {
        let to = (0..axis.len()).find(|n| value(*n) < self.target)?;
        let from = to.checked_sub(1)?;
        let share = (value(from) - self.target) / (value(from) - value(to));
        Some(axis[from] + share * (axis[to] - axis[from]))
    }

    fn violations(&self) -> usize {
        let [across, up] = self.axes.each_ref().map(Vec::len);
        let points = (0..up).flat_map(|j| (0..across).map(move |i| (i, j)));
        let against = |i: usize, j: usize| usize::from(i < across && j < up && self.meets(i, j));
        points
            .filter(|(i, j)| !self.meets(*i, *j))
            .map(|(i, j)| against(i + 1, j) + against(i, j + 1))
            .sum()
    }
}
