//! What would change the answer, and up to where it holds.

use super::names::{letters_of, parenthesised};
use crate::report::format::numbers::{given_percent, money};
use crate::scenario::Scenario;
use crate::study::sensors::{
    BreakEvenPrice, ScaledQuantity, Sensitivity, SensorStudy, Variant, VariantResult,
    VerifiedBreakEven,
};

/// What would change the answer, and what would not.
#[derive(Debug, Default)]
pub(in crate::report::sensors) struct SensitivityText {
    /// Conditions under which the answer would be another, a sentence each.
    pub changes: Vec<String>,
    /// Conditions under which it was found to hold, a sentence each.
    pub robustness: Vec<String>,
}

/// All that was searched for.
pub(in crate::report::sensors) fn sensitivity(
    scenario: &Scenario,
    study: &SensorStudy,
) -> SensitivityText {
    let mut found = SensitivityText::default();
    let (mut harmless, mut without) = (Vec::new(), Vec::new());
    for turn in &study.sensitivities {
        match turn.nearest() {
            None => without.push(turn),
            Some(checked) => {
                let crossing = Crossing::new(turn, checked);
                let target = scenario.limits.yield_target;
                let next = study.decision_if(turn.question.variant, crossing.meets, target);
                if next == study.decision() {
                    harmless.push(crossing);
                } else {
                    found.changes.push(format!(
                        "{}: {}.",
                        crossing.condition(),
                        crossing.consequence(scenario)
                    ));
                }
            }
        }
    }
    found.robustness.extend(harmless_crossings(scenario, &harmless));
    found.robustness.extend(without_crossing(&without));
    add_price(study, &mut found);
    found.robustness.extend(better_sensors(study));
    found
}

/// Where the yield of a variant crosses the target.
struct Crossing<'a> {
    turn: &'a Sensitivity,
    checked: &'a VerifiedBreakEven,
    /// Whether the crossing lies above the scenario's values.
    above: bool,
    /// Whether the variant meets the target beyond the crossing.
    meets: bool,
}

impl<'a> Crossing<'a> {
    fn new(turn: &'a Sensitivity, checked: &'a VerifiedBreakEven) -> Self {
        let above = checked.found.factor >= 1.0;
        Self { turn, checked, above, meets: checked.found.meets_below != above }
    }

    /// `Part bands wider than 1.31 times the scenario's (1.28 to 1.33; fresh samples: 1.32)`.
    fn condition(&self) -> String {
        let subject = match (self.turn.question.scaled, self.above) {
            (ScaledQuantity::Bands, true) => "Part bands wider",
            (ScaledQuantity::Bands, false) => "Part bands narrower",
            (ScaledQuantity::SensorErrors, true) => "Sensor errors larger",
            (ScaledQuantity::SensorErrors, false) => "Sensor errors smaller",
        };
        format!(
            "{subject} than {} times the scenario’s ({}{})",
            factor(self.checked.found.factor),
            self.interval(),
            self.fresh()
        )
    }

    /// `(b) misses 99 %`.
    fn consequence(&self, scenario: &Scenario) -> String {
        let verb = if self.meets { "meets" } else { "misses" };
        let variant = parenthesised(self.turn.question.variant);
        format!("{variant} {verb} {}", given_percent(scenario.limits.yield_target))
    }

    fn interval(&self) -> String {
        let (least, greatest) = self.turn.factor_range();
        let found = self.checked.found;
        let lower = found
            .lower
            .map_or_else(|| format!("below {}, where the search ended,", factor(least)), factor);
        let upper = found
            .upper
            .map_or_else(|| format!("above {}, where the search ended", factor(greatest)), factor);
        format!("{lower} to {upper}")
    }

