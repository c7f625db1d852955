//! What a solution does to the parts that it was found for.

use std::borrow::Cow;

use super::steady_state::{SteadyState, Unsolved};
use crate::converter::Converter;

/// What became of the parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Loaded {
    /// They stay: the solution is that of the converter.
    Settled,
    /// They changed a little: a solution is to be found again, from the last one.
    Changed,
    /// The converter has no steady state.
    Failed(Unsolved),
}

/// Parts that change with their currents.
pub(super) trait Loading {
    /// Whether it changes the parts already before a solution is found, by currents that are expected after a
    /// step that changes output currents by `change` of an equal share.
    fn anticipates(&self, _change: f64) -> bool {
        false
    }

    /// Changes the parts of a converter to what currents near its solution make of them, which are expected
    /// after such a step.
    fn anticipate(&mut self, _expected: &SteadyState, _change: f64, _: &mut Cow<'_, Converter>) {}

    /// Changes the parts of a converter to what the currents of its solution make of them.
    fn load(&mut self, state: &SteadyState, converter: &mut Cow<'_, Converter>) -> Loaded;
}

/// Parts that stay as they are.
pub(super) struct Unloaded;

impl Loading for Unloaded {
    fn load(&mut self, _: &SteadyState, _: &mut Cow<'_, Converter>) -> Loaded {
        Loaded::Settled
    }
}
