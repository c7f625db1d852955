//! Tolerance bands: what terminal and summary say of them.

mod json;
mod terminal;
pub(super) mod words;

pub use self::json::summary;
pub use self::terminal::text;