    fn fresh(&self) -> String {
        match (self.checked.fresh_factor, self.checked.contradicted) {
            (_, true) => "; fresh samples contradict it".to_owned(),
            (Some(x), _) => format!("; fresh samples: {}", factor(x)),
            (None, _) if self.checked.fresh.is_empty() => String::new(),
            (None, _) => "; fresh samples do not contradict it".to_owned(),
        }
    }
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

/// Crossings that leave the answer as it is.
fn harmless_crossings(scenario: &Scenario, crossings: &[Crossing]) -> Vec<String> {
    let sentence = |crossing: &Crossing| {
        let condition = crossing.condition();
        let (first, rest) = condition.split_at(1);
        format!(
            "The answer holds even if {}, with {}{rest}.",
            crossing.consequence(scenario),
            first.to_lowercase()
        )
    };
    crossings.iter().map(sentence).collect()
}

/// Searches that found no crossing, those over the same factors together.
fn without_crossing(turns: &[&Sensitivity]) -> Vec<String> {
    let mut ranges: Vec<String> = turns.iter().map(|turn| range(turn)).collect();
    ranges.dedup();
    let sentence = |range_of_group: &String| {
        let subjects = [ScaledQuantity::Bands, ScaledQuantity::SensorErrors]
            .into_iter()
            .filter_map(|scaled| {
                let group = turns
                    .iter()
                    .filter(|t| t.question.scaled == scaled && range(t) == *range_of_group)
                    .map(|t| t.question.variant);
                let letters = letters_of(group);
                let subject = match scaled {
                    ScaledQuantity::Bands => "the part bands",
                    ScaledQuantity::SensorErrors => "the sensor errors",
                };
                (!letters.is_empty()).then(|| format!("{subject} for {letters}"))
            });
        let subjects = subjects.collect::<Vec<_>>().join(" and ");
        format!("The answer holds {range_of_group} times {subjects}, where the search ended.")
    };
    ranges.iter().map(sentence).collect()
}

/// `up to 8`, with a remark where the samples do not decide at all factors.
fn range(turn: &Sensitivity) -> String {
    let (least, greatest) = turn.factor_range();
    let decided = turn.spans.iter().all(|s| s.comparison.is_decided());
    let remark = if decided { "" } else { " (not decided at every factor)" };
    let [least, greatest] = [least, greatest].map(factor);
    let range = match (least.as_str(), greatest.as_str()) {
        ("1", "1") => "at 1".to_owned(),
        ("1", _) => format!("up to {greatest}"),
        (_, "1") => format!("down to {least}"),
        _ => format!("from {least} to {greatest}"),
    };
    range + remark
}

/// The price of sensor and trim element at which another variant is the cheapest.
fn add_price(study: &SensorStudy, found: &mut SensitivityText) {
    let Some((variant, price)) = price(study) else { return };
    let letter = parenthesised(variant);
    let BreakEvenPrice { estimate, interval, today } = price;
    if estimate <= 0.0 {
        found.robustness.push(format!(
            "Even with free sensors and trim elements {letter} costs no less than (b)."
        ));
        return;
    }
    let (side, consequence) = if price.is_met_today() {
        ("above", format!("(b) costs less than {letter}"))
    } else {
        ("below", format!("{letter} costs less than (b)"))
    };
    let ends = interval
        .map_or_else(String::new, |i| format!("{} to {}; ", money(i.lower), money(i.upper)));
    found.changes.push(format!(
        "Sensor and trim element together {side} {} per phase ({ends}now {}): {consequence}.",
        money(estimate),
        money(today)
    ));
}

/// The variant with sensors that is compared with the chain, and its break-even price.
fn price(study: &SensorStudy) -> Option<(Variant, BreakEvenPrice)> {
    let priced = |v: &VariantResult| Some((v.variant, v.break_even?));
    match study.decision().cheapest? {
        Variant::Paralleled => None,
        Variant::Chain => study
            .variants
            .iter()
            .filter_map(priced)
            .reduce(|a, b| if b.1.estimate > a.1.estimate { b } else { a }),
        cheapest => priced(study.variant(cheapest)),
    }
}

/// Where sensors cost more than the chain even if they left no converter bad.
fn better_sensors(study: &SensorStudy) -> Option<String> {
    let chain = study.variant(Variant::Chain);
    let price =
        (study.decision().cheapest == Some(Variant::Chain)).then(|| chain.price_per_good())??;
    let with = study.variant(Variant::ParalleledWithSensors).bill.price;
    (with > price).then(|| {
        format!("Better sensors do not change it: without any failure (c) costs {}.", money(with))
    })
}
