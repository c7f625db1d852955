//! What reads files: quantities with units, CSV rows, and errors that point at their place.
//!
//! Text comes in, numbers and places go out. What the numbers mean (a scenario, parts) is told by
//! the layers above.

pub mod csv;
pub mod diagnostics;
pub mod file;
pub(crate) mod quantity;
pub(crate) mod whole;
