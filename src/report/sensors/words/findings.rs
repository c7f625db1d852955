//! The findings behind the answer.

use super::answer::samples_to_decide;
use super::names::{letters, listed, parenthesised};
use super::numbers::{ampere, compared_percent, difference, volt, with_interval};
use crate::report::format::names;
use crate::report::format::numbers::{
    count, given_percent, level, money, signed, signed_money, yield_percent,
};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::common::figures::{Leg, Side};
use crate::study::sensors::{SensorStudy, Variant, VariantDifference, VariantResult};

/// A sentence or two each, that on the chain first.
pub(in crate::report::sensors) fn findings(
    scenario: &Scenario,
    study: &SensorStudy,
) -> Vec<String> {
    let mut all = vec![chain(scenario, study)];
    all.extend(with_both(study));
    all.push(sensors_instead(study));
    all.push(format!("(a) neither: {}.", yield_and_cost(study.variant(Variant::Paralleled))));
    all.extend(decided_alone(scenario, study));
    all.extend(missed(study));
    all.extend(ratings(scenario, study));
    all.extend(worst_switches(study));
    all.extend(excess(study));
    all.extend(lower_current(study));
    all.extend(uneven_chain(study));
    all
}

/// A yield with its interval, and what a good converter costs.
fn yield_and_cost(result: &VariantResult) -> String {
    match result.price_per_good() {
        Some(price) => {
            let good = with_interval(&result.good);
            format!("yield {good}, cost per good converter {}", money(price))
        }
        None => "no good converter".into(),
    }
}

fn chain(scenario: &Scenario, study: &SensorStudy) -> String {
    let chain = study.variant(Variant::Chain);
    let decision = study.decision();
    let lowest = if decision.cheapest == Some(Variant::Chain) && decision.is_lowest_cost_secured() {
        let target = given_percent(scenario.limits.yield_target);
        format!(", the lowest of those that meet {target}")
    } else {
        String::new()
    };
    let mut text = format!("(b) chain alone: {}{lowest}.", yield_and_cost(chain));
    if chain.verdict == Verdict::NotDecided {
        text = format!("{text} {}", samples_to_decide(chain));
    }
    text
}

/// Variants whose own interval decides, but not the one that holds with those of the others.
fn decided_alone(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let target = scenario.limits.yield_target;
    let letters = letters(study, |v| v.is_decided_alone(target));
    (!letters.is_empty()).then(|| {
        format!(
            "Not decided in {letters}: the {} interval that holds with the other verdicts includes \
             {}. The {} interval of one variant alone does not.",
            level(study.joint_level()),
            given_percent(target),
            given_percent(scenario.limits.confidence),
        )
    })
}

/// What sensors change on top of the chain, and at what cost.
fn with_both(study: &SensorStudy) -> Option<String> {
    let change = study.difference(Variant::ChainWithSensors, Variant::Chain).ok()?;
    let VariantDifference { counts, good, price_per_good, failure_rate, .. } = change;
    let gain = if counts.first + counts.second == 0 {
        "yield unchanged".to_owned()
    } else {
        let significance = if change.is_significant() { "" } else { "; not significant" };
        let points = signed(100.0 * good.estimate, 3);
        let [gained, lost] = [counts.first, counts.second].map(count);
        format!("yield {points} points ({gained} samples gained, {lost} lost{significance})")
    };
    let cost = price_per_good.map_or_else(String::new, |more| {
        format!("cost per good converter {}, ", signed_money(more))
    });
    Some(format!(
        "(d) chain and sensors, against (b): {gain}, {cost}failure rate {}\u{a0}FIT.",
        signed(failure_rate, 0)
    ))
}

/// What sensors do instead of the chain.
fn sensors_instead(study: &SensorStudy) -> String {
    let [chain, with] = [Variant::Chain, Variant::ParalleledWithSensors].map(|v| study.variant(v));
    format!(
        "(c) sensors instead of the chain: {}; failure rate {:.0}\u{a0}FIT, in (b) {:.0}\u{a0}FIT.",
        yield_and_cost(with),
        with.bill.failure_rate,
        chain.bill.failure_rate,
    )
}

