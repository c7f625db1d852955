//! What a run finds.

use crate::converter::{Arrangement, Converter};
use crate::population::RandomSource;
use crate::solver::SteadyState;
use crate::statistics::{Histogram, KeyFigures, Verdict, Yield};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::figures::Figure;
use crate::study::common::nominal::Baseline;
use crate::study::common::settings::Settings;
use crate::study::common::yield_curve::YieldPoint;
use crate::study::run::comparison::SolverComparison;

/// The result of a run.
#[derive(Debug)]
pub struct Run {
    /// How it was carried out.
    pub settings: Settings,
    /// Where the samples come from.
    pub source: RandomSource,
    /// The figures taken, in the order of every case's key figures.
    pub figures: Vec<Figure>,
    /// One an operating point and arrangement, the chain before the paralleled reference.
    pub cases: Vec<CaseResult>,
    /// Chain, paralleled.
    pub joint: [Joint; 2],
    /// How far the solvers stand apart, per case.
    pub comparison: Vec<SolverComparison>,
    /// Samples that both solvers saw.
    pub compared: u64,
}

/// The result of one operating point in one arrangement.
#[derive(Debug)]
pub struct CaseResult {
    /// The nominal converter there.
    pub baseline: Baseline,
    /// Solved, out of range, not solved.
    pub counts: [u64; 3],
    /// Share of converters that meet all demands here.
    pub good: Yield,
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
}

/// Yield over all operating points and all demands.
#[derive(Debug)]
pub struct Joint {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The yield.
    pub good: Yield,
    /// Its verdict against the target.
    pub verdict: Verdict,
    /// When not decided: samples that would decide, if the proportion stays.
    pub samples_to_decide: Option<u64>,
    /// The demand missed most often at any one operating point.
    pub binding: Option<Binding>,
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

impl CaseResult {
    /// The operating point's name.
    pub fn operating_point(&self) -> &str {
        &self.baseline.case.point.name
    }

    /// The arrangement.
    pub fn arrangement(&self) -> Arrangement {
        self.baseline.case.arrangement
    }
}

impl Run {
    /// The key figures of a figure in a case.
    pub fn key_figures(&self, case: usize, figure: Figure) -> Option<&KeyFigures> {
        let column = self.figures.iter().position(|f| *f == figure)?;
        self.cases.get(case)?.key_figures.get(column)?.as_ref()
    }

    /// Cases of one arrangement, with their places.
    pub fn in_arrangement(
        &self,
        arrangement: Arrangement,
    ) -> impl Iterator<Item = (usize, &CaseResult)> {
        self.cases.iter().enumerate().filter(move |(_, c)| c.arrangement() == arrangement)
    }

    /// How the configurations were chosen that operating points leave open.
    pub fn choices(&self) -> impl Iterator<Item = &ConfigurationChoice> {
        self.in_arrangement(Arrangement::Chain)
            .filter_map(|(_, case)| case.baseline.choice.as_ref())
    }

    /// Statuses of all samples and cases together: solved, out of range, not solved.
    pub fn totals(&self, arrangement: Arrangement) -> [u64; 3] {
        self.in_arrangement(arrangement)
            .fold([0; 3], |sum, (_, c)| std::array::from_fn(|n| sum[n] + c.counts[n]))
    }
}
