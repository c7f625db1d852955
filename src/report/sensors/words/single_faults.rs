//! What current sensors tell of a part that fails; `faults` answers in full.

use crate::converter::Drive;
use crate::scenario::Scenario;

/// What sensors see, what they do not see, and that the phases of a chain fail together.
pub(in crate::report::sensors) fn single_faults(scenario: &Scenario) -> Vec<String> {
    // A point that leaves its drive open may run in full bridge.
    let mut drives = scenario.operating_points.iter().map(|point| point.drive);
    let is_full = drives.any(|drive| drive != Some(Drive::HalfBridge));
    let damaged = if is_full {
        " In full-bridge drive many shorted parts of one leg leave the currents equal too, while a switch \
         may block the whole input."
    } else {
        ""
    };
    vec![
        "Sensors see an open rectifier or tank within a few periods: the current of its phase falls first."
            .into(),
        format!(
            "They do not see an aged flying capacitor or a dead low gate: the currents stay nearly equal.\
             {damaged}"
        ),
        "The phases of a chain fail together: one that takes no charge stops all. So failure rates may not \
         be compared phase by phase. The verb faults shows every part."
            .into(),
    ]
}
