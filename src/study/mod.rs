//! One folder a question; each gives plain results. What they share lives in [`common`].

pub mod allocation;
pub mod bands;
pub mod capacitors;
pub mod check;
pub mod common;
pub mod compare;
pub mod explanation;
pub mod faults;
pub mod gain;
pub mod grades;
pub mod run;
pub mod sensors;
pub mod shapes;
pub mod units;
