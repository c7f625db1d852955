//! What drives a run and what changes its verdict: what terminal, page and summary tell of it.

pub(super) mod json;
mod names;
pub(super) mod page;
pub(super) mod terminal;
