//! What drives the figures: the result.

use super::group::Driver;
use crate::statistics::VarianceShares;
use crate::study::common::figures::Figure;

/// What drives the figures of all cases.
#[derive(Debug, Clone)]
pub struct Drivers {
    /// Draws of which each driver was exchanged.
    pub draws: u64,
    /// One a case, in the run's order.
    pub cases: Vec<CaseDrivers>,
}

/// From so many draws on the intervals of shares hold nearly as often as they say: see the methods of
/// `statistics`.
const DRAWS_OF_INTERVALS: u64 = 100;

impl Drivers {
    /// Whether intervals hold less often than they say.
    pub fn has_rough_intervals(&self) -> bool {
        self.draws < DRAWS_OF_INTERVALS
    }
}

/// What drives the figures of one operating point in one arrangement.
#[derive(Debug, Clone)]
pub struct CaseDrivers {
    /// Exchanged draws that have no figure, because one of the three converters is out of range or not
    /// solved. They are left out.
    pub left_out: u64,
    /// The limited figures, then the output current of every phase; those that do not vary are not
    /// here.
    pub figures: Vec<FigureDrivers>,
}

/// What drives one figure.
#[derive(Debug, Clone)]
pub struct FigureDrivers {
    /// The figure.
    pub figure: Figure,
    /// Share of its variance that a linear model of all parts explains; none where too few samples
    /// were kept to fit one.
    pub linear: Option<f64>,
    /// The drivers that the arrangement has, in the order of [`Driver::all`].
    pub shares: Vec<DriverShares>,
}

/// What a driver explains of a figure.
#[derive(Debug, Clone)]
pub struct DriverShares {
    /// The driver.
    pub driver: Driver,
    /// Its shares of the variance.
    pub shares: VarianceShares,
}
