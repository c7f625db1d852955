//! One file a question; each gives plain results.

pub mod bands;
pub mod baseline;
pub mod choice;
pub mod curve;
pub mod demand;
pub mod figures;
pub mod gain;
pub mod grades;
pub mod pairing;
pub mod pairs;
pub mod progress;
pub mod run;
pub mod sensors;
pub mod tally;
pub mod trial;
pub mod units;
