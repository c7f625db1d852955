//! What would change the answer, and up to where it holds.

use super::names::{letters_of, parenthesised};
use crate::report::format::numbers::{given_percent, level, money};
use crate::scenario::Scenario;
use crate::study::sensors::{
    BreakEvenPrice, FactorSpan, Robustness, ScaledQuantity, Sensitivity, SensorStudy, Variant,
    VariantResult, VerifiedBreakEven,
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
    let target = scenario.limits.yield_target;
    let mut without = Vec::new();
    for search in &study.sensitivities {
        match study.robustness(search, target) {
            Robustness::NotSecured { matters, .. } => {
                let list = if matters { &mut found.changes } else { &mut found.robustness };
                list.push(not_secured(scenario, study, search, matters));
            }
            Robustness::Changes(even) => {
                found.changes.push(Crossing::new(study, search, even).changes(scenario));
            }
            Robustness::Holds(even) => {
                found.robustness.push(Crossing::new(study, search, even).holds(scenario));
            }
            Robustness::NoBreakEven(span) => without.push(SearchedRange::new(search, span)),
        }
    }
    let list = if found.changes.is_empty() { &mut found.robustness } else { &mut found.changes };
    list.extend(levels(scenario, study));
    found.robustness.extend(without_crossing(&without));
    add_price(study, &mut found);
    found.robustness.extend(better_sensors(study));
    found
}

/// A verdict that the samples do not secure even at the assumed values.
fn not_secured(
    scenario: &Scenario,
    study: &SensorStudy,
    search: &Sensitivity,
    matters: bool,
) -> String {
    let assumed = match search.question.scaled {
        ScaledQuantity::Bands => "part bands",
        ScaledQuantity::SensorErrors => "sensor errors",
    };
    let variant = parenthesised(search.question.variant);
    let target = given_percent(scenario.limits.yield_target);
    let found = search.nearest().map_or_else(
        || {
            let (least, greatest) = search.factor_range();
            format!("No break-even was found from {} to {} times.", factor(least), factor(greatest))
        },
        |even| {
            let crossing = Crossing::new(study, search, even);
            let factor = factor(even.found.factor);
            format!(
                "The break-even is {factor} times ({}{}).",
                crossing.interval(),
                crossing.fresh()
            )
        },
    );
    let same = if matters { "" } else { " The answer is the same either way." };
    format!(
        "Not secured: whether {variant} meets {target} with the scenario’s own {assumed}. \
         {found}{same}"
    )
}

/// Why break-evens that exclude the assumed values leave verdicts open; none where no break-even does.
fn levels(scenario: &Scenario, study: &SensorStudy) -> Option<String> {
    let target = scenario.limits.yield_target;
    let leaves_open = |search: &Sensitivity| {
        let is_open = matches!(study.robustness(search, target), Robustness::NotSecured { .. });
        is_open && search.nearest().is_some_and(|even| !even.found.includes_assumed())
    };
    study.sensitivities.iter().any(leaves_open).then(|| {
        format!(
            "An interval of a break-even is a statement by itself ({}). Verdicts take {} intervals.",
            given_percent(scenario.limits.confidence),
            level(study.joint_level())
        )
    })
}

/// Where the yield of a variant crosses the target.
struct Crossing<'a> {
    search: &'a Sensitivity,
    checked: &'a VerifiedBreakEven,
    /// Whether the crossing lies above the scenario's values.
    above: bool,
    /// Whether so few samples show no pass, even if all are good.
    cannot_pass: bool,
}

impl<'a> Crossing<'a> {
    fn new(study: &SensorStudy, search: &'a Sensitivity, checked: &'a VerifiedBreakEven) -> Self {
        let cannot_pass = study.fewest_samples.is_none_or(|fewest| search.samples < fewest);
        Self { search, checked, above: checked.found.factor >= 1.0, cannot_pass }
    }

    /// A crossing that changes the answer.
    fn changes(&self, scenario: &Scenario) -> String {
        format!("{}: {}.", self.condition(), self.consequence(scenario))
    }

    /// A crossing that leaves the answer as it is.
    fn holds(&self, scenario: &Scenario) -> String {
        let changes = self.changes(scenario);
        format!("{changes} That alone does not change the answer.")
    }

