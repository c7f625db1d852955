//! How the parts scatter about their nominal values: the tables `[tolerance.X]`.
//!
//! - `shape`: distributions over a band;
//! - `single`: the tolerance of one parameter; `set`: those of all;
//! - `response`: how parts respond to temperature and age;
//! - `correlation`: what parameters have in common;
//! - `reader`, `keys`: the keys of a table;
//! - `measured`: columns of measured parts;
//! - `matching`: parts that are measured and sorted before they go into converters.

mod correlation;
mod keys;
mod matching;
mod measured;
mod reader;
mod response;
mod set;
mod shape;
mod single;

pub use self::correlation::{Copula, Correlation, CorrelationError};
pub(super) use self::correlation::{Member, errors};
pub(super) use self::keys::{BAND, MeasuredFiles, PartContext};
pub use self::matching::Matching;
pub(super) use self::matching::read_matching;
pub use self::measured::FARTHEST_PART;
pub(super) use self::reader::{
    BAND_OF_GAIN, BandKey, ScatterKeys, read_all, read_scatter, sensor_error,
};
pub use self::response::ResponseTolerance;
pub use self::set::Tolerances;
pub use self::shape::{MeasuredParts, Shape};
pub use self::single::{Process, Tolerance};
