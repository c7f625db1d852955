//! The worst case, three ways: what terminal, page, summary and `worst_converters.csv` tell of it.

pub(super) mod json;
pub(super) mod page;
pub(super) mod terminal;
pub(super) mod words;
