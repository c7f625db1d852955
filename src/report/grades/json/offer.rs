//! What is on offer.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::report::format::tolerance::ToleranceInForce;
use crate::scenario::{Grade, Grades};

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
    /// Price of one part.
    price: f64,
    /// Lead time in weeks; null where none is stated.
    lead_time_weeks: Option<f64>,
    /// Least number of parts that can be ordered.
    minimum_quantity: u64,
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
            lead_time_weeks: grade.lead_time,
            minimum_quantity: grade.minimum_quantity,
        }
    }
}
