//! What is on offer.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::report::format::tolerance::ToleranceInForce;
use crate::scenario::{Grade, Grades, Matching, PriceBreak};

/// A part in several grades.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct OfferSummary {
    /// The parameter whose part is on offer.
    parameter: Parameter,
    /// Parts of this kind in a converter, in the chain.
    parts_per_converter: usize,
    /// Its grades, by rising price.
    grades: Vec<GradeSummary>,
}

/// A grade of a part.
#[derive(Debug, Serialize, JsonSchema)]
struct GradeSummary {
    name: String,
    /// How parts of this grade scatter.
    #[serde(flatten)]
    tolerance: ToleranceInForce,
    /// Price of one part, of small orders where there are price breaks.
    price: f64,
    /// Lower prices of larger orders, by rising quantity.
    price_breaks: Vec<PriceBreakSummary>,
    /// How parts are measured and matched; null where they are taken as they come.
    matching: Option<MatchingSummary>,
    /// Lead time in weeks; null where none is stated.
    lead_time_weeks: Option<f64>,
    /// Least number of parts that can be ordered.
    minimum_quantity: u64,
}

/// A price that holds from an order quantity on.
#[derive(Debug, Serialize, JsonSchema)]
struct PriceBreakSummary {
    /// The smallest order at this price.
    quantity: u64,
    /// Price of one part.
    price: f64,
}

/// How parts are measured, sorted and matched.
#[derive(Debug, Serialize, JsonSchema)]
struct MatchingSummary {
    /// Parts that are sorted together.
    pieces: usize,
    /// Cost of measuring and sorting one part.
    cost: f64,
    /// Standard uncertainty of the measurement, a fraction of the nominal value.
    standard_uncertainty: f64,
}

impl OfferSummary {
    /// All offers, for converters of a size.
    pub(super) fn all(grades: &Grades, size: ConverterSize) -> Vec<Self> {
        let offers = grades.offers.iter().map(|offer| Self {
            parameter: offer.parameter,
            parts_per_converter: offer.parameter.parts(size, Arrangement::Chain),
            grades: offer.grades.iter().map(GradeSummary::new).collect(),
        });
        offers.collect()
    }
}

impl GradeSummary {
    fn new(grade: &Grade) -> Self {
        Self {
            name: grade.name.clone(),
            tolerance: ToleranceInForce::new(&grade.tolerance),
            price: grade.price,
            price_breaks: grade.price_breaks.iter().map(PriceBreakSummary::new).collect(),
            matching: grade.tolerance.matching.map(MatchingSummary::new),
            lead_time_weeks: grade.lead_time,
            minimum_quantity: grade.minimum_quantity,
        }
    }
}

impl PriceBreakSummary {
    fn new(own: &PriceBreak) -> Self {
        Self { quantity: own.quantity, price: own.price }
    }
}

impl MatchingSummary {
    fn new(own: Matching) -> Self {
        Self { pieces: own.pieces, cost: own.cost, standard_uncertainty: own.uncertainty }
    }
}
