//! What a run finds.

use itertools::Itertools;

use crate::converter::{Age, Arrangement, Converter};
use crate::population::RandomSource;
use crate::solver::SteadyState;
use crate::statistics::{Histogram, KeyFigures, QuantileEnd, Verdict, Yield};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::figures::Figure;
use crate::study::common::missed::NominalMiss;
use crate::study::common::nominal::Baseline;
use crate::study::common::ratings::PopulationRatings;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::PopulationSwitching;
use crate::study::common::waveforms::ArrangementWaveforms;
use crate::study::common::yield_curve::YieldPoint;
use crate::study::run::batches::Batches;
use crate::study::run::comparison::SolverComparison;
use crate::study::run::drawn::DrawnConverters;
use crate::study::run::limit_counts::LimitCounts;
use crate::study::run::measured::{Lack, MeasuredPartsYield};
use crate::study::run::median_sample::MedianSample;
use crate::study::run::over_points::CommonBins;
use crate::study::run::sample_size::{MOST_IN_FILES, SampleSize};

/// The result of a run.
#[derive(Debug)]
pub struct Run {
    /// How it was carried out; the samples are those drawn.
    pub settings: Settings,
    /// How their number came about.
    pub size: SampleSize,
    /// Where the samples come from.
    pub source: RandomSource,
    /// Whether the samples were handed on to files.
    pub has_files: bool,
    /// The figures taken, in the order of every case's key figures.
    pub figures: Vec<Figure>,
    /// One an operating point and arrangement, the chain before the paralleled reference.
    pub cases: Vec<CaseResult>,
    /// How the switches turn on; none where the scenario does not describe them, and with the averaged
    /// solver.
    pub switching: Option<PopulationSwitching>,
    /// The limits that the nominal converter misses already.
    pub nominal_misses: Vec<NominalMiss>,
    /// What every part must be rated for.
    pub ratings: PopulationRatings,
    /// Sharing errors and limited figures over all operating points; none where the sharing error was
    /// not taken.
    pub over_points: Option<CommonBins>,
    /// How many samples would pass at other limits, figure by figure, the chain first.
    pub limit_counts: Vec<LimitCounts>,
    /// What numbers of failures stand for, rising: in between one goes along lines.
    pub yields: Vec<Yield>,
    /// Converters to be shown one by one; none where the figures lack what is shown.
    pub drawn: Option<DrawnConverters>,
    /// Waveforms at the operating point that limits; none with the averaged solver.
    pub waveforms: Option<PointWaveforms>,
    /// Chain, paralleled.
    pub joint: [Joint; 2],
    /// The same at one age alone, new before the end of life; empty where new parts alone are judged.
    pub by_age: Vec<AgeYield>,
    /// How far the solvers stand apart, per case.
    pub comparison: Vec<SolverComparison>,
    /// Samples that both solvers saw.
    pub compared: u64,
    /// Delivered batches, if the scenario asks for them.
    pub batches: Option<Batches>,
}

/// The result of one operating point in one arrangement.
#[derive(Debug)]
pub struct CaseResult {
    /// The nominal converter there.
    pub baseline: Baseline,
    /// Solved, out of range, not solved.
    pub counts: [u64; 3],
    /// Share of converters that meet all demands here. With measured parts its interval is for all
    /// parts that their files were drawn from.
    pub good: Yield,
    /// The same for the parts of the files alone; none without measured parts.
    pub good_of_measured_parts: Option<Yield>,
    /// Every demand with the number of converters that missed it.
    pub misses: Vec<(Demand, u64)>,
    /// One a figure; none where the figure does not apply or nothing was solved.
    pub key_figures: Vec<Option<KeyFigures>>,
    /// Histogram of the sharing error that the limit speaks of; both arrangements of an
    /// operating point have the same edges.
    pub histogram: Option<Histogram>,
    /// Yield of the sharing error alone against its limit.
    pub curve: Vec<YieldPoint>,
    /// The converter with the largest sharing error.
    pub worst: Option<Worst>,
    /// Of every limited figure.
    pub tolerance_limits: Vec<ToleranceLimit>,
}

