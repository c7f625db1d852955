//! How many converters to build for the number wanted, and what to order for them.
//!
//! A series of Q/y converters holds Q good ones on average, and fewer in about half of all cases. The number
//! here holds Q good ones with the scenario's confidence c, the uncertainty of the yield included. Half of
//! the permitted error 1 − c goes to the yield: it is taken at a lower bound (Clopper and Pearson 1934) that
//! holds for all sets of both short lists together, whichever of them is built. The other half goes to the
//! luck of the series: the smallest n with
//!
//! ```text
//! P(fewer than Q of n are good) ≤ (1 − c)/2    at that yield
//! ```
//!
//! A series falls short only if one of the two errs: with 1 − c at most. That holds for converters that fail
//! independently of each other, with parts as the scenario has them. Parts of one lot fail together: then
//! whole series are drawn from lots, and the number follows from their lengths (`lot_series`).

use super::cost::{PriceList, bought_for_one};
use super::lot_series::{LotSeries, Undrawn};
use super::set::GradeSet;
use crate::converter::{ConverterSize, Parameter};
use crate::scenario::{Failed, Grade, Grades, Offer};
use crate::statistics::{Confidence, probability_of_successes, trials_for_successes};

/// The average number of a series is told up to here.
const MOST_ON_AVERAGE: f64 = 1e12;

/// A series to build, and what to order for it.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesOrder {
    /// Converters to build, and how sure that number is.
    pub series: BuildNumber,
    /// The parts, in the order of the offers.
    pub parts: Vec<OrderedPart>,
    /// Cost of everything that is not on offer, of all converters built.
    pub other_cost: f64,
    /// Cost of the failures that are expected among them.
    pub failure_cost: f64,
    /// Good converters wanted.
    pub wanted: u64,
    /// The yield that the series rests on.
    pub good: BoundedYield,
    /// What lots do to it.
    pub lots: SeriesLots,
}

/// What lots do to a series.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SeriesLots {
    /// Parts of one lot have nothing in common: converters fail independently.
    Independent,
    /// Parts of one lot fail together, and the number to build leaves that out.
    LeftOut(Undrawn),
    /// The number to build follows from series drawn from lots.
    Drawn(LotSeries),
}

/// What is known of a yield.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedYield {
    /// The yield seen.
    pub seen: f64,
    /// Its lower bound: it holds with half of the permitted error, whichever set is built.
    pub least: f64,
    /// The confidence of what is said of a series, above that of the bound.
    pub confidence: Confidence,
}

/// Converters to build.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BuildNumber {
    /// So many hold as many good ones as wanted, with the confidence.
    pub built: u64,
    /// So many hold them on average.
    pub on_average: u64,
    /// The probability that the average number holds them, at the yield seen; of series drawn from lots, the
    /// share.
    pub average_is_enough: f64,
    /// The confidence.
    pub confidence: f64,
}

/// What to order of one part.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderedPart {
    /// What the part is.
    pub parameter: Parameter,
    /// Name of the grade.
    pub grade: String,
    /// Parts in one converter.
    pub in_converter: usize,
    /// Parts that the series takes, those that are screened out included.
    pub needed: u64,
    /// Smallest number of parts that can be ordered.
    pub least_order: u64,
    /// Parts to order.
    pub ordered: u64,
    /// Price of one part of this order.
    pub price: f64,
    /// Cost of measuring and matching the parts needed.
    pub matching_cost: f64,
}

/// The chances that a number of converters holds as many good ones as wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesChance {
    /// Converters built.
    pub built: u64,
    /// At the yield seen; of series drawn from lots, the share.
    pub likely: f64,
    /// At its lower bound; of series drawn from lots, the lower end of the interval of that share.
    pub cautious: f64,
}

/// Numbers that a curve of chances has at most.
const MOST_CHANCES: u64 = 60;

impl OrderedPart {
    /// Price of the order.
    pub fn spend(&self) -> f64 {
        self.price * self.ordered as f64
    }

    /// Parts that are left over.
    pub fn surplus(&self) -> u64 {
        self.ordered - self.needed
    }
}

