//! The map of two bands in the summary of `bands`.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Parameter;
use crate::report::bands::words::names::map_point;
use crate::statistics::{Confidence, Yield};
use crate::study::bands::Bands;
use crate::study::bands::map::{ExcludedPair, TradeMap};

/// The yield over two bands, all others as they are. Grids hold one row per band of the second
/// parameter, and in it one value per band of the first.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct TradeOff {
    parameters: [&'static str; 2],
    /// Their starting bands.
    present: [f64; 2],
    /// The bands along both axes.
    bands: [Vec<f64>; 2],
    /// Random stream of all points of the grid, used for nothing else.
    stream: u64,
    /// Confidence level of the two-sided interval at a point.
    confidence: Confidence,
    /// `meets`, `open` or `misses`.
    result: Vec<Vec<&'static str>>,
    /// Yield seen.
    estimate: Vec<Vec<f64>>,
    /// Lower end of its interval.
    lower: Vec<Vec<f64>>,
    /// Upper end of its interval.
    upper: Vec<Vec<f64>>,
    /// Pairs of bands where the lower end crosses the target: what is inside meets it.
    inner_boundary: Vec<[f64; 2]>,
    /// Pairs of bands where the upper end crosses the target: what is beyond misses it.
    outer_boundary: Vec<[f64; 2]>,
    /// Neighbours of which only the wider one meets the target.
    trend_violations: usize,
}

/// Two bands of which no pair meets the target.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct ExcludedPairSummary {
    parameters: [&'static str; 2],
    /// Yield in the search with both parts exact; its interval misses the target.
    yield_if_exact: Yield,
}

impl ExcludedPairSummary {
    pub(super) fn new(found: &ExcludedPair) -> Self {
        Self { parameters: found.pair.map(Parameter::key), yield_if_exact: found.exact }
    }
}

pub(super) fn trade_off(map: &TradeMap, bands: &Bands) -> TradeOff {
    let rows = || map.cells.chunks(map.axes[0].len());
    let grid = |value: fn(&Yield) -> f64| {
        rows().map(|row| row.iter().map(|cell| value(&cell.good)).collect()).collect()
    };
    let result =
        rows().map(|row| row.iter().map(|cell| map_point(cell.verdict)).collect()).collect();
    TradeOff {
        parameters: map.pair.map(Parameter::key),
        present: map.present,
        bands: map.axes.clone(),
        stream: map.source.stream,
        confidence: bands.rule.map,
        result,
        estimate: grid(|good| good.estimate),
        lower: grid(|good| good.lower),
        upper: grid(|good| good.upper),
        inner_boundary: map.inner.clone(),
        outer_boundary: map.outer.clone(),
        trend_violations: map.violations,
    }
}
