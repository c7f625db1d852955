//! What to order, and how many to build.

use maud::{Markup, html};

use crate::report::format::figures::{Chance, ChanceAxes, Mark, Name, chances};
use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, count, counted, decimals, given_percent, money};
use crate::report::format::page::brief::Finding;
use crate::report::format::page::parts::{headings, number};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{drawn_series, measured_lots, sum};
use crate::scenario::Grades;
use crate::study::grades::{OrderedPart, SeriesLots, SeriesOrder};

/// The order of every part, with what is spent.
pub(super) fn finding(told: GradesSubject, order: &SeriesOrder) -> Finding {
    Finding {
        heading: format!(
            "Order for {} {}; the series costs {}, {} per good converter wanted",
            sum(order.spend()),
            told.grades.currency,
            sum(order.total()),
            money(order.cost_per_good())
        ),
        remark: Some(rest(told.grades, order)),
        inside: table(order),
    }
}

/// What the series costs beside the parts.
fn rest(grades: &Grades, order: &SeriesOrder) -> String {
    let matching = match order.matching_cost() {
        cost if cost > 0.0 => format!("measuring and matching {}, ", sum(cost)),
        _ => String::new(),
    };
    let beside = format!(
        "Beside the parts: {matching}all else {}, failures {}.",
        sum(order.other_cost),
        sum(order.failure_cost)
    );
    let lots = measured_lots(grades, order);
    std::iter::once(beside).chain(lots).collect::<Vec<_>>().join(" ")
}

fn table(order: &SeriesOrder) -> Markup {
    let most = order.parts.iter().map(OrderedPart::spend).fold(0.0, f64::max);
    let names = ["part", "grade", "needed", "least order", "pieces", "price", "spend", "left over"];
    html! {
        div class="frame" tabindex="0" role="group" aria-label="The order of every part" {
            table class="order-table" {
                thead { (headings(2, &names)) }
                tbody { @for part in &order.parts { (row(part, most)) } }
            }
        }
    }
}

fn row(part: &OrderedPart, most: f64) -> Markup {
    let or_none = |n: u64, from: u64| if n >= from { count(n) } else { NONE.to_owned() };
    html! {
        tr {
            th scope="row" { (parameter(part.parameter).short) }
            td { b { (part.grade) } }
            (number(count(part.needed)))
            (number(or_none(part.least_order, 2)))
            td class="n" { b { (count(part.ordered)) } }
            (number(money(part.price)))
            td class="n" { (sum(part.spend())) " " (bar(part.spend(), most)) }
            (number(or_none(part.surplus(), 1)))
        }
    }
}

/// The spend as a bar beside its number.
fn bar(spend: f64, most: f64) -> Markup {
    let wide = if most > 0.0 { 60.0 * spend / most } else { 0.0 };
    html! {
        svg class="spend" viewBox="0 0 60 10" aria-hidden="true" focusable="false" {
            rect class="chain" x="0" y="1" height="8" width=(format!("{wide:.1}")) {}
        }
    }
}

/// How many to build, as the chance of enough good ones.
pub(super) fn series(order: &SeriesOrder) -> Finding {
    let (series, wanted) = (order.series, count(order.wanted));
    let sure = given_percent(series.confidence);
    let bad_lot = match &order.lots {
        SeriesLots::Independent => "",
        SeriesLots::LeftOut(_) => ", without a bad lot",
        SeriesLots::Drawn(_) => ", bad lots included",
    };
    let built = count(series.built);
    let heading = format!("Build {built} to be {sure} sure of {wanted} good ones{bad_lot}");
    if series.built == order.wanted {
        return Finding { heading, remark: None, inside: html! {} };
    }
    let points: Vec<Chance> = order
        .chances()
        .into_iter()
        .map(|own| Chance { built: own.built as f64, likely: own.likely, cautious: own.cautious })
        .collect();
    let average = series.on_average as f64;
    let cautious = points.iter().find(|own| own.built >= average).map(|own| own.cautious);
    let both = [cautious.unwrap_or_default(), series.average_is_enough];
    let [low, high] = both.map(|chance| decimals(100.0 * chance, 0));
    let axes = ChanceAxes {
        average: Mark {
            value: average,
            label: format!("{}: {low} to {high}\u{a0}%", count(series.on_average)),
        },
        built: Mark { value: series.built as f64, label: format!("build {}", count(series.built)) },
    };
    let name = Name {
        id: "brief-series".into(),
        title: format!("Chance of {wanted} good converters over the number built"),
        description: format!(
            "Two curves: {}. Upright lines mark the number that is right on average and the number to build.",
            curves(order)
        ),
    };
    Finding {
        heading,
        remark: Some(format!(
            "Chance of {wanted} good ones: {}. {} are right on average only.",
            curves(order),
            count(series.on_average)
        )),
        inside: chances(&name, &axes, &points),
    }
}

/// What the curves of chances are.
fn curves(order: &SeriesOrder) -> String {
    match &order.lots {
        SeriesLots::Drawn(drawn) => format!(
            "upper curve the share of {} drawn from lots of {}, lower one the lower end of its interval",
            drawn_series(drawn),
            counted(drawn.lots.converters, "converter")
        ),
        _ => "upper curve at the yield seen, lower one at its lower bound".to_owned(),
    }
}
