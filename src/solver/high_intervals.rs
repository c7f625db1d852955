//! The high intervals of a half bridge whose phases rise a dead time late.

use super::exact::{HighIntervals, rising_late};
use super::{Case, SteadyState, as_seen};
use crate::converter::Converter;
use crate::units::Second;

/// By what the currents of the tanks grow in the high intervals of a solved chain if all its phases rise so much
/// later, each half period being as long as it was. The parts are those under the condition of the operating
/// point. None where the state does not tell the currents at the switching instants: only the exact solver does.
///
/// That is so in half bridge where falling phases go first: a phase falls in the first dead time of its instant
/// and rises in the second dead time of the other one. Source: Kirchhoff's laws, as of the steady state.
pub fn high_intervals(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
    late: Second,
) -> Option<HighIntervals> {
    rising_late(&as_seen(state, converter, &case.point), case, state, late)
}
