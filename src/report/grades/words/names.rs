//! Names of sets of grades, and of what the target says of them.

use crate::report::format::names::parameter;
use crate::report::format::numbers::counted;
use crate::scenario::Grades;
use crate::statistics::Verdict;
use crate::study::grades::SetResult;

/// The grades of its parts: `Lr ground, Cr film 2 %`.
pub(in crate::report::grades) fn set(grades: &Grades, result: &SetResult) -> String {
    let chosen = result.candidate.chosen(grades);
    let parts =
        chosen.map(|(offer, grade)| format!("{} {}", parameter(offer.parameter).short, grade.name));
    parts.collect::<Vec<_>>().join(", ")
}

/// So many sets of grades.
pub(in crate::report::grades) fn set_count(n: usize) -> String {
    counted(n as u64, "set") + " of grades"
}

/// What a yield says of the target, in a column.
pub(in crate::report::grades) fn target_result(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::NotDecided => "open",
        Verdict::Fail => "fail",
    }
}
