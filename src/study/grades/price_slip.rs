//! Prices that look like slips of the decimal point.
//!
//! A price that is ten or a hundred times too high or too low stands out from those beside it: the next
//! grade of the same part, the next quantity of the same grade. A slip by ten may land at five times a
//! neighbour of twice the price. So a factor of five is pointed out. It is a note: grades may differ as much.

use crate::converter::Parameter;
use crate::scenario::{Grade, Grades};

/// Neighbouring prices are pointed out from this factor on.
const CONSPICUOUS: f64 = 5.0;

/// Two prices of one part that are far apart.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceGap {
    /// The part.
    pub parameter: Parameter,
    /// The cheaper of both.
    pub cheaper: ListedPrice,
    /// The dearer of both.
    pub dearer: ListedPrice,
}

/// A price of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedPrice {
    /// Name of the grade.
    pub grade: String,
    /// The order from which on it holds; none of the price of small orders.
    pub quantity: Option<u64>,
    /// Price of one part.
    pub price: f64,
}

impl PriceGap {
    /// How many times the cheaper price the dearer one is.
    pub fn factor(&self) -> f64 {
        self.dearer.price / self.cheaper.price
    }
}

/// Neighbouring prices that are conspicuously far apart: of grades, then of quantities.
pub fn price_gaps(grades: &Grades) -> Vec<PriceGap> {
    let offers = grades.offers.iter();
    offers
        .flat_map(|offer| {
            let mut plain: Vec<ListedPrice> = offer.grades.iter().map(plain_price).collect();
            plain.sort_by(|a, b| a.price.total_cmp(&b.price));
            let lists = offer.grades.iter().map(|grade| {
                let breaks = grade.price_breaks.iter().map(|own| ListedPrice {
                    quantity: Some(own.quantity),
                    price: own.price,
                    ..plain_price(grade)
                });
                let rising = std::iter::once(plain_price(grade)).chain(breaks);
                rising.collect::<Vec<_>>().into_iter().rev().collect::<Vec<_>>()
            });
            let gap = |pair: &[ListedPrice]| {
                let gap = PriceGap {
                    parameter: offer.parameter,
                    cheaper: pair[0].clone(),
                    dearer: pair[1].clone(),
                };
                (gap.cheaper.price > 0.0 && gap.factor() >= CONSPICUOUS).then_some(gap)
            };
            let all = std::iter::once(plain).chain(lists);
            all.flat_map(|list| list.windows(2).filter_map(gap).collect::<Vec<_>>())
                .collect::<Vec<_>>()
        })
        .collect()
}

fn plain_price(grade: &Grade) -> ListedPrice {
    ListedPrice { grade: grade.name.clone(), quantity: None, price: grade.price }
}
