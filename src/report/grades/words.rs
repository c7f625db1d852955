//! Numbers and names of the comparison of grades, as terminal, page and files write them.

use crate::converter::Parameter;
use crate::report::format::numbers::{grouped, yield_percent};
use crate::scenario::Grades;
use crate::statistics::{Difference, Verdict};
use crate::study::grades::SetResult;

/// The usual symbol of a parameter.
pub(in crate::report) fn symbol(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::ResonantInductance => "Lr",
        Parameter::ResonantCapacitance => "Cr",
        Parameter::MagnetisingInductance => "Lm",
        Parameter::TurnsRatio => "n",
        Parameter::SeriesResistance => "R",
        Parameter::RectifierDrop => "Vd",
        Parameter::FlyingCapacitance => "Cf",
    }
}

/// The grades of its parts: `Lr ground, Cr film 2 %`.
pub(in crate::report) fn set(grades: &Grades, result: &SetResult) -> String {
    let chosen = result.candidate.chosen(grades);
    let each = chosen.map(|(offer, grade)| format!("{} {}", symbol(offer.parameter), grade.name));
    each.collect::<Vec<_>>().join(", ")
}

/// So many sets of grades.
pub(in crate::report) fn sets(n: usize) -> String {
    if n == 1 { "1 set of grades".into() } else { format!("{n} sets of grades") }
}

/// A verdict in a table.
pub(in crate::report) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::NotDecided => "open",
        Verdict::Fail => "fail",
    }
}

/// How a set stands to the yield target, in words.
pub(in crate::report) fn standing(set: &SetResult, target: f64) -> String {
    let good = yield_percent(set.good.estimate);
    match set.good.verdict(target) {
        Verdict::Pass => format!("{good}: meets the target"),
        Verdict::Fail => format!("{good}: misses the target"),
        Verdict::NotDecided => match set.good.samples_to_decide(target) {
            Some(n) => format!("{good}: not decided, some {} samples would", grouped(n)),
            None => format!("{good}: not decided"),
        },
    }
}

/// A change as a share, in percent with its sign.
pub(in crate::report) fn signed_percent(share: f64) -> String {
    let sign = if share > 0.0 { "+" } else { "" };
    format!("{sign}{:.1}\u{a0}%", 100.0 * share).replace('-', "−")
}

/// An amount of money, without its unit: two decimals, more below one.
pub(in crate::report) fn money(amount: f64) -> String {
    if amount.is_finite() {
        format!("{amount:.*}", decimals(amount)).replace('-', "−")
    } else {
        "no good converter".into()
    }
}

fn decimals(amount: f64) -> usize {
    if amount == 0.0 || amount.abs() >= 0.1 { 2 } else { 4 }
}

/// An amount with its sign.
pub(in crate::report) fn signed(amount: f64) -> String {
    with_sign(amount, decimals(amount))
}

fn with_sign(amount: f64, decimals: usize) -> String {
    let sign = if amount > 0.0 { "+" } else { "" };
    format!("{sign}{amount:.decimals$}").replace('-', "−")
}

/// Both ends of a difference of costs, to the same decimals.
pub(in crate::report) fn cost_ends(cost: &Difference) -> String {
    let decimals = decimals(cost.lower.abs().max(cost.upper.abs()));
    [cost.lower, cost.upper].map(|end| with_sign(end, decimals)).join(" to ")
}

/// A difference of yields in percentage points, with its sign.
pub(in crate::report) fn points(share: f64) -> String {
    let sign = if share > 0.0 { "+" } else { "" };
    format!("{sign}{:.2}", 100.0 * share).replace('-', "−")
}

/// Both ends of a difference of yields, in percentage points.
pub(in crate::report) fn yield_ends(good: &Difference) -> String {
    format!("{} to {}", points(good.lower), points(good.upper))
}

/// Weeks, or a dash.
pub(in crate::report) fn weeks(weeks: Option<f64>) -> String {
    weeks.map_or_else(|| "–".into(), |weeks| weeks.to_string())
}
