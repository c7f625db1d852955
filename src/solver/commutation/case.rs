//! What a commutation is asked of.

use crate::converter::{Arrangement, Converter, OperatingPoint, SwitchSpecification};
use crate::solver::SteadyState;

/// A solved converter whose switching is asked about.
#[derive(Debug, Clone, Copy)]
pub struct CommutationCase<'a> {
    /// Its steady state, by the exact solver: the averaged one does not tell the currents at the
    /// switching instants.
    pub state: &'a SteadyState,
    /// Its parts, under the condition of the operating point.
    pub converter: &'a Converter,
    /// The operating point.
    pub point: &'a OperatingPoint,
    /// The arrangement of its phases.
    pub arrangement: Arrangement,
    /// Its switches and their timing.
    pub switch: &'a SwitchSpecification,
}
