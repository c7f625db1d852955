//! Cells that compare a set with the one that the answer names.

use maud::Markup;

use crate::report::format::numbers::{NONE, signed_money};
use crate::report::format::page::parts::{number, remarked};
use crate::report::grades::words::{cost_ends, points, yield_ends};
use crate::study::grades::SetComparison;

/// Whether the set costs more.
pub(super) fn cost_result(against: Option<&SetComparison>) -> &'static str {
    match against {
        Some(against) if against.is_tie() => "tie",
        Some(against) if against.is_cheaper() => "lower",
        Some(against) if against.is_dearer() => "higher",
        _ => NONE,
    }
}

/// The difference of the yields.
pub(super) fn yield_difference(against: Option<&SetComparison>) -> Markup {
    match against {
        Some(SetComparison { good, .. }) => remarked(&points(good.estimate), &yield_ends(good)),
        None => number(NONE),
    }
}

/// The difference of the costs.
pub(super) fn cost_difference(against: Option<&SetComparison>) -> Markup {
    match against.and_then(|against| against.cost) {
        Some(cost) => remarked(&signed_money(cost.estimate), &cost_ends(&cost)),
        None => number(NONE),
    }
}
