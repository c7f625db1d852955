//! The operating points.

use crate::report::format::names;
use crate::report::format::numbers::count;
use crate::report::format::page::brief::Finding;
use crate::report::format::page::brief_basis::judged_at;
use crate::report::grades::subject::GradesSubject;

/// Points shown: more would not fit the sheet.
const SHOWN: usize = 6;

/// What limits, and all points.
pub(super) fn finding(told: GradesSubject) -> Finding {
    Finding { heading: heading(told), ..judged_at(told.scenario, SHOWN) }
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