/// What the target share of all converters keeps to, of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToleranceLimit {
    /// The figure.
    pub figure: Figure,
    /// The upper end of the interval of its quantile at the target.
    pub upper: QuantileEnd,
}

/// Waveforms of converters at one operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct PointWaveforms {
    /// Its name.
    pub operating_point: String,
    /// The nominal converter, the median one, the one with the largest sharing error in the chain.
    pub converters: Vec<ConverterWaveforms>,
}

/// The waveforms of one converter.
#[derive(Debug, Clone, PartialEq)]
pub struct ConverterWaveforms {
    /// The sample; none for the nominal converter.
    pub sample: Option<u64>,
    /// How it was chosen.
    pub choice: WaveformChoice,
    /// Chain, paralleled; none where it is not solved.
    pub arrangements: [Option<ArrangementWaveforms>; 2],
}

/// Why the waveforms of a converter are shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WaveformChoice {
    /// It has nominal parts.
    Nominal,
    /// It is a typical sample.
    Median(MedianSample),
    /// It is the sample with the largest sharing error in the chain.
    Worst,
}

/// Yield over all operating points and all demands.
#[derive(Debug)]
pub struct Joint {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The yield. With measured parts its interval is for all parts that their files were drawn from.
    pub good: Yield,
    /// Whether there can be a verdict: something beside the output is limited, and no part on offer counts as
    /// exact.
    pub is_judged: bool,
    /// Its verdict against the target; not decided where there can be none.
    pub verdict: Verdict,
    /// What can be said of the measured parts alone; none without measured parts.
    pub of_measured_parts: Option<MeasuredPartsYield>,
    /// When the samples do not decide: how many would, with measured parts on these alone.
    pub forecast: Option<Forecast>,
    /// The demand missed most often at any one operating point.
    pub binding: Option<Binding>,
}

/// Yield over all operating points and all demands at one age.
#[derive(Debug, Clone, Copy)]
pub struct AgeYield {
    /// The age.
    pub age: Age,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The yield. With measured parts its interval is for all parts that their files were drawn from.
    pub good: Yield,
    /// The same for the parts of the files alone; none without measured parts.
    pub good_of_measured_parts: Option<Yield>,
    /// Its verdict against the target.
    pub verdict: Verdict,
}

/// Samples that would decide with a probability of 90 %, if the proportion stays.
#[derive(Debug, Clone, Copy)]
pub struct Forecast {
    /// Of a new run of fixed size, from another seed; none if 10⁹ would not do.
    pub new_run: Option<u64>,
    /// Of a run until decided, from the first sample on; none for the reference, whose verdict ends no
    /// run, and if a scenario allows no such number.
    pub until_decided: Option<DecidingRun>,
}

/// A run until decided that is to decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DecidingRun {
    /// Samples from the first one on, in whole batches.
    pub samples: u64,
    /// What the scenario must allow.
    pub allowance: Allowance,
}

/// What a run until decided needs besides the scenario as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Allowance {
    /// Nothing.
    Enough,
    /// More samples at most: with the same seed it is the same test.
    Raised,
    /// So many more that the test is another one, which needs other samples.
    RaisedForOtherSamples,
}

/// A converter that can be looked at by itself.
#[derive(Debug)]
pub struct Worst {
    /// Its sample number.
    pub sample: u64,
    /// Its sharing error.
    pub sharing_error: f64,
    /// Its parts.
    pub converter: Converter,
    /// Its steady state.
    pub state: SteadyState,
}

impl Joint {
    /// The place of the chain's case that limits, else of that with the largest sharing error.
    pub(super) fn limiting_case(&self, cases: &[CaseResult]) -> Option<usize> {
        let limiting = self.binding.as_ref().map(|binding| binding.operating_point.as_str());
        let error = |case: usize| cases[case].worst.as_ref().map_or(0.0, |own| own.sharing_error);
        let of_chain = (0..cases.len()).step_by(Arrangement::ALL.len());
        of_chain
            .filter(|case| limiting.is_none_or(|name| cases[*case].operating_point() == name))
            .reduce(|most, next| if error(next) > error(most) { next } else { most })
    }

