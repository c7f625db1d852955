//! How large the flying capacitors must be: its words, its part of terminal, page and summary, and
//! `capacitors.csv`.

pub(super) mod brief;
pub(super) mod csv;
mod figures;
pub(super) mod json;
pub(super) mod page;
mod purchase;
pub(super) mod terminal;
mod words;
