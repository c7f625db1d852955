//! The table of what to order, in the words of all media: what its cells hold.

use crate::converter::{Arrangement, RatedPart, Rating, Stress};
use crate::report::format::numbers::{BEYOND, given_percent, percent_down, three_up};
use crate::report::format::part_loads::{self, PartRow};
use crate::report::format::tolerance::with_measured_parts;
use crate::scenario::Scenario;
use crate::statistics::QuantileEnd;
use crate::study::common::ratings::{PartRating, PopulationRatings, RatedLoad};

/// Where there are none.
pub(in crate::report) const NEEDS_EXACT: &str =
    "Ratings need the exact solver: the averaged one does not tell what loads every part.";

/// Where so few samples show no rating.
pub(super) const TOO_FEW: &str = "too few";

/// The table of one arrangement, at an operating point or over all. Cells hold what to order: the rating over its
/// derating factor.
pub(super) fn rows(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
    point: Option<&str>,
) -> Vec<PartRow> {
    let own: Vec<&PartRating> =
        ratings.parts.iter().filter(|own| own.arrangement == arrangement).collect();
    let cell = |rating: Rating| {
        let own = own.iter().find(|own| own.rating == rating)?;
        let order = match point {
            None => to_order(scenario, own),
            Some(name) => order_value(scenario, own, own.at(name)?),
        };
        let text = order.text();
        let is_number = matches!(order, OrderValue::Value(_));
        Some(if is_number { part_loads::cell_text(rating.stress, text) } else { text })
    };
    part_loads::rows(scenario.phases, &cell)
}

/// What to order of a part.
#[derive(Clone, Copy)]
pub(super) enum OrderValue {
    /// A part of this rating at least.
    Value(f64),
    /// No rating: too many samples fail.
    Beyond,
    /// So few samples show no rating.
    TooFewSamples,
}

impl OrderValue {
    /// Three digits, rounded up, or why there is no number.
    pub(super) fn text(self) -> String {
        match self {
            Self::Value(value) => three_up(value),
            Self::Beyond => BEYOND.into(),
            Self::TooFewSamples => TOO_FEW.into(),
        }
    }

    pub(super) fn value(self) -> Option<f64> {
        match self {
            Self::Value(value) => Some(value),
            Self::Beyond | Self::TooFewSamples => None,
        }
    }
}

/// The rating over all operating points, over the derating factor if there is one.
pub(super) fn to_order(scenario: &Scenario, own: &PartRating) -> OrderValue {
    order_value(scenario, own, &own.over_all)
}

fn order_value(scenario: &Scenario, own: &PartRating, load: &RatedLoad) -> OrderValue {
    let factor = scenario.derating.factor(own.rating).unwrap_or(1.0);
    match load.rating {
        QuantileEnd::Value(value) => OrderValue::Value(value / factor),
        QuantileEnd::Beyond => OrderValue::Beyond,
        QuantileEnd::TooFewSamples => OrderValue::TooFewSamples,
    }
}

/// The limit of a part, where the scenario has one.
pub(super) fn limit(scenario: &Scenario, own: &PartRating) -> Option<f64> {
    part_loads::limit(scenario, own.arrangement, own.rating)
}

/// What the table says.
pub(in crate::report) fn meaning(scenario: &Scenario) -> String {
    let share = given_percent(scenario.limits.yield_target);
    let confidence = given_percent(scenario.limits.confidence);
    format!(
        "Each number: what {share} of all converters{} keep to over all operating points, at \
         {confidence} confidence. {}",
        with_measured_parts(&scenario.tolerances),
        part_loads::derating(scenario)
    )
}

/// What else one must know to order.
pub(super) fn remarks(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
) -> Vec<String> {
    let own = || ratings.parts.iter().filter(|own| own.arrangement == arrangement);
    let find =
        |part, stress| own().find(|own| own.rating.part == part && own.rating.stress == stress);
    let flux = find(RatedPart::Transformer, Stress::VoltSeconds)
        .map(|flux| to_order(scenario, flux))
        .and_then(OrderValue::value)
        .map(|flux| part_loads::flux_linkage(&three_up(1e6 * flux)));
    let return_leg = part_loads::return_leg(ratings.drives);
    let falling_first = part_loads::falling_first(scenario, arrangement);
    let too_few = own()
        .any(|own| own.over_all.rating == QuantileEnd::TooFewSamples)
        .then(|| format!("“{TOO_FEW}”: so few samples show no rating."));
    let beyond = own().any(|own| own.over_all.rating == QuantileEnd::Beyond).then(|| {
        "“beyond”: too many converters have no steady state at some operating point.".to_owned()
    });
    let together =
        Some(together(scenario, ratings, arrangement)).filter(|_| own().next().is_some());
    [together, flux, return_leg, falling_first, too_few, beyond].into_iter().flatten().collect()
}

/// That each rating holds by itself, and how many converters keep to all of them.
pub(super) fn together(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
) -> String {
    let own = ratings.together.iter().find(|own| own.arrangement == arrangement);
    let all = match own {
        Some(own) => format!(
            "At least {} of all converters{} keep to all of them at once ({} confidence).",
            percent_down(own.kept.lower),
            with_measured_parts(&scenario.tolerances),
            given_percent(own.kept.confidence.get())
        ),
        None => "Fewer converters keep to all of them at once.".to_owned(),
    };
    format!("Each rating holds by itself. {all}")
}
