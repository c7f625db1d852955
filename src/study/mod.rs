//! One folder a question; each gives plain results. What they share lives in [`common`].

pub mod bands;
pub mod common;
pub mod gain;
pub mod grades;
pub mod pairing;
pub mod run;
pub mod sensors;
pub mod units;
