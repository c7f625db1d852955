//! Estimates with their uncertainty, from samples that are pushed one at a time.
//!
//! Everything here works on bare `f64` and counts; it knows nothing of converters.
//!
//! # Methods
//!
//! | question | here | source |
//! |---|---|---|
//! | mean, standard deviation | [`Moments`] | Welford 1962; merging: Chan et al. 1979 |
//! | interval of the mean | [`Moments::mean_interval`] | Student 1908 |
//! | yield and its interval | [`Yield`], [`lower_bound`], [`upper_bound`] | Clopper & Pearson 1934 |
//! | verdict, samples it takes | [`Yield::verdict`], [`Yield::samples_to_decide`] | the same interval |
//! | difference of two yields or costs on the same samples | [`PairedCounts`] | Newcombe 1998 |
//! | samples for a content | [`samples_without_failure`], [`samples_with_failures`] | Wilks 1941 |
//! | quantile | [`Quantiles`], [`Ordered::quantile`] | inverse of the empirical distribution |
//! | interval of a quantile | [`Ordered::quantile_interval`], [`Ranks`] | David & Nagaraja 2003, 7.1 |
//! | histogram | [`Edges`], [`Histogram`] | Freedman & Diaconis 1981 |
//! | all of it for one figure | [`Distribution`], [`KeyFigures`] | |
//!
//! # Known limits
//!
//! * All intervals take the samples as independent draws of one population; they tell what sampling
//!   leaves open, not whether the population's bands and shapes are right.
//! * Clopper–Pearson and order statistic intervals cover at least as often as they say, mostly more
//!   often. The interval of the mean is approximate: it leans on the central limit theorem, and
//!   for a very skewed figure wants hundreds of samples. The standard deviation has no interval.
//! * The smallest and largest value are those seen, no bounds of the population's.
//! * Beyond its cap [`Quantiles`] counts in bins 2⁻¹² wide: quantiles are then good to 0.012 %.
//!   Magnitudes below 2⁻⁵² of the largest are counted as zero.
//! * [`Moments`] depends on the order of pushing and merging in its last bits. Everything else
//!   depends on the values alone.
//! * Values that are not finite enter no estimate; they are counted apart and shown.

mod beta;
mod confidence;
mod counters;
mod distribution;
mod error;
mod histogram;
mod moments;
mod order_statistics;
mod paired;
mod proportion;
mod quantiles;
mod sample_size;

pub use confidence::{Confidence, Interval};
pub use distribution::{Distribution, Extreme, KeyFigures};
pub use error::StatisticsError;
pub use histogram::{Edges, Histogram};
pub use moments::Moments;
pub use order_statistics::Ranks;
pub use paired::{Difference, PairedCounts, wilson};
pub use proportion::{Verdict, Yield, lower_bound, upper_bound};
pub use quantiles::{Ordered, Quantiles};
pub use sample_size::{samples_with_failures, samples_without_failure};
