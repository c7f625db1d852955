//! Names of sets of grades, and of what the target says of them.

use crate::report::format::names::parameter;
use crate::report::format::numbers::counted;
use crate::report::format::tolerance;
use crate::scenario::{Grades, Scenario};
use crate::study::grades::SetResult;

/// The grades of its parts: `Lr ground, Cr film 2 %`.
pub(in crate::report::grades) fn set(grades: &Grades, result: &SetResult) -> String {
    let chosen = result.candidate.chosen(grades);
    let parts: Vec<String> = chosen
        .map(|(offer, grade)| format!("{} {}", parameter(offer.parameter).short, grade.name))
        .collect();
    if parts.is_empty() { "no part on offer".to_owned() } else { parts.join(", ") }
}

/// So many sets of grades.
pub(in crate::report::grades) fn set_count(n: usize) -> String {
    counted(n as u64, "set") + " of grades"
}

/// What the answer holds for, where parts are measured ones: those without grades, and grades.
pub(in crate::report::grades) fn measured_parts_alone(
    scenario: &Scenario,
    grades: &Grades,
) -> Option<String> {
    let has_grades = |p| grades.offers.iter().any(|offer| offer.parameter == p);
    let without = scenario.tolerances.iter().filter(|(parameter, _)| !has_grades(*parameter));
    let offered = grades.offers.iter().flat_map(|offer| &offer.grades);
    let all = without.map(|(_, own)| own).chain(offered.map(|grade| &grade.tolerance));
    tolerance::measured_parts_alone(all)
}
