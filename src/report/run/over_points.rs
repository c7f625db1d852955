//! Figures over all operating points together, in the summary of a run.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::statistics::{KeyFigures, QuantileInterval, Yield};
use crate::study::common::demand::Demand;
use crate::study::common::yield_curve::YieldPoint;
use crate::study::run::{LargestFigure, OverPoints, Run};

/// What all operating points of an arrangement give together.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct OverPointsEntry {
    arrangement: Arrangement,
    /// The sharing error and every limited figure: of each converter the largest over the points.
    largest: Vec<LargestEntry>,
    /// Samples over the limit of the sharing error at any point, or not solved there; null without a limit.
    over_sharing_limit: Option<u64>,
    /// The yield over all points and limits, were the limit of the sharing error another one.
    yield_curve: Vec<YieldPointEntry>,
    /// The limit of the sharing error that just gives the target yield. From its upper end on the verdict
    /// is pass, below its lower end it is fail. An end is null where no such limit is found.
    required_sharing_limit: QuantileInterval,
}

/// A figure of each converter at the operating point where it is largest.
#[derive(Debug, Serialize, JsonSchema)]
struct LargestEntry {
    /// The limited figure, as in `binding`.
    figure: String,
    /// Its limit; null where it has none.
    limit: Option<f64>,
    /// What the target share of converters keeps to, at the confidence; null where too many are not
    /// solved, or the samples are too few.
    tolerance_limit: Option<f64>,
    /// Over the samples that are solved at every point; null where there is none.
    key_figures: Option<KeyFigures>,
}

/// A point of the yield against the limit.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct YieldPointEntry {
    /// The limit, a fraction.
    sharing_error_limit: f64,
    /// Share of all samples within it.
    estimate: f64,
    /// Lower end of its confidence interval.
    lower: f64,
    /// Upper end of its confidence interval.
    upper: f64,
}

impl OverPointsEntry {
    /// Both arrangements; none where the sharing error was not taken.
    pub(super) fn all(run: &Run) -> Vec<Self> {
        run.over_points.iter().flat_map(|bins| &bins.over_points).map(Self::new).collect()
    }

    fn new(own: &OverPoints) -> Self {
        Self {
            arrangement: own.arrangement,
            largest: own.largest.iter().map(LargestEntry::new).collect(),
            over_sharing_limit: own.over_limit,
            yield_curve: own.curve.iter().map(YieldPointEntry::new).collect(),
            required_sharing_limit: own.required_limit,
        }
    }
}

impl LargestEntry {
    fn new(own: &LargestFigure) -> Self {
        let limit = own.limit.unwrap_or_default();
        Self {
            figure: Demand { figure: Some(own.figure), limit }.name(),
            limit: own.limit,
            tolerance_limit: own.tolerance_limit.value(),
            key_figures: own.key_figures,
        }
    }
}

impl YieldPointEntry {
    pub(super) fn new(point: &YieldPoint) -> Self {
        let Yield { estimate, lower, upper, .. } = point.good;
        Self { sharing_error_limit: point.limit, estimate, lower, upper }
    }
}
