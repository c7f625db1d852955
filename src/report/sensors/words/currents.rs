//! The findings on switch currents and ratings.

use super::groups::{GroupedText, groups};
use super::names::{letters, listed, parenthesised};
use super::numbers::{ampere, compared_percent, difference, ratings, volt};
use crate::converter::Leg;
use crate::report::format::numbers::{BEYOND, given_percent, three_up};
use crate::scenario::Scenario;
use crate::study::common::figures::Side;
use crate::study::sensors::{NoRating, QuantileComparison, SensorStudy, Variant, VariantResult};

/// A sentence or two each; what a variant has no value of is said once.
pub(super) fn currents(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let target = given_percent(scenario.limits.yield_target);
    let confidence = given_percent(scenario.limits.confidence);
    let mut all: Vec<String> = rated(study, &target, &confidence).into_iter().collect();
    all.extend(unrated(study, &target, &confidence));
    all.extend(kept_to(study, &target));
    all.extend(without_current(study, &target));
    all.extend(worst_switches(study));
    all.extend(excess(study));
    all.extend(lower_current(study));
    all.extend(uneven_chain(study));
    all
}

/// The ratings at which the target is met, at the voltages that the switches block.
fn rated(study: &SensorStudy, target: &str, confidence: &str) -> Option<String> {
    let parts = study.variants.iter().filter_map(|v| {
        let text = format!("{}\u{a0}{}", parenthesised(v.variant), ratings(v.joint_rating.ok()?));
        Some(GroupedText { text, common: blocked(v) })
    });
    let rated = at_voltages(parts.collect());
    (!rated.is_empty()).then(|| {
        format!(
            "Switch rating, RMS; peak, for a yield of {target} ({confidence} confidence): {rated}."
        )
    })
}

/// The variants for which no rating was shown to be enough, and why.
fn unrated(study: &SensorStudy, target: &str, confidence: &str) -> Vec<String> {
    let of = |reason| letters(study, |v| v.joint_rating.err() == Some(reason));
    [
        (NoRating::Misses, format!("No rating gives {target} ({confidence} confidence)"), ""),
        (
            NoRating::NotDecided,
            format!("No rating is shown to give {target}"),
            ". The samples do not decide",
        ),
        (
            NoRating::TooFewSamples,
            format!("No rating is shown to give {target}"),
            ". The samples are too few",
        ),
    ]
    .into_iter()
    .map(|(reason, words, why)| (of(reason), words, why))
    .filter(|(letters, ..)| !letters.is_empty())
    .map(|(letters, words, why)| format!("{words} in {letters}{why}."))
    .collect()
}

/// What the target share keeps to where no rating was shown.
fn kept_to(study: &SensorStudy, target: &str) -> Option<String> {
    let parts = study.variants.iter().filter(|v| v.joint_rating.is_err()).filter_map(|v| {
        let current = format!("{}\u{a0}A", three_up(v.currents[0]?.value));
        let text = format!("{}\u{a0}{current}", parenthesised(v.variant));
        Some(GroupedText { text, common: blocked(v) })
    });
    let kept = at_voltages(parts.collect());
    (!kept.is_empty()).then(|| {
        format!("Of all samples, good or not, {target} keep to a switch RMS current of {kept}.")
    })
}

/// The variants of which the current at the target falls among samples without one.
fn without_current(study: &SensorStudy, target: &str) -> Option<String> {
    let letters = letters(study, |v| v.currents[0].is_none());
    (!letters.is_empty()).then(|| {
        format!(
            "No switch current that {target} keep to in {letters}: too many samples are out of range or \
             not solved."
        )
    })
}

/// The voltage that the target share keeps to.
fn blocked(result: &VariantResult) -> String {
    result.blocking.map_or_else(|| BEYOND.into(), |blocking| volt(blocking.value))
}

/// `(a) 6.19; 9.31 A and (c) 2.47; 3.75 A at 400 V, (b) 7.44; 11.20 A at 271 V`.
fn at_voltages(parts: Vec<GroupedText>) -> String {
    let groups = groups(parts);
    let texts = groups.iter().map(|group| format!("{} at {}", listed(&group.texts), group.common));
    texts.collect::<Vec<_>>().join(", ")
}

/// Which switches carry most, where not all carry the same.
fn worst_switches(study: &SensorStudy) -> Option<String> {
    let worst = &study.variant(Variant::Chain).worst_switches;
    let names = worst.iter().map(|(leg, side)| {
        let side = if *side == Side::High { "high" } else { "low" };
        let leg = if *leg == Leg::Return { "return" } else { "driven" };
        format!("{side} side of the {leg} leg")
    });
    let names: Vec<_> = names.collect();
    (!names.is_empty()).then(|| format!("Highest switch RMS current: {}.", names.join(", ")))
}

/// What unequal parts add to the switch current.
fn excess(study: &SensorStudy) -> Option<String> {
    let parts = study.variants.iter().filter_map(|v| {
        Some(format!("{}\u{a0}{}", parenthesised(v.variant), compared_percent(v.rms_excess()?)))
    });
    let parts: Vec<_> = parts.collect();
    (!parts.is_empty())
        .then(|| format!("Unequal parts add to the switch RMS current: {}.", parts.join(", ")))
}

/// How far sensors lower the switch current.
fn lower_current(study: &SensorStudy) -> Option<String> {
    let lower = |(one, other): (Variant, Variant)| {
        let less = study.current_reduction(one, other)?;
        let remark = match study.current_comparison(one, other)? {
            QuantileComparison::Apart => "",
            QuantileComparison::Overlap => " (not significant)",
            QuantileComparison::TooFewSamples => " (too few samples for an interval)",
        };
        let difference = difference(-less, ["higher", "lower"]);
        let [one, other] = [one, other].map(parenthesised);
        Some(format!("Switch RMS current: {difference} in {one} than in {other}{remark}."))
    };
    let pairs = [
        (Variant::ParalleledWithSensors, Variant::Paralleled),
        (Variant::ChainWithSensors, Variant::Chain),
    ];
    let found: Vec<_> = pairs.into_iter().filter_map(lower).collect();
    (!found.is_empty()).then(|| found.join(" "))
}

/// What the chain would carry if it did not balance.
fn uneven_chain(study: &SensorStudy) -> Option<String> {
    let uneven = study.chain_current_if_uneven()?;
    Some(format!(
        "A chain that shared as unevenly as (a) would carry {}; (b) carries {} (hypothesis: no chain \
         shares so).",
        ampere(uneven),
        difference(-study.less_than_uneven()?, ["more", "less"]),
    ))
}
