//! The verdict again under other assumptions: words, table and summary of all verbs that try them.

pub(in crate::report) mod json;
pub(in crate::report) mod page;
pub(in crate::report) mod words;
