//! What to buy for a size, on page and terminal.

use itertools::Itertools as _;
use maud::{Markup, html};

use super::words::{self, size};
use crate::report::format::numbers::{
    NONE, money, percent, quantity, signed_money, yield_interval, yield_percent,
};
use crate::report::format::page::parts::{headings, number, table};
use crate::scenario::Scenario;
use crate::study::capacitors::size::{PlacePurchase, SizePurchase, SizeResult, SizeStudy};

/// What to buy for the confirmed size, or for the scenario's where none is confirmed.
pub(super) fn findings(scenario: &Scenario, study: &SizeStudy) -> Vec<String> {
    amounts(scenario, study).into_iter().chain(costs(scenario, study)).collect()
}

/// The confirmed size, or the scenario's, with what is bought for it.
fn bought(study: &SizeStudy) -> Option<(&SizeResult, &SizePurchase)> {
    let own = study.confirmed().or_else(|| study.present())?;
    Some((own, own.purchase.as_ref()?))
}

/// How much to buy, where the scenario tells of a dc bias.
fn amounts(scenario: &Scenario, study: &SizeStudy) -> Option<String> {
    let (own, purchase) = bought(study)?;
    (!scenario.capacitors.dc_bias.points.is_empty()).then(|| to_buy(own, purchase))
}

/// The same in short: the most and the least.
pub(super) fn amounts_in_short(scenario: &Scenario, study: &SizeStudy) -> Option<String> {
    let (own, purchase) =
        bought(study).filter(|_| !scenario.capacitors.dc_bias.points.is_empty())?;
    let all = purchase.places.iter().enumerate();
    let known: Vec<String> = all
        .filter_map(|(k, place)| Some(format!("{} after phase {}", size(place.to_buy?), k + 1)))
        .collect();
    let size = size(own.capacitance);
    Some(match known.as_slice() {
        [] => format!(
            "What to buy to have {size} at its DC voltage is not known: dc_bias ends too low."
        ),
        [one] => format!("To have {size} at its DC voltage, buy {one}{}.", unknown(purchase)),
        [most, .., least] => format!(
            "To have {size} at its DC voltage, buy {most}, down to {least}{}.",
            unknown(purchase)
        ),
    })
}

/// That the first places have too high a voltage for what is told of it.
fn unknown(purchase: &SizePurchase) -> &'static str {
    let is_unknown = purchase.places.iter().any(|place| place.to_buy.is_none());
    if is_unknown { "; before that it is not known, as dc_bias ends too low" } else { "" }
}

/// What that costs, where the scenario tells of parts on offer.
pub(super) fn costs(scenario: &Scenario, study: &SizeStudy) -> Vec<String> {
    let priced = bought(study).filter(|_| !scenario.capacitors.offers.is_empty());
    priced.map_or_else(Vec::new, |(own, purchase)| prices(study, own, purchase))
}

/// How much to buy, so that the dc voltage leaves the size.
fn to_buy(own: &SizeResult, purchase: &SizePurchase) -> String {
    let place = |(k, place): (usize, &PlacePurchase)| {
        let (phase, voltage) = (k + 1, quantity(place.dc_voltage));
        match place.left.zip(place.to_buy) {
            Some((left, to_buy)) => format!(
                "{} after phase {phase}, where {voltage} leave {}",
                size(to_buy),
                percent(left)
            ),
            None => format!("after phase {phase} it is not known: dc_bias ends below {voltage}"),
        }
    };
    let places: Vec<String> = purchase.places.iter().enumerate().map(place).collect();
    format!("To have {} at its DC voltage, buy {}.", size(own.capacitance), places.join("; "))
}

/// What it costs, and whether another size is as cheap.
fn prices(study: &SizeStudy, own: &SizeResult, purchase: &SizePurchase) -> Vec<String> {
    let Some(price) = purchase.price else { return vec![no_price(own, purchase)] };
    let is_confirmed = study.confirmed().is_some();
    let good = purchase.price_per_good.map(|price| format!(", {} per good one", money(price)));
    let mut told = vec![format!(
        "{} {}: the parts on offer for it cost {} a converter{}.",
        if is_confirmed {
            "The smallest size that meets the target is"
        } else {
            "The scenario has"
        },
        size(own.capacitance),
        money(price),
        good.unwrap_or_default()
    )];
    told.extend(with_parts(study, purchase));
    if let Some(larger) = study.equal_price(own).filter(|_| is_confirmed) {
        told.push(format!("For the same price you can have {}.", size(larger.capacitance)));
    }
    let cheapest = study.cheapest_per_good().and_then(|best| Some((best, best.price_per_good?)));
    // Sizes for which the same parts are taken cost the same.
    let is_less = |price: f64| purchase.price_per_good.is_none_or(|own| price < own);
    if let Some((best, price)) = cheapest.filter(|(_, price)| is_less(*price)) {
        told.push(format!(
            "Of the sets of parts that meet the target on these samples, {} costs least per good converter: \
             {}. Other parts of a failed converter are not counted.",
            parts(best),
            money(price)
        ));
    }
    told
}

