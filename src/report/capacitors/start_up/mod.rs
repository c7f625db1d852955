//! What `capacitors` says of the start of the chain.

mod differences;
mod integrated;
pub(in crate::report::capacitors) mod json;
pub(in crate::report::capacitors) mod page;
pub(in crate::report::capacitors) mod terminal;
mod words;
