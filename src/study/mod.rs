//! One file a question; each gives plain results.

pub mod bands;
pub mod baseline;
pub mod figures;
pub mod run;
pub mod tally;
pub mod trial;
pub mod units;
