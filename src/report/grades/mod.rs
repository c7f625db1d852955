//! The comparison of part grades on the terminal, as JSON and as CSV; its page is with the others.

pub mod csv;
pub mod json;
pub mod terminal;
pub(in crate::report) mod words;
