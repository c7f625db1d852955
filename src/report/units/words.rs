//! Sentences that terminal and page of listed units share.

use crate::converter::{Arrangement, Shared};
use crate::report::format::numbers::{
    count, counted, given_percent, percent, quantity, signed, signed_percent,
};
use crate::report::format::{missed, names, premises};
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;
use crate::study::units::{
    CurrentComparison, DemandMisses, LargestDeviation, LimitsMet, Listed, MeasuredLoad,
};

/// What is said where the measuring uncertainty was not given.
const NO_UNCERTAINTY: &str = "The measuring uncertainty was not given, so there is no verdict on the \
                              model: --measuring-uncertainty asks for one.";

/// Whether the chain has a limit. Else its converters pass where they reach the output.
pub(super) fn has_limits(scenario: &Scenario) -> bool {
    !premises::has_no_limit(scenario)
}

/// How many converters meet every limit, in both arrangements.
pub(super) fn answer(scenario: &Scenario, listed: &Listed) -> [String; 2] {
    let [limited, is_reference_limited] =
        Arrangement::ALL.map(|own| Demand::is_any_set(&scenario.limits, own));
    let task = |is_limited| if is_limited { "meet every limit" } else { "reach the output" };
    let no_limit = |is_limited| if is_limited { "" } else { " No limit is set for it." };
    let [chain, paralleled] = listed.limits_met.each_ref().map(share);
    let in_the_chain = format!(
        "Converters that {} at every operating point: {chain} in the chain.{}",
        task(limited),
        no_limit(limited)
    );
    let is_alike = limited == is_reference_limited;
    let own_task =
        if is_alike { String::new() } else { format!(" {}", task(is_reference_limited)) };
    [
        in_the_chain,
        format!(
            "Paralleled, as the reference: {paralleled}{own_task}.{}",
            no_limit(is_reference_limited)
        ),
    ]
}

/// At which operating points a table shows its converters, of which there may be one alone.
pub(super) fn at_worst_points(is_one: bool) -> &'static str {
    if is_one {
        "The converter, each number at its own worst operating point"
    } else {
        "Each number at its own worst operating point, the worst converter in the chain first"
    }
}

/// `3 of 4`.
fn share(met: &LimitsMet) -> String {
    format!("{} of {}", count(met.meeting as u64), count(met.units as u64))
}

/// What an arrangement's converters miss, worst first, a line a limit.
pub(super) fn misses(met: &LimitsMet) -> Vec<String> {
    met.missed.iter().map(miss).collect()
}

/// What begins the list of these lines.
pub(super) fn misses_heading(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "Missed in the chain, worst first:",
        Arrangement::Paralleled => "Missed by the paralleled reference, worst first:",
    }
}

fn miss(DemandMisses { units, worst }: &DemandMisses) -> String {
    let units = counted(*units as u64, "converter");
    let demand = &worst.missed.demand;
    match names::demanded(demand) {
        None => format!(
            "out of range or not solved: {units}, such as “{}” at “{}”",
            worst.unit, worst.operating_point
        ),
        Some(demanded) => format!(
            "{}, {demanded}: {units}; the worst is “{}” with {} at “{}”",
            names::limit(demand).long,
            worst.unit,
            missed::value(&worst.missed),
            worst.operating_point
        ),
    }
}

/// Where currents were measured: `P1, “noon”, 1.200 kW, chain`.
pub(super) fn load(load: &MeasuredLoad) -> String {
    format!(
        "{}, “{}”, {}, {}",
        load.unit,
        load.operating_point,
        quantity(load.output_power()),
        names::arrangement(load.arrangement()).short
    )
}

/// The current that deviates most, and what follows for the model; none where nothing was measured.
pub(super) fn deviation(listed: &Listed) -> Vec<String> {
    let summary = &listed.deviations;
    if listed.measured.is_empty() {
        return Vec::new();
    }
    let without = (summary.without_prediction > 0).then(|| {
        let without = counted(summary.without_prediction as u64, "measured current");
        format!("{without} cannot be compared: the model finds no steady state there.")
    });
    let largest = summary.largest.as_ref().map(|largest| largest_deviation(listed, largest));
    largest.into_iter().chain(verdict_on_model(listed)).chain(without).collect()
}

fn largest_deviation(listed: &Listed, largest: &LargestDeviation) -> String {
    let LargestDeviation { load, comparison, relative } = largest;
    let place = self::load(&listed.measured[*load]);
    let predicted = comparison.predicted.map(|predicted| quantity(predicted.value));
    format!(
        "Largest deviation: {} of phase {}, {place}. Measured {}, predicted {}: {}, {} of the phases’ \
         mean.",
        names::shared(comparison.current).long,
        comparison.phase + 1,
        quantity(comparison.measured),
        predicted.unwrap_or_default(),
        difference(comparison).unwrap_or_default(),
        signed_percent(*relative)
    )
}

/// What the measured currents say of the model.
fn verdict_on_model(listed: &Listed) -> Option<String> {
    let all = listed.deviations.compared;
    if all == 0 {
        return None;
    }
    let Some((uncertainty, outside)) =
        listed.measuring_uncertainty.zip(listed.deviations.outside_uncertainty)
    else {
        return Some(NO_UNCERTAINTY.to_owned());
    };
    let uncertainty =
        format!("the measuring uncertainty of {} of the reading", given_percent(uncertainty));
    Some(if outside == 0 && all == 1 {
        format!(
            "The measured current agrees with the prediction within {uncertainty}: it does not contradict the \
             model."
        )
    } else if outside == 0 {
        format!(
            "All {} measured currents agree with the prediction within {uncertainty}: they do not \
             contradict the model.",
            count(all as u64)
        )
    } else {
        format!(
            "{} of {} measured currents lie farther from the prediction than {uncertainty}. An uncertainty \
             that covers 95 % of all readings leaves out 1 in 20 by chance. Where more lie outside, the \
             model, the listed parts or the measurement is wrong.",
            count(outside as u64),
            count(all as u64)
        )
    })
}

/// Measured less predicted, with its sign.
pub(super) fn difference(comparison: &CurrentComparison) -> Option<String> {
    comparison.difference().map(|difference| format!("{}\u{a0}A", signed(difference.0, 3)))
}

/// The sharing error of the measured currents beside the predicted one; none where a phase was left out.
pub(super) fn sharing(load: &MeasuredLoad) -> Option<String> {
    let sharing = load.sharing?;
    let predicted = sharing.predicted.map(percent);
    let measured = percent(sharing.measured);
    Some(match predicted {
        Some(predicted) => format!("sharing error: measured {measured}, predicted {predicted}"),
        None => format!("sharing error: measured {measured}"),
    })
}

/// A current in a word or two.
pub(super) fn current(current: Shared) -> &'static str {
    names::shared(current).short
}
