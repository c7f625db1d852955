//! Costs, differences and lead times; numbers of other verbs too live in `report::format::numbers`.

use crate::report::format::numbers::{
    NONE, count, grouped, money, money_decimals, signed, yield_percent,
};
use crate::statistics::{Difference, Yield};
use crate::study::grades::Cost;

/// Sums from here on have no decimals.
const LARGE: f64 = 1000.0;

/// A cost per good converter; it is infinite where no converter is good.
pub(in crate::report::grades) fn cost(amount: f64) -> String {
    if amount.is_finite() { money(amount) } else { "no good converter".into() }
}

/// A sum of money of a whole series: whole units of the currency from a thousand on.
pub(in crate::report::grades) fn sum(amount: f64) -> String {
    if !(LARGE..1e15).contains(&amount) {
        return cost(amount);
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within bounds")]
    count(amount.round() as u64)
}

/// Both ends of a cost.
pub(in crate::report::grades) fn cost_bounds(found: Cost) -> String {
    format!("{} to {}", cost(found.lower), cost(found.upper))
}

/// Both ends of a yield.
pub(in crate::report::grades) fn yield_bounds(good: &Yield) -> String {
    format!("{} to {}", yield_percent(good.lower), yield_percent(good.upper))
}

/// Both ends of a difference of costs, to the same decimals.
pub(in crate::report::grades) fn cost_ends(cost: &Difference) -> String {
    let decimals = money_decimals(cost.lower.abs().max(cost.upper.abs()));
    [cost.lower, cost.upper].map(|end| grouped(&signed(end, decimals))).join(" to ")
}

/// A difference of yields in percentage points, with its sign.
pub(in crate::report::grades) fn points(share: f64) -> String {
    signed(100.0 * share, 2)
}

/// Both ends of a difference of yields, in percentage points.
pub(in crate::report::grades) fn yield_ends(good: &Difference) -> String {
    format!("{} to {}", points(good.lower), points(good.upper))
}

/// Weeks, or a dash.
pub(in crate::report::grades) fn weeks(weeks: Option<f64>) -> String {
    weeks.map_or_else(|| NONE.into(), |weeks| weeks.to_string())
}
