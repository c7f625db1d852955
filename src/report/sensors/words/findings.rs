//! The numbers behind the answer.

use super::names::demand;
use super::numbers::{given, money, percent_of, signed, with_interval};
use crate::report::format::numbers::{grouped, yield_percent};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::common::figures::{Leg, Side};
use crate::study::sensors::{SensorStudy, Variant, VariantDifference, VariantResult};

/// A sentence or two each.
pub(in crate::report::sensors) fn findings(
    scenario: &Scenario,
    study: &SensorStudy,
) -> Vec<String> {
    let mut all = vec![chain(study)];
    all.extend(on_top(study));
    all.push(instead(study));
    all.extend(missed(study));
    all.extend(ratings(scenario, study));
    all.extend(smaller(study));
    all
}

fn good(result: &VariantResult) -> String {
    match result.price_per_good() {
        Some(price) => {
            format!("{} good, {} a good converter", with_interval(&result.good), money(price))
        }
        None => "none good".into(),
    }
}

fn chain(study: &SensorStudy) -> String {
    let chain = study.variant(Variant::Chain);
    let mut text = format!("The chain alone (b): {}.", good(chain));
    if chain.verdict == Verdict::NotDecided {
        text.push_str(&chain.samples_to_decide.map_or_else(
            || " No practical number of samples would decide.".to_owned(),
            |n| format!(" About {} samples would decide, at this proportion.", grouped(n)),
        ));
    }
    text
}

/// What sensors buy on top of the chain, and for how much.
fn on_top(study: &SensorStudy) -> Option<String> {
    let change = study.difference(Variant::ChainWithSensors, Variant::Chain).ok()?;
    let VariantDifference { counts, good, price_per_good, failure_rate, .. } = change;
    let chance = if change.is_significant() { "" } else { ", which may be chance" };
    let gain = if counts.first + counts.second == 0 {
        "no change of yield".to_owned()
    } else {
        let points = signed(100.0 * good.estimate, 3);
        let [gained, lost] = [counts.first, counts.second].map(grouped);
        format!("{points} points of yield ({gained} gained, {lost} lost{chance})")
    };
    let price = price_per_good.map_or_else(String::new, |more| {
        let how = if more < 0.0 { "less" } else { "more" };
        format!("{} {how} a good converter and ", money(more.abs()))
    });
    Some(format!("Sensors on top (d): {gain} for {price}{failure_rate:.0} FIT more."))
}

/// What sensors do instead of the chain, and what neither does.
fn instead(study: &SensorStudy) -> String {
    let [bare, chain, with] = [Variant::Paralleled, Variant::Chain, Variant::ParalleledWithSensors]
        .map(|v| study.variant(v));
    format!(
        "Sensors instead (c): {}, {:.0} FIT against {:.0}. Without either, (a): {}.",
        good(with),
        with.bill.failure_rate,
        chain.bill.failure_rate,
        good(bare)
    )
}

/// What the variants that do not pass miss most often.
fn missed(study: &SensorStudy) -> Option<String> {
    let failing = study.variants.iter().filter(|v| v.verdict != Verdict::Pass);
    let each = failing.filter_map(|v| {
        let binding = v.binding.as_ref()?;
        let share = yield_percent(binding.missed as f64 / v.good.trials as f64);
        let what = format!("{} at “{}”", demand(&binding.demand), binding.operating_point);
        Some((format!("({}) in {share}", v.variant.letter()), what))
    });
    let groups = groups(each.collect());
    let each = groups.iter().map(|(what, who)| format!("{what}, {}", who.join(", ")));
    let text = each.collect::<Vec<_>>().join("; ");
    (!text.is_empty()).then(|| format!("Missed most often: {text}."))
}

/// The ratings that surely give the target, at the voltages that the switches block.
fn ratings(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let target = given(scenario.limits.yield_target);
    let (mut rated, mut unrated) = (Vec::new(), Vec::new());
    for v in &study.variants {
        let voltage = format!("{:.0} V", v.blocking?.value);
        let surely = v.ratings[0].and_then(|r| r.required_rating());
        let list = if surely.is_some() { &mut rated } else { &mut unrated };
        let current = surely.or(v.currents[0].map(|r| r.value))?;
        list.push((format!("({}) {current:.2} A", v.variant.letter()), voltage));
    }
    let text = match (rated.is_empty(), unrated.is_empty()) {
        (false, true) => at_voltages(rated),
        (false, false) => format!(
            "{}; no rating does in the others, of which {target} keep to {}",
            at_voltages(rated),
            at_voltages(unrated)
        ),
        _ => format!("none; {target} keep to {}", at_voltages(unrated)),
    };
    Some(format!("Switch rating, RMS, that surely gives {target}: {text}.{}", which(study)))
}

/// `(a) 6.19 A and (c) 2.47 A at 400 V, (b) 7.44 A at 271 V`.
fn at_voltages(each: Vec<(String, String)>) -> String {
    let groups = groups(each);
    let each = groups.iter().map(|(voltage, texts)| {
        let (last, others) = texts.split_last().map_or(("", &[][..]), |(l, o)| (l.as_str(), o));
        let and = if others.is_empty() { "" } else { " and " };
        format!("{}{and}{last} at {voltage}", others.join(", "))
    });
    each.collect::<Vec<_>>().join(", ")
}

/// Texts by what they have in common, in the order of its first appearance.
fn groups(each: Vec<(String, String)>) -> Vec<(String, Vec<String>)> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for (text, common) in each {
        match groups.iter_mut().find(|(c, _)| *c == common) {
            Some((_, texts)) => texts.push(text),
            None => groups.push((common, vec![text])),
        }
    }
    groups
}

/// Which switches are the worst, where not all are alike.
fn which(study: &SensorStudy) -> String {
    let worst = &study.variant(Variant::Chain).worst_switches;
    let names: Vec<_> = worst
        .iter()
        .map(|(leg, side)| {
            let side = if *side == Side::High { "high" } else { "low" };
            let leg = if *leg == Leg::Return { "return" } else { "driven" };
            format!("{side} side of the {leg} leg")
        })
        .collect();
    if names.is_empty() { String::new() } else { format!(" Worst: the {}.", names.join(", ")) }
}

/// What unequal parts cost, and how much smaller a switch may be.
fn smaller(study: &SensorStudy) -> Option<String> {
    let over: Option<Vec<_>> = study
        .variants
        .iter()
        .map(|v| Some(format!("({}) {}", v.variant.letter(), percent_of(v.oversize()[0]? - 1.0))))
        .collect();
    let than = |one: Variant, other: Variant| {
        let less = study.current_reduction(one, other)?;
        let how = if less < 0.0 { "larger" } else { "smaller" };
        Some(format!(
            "{} {how} in ({}) than in ({})",
            percent_of(less.abs()),
            one.letter(),
            other.letter()
        ))
    };
    let uneven = study.chain_current_if_uneven()?;
    let less = 1.0 - study.variant(Variant::Chain).currents[0]?.value / uneven;
    Some(format!(
        "Unequal parts add to the switch current {}. So a switch may be {}, {}; and {} smaller in \
         (b) than if the chain shared as unevenly as (a), which would take {uneven:.2} A (a \
         hypothesis: no chain does).",
        over?.join(", "),
        than(Variant::ParalleledWithSensors, Variant::Paralleled)?,
        than(Variant::ChainWithSensors, Variant::Chain)?,
        percent_of(less),
    ))
}
