//! How a configuration that the scenario leaves open was chosen.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
