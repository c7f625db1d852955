//! What `capacitors` says of how far the flying-capacitor voltages drift.

pub(in crate::report::capacitors) mod json;
pub(in crate::report::capacitors) mod page;
pub(in crate::report::capacitors) mod terminal;
mod words;
