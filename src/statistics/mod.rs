#![doc = include_str!("methods.md")]

mod beta;
mod confidence;
pub mod copula;
mod correlation;
pub mod correlation_matrix;
mod counters;
mod distribution;
mod error;
mod estimator;
mod goodness_of_fit;
mod held_out_limits;
mod histogram;
mod joint_limits;
mod marginal;
mod measured_files;
mod memo;
mod moments;
pub mod normal;
mod order_statistics;
mod outcome_changes;
mod outliers;
mod paired;
mod proportion;
mod quantiles;
mod sample_size;
mod sequential;
pub mod shapes;
mod spread;
mod unpaired;
mod variance_shares;

pub use confidence::{Confidence, Interval};
pub use correlation::PearsonCorrelation;
pub use distribution::{Distribution, Extreme, KeyFigures};
pub use error::StatisticsError;
pub use estimator::Estimator;
pub use goodness_of_fit::{FitDistances, FitProbabilities};
pub use held_out_limits::{HeldOutLimits, HeldOutPlan};
pub use histogram::{Edges, Histogram};
pub use joint_limits::LargestPairs;
pub use marginal::Marginal;
pub use measured_files::{FileEffect, HeldPart, InfluenceTally};
pub use moments::Moments;
pub use order_statistics::Ranks;
pub use outcome_changes::{ChangedYield, OutcomeChanges};
pub use outliers::{
    FAR_OUT, expected_far_out, far_out, median, neighbour_correlation, neighbours_depend,
};
pub use paired::{Difference, PairedCounts, wilson};
pub use proportion::{IntervalMethod, Verdict, Yield, lower_bound, upper_bound};
pub use quantiles::{Ordered, QuantileEnd, QuantileInterval, Quantiles};
pub use sample_size::{samples_with_failures, samples_without_failure};
pub use sequential::SequentialTest;
pub use spread::{Capability, sd_interval};
pub use unpaired::{Passes, independent_difference};
pub use variance_shares::{MixedDraw, PickFreeze, VarianceShare, VarianceShares};