/// What the variants that do not pass miss most often.
fn missed(study: &SensorStudy) -> Option<String> {
    let failing = study.variants.iter().filter(|v| v.verdict != Verdict::Pass);
    let parts = failing.filter_map(|v| {
        let binding = v.binding.as_ref()?;
        let share = yield_percent(v.missed_share()?);
        let limit =
            format!("{} at “{}”", names::limit(&binding.demand).long, binding.operating_point);
        Some(GroupedText {
            text: format!("{share} in {}", parenthesised(v.variant)),
            common: limit,
        })
    });
    let groups = groups(parts.collect());
    let limits = groups.iter().map(|group| format!("{}, {}", group.common, listed(&group.texts)));
    let text = limits.collect::<Vec<_>>().join("; ");
    (!text.is_empty()).then(|| format!("Limit missed most often, by share of the samples: {text}."))
}

/// The ratings at which the target is met, at the voltages that the switches block.
fn ratings(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let target = given_percent(scenario.limits.yield_target);
    let confidence = given_percent(scenario.limits.confidence);
    let (mut rated, mut unrated) = (Vec::new(), Vec::new());
    for v in &study.variants {
        let common = volt(v.blocking?.value);
        let (list, currents) = match v.joint_rating {
            Some(both) => (&mut rated, super::numbers::ratings(both)),
            None => (&mut unrated, ampere(v.currents[0]?.value)),
        };
        list.push(GroupedText {
            text: format!("{}\u{a0}{currents}", parenthesised(v.variant)),
            common,
        });
    }
    let heading =
        format!("Switch rating, RMS; peak, for a yield of {target} ({confidence} confidence)");
    Some(match (rated.is_empty(), unrated.is_empty()) {
        (false, true) => format!("{heading}: {}.", at_voltages(rated)),
        (false, false) => format!(
            "{heading}: {}. No rating gives {target} in the others; {target} of their converters \
             keep to an RMS current of {}.",
            at_voltages(rated),
            at_voltages(unrated)
        ),
        (true, _) => {
            format!(
                "{heading}: none. {target} of the converters keep to an RMS current of {}.",
                at_voltages(unrated)
            )
        }
    })
}

/// `(a) 6.19; 9.31 A and (c) 2.47; 3.75 A at 400 V, (b) 7.44; 11.20 A at 271 V`.
fn at_voltages(parts: Vec<GroupedText>) -> String {
    let groups = groups(parts);
    let texts = groups.iter().map(|group| format!("{} at {}", listed(&group.texts), group.common));
    texts.collect::<Vec<_>>().join(", ")
}

/// A text, and what it may have in common with others.
struct GroupedText {
    text: String,
    common: String,
}

/// Texts with something in common.
struct CommonGroup {
    common: String,
    texts: Vec<String>,
}

/// Texts by what they have in common, in the order of its first appearance.
fn groups(parts: Vec<GroupedText>) -> Vec<CommonGroup> {
    let mut groups: Vec<CommonGroup> = Vec::new();
    for GroupedText { text, common } in parts {
        match groups.iter_mut().find(|group| group.common == common) {
            Some(group) => group.texts.push(text),
            None => groups.push(CommonGroup { common, texts: vec![text] }),
        }
    }
    groups
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
    let parts = study.variants.iter().map(|v| {
        Some(format!("{}\u{a0}{}", parenthesised(v.variant), compared_percent(v.rms_excess()?)))
    });
    let parts: Vec<_> = parts.collect::<Option<_>>()?;
    Some(format!("Unequal parts add to the switch RMS current: {}.", parts.join(", ")))
}

/// How far sensors lower the switch current.
fn lower_current(study: &SensorStudy) -> Option<String> {
    let lower = |one: Variant, other: Variant| {
        let less = study.current_reduction(one, other)?;
        let remark = if study.currents_differ(one, other) { "" } else { " (not significant)" };
        let difference = difference(-less, ["higher", "lower"]);
        let [one, other] = [one, other].map(parenthesised);
        Some(format!("{difference} in {one} than in {other}{remark}"))
    };
    Some(format!(
        "Switch RMS current: {}; {}.",
        lower(Variant::ParalleledWithSensors, Variant::Paralleled)?,
        lower(Variant::ChainWithSensors, Variant::Chain)?,
    ))
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
