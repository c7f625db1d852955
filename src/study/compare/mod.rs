//! Results side by side: what changed in the scenario, in every yield, rating and cost, and which differences
//! the samples show.
//!
//! Results are read from their summaries (`read`). The passes of samples that two results share come from
//! `samples.parquet` (`passes`), so that their yields are compared pair by pair; other yields are compared as
//! independent ones, or by their own intervals (`comparison`).

mod comparison;
mod error;
mod passes;
mod read;

pub use self::comparison::{
    BasisChange, Compared, Comparison, Pairing, ValueChange, YieldChange, compare,
};
pub use self::error::CompareError;
pub use self::read::{BASIS, Measured, MeasuredKind, RECOMMENDED_SET, ReadResult, ReadYield};
