//! Current sharing of interleaved LLC converters, over all their parts and operating points.
pub mod converter;
pub mod population;
pub mod scenario;
pub mod solver;
pub mod statistics;
pub mod units;
