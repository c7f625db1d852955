//! How a study samples.

use crate::population::RandomSource;
use crate::solver::Method;

/// How many samples a study draws, from which seed, and how it solves them.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Number of samples.
    pub samples: u64,
    /// Seed of the random streams.
    pub seed: u64,
    /// Solver.
    pub method: Method,
    /// Threads; 0 takes all cores. Without influence on the results.
    pub threads: usize,
}

/// Which samples are drawn, and how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draws {
    /// Where they come from.
    pub source: RandomSource,
    /// Number of samples.
    pub samples: u64,
}

impl Settings {
    /// The samples of the seed.
    pub fn draws(&self) -> Draws {
        Draws { source: self.seed.into(), samples: self.samples }
    }
}