    /// `Part bands wider than 1.31 times the scenario's (1.28 to 1.33; fresh samples: 1.32)`.
    fn condition(&self) -> String {
        let subject = match (self.search.question.scaled, self.above) {
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
        let (verb, remark) = match (self.checked.found.meets_beyond(), self.cannot_pass) {
            (true, true) => ("seems to meet", " (too few samples to show it)"),
            (true, false) => ("meets", ""),
            (false, _) => ("misses", ""),
        };
        let variant = parenthesised(self.search.question.variant);
        format!("{variant} {verb} {}{remark}", given_percent(scenario.limits.yield_target))
    }

    fn interval(&self) -> String {
        let (least, greatest) = self.search.factor_range();
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
            (None, _) => "; fresh samples agree".to_owned(),
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

/// A search that found no crossing: up to where the verdict is decided, and where the search ended.
struct SearchedRange {
    quantity: ScaledQuantity,
    variant: Variant,
    range: String,
}

impl SearchedRange {
    fn new(search: &Sensitivity, decided: &FactorSpan) -> Self {
        let (least, greatest) = search.factor_range();
        let whole = decided.from <= least && decided.to >= greatest;
        let held = range(decided.from, decided.to);
        let range = if whole {
            format!("{held} times {SUBJECTS}, where the search ended.")
        } else {
            format!(
                "{held} times {SUBJECTS}. Beyond it is not decided. The search went {}.",
                range(least, greatest)
            )
        };
        Self { quantity: search.question.scaled, variant: search.question.variant, range }
    }
}

/// Stands for what is multiplied, where searches over the same factors are told together.
const SUBJECTS: &str = "{subjects}";

/// Searches that found no crossing, those over the same factors together.
fn without_crossing(searches: &[SearchedRange]) -> Vec<String> {
    let mut ranges: Vec<&str> = searches.iter().map(|search| search.range.as_str()).collect();
    ranges.dedup();
    let sentence = |range: &&str| {
        let subjects = [ScaledQuantity::Bands, ScaledQuantity::SensorErrors]
            .into_iter()
            .filter_map(|quantity| {
                let group = searches
                    .iter()
                    .filter(|s| s.quantity == quantity && s.range == *range)
                    .map(|s| s.variant);
                let letters = letters_of(group);
                let subject = match quantity {
                    ScaledQuantity::Bands => "the part bands",
                    ScaledQuantity::SensorErrors => "the sensor errors",
                };
                (!letters.is_empty()).then(|| format!("{subject} for {letters}"))
            });
        let subjects = subjects.collect::<Vec<_>>().join(" and ");
        format!("The answer holds {}", range.replace(SUBJECTS, &subjects))
    };
    ranges.iter().map(sentence).collect()
}

/// `up to 8`.
fn range(least: f64, greatest: f64) -> String {
    let [least, greatest] = [least, greatest].map(factor);
    match (least.as_str(), greatest.as_str()) {
        ("1", "1") => "at 1".to_owned(),
        ("1", _) => format!("up to {greatest}"),
        (_, "1") => format!("down to {least}"),
        _ => format!("from {least} to {greatest}"),
    }
}

/// The price of sensor and trim element at which another variant is the cheapest.
fn add_price(study: &SensorStudy, found: &mut SensitivityText) {
    let Some((variant, price)) = price(study) else { return };
    let letter = parenthesised(variant);
    let BreakEvenPrice { estimate, interval, today } = price;
    if price.is_never_met() {
        found.robustness.push(format!(
            "Even with free sensors and trim elements {letter} costs no less than (b)."
        ));
        return;
    }
    let ends = interval
        .map_or_else(String::new, |i| format!("{} to {}; ", money(i.lower), money(i.upper)));
    let even = format!("{} per phase ({ends}now {})", money(estimate), money(today));
    found.changes.push(if !price.is_secured() {
        format!(
            "Not secured: whether {letter} costs less than (b). The break-even price of sensor and \
             trim element together is {even}."
        )
    } else if !is_a_price(estimate) {
        format!(
            "Even free sensors and trim elements are not shown to make {letter} cheaper than (b): the \
             break-even price is {even}."
        )
    } else if price.is_met_today() {
        format!("Sensor and trim element together above {even}: (b) costs less than {letter}.")
    } else {
        format!("Sensor and trim element together below {even}: {letter} costs less than (b).")
    });
}

/// Whether anything can be bought at a price: not where it rounds to nothing, or is below zero.
pub(in crate::report::sensors) fn is_a_price(price: f64) -> bool {
    price >= 0.005
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
    let highest = study.variant(Variant::Chain).cost_interval().upper;
    let with = study.variant(Variant::ParalleledWithSensors).bill.price;
    let is_taken = study.decision().cheapest == Some(Variant::Chain);
    (is_taken && with > highest).then(|| {
        format!("Better sensors do not change it: without any failure (c) costs {}.", money(with))
    })
}
