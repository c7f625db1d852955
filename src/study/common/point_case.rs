//! The case of an operating point.

use crate::converter::{Arrangement, OperatingPoint};
use crate::scenario::Scenario;
use crate::solver::Case;

/// What a converter is solved for at a point, without a start. Its switches are warmed by their loss at turn-on.
pub(in crate::study) fn case_at(
    scenario: &Scenario,
    point: &OperatingPoint,
    arrangement: Arrangement,
) -> Case {
    let case = Case::new(point.clone(), scenario.frequency, arrangement);
    Case { switch: scenario.warmed_switch(arrangement), ..case }
}
