//! The findings behind the answer.

use super::answer::samples_to_decide;
use super::currents;
use super::groups::{GroupedText, groups};
use super::names::{letters, listed, parenthesised};
use super::numbers::with_interval;
use crate::report::format::names;
use crate::report::format::numbers::{
    count, given_percent, level, money, samples, signed, signed_money, three, yield_percent,
};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::common::demand::Demand;
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
    all.extend(out_of_step(study));
    all.extend(unlimited(scenario, study));
    all.extend(decided_alone(scenario, study));
    all.extend(missed(study));
    all.extend(currents::currents(scenario, study));
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
    // The answer tells it of what leaves the lowest cost open.
    let is_told = decision.doubts[Variant::Chain.index()].is_some();
    if chain.is_open() && !is_told {
        text = format!("{text} {}", samples_to_decide(chain.samples_to_decide));
    }
    text
}

/// What phases at frequencies of their own do to the output, if they have them.
fn out_of_step(study: &SensorStudy) -> Option<String> {
    let [apart, chain] = [Variant::ParalleledWithSensors, Variant::Chain].map(|v| study.variant(v));
    let beat = apart.loops?.beat?.p99?;
    let [rms, peak_to_peak] = apart.ripple?.map(|ripple| ripple.p99);
    let [rms_in_step, peak_to_peak_in_step] = chain.ripple?.map(|ripple| ripple.p99);
    Some(format!(
        "(c) phases do not keep step: output ripple {}\u{a0}A RMS over a whole beat (99\u{a0}% quantile), in (b) \
         {}\u{a0}A. From lowest to highest it reaches {}\u{a0}A, in (b) {}\u{a0}A. It beats at up to {}\u{a0}kHz (99\u{a0}% quantile): \
         the output filter must take that.",
        three(rms?),
        three(rms_in_step?),
        three(peak_to_peak?),
        three(peak_to_peak_in_step?),
        three(beat / 1e3),
    ))
}

/// Variants without a limit, where others have some. That none has is said before the answer.
fn unlimited(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let without =
        letters(study, |v| !Demand::is_any_set(&scenario.limits, v.variant.arrangement()));
    let is_some = study.variants.iter().any(|variant| variant.is_judged);
    (is_some && !without.is_empty())
        .then(|| format!("Not judged: {without}. No limit is set for their arrangement."))
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
        "no difference in yield seen".to_owned()
    } else {
        let significance = if change.is_significant() { "" } else { "; not significant" };
        let points = signed(100.0 * good.estimate, 3);
        let (gained, lost) = (samples(counts.first), count(counts.second));
        format!("yield {points} points ({gained} gained, {lost} lost{significance})")
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