    /// Whether more samples may lead to a verdict, be it on the measured parts alone or on their production.
    pub fn lacks_samples(&self) -> bool {
        let lack = self.of_measured_parts.and_then(|own| own.lack);
        let is_open = self.verdict_of_samples() == Verdict::NotDecided;
        self.is_judged && (is_open || matches!(lack, Some(Lack::Samples(_))))
    }

    /// What the samples say of the parts that they were drawn from: with measured parts, of these alone.
    pub fn verdict_of_samples(&self) -> Verdict {
        self.of_measured_parts.as_ref().map_or(self.verdict, |measured| measured.verdict)
    }
}

impl CaseResult {
    /// The operating point's name.
    pub fn operating_point(&self) -> &str {
        &self.baseline.case.point.name
    }

    /// The arrangement.
    pub fn arrangement(&self) -> Arrangement {
        self.baseline.case.arrangement
    }

    /// What the target share of all converters keeps to, of a limited figure.
    pub fn tolerance_limit(&self, figure: Figure) -> QuantileEnd {
        let own = self.tolerance_limits.iter().find(|limit| limit.figure == figure);
        own.map_or(QuantileEnd::TooFewSamples, |limit| limit.upper)
    }
}

impl Run {
    /// The key figures of a figure in a case.
    pub fn key_figures(&self, case: usize, figure: Figure) -> Option<&KeyFigures> {
        let column = self.figures.iter().position(|f| *f == figure)?;
        self.cases.get(case)?.key_figures.get(column)?.as_ref()
    }

    /// The share of all converters that fails where so many samples do: estimate, lower and upper end of its
    /// interval, along lines between the yields that are kept.
    pub fn share_of_failures(&self, failed: u64) -> [f64; 3] {
        let estimate = failed as f64 / self.settings.samples.max(1) as f64;
        let failures = |own: &Yield| own.trials - own.successes;
        let next = self.yields.partition_point(|own| failures(own) < failed);
        let Some(b) = self.yields.get(next) else { return [estimate; 3] };
        let a = self.yields.get(next.saturating_sub(1)).unwrap_or(b);
        let wide = failures(b) - failures(a);
        let share = if wide == 0 { 1.0 } else { (failed - failures(a)) as f64 / wide as f64 };
        let at = |a: f64, b: f64| 1.0 - (a + share * (b - a));
        [estimate, at(a.upper, b.upper), at(a.lower, b.lower)]
    }

    /// Samples handed on to files: the first ones, or none.
    pub fn samples_in_files(&self) -> u64 {
        match self.size {
            _ if !self.has_files => 0,
            SampleSize::Fixed(samples) => samples,
            SampleSize::UntilDecided(_) => self.settings.samples.min(MOST_IN_FILES),
        }
    }

    /// Cases of one arrangement, with their places.
    pub fn in_arrangement(
        &self,
        arrangement: Arrangement,
    ) -> impl Iterator<Item = (usize, &CaseResult)> {
        self.cases.iter().enumerate().filter(move |(_, c)| c.arrangement() == arrangement)
    }

    /// How the configurations were chosen that operating points leave open, once for new and aged parts.
    pub fn choices(&self) -> impl Iterator<Item = &ConfigurationChoice> {
        self.in_arrangement(Arrangement::Chain)
            .filter_map(|(_, case)| case.baseline.choice.as_ref())
            .unique_by(|choice| choice.operating_point())
    }

    /// Statuses of all samples and cases together: solved, out of range, not solved.
    pub fn totals(&self, arrangement: Arrangement) -> [u64; 3] {
        self.in_arrangement(arrangement)
            .fold([0; 3], |sum, (_, c)| std::array::from_fn(|n| sum[n] + c.counts[n]))
    }
}
