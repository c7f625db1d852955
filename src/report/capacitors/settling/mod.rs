//! What `capacitors` says of how the flying capacitors settle.

mod figures;
pub(in crate::report::capacitors) mod json;
pub(in crate::report::capacitors) mod page;
pub(in crate::report::capacitors) mod terminal;
mod words;
