//! The main question: how probable is it, over all parts and operating points, that sharing stays
//! within the limit and no switch is overloaded?
//!
//! [`RunSamples`] goes through all samples or a part of them (`sampling`) and is joined with those of later
//! ones. Once it holds all samples, it solves the first ones with both solvers (`comparison`) and reads the
//! results from what was kept (`evaluation`). [`run`] does both in one go.

mod arrangement_ratio;
mod batches;
mod comparison;
mod drawn;
mod evaluation;
mod limit_counts;
mod measured;
mod median_sample;
mod over_points;
mod result;
mod run_samples;
mod sample_size;
mod sampled_figures;
mod sampling;
mod solver_difference;
mod waveforms;

pub use self::batches::{ArrangementBatches, Batches};
pub use self::comparison::SolverComparison;
pub use self::drawn::{DrawnConverter, DrawnConverters, DrawnResult};
pub use self::limit_counts::{LimitCounts, ScopeCounts};
pub use self::measured::{Lack, MeasuredPartsYield};
pub use self::median_sample::MedianSample;
pub use self::over_points::{CommonBins, LargestFigure, OverPoints};
pub use self::result::{
    AgeYield, Allowance, CaseResult, ConverterWaveforms, DecidingRun, Forecast, Joint,
    PointWaveforms, Run, ToleranceLimit, WaveformChoice, Worst,
};
pub use self::run_samples::RunSamples;
pub use self::sample_size::SampleSize;
pub use self::sampled_figures::sampled_figures;
pub use self::sampling::{NoSink, SampleSink};
pub use self::solver_difference::SolverDifference;
use crate::population::RandomSource;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;

/// Draws and solves samples of a source, so many as `size` asks for; `sink` receives them as they
/// are solved.
///
/// # Errors
///
/// When the user asks to stop, when `sink` fails.
pub fn run(
    session: &Session,
    source: RandomSource,
    size: SampleSize,
    sink: &mut dyn SampleSink,
    progress: &mut dyn Progress,
) -> Result<Run, StudyError> {
    let mut samples = RunSamples::none(session, source, size)?;
    samples.add(0..size.most(), sink, progress)?;
    samples.result(sink.has_files(), progress)
}
