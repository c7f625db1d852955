//! Two bands traded against each other: a grid of yields with the boundary of what meets the
//! target.

use super::edge::{Line, search};
use super::trials::Trials;
use crate::converter::Parameter;
use crate::scenario::Tolerances;
use crate::statistics::Yield;
use crate::study::run::RunError;

/// Grid points along an axis.
pub const POINTS: u32 = 11;
/// How far the axes reach beyond the widest band that passes while the other one is zero.
const BEYOND: f64 = 1.2;

/// A grid point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// The yield on the seed of the search, with its interval at the shared level.
    pub good: Yield,
    /// Whether its lower end meets the target.
    pub meets: bool,
}

/// The trade between two bands; all others are as in the scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// The parameters along the first and the second axis.
    pub pair: [Parameter; 2],
    /// Their present bands.
    pub present: [f64; 2],
    /// The bands along both axes, rising from zero.
    pub axes: [Vec<f64>; 2],
    /// Row by row: the first axis runs fastest.
    pub cells: Vec<Cell>,
    /// Where the lower end crosses the target, linear between grid points.
    pub boundary: Vec<[f64; 2]>,
    /// Neighbouring grid points of which the wider one alone meets the target.
    pub violations: usize,
}

/// Tries all grid points.
///
/// # Errors
///
/// Those of the trials.
pub fn map(
    tolerances: &Tolerances,
    pair: [Parameter; 2],
    widest: f64,
    trials: &mut Trials,
) -> Result<Map, RunError> {
    let present = pair.map(|p| tolerances.get(p).map_or(0.0, |own| own.band));
    let axes = [
        axis(tolerances, (pair[0], pair[1]), widest, trials)?,
        axis(tolerances, (pair[1], pair[0]), widest, trials)?,
    ];
    let mut cells = Vec::new();
    for second in &axes[1] {
        for first in &axes[0] {
            let bands = tolerances.with_band(pair[0], *first).with_band(pair[1], *second);
            let judged = trials.on_search_seed(&bands)?;
            let good = trials.rule.interval(&judged)?;
            cells.push(Cell { good, meets: trials.rule.meets(&judged)? });
        }
    }
    let grid = Grid { axes: &axes, cells: &cells, target: trials.rule.target };
    let (boundary, violations) = (grid.boundary(), grid.violations());
    Ok(Map { pair, present, axes, cells, boundary, violations })
}

/// An axis that reaches beyond all that can pass: the widest band while the other one is zero.
fn axis(
    tolerances: &Tolerances,
    (own, other): (Parameter, Parameter),
    widest: f64,
    trials: &mut Trials,
) -> Result<Vec<f64>, RunError> {
    let present = tolerances.get(own).map_or(0.0, |own| own.band);
    let top = widest.max(present);
    let bands = |band: f64| tolerances.with_band(other, 0.0).with_band(own, band);
    let line = Line { bands: &bands, present, top };
    let edge = search(&line, trials)?;
    let found = edge.widest().map_or(0.0, |p| p.at).max(present);
    let end = if found > 0.0 { (BEYOND * found).min(top) } else { top };
    Ok((0..POINTS).map(|n| end * f64::from(n) / f64::from(POINTS - 1)).collect())
}

struct Grid<'a> {
    axes: &'a [Vec<f64>; 2],
    cells: &'a [Cell],
    target: f64,
}

impl Grid<'_> {
    fn cell(&self, first: usize, second: usize) -> &Cell {
        &self.cells[second * self.axes[0].len() + first]
    }

    /// Where between two neighbours, `from` passing and `to` failing, the lower end crosses the
    /// target: a share of the way.
    fn crossing(&self, from: &Cell, to: &Cell) -> f64 {
        (from.good.lower - self.target) / (from.good.lower - to.good.lower)
    }

    /// Along every column the first crossing, then the one along the row of zero.
    fn boundary(&self) -> Vec<[f64; 2]> {
        let [across, up] = self.axes;
        let between =
            |axis: &[f64], n: usize, share: f64| axis[n] + share * (axis[n + 1] - axis[n]);
        let column = |i: usize| {
            let j = (1..up.len()).find(|j| !self.cell(i, *j).meets)? - 1;
            let from = self.cell(i, j);
            let share = self.crossing(from, self.cell(i, j + 1));
            from.meets.then(|| [across[i], between(up, j, share)])
        };
        let mut points: Vec<[f64; 2]> = (0..across.len()).filter_map(column).collect();
        let last = (1..across.len()).find(|i| !self.cell(*i, 0).meets).map(|i| i - 1);
        if let Some(i) = last.filter(|i| self.cell(*i, 0).meets) {
            let share = self.crossing(self.cell(i, 0), self.cell(i + 1, 0));
            points.push([between(across, i, share), 0.0]);
        }
        points
    }

    fn violations(&self) -> usize {
        let [across, up] = self.axes.each_ref().map(Vec::len);
        let places = (0..up).flat_map(|j| (0..across).map(move |i| (i, j)));
        let against = |narrow: &Cell, i: usize, j: usize| {
            usize::from(i < across && j < up && !narrow.meets && self.cell(i, j).meets)
        };
        places
            .map(|(i, j)| {
                let narrow = self.cell(i, j);
                against(narrow, i + 1, j) + against(narrow, i, j + 1)
            })
            .sum()
    }
}
