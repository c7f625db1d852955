//! Under which conditions the decision would be another.

use super::numbers::{given, money};
use crate::scenario::Scenario;
use crate::study::sensors::{
    BreakEvenPrice, ScaledQuantity, Sensitivity, SensorStudy, Variant, VariantResult,
    VerifiedBreakEven,
};

/// What would turn the decision over, and what would not.
#[derive(Debug, Default)]
pub(in crate::report::sensors) struct SensitivityText {
    /// A condition each.
    pub would: Vec<String>,
    /// All that was looked at and would not, in a sentence or two.
    pub would_not: Option<String>,
}

/// All that was searched for.
pub(in crate::report::sensors) fn sensitivity(
    scenario: &Scenario,
    study: &SensorStudy,
) -> SensitivityText {
    let (mut would, mut idle, mut quiet) = (Vec::new(), Vec::new(), Vec::new());
    for turn in &study.sensitivities {
        match turn.nearest() {
            None => quiet.push(turn),
            Some(checked) => {
                let found = found(scenario, turn, checked);
                let target = scenario.limits.yield_target;
                let next = study.decision_if(turn.question.variant, found.meets, target);
                let list = if next == study.decision() { &mut idle } else { &mut would };
                list.push(found.text);
            }
        }
    }
    let mut others = Vec::new();
    if !idle.is_empty() {
        others.push(format!("Of no consequence: {}.", idle.join("; ")));
    }
    others.extend(nothing(&quiet));
    match price(study) {
        Some((true, text)) => would.push(text),
        Some((false, text)) => others.push(text),
        None => {}
    }
    others.extend(better(study));
    SensitivityText { would, would_not: (!others.is_empty()).then(|| others.join(" ")) }
}

fn factor(x: f64) -> String {
    if x < 0.995 {
        format!("{x:.3}")
    } else if x.fract() < 1e-9 {
        format!("{x:.0}")
    } else {
        format!("{x:.2}")
    }
}

fn axis(scaled: ScaledQuantity) -> &'static str {
    match scaled {
        ScaledQuantity::Bands => "all part bands",
        ScaledQuantity::SensorErrors => "all sensor errors",
    }
}

/// Beyond a break-even.
struct Found {
    /// Whether the variant meets the target there.
    meets: bool,
    text: String,
}

fn found(scenario: &Scenario, turn: &Sensitivity, checked: &VerifiedBreakEven) -> Found {
    let letter = turn.question.variant.letter();
    let target = given(scenario.limits.yield_target);
    let above = checked.found.factor >= 1.0;
    let meets = checked.found.meets_below != above;
    let then = if meets { "meet" } else { "miss" };
    let how = match (turn.question.scaled, above) {
        (ScaledQuantity::Bands, true) => "wider",
        (ScaledQuantity::Bands, false) => "narrower",
        (ScaledQuantity::SensorErrors, true) => "larger",
        (ScaledQuantity::SensorErrors, false) => "smaller",
    };
    let at = times(turn, checked);
    let text = format!(
        "if {} were {how} than {at}, ({letter}) would {then} {target}",
        axis(turn.question.scaled)
    );
    Found { meets, text }
}

/// `1.30 times (1.28 to 1.33; fresh samples: 1.32)`.
fn times(turn: &Sensitivity, checked: &VerifiedBreakEven) -> String {
    let (least, greatest) = turn.factor_range();
    let found = checked.found;
    let stopped = |side, x: f64| format!("{side} {}, where the search stopped", factor(x));
    let lower = found.lower.map_or_else(|| stopped("from below", least) + ",", factor);
    let upper = found.upper.map_or_else(|| stopped("beyond", greatest), factor);
    let fresh = match (checked.fresh_factor, checked.contradicted) {
        (_, true) => "; fresh samples contradict it".to_owned(),
        (Some(x), _) => format!("; fresh samples: {}", factor(x)),
        (None, _) if checked.fresh.is_empty() => String::new(),
        (None, _) => "; fresh samples do not contradict it".to_owned(),
    };
    format!("{} times ({lower} to {upper}{fresh})", factor(found.factor))
}

/// Searches that found no break-even, those over the same factors together.
fn nothing(turns: &[&Sensitivity]) -> Option<String> {
    let mut ranges: Vec<String> = turns.iter().map(|turn| range(turn)).collect();
    ranges.dedup();
    let each = ranges.iter().map(|own| {
        let on =
            [ScaledQuantity::Bands, ScaledQuantity::SensorErrors].into_iter().filter_map(|asked| {
                let of = turns.iter().filter(|t| t.question.scaled == asked && range(t) == *own);
                let letters: Vec<_> =
                    of.map(|t| format!("({})", t.question.variant.letter())).collect();
                (!letters.is_empty()).then(|| format!("{} for {}", axis(asked), letters.join(", ")))
            });
        format!("{own} on {} changes it", on.collect::<Vec<_>>().join(" or "))
    });
    let text = each.collect::<Vec<_>>().join("; ");
    (!text.is_empty()).then(|| text + "; no further was looked.")
}

fn range(turn: &Sensitivity) -> String {
    let (least, greatest) = turn.factor_range();
    let sure = turn.spans.iter().all(|s| s.comparison.is_decided());
    let open = if sure { "" } else { " (not sure all along)" };
    format!("No factor from {} to {}{open}", factor(least), factor(greatest))
}

/// The price of sensor and trim element at which another variant is the cheapest; whether there is
/// one.
fn price(study: &SensorStudy) -> Option<(bool, String)> {
    let sensed = |v: &&VariantResult| v.break_even.is_some();
    let (result, even) = match study.decision().cheapest? {
        Variant::Paralleled => return None,
        Variant::Chain => {
            let all = study.variants.iter().filter(sensed).map(|v| (v, v.break_even));
            let most = all.reduce(|a, b| if estimate(b.1) > estimate(a.1) { b } else { a })?;
            (most.0, most.1?)
        }
        taken => (study.variant(taken), study.variant(taken).break_even?),
    };
    let letter = result.variant.letter();
    let phrase = "sensor and trim element together";
    let BreakEvenPrice { estimate, interval, today } = even;
    if estimate <= 0.0 {
        return Some((
            false,
            format!("any price of {phrase}: not even as a gift does ({letter}) cost less"),
        ));
    }
    let range = interval
        .map_or_else(String::new, |i| format!(" ({} to {})", money(i.lower), money(i.upper)));
    let (side, then, now) = if even.is_met_today() {
        ("over", format!("(b) would cost less than ({letter})"), "crossed")
    } else {
        ("under", format!("({letter}) would cost less than (b)"), "not crossed")
    };
    let (at, today) = (money(estimate), money(today));
    let text = format!("if {phrase} cost {side} {at}{range} a phase (now {today}: {now}): {then}");
    Some((true, text))
}

fn estimate(price: Option<BreakEvenPrice>) -> f64 {
    price.map_or(f64::NEG_INFINITY, |p| p.estimate)
}

/// Where sensors cost more than the chain even if they left no converter bad.
fn better(study: &SensorStudy) -> Option<String> {
    let chain = study.variant(Variant::Chain);
    let price =
        (study.decision().cheapest == Some(Variant::Chain)).then(|| chain.price_per_good())??;
    let with = study.variant(Variant::ParalleledWithSensors).bill.price;
    (with > price).then(|| {
        format!("Better sensors would not turn it: (c) costs {} with none failing.", money(with))
    })
}
