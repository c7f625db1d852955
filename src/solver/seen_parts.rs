//! The parts of a converter as the tanks of a solution see them.

use std::borrow::Cow;

use crate::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use crate::solver::dissipation::{Nearby, SelfHeated};
use crate::solver::{Case, SteadyState};

/// A chain, whose parts are those under the condition of the operating point, as its tanks see it: where
/// losses are told apart, with the resistances and drops that these make of the currents of a solution.
pub fn as_seen<'a>(
    state: &SteadyState,
    converter: &'a Converter,
    point: &OperatingPoint,
) -> Cow<'a, Converter> {
    if converter.losses.is_none() {
        return Cow::Borrowed(converter);
    }
    let frequency = state.switching_frequency;
    let band = FrequencyBand { minimum: frequency, maximum: frequency };
    let mut case = Case::new(point.clone(), band, Arrangement::Chain);
    case.nearby = Some(Box::new(Nearby::new(state.clone())));
    Cow::Owned(SelfHeated::new(converter, &case).first())
}
