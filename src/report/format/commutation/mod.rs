//! Soft switching: what several verbs say of it.

pub(in crate::report) mod json;
pub(in crate::report) mod words;
