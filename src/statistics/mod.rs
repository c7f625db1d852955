#![doc = include_str!("methods.md")]

mod beta;
mod confidence;
mod counters;
mod distribution;
mod error;
mod estimator;
mod histogram;
mod joint_limits;
mod moments;
pub mod normal;
mod order_statistics;
mod outcome_changes;
mod paired;
mod proportion;
mod quantiles;
mod sample_size;
mod sequential;
mod variance_shares;

pub use confidence::{Confidence, Interval};
pub use distribution::{Distribution, Extreme, KeyFigures};
pub use error::StatisticsError;
pub use estimator::Estimator;
pub use histogram::{Edges, Histogram};
pub use joint_limits::LargestPairs;
pub use moments::Moments;
pub use order_statistics::Ranks;
pub use outcome_changes::{ChangedYield, OutcomeChanges};
pub use paired::{Difference, PairedCounts, wilson};
pub use proportion::{IntervalMethod, Verdict, Yield, lower_bound, upper_bound};
pub use quantiles::{Ordered, QuantileEnd, QuantileInterval, Quantiles};
pub use sample_size::{samples_with_failures, samples_without_failure};
pub use sequential::SequentialTest;
pub use variance_shares::{MixedDraw, PickFreeze, VarianceShare, VarianceShares};
