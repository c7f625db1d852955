//! The operating points and the limits.

use maud::html;

use crate::report::format::names;
use crate::report::format::numbers::count;
use crate::report::format::page::brief::Finding;
use crate::report::format::page::brief_basis::{limits, operating_points};
use crate::report::grades::subject::GradesSubject;

/// Points shown: more would not fit the sheet.
const SHOWN: usize = 6;

/// What limits, all points, all limits.
pub(super) fn finding(told: GradesSubject) -> Finding {
    Finding {
        heading: heading(told),
        remark: None,
        inside: html! {
            (operating_points(told.scenario, SHOWN))
            (limits(told.scenario))
        },
    }
}

fn heading(told: GradesSubject) -> String {
    let set = told.ranking.recommended();
    match &set.binding {
        Some(binding) => format!(
            "Limited by the {} at “{}”: {} of {} failures",
            names::limit(&binding.demand).long,
            binding.operating_point,
            count(binding.missed),
            count((set.good.trials - set.good.successes).max(binding.missed))
        ),
        None => "No sample of this set fails at any operating point".to_owned(),
    }
}
