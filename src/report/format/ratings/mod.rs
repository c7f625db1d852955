//! What to order: the rating of every part, on terminal and page and in the summary.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod terminal;
pub(in crate::report) mod words;
