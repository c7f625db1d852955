//! Sentences on the series to build and on conspicuous prices.

use super::names::set;
use super::numbers::sum;
use crate::report::format::names::parameter;
use crate::report::format::numbers::{count, counted, factor, given_percent, money, percent, ppm};
use crate::scenario::{Grades, LotSettings, Shape};
use crate::study::grades::{
    ListedPrice, LotSeries, MatchingOption, NextOrder, OrderedPart, PriceGap, RivalPrice,
    SeriesLots, SeriesOrder, SetResult, UndecidedSets, Undrawn,
};

/// How many converters to build.
pub(in crate::report::grades) fn series(order: &SeriesOrder) -> String {
    let series = order.series;
    let is_sure = order.lots == SeriesLots::Independent;
    if is_sure && series.built == order.wanted && series.on_average == order.wanted {
        return format!("Build {}.", counted(series.built, "converter"));
    }
    format!(
        "Build {} to have {} good ones with {} confidence{}",
        counted(series.built, "converter"),
        count(order.wanted),
        given_percent(series.confidence),
        match &order.lots {
            SeriesLots::Independent => ".".to_owned(),
            SeriesLots::Drawn(_) => ", bad lots included.".to_owned(),
            SeriesLots::LeftOut(reason) => format!(", without a bad lot. {}", left_out(*reason)),
        }
    )
}

/// Why bad lots are left out, or what would include them.
pub(in crate::report::grades) fn left_out(reason: Undrawn) -> String {
    match reason {
        Undrawn::NoBatches => "With [lots] in the scenario bad lots count too.".to_owned(),
        Undrawn::TooFew(fewest) => {
            format!("With {} or more in [lots] they count too.", batches(fewest))
        }
        Undrawn::TooLong(most) if most >= LotSettings::FEWEST => {
            format!("With {} in [lots], and no more, they count too.", batches(most))
        }
        Undrawn::TooLong(_) => "Series of so many are not drawn from lots.".to_owned(),
        Undrawn::GivenUp => format!(
            "Too many series drawn from lots take more than {} times the number that is right on average.",
            LotSeries::GIVEN_UP_AT
        ),
        Undrawn::Stopped => "The work was stopped before series were drawn from lots.".to_owned(),
    }
}

/// What the number that is right on average would do; none where it is the number to build.
pub(in crate::report::grades) fn on_average(order: &SeriesOrder) -> Option<String> {
    let series = order.series;
    (series.on_average < series.built).then(|| {
        let [number, wanted] = [series.on_average, order.wanted].map(count);
        let enough = percent(series.average_is_enough);
        let seen = match &order.lots {
            SeriesLots::Drawn(drawn) => {
                format!("Of {} drawn from lots {enough} hold so many.", drawn_series(drawn))
            }
            _ => format!(
                "With the yield of the samples {enough} of such series hold so many; the samples leave lower \
                 yields open."
            ),
        };
        format!("{number} would hold {wanted} on average. {seen}")
    })
}

fn batches(n: u64) -> String {
    format!("{} batches", count(n))
}

/// That the next set in cost makes the whole series cheaper; none where it does not.
pub(in crate::report::grades) fn cheaper_series(
    grades: &Grades,
    order: &SeriesOrder,
    next: Option<&NextOrder<'_>>,
) -> Option<String> {
    let next = next.filter(|next| next.order.total() < order.total())?;
    Some(format!(
        "For this series the next set costs less: {}. Build {}, for {} instead of {} {}.",
        set(grades, next.set),
        count(next.order.series.built),
        sum(next.order.total()),
        sum(order.total()),
        grades.currency
    ))
}

/// How many series were drawn from lots.
pub(in crate::report::grades) fn drawn_series(drawn: &LotSeries) -> String {
    format!("{} series", count(drawn.lots.batches))
}

/// That more parts are needed than the file of a measured grade lists, grade by grade.
pub(in crate::report::grades) fn measured_lots(
    grades: &Grades,
    order: &SeriesOrder,
) -> Vec<String> {
    let listed = |part: &OrderedPart| {
        let offer = grades.offers.iter().find(|offer| offer.parameter == part.parameter)?;
        let grade = offer.grades.iter().find(|grade| grade.name == part.grade)?;
        match &grade.tolerance.shape {
            Shape::Measured(parts) => Some(parts.values.len() as u64),
            _ => None,
        }
    };
    let told = order.parts.iter().filter_map(|part| {
        let listed = listed(part).filter(|listed| *listed < part.needed)?;
        Some(format!(
            "{} {}: the file lists {}, the series needs {}. All others must scatter as these do.",
            parameter(part.parameter).short,
            part.grade,
            counted(listed, "part"),
            count(part.needed)
        ))
    });
    told.collect()
}

/// That two prices are far apart.
pub fn price_gap(gap: &PriceGap) -> String {
    let listed = |own: &ListedPrice| match own.quantity {
        Some(quantity) => format!("“{}” from {} on", own.grade, count(quantity)),
        None => format!("“{}”", own.grade),
    };
    format!(
        "Check the prices of {}: {} costs {}, {} costs {} ({} times as much).",
        parameter(gap.parameter).short,
        listed(&gap.cheaper),
        money(gap.cheaper.price),
        listed(&gap.dearer),
        money(gap.dearer.price),
        factor(gap.factor())
    )
}

/// The price at which the next set would be the cheapest.
pub(in crate::report::grades) fn rival_price(rival: &RivalPrice) -> String {
    format!(
        "{} {} below {} (now {} at this quantity): then the next set costs less.",
        parameter(rival.parameter).short,
        rival.grade,
        money(rival.price),
        money(rival.now)
    )
}

/// Whether measuring and matching lowers the cost; none where a set without a good converter has no cost.
pub(in crate::report::grades) fn matching(option: &MatchingOption) -> Option<String> {
    let difference = option.with.cost.estimate - option.without.cost.estimate;
    let change = if difference < 0.0 { "less" } else { "more" };
    difference.is_finite().then(|| {
        format!(
            "With {} “{}” the best set costs {} {change} per good converter{}{}",
            parameter(option.parameter).short,
            option.grade,
            money(difference.abs()),
            if option.is_shown() { "" } else { " (a tie)" },
            match option.undecided {
                UndecidedSets::Dearer => "",
                UndecidedSets::Aside => ", cheaper undecided sets aside",
                UndecidedSets::Included => ", undecided sets included",
            }
        )
    })
}

/// The failures of the best set with matched parts and of the best one without.
pub(in crate::report::grades) fn matching_failures(option: &MatchingOption) -> String {
    let failures = |set: &SetResult| ppm(set.good.failing()[0]);
    format!(
        "With matching {}\u{a0}ppm fail, of the best set without {}\u{a0}ppm.",
        failures(option.with),
        failures(option.without)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What [lots] must say follows; fewer batches than it may have are no advice.
    #[test]
    fn what_would_include_bad_lots_is_told() {
        for (reason, words) in [
            (Undrawn::NoBatches, "With [lots] in the scenario bad lots count too."),
            (Undrawn::TooFew(999), "With 999 batches or more in [lots] they count too."),
            (Undrawn::TooLong(20), "With 20 batches in [lots], and no more, they count too."),
            (Undrawn::TooLong(19), "Series of so many are not drawn from lots."),
            (
                Undrawn::GivenUp,
                "Too many series drawn from lots take more than 10 times the number that is right on average.",
            ),
        ] {
            assert_eq!(left_out(reason), words);
        }
    }
}
