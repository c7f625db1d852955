//! What to order for the series.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Parameter;
use crate::report::grades::words;
use crate::scenario::Grades;
use crate::study::grades::{
    ListedPrice, LotSeries, NextOrder, OrderedPart, PriceGap, RivalPrice, SeriesLots, SeriesOrder,
};

/// What to order for the set to build, so that the series holds as many good converters as wanted.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct OrderSummary {
    /// Converters to build: so many hold the quantity of good ones with this confidence.
    built: u64,
    /// The confidence, what the samples leave open included.
    confidence: f64,
    /// Whether parts of one lot fail together, and the number to build leaves that out.
    leaves_out_bad_lots: bool,
    /// The series drawn from lots that the number to build follows from; null where converters fail
    /// independently, and where bad lots are left out.
    series_from_lots: Option<LotSeriesSummary>,
    /// Converters that hold the quantity of good ones on average, rounded up.
    built_on_average: u64,
    /// The probability that the average number holds the quantity, at the yield seen; of series drawn from
    /// lots, the share.
    average_is_enough: f64,
    /// What to order, in the order of the offers.
    parts: Vec<OrderedPartSummary>,
    /// Price of all orders.
    spend: f64,
    /// Cost of measuring and matching.
    matching_cost: f64,
    /// Cost of everything that is not on offer, for all converters built.
    other_cost: f64,
    /// Cost of the failures expected among them.
    failure_cost: f64,
    /// Cost of the whole series.
    total: f64,
    /// That cost for each good converter wanted.
    cost_per_good_converter: f64,
    /// The series of the next set in cost that meets the target; null where there is none, where none is
    /// compared, and where bad lots count in one of both alone.
    next_set: Option<NextSetSummary>,
}

/// The series of the next set in cost.
#[derive(Debug, Serialize, JsonSchema)]
struct NextSetSummary {
    /// Names of its grades.
    name: String,
    /// Converters to build, with the same confidence.
    built: u64,
    /// Cost of the whole series.
    total: f64,
}

impl NextSetSummary {
    fn new(grades: &Grades, next: &NextOrder<'_>) -> Self {
        Self {
            name: words::set(grades, next.set),
            built: next.order.series.built,
            total: next.order.total(),
        }
    }
}

/// Series drawn from lots.
#[derive(Debug, Serialize, JsonSchema)]
struct LotSeriesSummary {
    /// Converters that share the lots of all their parts.
    converters_of_a_batch: u64,
    /// Series drawn.
    series: u64,
    /// Series that were given up, as they took more than ten times the converters needed on average.
    given_up: u64,
    /// Converters built up to the last good one wanted, of every other series, the shortest first.
    lengths: Vec<u64>,
}

impl LotSeriesSummary {
    fn new(drawn: &LotSeries) -> Self {
        Self {
            converters_of_a_batch: drawn.lots.converters,
            series: drawn.lots.batches,
            given_up: drawn.lots.batches - drawn.lengths.len() as u64,
            lengths: drawn.lengths.clone(),
        }
    }
}

/// The order of one part.
#[derive(Debug, Serialize, JsonSchema)]
struct OrderedPartSummary {
    parameter: Parameter,
    /// Name of the grade.
    grade: String,
    /// Parts of this kind in a converter.
    parts_per_converter: usize,
    /// Parts that the series takes, those screened out included.
    needed: u64,
    /// Least number of parts that can be ordered.
    minimum_quantity: u64,
    /// Parts to order.
    ordered: u64,
    /// Parts left over.
    surplus: u64,
    /// Price of one part of this order.
    price: f64,
    /// Price of the order.
    spend: f64,
    /// Cost of measuring and matching the parts.
    matching_cost: f64,
}

/// Two neighbouring prices that are conspicuously far apart: a decimal point may have slipped.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct PriceGapSummary {
    parameter: Parameter,
    /// The cheaper price.
    cheaper: ListedPriceSummary,
    /// The dearer price.
    dearer: ListedPriceSummary,
    /// How many times the cheaper price the dearer one is.
    factor: f64,
}

/// The price below which the next set that meets the target costs less than the recommended one.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct RivalPriceSummary {
    /// The part.
    parameter: Parameter,
    /// Its grade in that set.
    grade: String,
    /// Price of one part at which both sets cost the same, at the yields and quantities seen.
    price: f64,
    /// Its price now, at the quantity that is ordered.
    now: f64,
}

impl RivalPriceSummary {
    pub(super) fn new(rival: RivalPrice) -> Self {
        let RivalPrice { parameter, grade, price, now } = rival;
        Self { parameter, grade, price, now }
    }
}

/// A price of a grade.
#[derive(Debug, Serialize, JsonSchema)]
struct ListedPriceSummary {
    /// Name of the grade.
    grade: String,
    /// The order from which on it holds; null of the price of small orders.
    quantity: Option<u64>,
    /// Price of one part.
    price: f64,
}

impl OrderSummary {
    pub(super) fn new(grades: &Grades, order: &SeriesOrder, next: Option<&NextOrder<'_>>) -> Self {
        Self {
            next_set: next.map(|next| NextSetSummary::new(grades, next)),
            built: order.series.built,
            confidence: order.series.confidence,
            leaves_out_bad_lots: matches!(order.lots, SeriesLots::LeftOut(_)),
            series_from_lots: match &order.lots {
                SeriesLots::Drawn(drawn) => Some(LotSeriesSummary::new(drawn)),
                _ => None,
            },
            built_on_average: order.series.on_average,
            average_is_enough: order.series.average_is_enough,
            parts: order.parts.iter().map(OrderedPartSummary::new).collect(),
            spend: order.spend(),
            matching_cost: order.matching_cost(),
            other_cost: order.other_cost,
            failure_cost: order.failure_cost,
            total: order.total(),
            cost_per_good_converter: order.cost_per_good(),
        }
    }
}

impl OrderedPartSummary {
    fn new(part: &OrderedPart) -> Self {
        Self {
            parameter: part.parameter,
            grade: part.grade.clone(),
            parts_per_converter: part.in_converter,
            needed: part.needed,
            minimum_quantity: part.least_order,
            ordered: part.ordered,
            surplus: part.surplus(),
            price: part.price,
            spend: part.spend(),
            matching_cost: part.matching_cost,
        }
    }
}

impl PriceGapSummary {
    pub(super) fn new(gap: &PriceGap) -> Self {
        Self {
            parameter: gap.parameter,
            cheaper: ListedPriceSummary::new(&gap.cheaper),
            dearer: ListedPriceSummary::new(&gap.dearer),
            factor: gap.factor(),
        }
    }
}

impl ListedPriceSummary {
    fn new(own: &ListedPrice) -> Self {
        Self { grade: own.grade.clone(), quantity: own.quantity, price: own.price }
    }
}