impl SeriesOrder {
    /// What a set asks for; none where its yield is too low for any number.
    pub fn new(
        grades: &Grades,
        set: &GradeSet,
        size: ConverterSize,
        good: BoundedYield,
        lots: SeriesLots,
    ) -> Option<Self> {
        let independent = BuildNumber::new(grades, good)?;
        let series = match &lots {
            SeriesLots::Drawn(drawn) => independent.with_lots(drawn, good.confidence)?,
            _ => independent,
        };
        let built = series.built as f64;
        let failures = built * (1.0 - good.seen);
        Some(Self {
            series,
            parts: ordered_parts(grades, set, size, series.built),
            other_cost: built * grades.other_cost,
            failure_cost: failures * grades.failure_cost,
            wanted: grades.quantity,
            good,
            lots,
        })
    }

    /// The chances of numbers from the good ones wanted to some more than those to build.
    pub fn chances(&self) -> Vec<SeriesChance> {
        let Self { good, lots, .. } = self;
        let beyond = (self.series.built - self.wanted).div_ceil(3);
        let last = self.series.built + beyond;
        let step = (last - self.wanted).div_ceil(MOST_CHANCES).max(1);
        let independent = |built: u64| SeriesChance {
            built,
            likely: probability_of_successes(self.wanted, built, good.seen),
            cautious: probability_of_successes(self.wanted, built, good.least),
        };
        let chance = |built: u64| match lots {
            SeriesLots::Drawn(drawn) => {
                let enough = drawn.enough(built, good.confidence).ok()?;
                Some(SeriesChance { built, likely: enough.estimate, cautious: enough.lower })
            }
            _ => Some(independent(built)),
        };
        let numbers = (self.wanted..=last).filter(|built| {
            let is_told = [self.series.built, self.series.on_average].contains(built);
            is_told || (built - self.wanted).is_multiple_of(step)
        });
        numbers.filter_map(chance).collect()
    }

    /// Price of all parts on offer.
    pub fn spend(&self) -> f64 {
        self.parts.iter().map(OrderedPart::spend).sum()
    }

    /// Cost of measuring and matching.
    pub fn matching_cost(&self) -> f64 {
        self.parts.iter().map(|part| part.matching_cost).sum()
    }

    /// Cost of the whole series.
    pub fn total(&self) -> f64 {
        self.spend() + self.matching_cost() + self.other_cost + self.failure_cost
    }

    /// Cost of the series for each good converter wanted. Good ones beyond these count as worth nothing.
    pub fn cost_per_good(&self) -> f64 {
        self.total() / self.wanted as f64
    }
}

impl BuildNumber {
    /// Of converters with this yield.
    fn new(grades: &Grades, good: BoundedYield) -> Option<Self> {
        let (wanted, confidence_level) = (grades.quantity, good.confidence.get());
        if grades.failed == Failed::Reworked {
            return Some(Self {
                built: wanted,
                on_average: wanted,
                average_is_enough: 1.0,
                confidence: confidence_level,
            });
        }
        let average = (wanted as f64 / good.seen).ceil();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "within bounds"
        )]
        let on_average = (average <= MOST_ON_AVERAGE).then_some(average as u64)?;
        Some(Self {
            built: trials_for_successes(wanted, good.least, good.confidence.two_sided_tail())?,
            on_average,
            average_is_enough: probability_of_successes(wanted, on_average, good.seen),
            confidence: confidence_level,
        })
    }

    /// The same where parts of one lot fail together.
    fn with_lots(self, drawn: &LotSeries, confidence: Confidence) -> Option<Self> {
        let built = drawn.to_build(confidence).ok()?;
        let enough = drawn.enough(self.on_average, confidence).ok()?;
        Some(Self { built, average_is_enough: enough.estimate, ..self })
    }
}

fn ordered_parts(
    grades: &Grades,
    set: &GradeSet,
    size: ConverterSize,
    built: u64,
) -> Vec<OrderedPart> {
    let arrangement = set.arrangement;
    let part = |(offer, grade): (&Offer, &Grade)| {
        let needed = (built as f64 * bought_for_one(offer, grade, arrangement, size)).ceil();
        let order = PriceList::new(grade).cheapest(needed);
        let matching = grade.tolerance.matching.map_or(0.0, |matching| matching.cost);
        OrderedPart {
            parameter: offer.parameter,
            grade: grade.name.clone(),
            in_converter: offer.parameter.parts(size, arrangement),
            needed: whole(needed),
            least_order: grade.minimum_quantity,
            ordered: whole(order.pieces),
            price: order.price,
            matching_cost: matching * needed,
        }
    };
    set.chosen(grades).map(part).collect()
}

/// A whole number of parts: at most some 10¹⁵, which a double holds.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole, zero or more")]
fn whole(pieces: f64) -> u64 {
    pieces as u64
}
