//! Sentences on the stock: what limits the number of converters, and what would mend those that fail.

use crate::converter::Parameter;
use crate::report::format::names;
use crate::report::format::numbers::{counted, quantity};
use crate::study::allocation::{
    Allocation, Bottleneck, FrequentMiss, Mend, PartExchange, RejectedConverter, Stock,
};
use crate::units::{Farad, Henry, Ohm, Volt};

/// What keeps the number of passing converters down.
pub(in crate::report::grades) fn bottleneck(found: &Allocation) -> String {
    let converters = |n: usize| counted(n as u64, "converter");
    let tanks = converters(found.reach.tanks);
    match (found.bottleneck(), found.reach.capacitors, found.frequent_miss()) {
        (Bottleneck::Limits, _, Some(FrequentMiss { missed, converters })) => format!(
            "Bottleneck: the limit on {} at “{}”, first missed by {}.",
            names::limit(&missed.demand).long,
            missed.operating_point,
            match found.rejected.len() {
                1 => "the one that fails".to_owned(),
                all => format!("{converters} of {all} that fail"),
            }
        ),
        (Bottleneck::Limits, ..) => "Bottleneck: the limits.".to_owned(),
        (Bottleneck::Capacitors, Some(capacitors), _) => format!(
            "Bottleneck: flying capacitors, enough for {}; the tanks are enough for {}.",
            converters(capacitors),
            found.reach.tanks
        ),
        (Bottleneck::Both, ..) => {
            format!("Bottleneck: tanks and flying capacitors alike, enough for {tanks}.")
        }
        (_, Some(capacitors), _) => format!(
            "Bottleneck: tanks, enough for {tanks}; the flying capacitors are enough for {capacitors}."
        ),
        (_, None, _) => format!("Bottleneck: tanks, enough for {tanks}."),
    }
}

/// Whether another list may pass more.
pub(in crate::report::grades) fn proof(found: &Allocation) -> &'static str {
    if found.allocated == found.converters {
        "As all pass, no other list passes more."
    } else if found.proven {
        "All groups of these parts were evaluated in all orders. The best way to pack them is \
         exact: no other list of these parts passes more."
    } else {
        "Converters that failed were regrouped with tanks like theirs. It is not proven that no \
         other list passes more."
    }
}

/// What would mend a converter that fails.
pub(in crate::report::grades) fn mend(stock: &Stock, rejected: &RejectedConverter) -> String {
    match rejected.mend {
        Mend::SeveralParts => {
            "no one part: nominal, like the others, or tuned like them".to_owned()
        }
        Mend::NotTried => "not tried".to_owned(),
        Mend::Exchange(exchange) => {
            let PartExchange { parameter, value, .. } = exchange;
            format!(
                "{} of {}: {} instead of {}",
                names::parameter(parameter).short,
                stock.serial_of(exchange),
                part_value(parameter, value),
                present(stock, exchange).map_or_else(String::new, |own| part_value(parameter, own)),
            )
        }
    }
}

/// The value of the part in stock that is to be exchanged.
fn present(stock: &Stock, exchange: PartExchange) -> Option<f64> {
    let PartExchange { parameter, stocked, .. } = exchange;
    if parameter == Parameter::FlyingCapacitance {
        return stock.capacitors.get(stocked).map(|own| own.part.0);
    }
    stock.tanks.get(stocked).and_then(|own| own.part.value(parameter))
}

/// A value of a part with its unit.
fn part_value(parameter: Parameter, value: f64) -> String {
    match parameter {
        Parameter::ResonantInductance | Parameter::MagnetisingInductance => quantity(Henry(value)),
        Parameter::ResonantCapacitance | Parameter::FlyingCapacitance => quantity(Farad(value)),
        Parameter::RectifierDrop => quantity(Volt(value)),
        Parameter::TurnsRatio => quantity(value),
        _ => quantity(Ohm(value)),
    }
}
