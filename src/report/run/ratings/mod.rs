//! What to order: the rating of every part, on terminal and page, in the summary and `ratings.csv`.

pub(super) mod csv;
pub(super) mod json;
pub(super) mod page;
pub(super) mod terminal;
mod words;