/// Why no price is told: at some place no part is large enough, or what is to buy is not known.
fn no_price(own: &SizeResult, purchase: &SizePurchase) -> String {
    let size = size(own.capacitance);
    let lacks = |place: &PlacePurchase| place.to_buy.is_some() && place.offer.is_none();
    match purchase.places.iter().position(lacks) {
        Some(k) => format!("No part on offer is large enough for {size} after phase {}.", k + 1),
        None => format!(
            "Which parts on offer are large enough for {size} is not known: dc_bias ends too low."
        ),
    }
}

/// The parts taken, place by place, or one name where all are alike.
fn parts(purchase: &SizePurchase) -> String {
    let places = purchase.places.iter();
    let names: Vec<String> =
        places.filter_map(|place| Some(size(place.offer?.capacitance))).collect();
    if names.iter().all_equal() { names.into_iter().take(1).collect() } else { names.join(", ") }
}

/// What the parts on offer have at their dc voltage, and how many converters pass with them.
fn with_parts(study: &SizeStudy, purchase: &SizePurchase) -> Option<String> {
    let parts = purchase.bought()?;
    let parts = parts.into_iter().map(size).collect::<Vec<_>>().join(", ");
    Some(match &purchase.good {
        Some(good) => format!(
            "At their DC voltage these have {parts}. With them {} of the converters meet every limit: {}.",
            yield_interval(good),
            words::verdict(study, study.verdict(good))
        ),
        None => format!(
            "At their DC voltage these have {parts}. With them the nominal converter is not solved at every \
             operating point."
        ),
    })
}

/// A row a size, with what to buy for it; nothing where the scenario does not tell.
pub(super) fn sizes(study: &SizeStudy) -> Markup {
    let bought: Vec<(&SizeResult, &SizePurchase)> =
        study.sizes.iter().filter_map(|own| Some((own, own.purchase.as_ref()?))).collect();
    if bought.is_empty() {
        return html! {};
    }
    let names = [
        "size",
        "to buy, place by place",
        "parts taken",
        "price",
        "yield with these",
        "per good",
        "step",
    ];
    let mut before = None;
    let rows = html! {
        @for (own, purchase) in &bought {
            (row(own, purchase, std::mem::replace(&mut before, purchase.price_per_good)))
        }
    };
    html! {
        (table("What every size costs", &headings(1, &names), &rows))
        p class="remark" {
            "To buy: capacitance without DC voltage, after phases 1, 2, …, of which the DC voltage leaves the \
             size: the ideal one at the highest input voltage, and the assumed drift. Parts taken: the cheapest \
             on offer that has so much. Yield: of the samples with these parts, at what their DC voltage leaves. \
             Price: all flying capacitors of a converter. Per good: price over that yield, which counts the \
             capacitors of failed converters and nothing else of them. Step: against the next smaller size."
        }
    }
}

fn row(own: &SizeResult, purchase: &SizePurchase, before: Option<f64>) -> Markup {
    let joined = |of_place: &dyn Fn(&PlacePurchase) -> Option<String>| {
        let cells = purchase.places.iter().map(|place| of_place(place).unwrap_or(NONE.to_owned()));
        cells.collect::<Vec<_>>().join(", ")
    };
    let or_dash = |text: Option<String>| text.unwrap_or_else(|| NONE.to_owned());
    let step = purchase.price_per_good.zip(before).map(|(own, before)| signed_money(own - before));
    html! {
        tr {
            th scope="row" { (size(own.capacitance)) }
            (number(joined(&|place| Some(size(place.to_buy?)))))
            (number(joined(&|place| Some(size(place.offer?.capacitance)))))
            (number(or_dash(purchase.price.map(money))))
            (number(or_dash(purchase.good.map(|good| yield_percent(good.estimate)))))
            (number(or_dash(purchase.price_per_good.map(money))))
            (number(or_dash(step)))
        }
    }
}
