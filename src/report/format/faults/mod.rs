//! The matrix of faults: its rows, the words in its cells, how page, terminal and summary show it.

pub(in crate::report) mod fault_word;
pub(in crate::report) mod json;
pub(in crate::report) mod matrix;
pub(in crate::report) mod rows;
pub(in crate::report) mod terminal;
