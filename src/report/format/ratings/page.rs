//! What to order, on the page.

use maud::{Markup, html};

use super::words::{self, OrderValue};
use crate::converter::Arrangement;
use crate::report::format::numbers;
use crate::report::format::page::parts::{headings, headings_with_text_last, number, table};
use crate::report::format::part_loads::{self, COLUMNS, PartRow};
use crate::scenario::Scenario;
use crate::statistics::QuantileEnd;
use crate::study::common::ratings::{PartRating, PopulationRatings};

/// The section: a table an arrangement, then all loads of the chain. `file` holds what it leaves out.
pub(in crate::report) fn section(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    file: &str,
) -> Markup {
    html! {
        @if ratings.parts.is_empty() {
            p { (words::NEEDS_EXACT) }
        } @else {
            p { (words::meaning(scenario)) }
            (of_arrangement(scenario, ratings, Arrangement::Chain, "What to order for the balanced chain"))
            (of_arrangement(
                scenario, ratings, Arrangement::Paralleled,
                "The same for the paralleled reference, on rescaled tanks",
            ))
            @if !scenario.limits.parts.is_empty() {
                p class="remark" { "Limits in [[limits.part]] are judged together." }
            }
            (details(scenario, ratings, file))
        }
    }
}

/// What to order of an arrangement's parts.
pub(in crate::report) fn of_arrangement(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
    caption: &str,
) -> Markup {
    html! {
        (part_table(caption, words::rows(scenario, ratings, arrangement, None)))
        @for remark in words::remarks(scenario, ratings, arrangement) { p class="remark" { (remark) } }
    }
}

/// The same at each operating point alone.
pub(in crate::report) fn at_each_point(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    arrangement: Arrangement,
    caption: &str,
) -> Markup {
    let own = ratings.parts.iter().filter(|own| own.arrangement == arrangement);
    let mut points: Vec<&str> = Vec::new();
    for point in own.flat_map(|own| &own.points) {
        if !points.contains(&point.operating_point.as_str()) {
            points.push(&point.operating_point);
        }
    }
    html! {
        @for point in points {
            div data-point=(point) data-arrangement=(arrangement.name()) {
                (part_table(
                    &format!("{caption}, at “{point}” alone"),
                    words::rows(scenario, ratings, arrangement, Some(point)),
                ))
            }
        }
    }
}

/// A row a kind of part, a column a kind of load.
fn part_table(caption: &str, rows: Vec<PartRow>) -> Markup {
    let columns = COLUMNS.map(|name| name.replace('\n', ", "));
    let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
    let rows = html! {
        @for PartRow { name, cells } in rows {
            tr {
                th scope="row" { (name) }
                @for cell in cells { (number(cell)) }
            }
        }
    };
    table(caption, &headings(1, &columns), &rows)
}

/// Every load of the chain's parts, with where it comes from.
pub(in crate::report) fn details(
    scenario: &Scenario,
    ratings: &PopulationRatings,
    file: &str,
) -> Markup {
    let columns =
        ["part and load", "nominal", "rating", "largest", "limit", "hardest operating point"];
    let own = ratings.parts.iter().filter(|own| own.arrangement == Arrangement::Chain);
    let rows = html! { @for rating in own { (detail(scenario, rating)) } };
    html! {
        details {
            summary { "All loads of the chain, before derating" }
            (table("Loads over all operating points", &headings_with_text_last(&columns), &rows))
            p class="remark" {
                "Largest: of the solved samples. Hardest: the operating point with the highest rating. \
                 Voltages of capacitors and switches include the assumed drift of the flying-capacitor \
                 voltages. The same for each operating point and the reference: " code { (file) } "."
            }
        }
    }
}

fn detail(scenario: &Scenario, own: &PartRating) -> Markup {
    let stress = own.rating.stress;
    let show = |value: f64| part_loads::with_unit(stress, value);
    let rating = match own.over_all.rating {
        QuantileEnd::Value(value) => part_loads::rating_with_unit(stress, value),
        QuantileEnd::Beyond => OrderValue::Beyond.text(),
        QuantileEnd::TooFewSamples => OrderValue::TooFewSamples.text(),
    };
    let optional = |value: Option<f64>| value.map_or_else(|| numbers::NONE.into(), show);
    let hardest = own.hardest().map(|point| point.operating_point.as_str());
    html! {
        tr {
            th scope="row" { (part_loads::part_and_load(own.rating)) }
            (number(show(own.over_all.nominal)))
            (number(rating))
            (number(optional(own.over_all.largest)))
            (number(optional(words::limit(scenario, own))))
            td { (hardest.unwrap_or_default()) }
        }
    }
}
