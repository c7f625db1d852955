//! The main question: how sure are we, over all parts and operating points, that sharing stays
//! within the limit and no switch is overloaded?

mod solver_difference;

use std::sync::atomic::AtomicBool;

pub use self::solver_difference::SolverDifference;
use crate::converter::{Arrangement, Converter, Sharing, driven_legs};
use crate::engine::{Batch, Engine, EngineError};
use crate::population::Population;
use crate::scenario::Scenario;
use crate::solver::Case;
use crate::solver::{Method, SteadyState};
use crate::statistics::{
    Confidence, Distribution, Edges, Histogram, KeyFigures, StatisticsError, Verdict, Yield,
};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::{Baseline, baselines};
use crate::study::common::settings::Settings;
use crate::study::common::tally::{CaseTally, Tally};
use crate::study::common::yield_curve::{YieldPoint, curve_limits};

/// Samples that both solvers see, to tell how far they stand apart.
const COMPARED: u64 = 1000;
/// Bins of a histogram, and points of a yield curve.
const BINS: u32 = 60;
/// Smallest sharing error of a histogram, of its largest.
const SHOWN: f64 = 1e-4;

/// The result of a run.
#[derive(Debug)]
pub struct Run {
    /// How it was carried out.
    pub settings: Settings,
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

/// Exact against averaged solver on the same converters, as exact over averaged.
#[derive(Debug, Clone, Copy)]
pub struct SolverComparison {
    /// Samples that both solved.
    pub both_solved: u64,
    /// Median sharing error, exact and averaged.
    pub median: Option<(f64, f64)>,
    /// 95 % quantile of the sharing error, exact and averaged.
    pub p95: Option<(f64, f64)>,
    /// Largest relative difference of the frequency.
    pub frequency: Option<f64>,
}

/// What a run reports while it works.
pub trait Watcher {
    /// Sampling starts on columns of these figures.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()>;

    /// A batch is done. `good` tells whether a sample meets all demands of a case.
    ///
    /// # Errors
    ///
    /// When it cannot take them, which ends the run.
    fn batch(&mut self, batch: &Batch, good: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()>;
}

/// Carries out a run.
///
/// # Errors
///
/// When the nominal converter does not work, when `stop` is set, when `watcher` fails.
pub fn run(
    scenario: &Scenario,
    settings: Settings,
    stop: &AtomicBool,
    watcher: &mut (dyn Watcher + Send),
) -> Result<Run, StudyError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let baselines = baselines(scenario, settings.method)?;
    let population = Population::new(scenario, settings.seed);
    let cases: Vec<Case> = baselines.iter().map(|b| b.case.clone()).collect();
    let engine = Engine {
        population: &population,
        cases: &cases,
        method: settings.method,
        threads: settings.threads,
    };
    let legs = driven_legs(cases.iter().map(|c| c.point.drive));
    let figures = Figure::all(scenario.phases, legs);
    let tally = sample(scenario, &engine, (settings.samples, stop), &figures, watcher)?;
    let (compared, comparison) =
        compare(scenario, &engine, settings.samples, stop).map_err(|e| match e {
            EngineError::Interrupted(_) => StudyError::Comparing,
            other => other.into(),
        })?;
    let sharing = scenario.limits.sharing;
    let limit = scenario.limits.sharing_error;
    let view = View { sharing, limit, figures: &figures, confidence, samples: settings.samples };
    let joint = [
        view.joint(Arrangement::Chain, &tally, &cases, scenario)?,
        view.joint(Arrangement::Paralleled, &tally, &cases, scenario)?,
    ];
    let edges = view.edges(&tally);
    let cases = baselines
        .into_iter()
        .zip(&tally.cases)
        .zip(edges)
        .map(|((baseline, tally), edges)| view.case(baseline, tally, edges.as_ref(), &engine))
        .collect::<Result<_, _>>()?;
    Ok(Run { settings, figures, cases, joint, comparison, compared })
}

/// Goes through all samples.
fn sample(
    scenario: &Scenario,
    engine: &Engine,
    (samples, stop): (u64, &AtomicBool),
    figures: &[Figure],
    watcher: &mut (dyn Watcher + Send),
) -> Result<Tally, EngineError> {
    let mut tally = Tally::new(engine.cases, figures, &scenario.limits);
    watcher.begin(engine.cases, figures)?;
    engine.run(
        samples,
        figures.len(),
        stop,
        |case, converter, outcome, row| {
            let Some(state) = outcome.solved() else { return };
            let (point, arrangement) = (&case.point, case.arrangement);
            let measured =
                SolvedConverter::new(state, converter, point, arrangement, scenario.neutral_split);
            for (value, figure) in row.iter_mut().zip(figures) {
                if figure.applies(arrangement, point.drive) {
                    *value = measured.value(*figure);
                }
            }
        },
        |batch| {
            tally.take(batch, engine.cases, figures);
            watcher.batch(batch, &|n, case| tally.cases[case].count.meets(batch.row(n, case)))
        },
    )?;
    Ok(tally)
}

/// Puts both solvers on the first samples.
fn compare(
    scenario: &Scenario,
    engine: &Engine,
    samples: u64,
    stop: &AtomicBool,
) -> Result<(u64, Vec<SolverComparison>), EngineError> {
    let samples = samples.min(COMPARED);
    let sharing = scenario.limits.sharing;
    let of = |method: Method| {
        let mut rows = vec![Vec::new(); engine.cases.len()];
        let cases: Vec<Case> = engine
            .cases
            .iter()
            .map(|case| method.prepare(engine.population.nominal(), case.clone()).1)
            .collect();
        Engine { method, cases: &cases, ..*engine }.run(
            samples,
            2,
            stop,
            |case, converter, outcome, row| {
                let Some(state) = outcome.solved() else { return };
                let (point, arrangement) = (&case.point, case.arrangement);
                let split = scenario.neutral_split;
                let measured = SolvedConverter::new(state, converter, point, arrangement, split);
                row[0] = state.switching_frequency.0;
                row[1] = measured.sharing_error(sharing);
            },
            |batch| {
                for (c, rows) in rows.iter_mut().enumerate() {
                    rows.extend(
                        (0..batch.len()).map(|n| [batch.row(n, c).1[0], batch.row(n, c).1[1]]),
                    );
                }
                Ok(())
            },
        )?;
        Ok::<_, EngineError>(rows)
    };
    let (exact, averaged) = (of(Method::Exact)?, of(Method::Averaged)?);
    let comparisons =
        exact.iter().zip(&averaged).map(|(e, a)| SolverComparison::of(e, a)).collect();
    Ok((samples, comparisons))
}

impl SolverComparison {
    /// Of frequencies and sharing errors, NaN where not solved.
    fn of(exact: &[[f64; 2]], averaged: &[[f64; 2]]) -> Self {
        let mut errors =
            [Distribution::exact_up_to(exact.len()), Distribution::exact_up_to(exact.len())];
        let mut apart: Option<f64> = None;
        let pairs = exact.iter().zip(averaged).filter(|(e, a)| !e[0].is_nan() && !a[0].is_nan());
        for (n, (e, a)) in (0..).zip(pairs) {
            errors[0].push(n, e[1]);
            errors[1].push(n, a[1]);
            let difference = (a[0] / e[0] - 1.0).abs();
            apart = Some(apart.map_or(difference, |x| x.max(difference)));
        }
        let ordered = [errors[0].ordered(), errors[1].ordered()];
        let quantile = |p: f64| match &ordered {
            [Some(e), Some(a)] => e.quantile(p).zip(a.quantile(p)),
            _ => None,
        };
        Self {
            both_solved: errors[0].moments().count(),
            median: quantile(0.5),
            p95: quantile(0.95),
            frequency: apart,
        }
    }
}

/// How results are read from the tally.
struct View<'a> {
    sharing: Sharing,
    /// Of the sharing error.
    limit: Option<f64>,
    figures: &'a [Figure],
    confidence: Confidence,
    samples: u64,
}

impl View<'_> {
    fn column(&self) -> usize {
        let wanted = Figure::SharingError(self.sharing);
        self.figures.iter().position(|f| *f == wanted).unwrap_or_default()
    }

    fn joint(
        &self,
        arrangement: Arrangement,
        tally: &Tally,
        cases: &[Case],
        scenario: &Scenario,
    ) -> Result<Joint, StatisticsError> {
        let slot = usize::from(arrangement == Arrangement::Paralleled);
        let good = Yield::new(tally.joint[slot], self.samples, self.confidence)?;
        let target = scenario.limits.yield_target;
        let verdict = good.verdict(target);
        let own = cases.iter().zip(&tally.cases);
        let own = own.filter(|(case, _)| case.arrangement == arrangement);
        let binding = Binding::among(own.map(|(c, t)| (c.point.name.as_str(), &t.count)));
        let samples_to_decide =
            (verdict == Verdict::NotDecided).then(|| good.samples_to_decide(target)).flatten();
        Ok(Joint { arrangement, good, verdict, samples_to_decide, binding })
    }

    /// Edges of the sharing error's histogram for every case: the same for both arrangements of
    /// an operating point. Of equal ratio, because balancing moves the error by decades.
    fn edges(&self, tally: &Tally) -> Vec<Option<Edges>> {
        let column = self.column();
        let of_pair = |pair: &[CaseTally]| {
            let ordered: Vec<_> =
                pair.iter().filter_map(|t| t.distributions[column].ordered()).collect();
            let at = |p: f64| ordered.iter().filter_map(move |o| o.quantile(p));
            let most = at(0.999).fold(1.2 * self.limit.unwrap_or(0.0), f64::max);
            let least = at(0.001).fold(self.limit.unwrap_or(f64::INFINITY) / 1.2, f64::min);
            let shown = least.clamp(most * SHOWN, most);
            Edges::by_ratio(shown, most, BINS)
        };
        tally
            .cases
            .chunks(Arrangement::ALL.len())
            .flat_map(|pair| std::iter::repeat_n(of_pair(pair), pair.len()))
            .collect()
    }

    fn case(
        &self,
        baseline: Baseline,
        tally: &CaseTally,
        edges: Option<&Edges>,
        engine: &Engine,
    ) -> Result<CaseResult, StatisticsError> {
        let sharing = &tally.distributions[self.column()];
        let ordered = sharing.ordered();
        let curve = match (&ordered, edges) {
            (Some(ordered), Some(edges)) => curve_limits(edges, self.limit)
                .into_iter()
                .map(|limit| {
                    let good = ordered.count_at_most(limit);
                    let good = Yield::new(good, self.samples, self.confidence)?;
                    Ok(YieldPoint { limit, good })
                })
                .collect::<Result<_, StatisticsError>>()?,
            _ => Vec::new(),
        };
        let worst = sharing.max().and_then(|extreme| {
            let converter = engine.population.draw(extreme.sample);
            let outcome = engine.method.solve(&converter, &baseline.case);
            let state = outcome.solved()?.clone();
            let (sample, sharing_error) = (extreme.sample, extreme.value);
            Some(Worst { sample, sharing_error, converter, state })
        });
        Ok(CaseResult {
            counts: tally.count.statuses,
            good: Yield::new(tally.count.good, self.samples, self.confidence)?,
            misses: tally.count.misses.clone(),
            key_figures: tally
                .distributions
                .iter()
                .map(|d| d.key_figures(self.confidence))
                .collect(),
            histogram: ordered.as_ref().zip(edges).map(|(o, e)| Histogram::new(o, e)),
            curve,
            worst,
            baseline,
        })
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
}

impl Run {
    /// The summary of a figure in a case.
    pub fn key_figures(&self, case: usize, figure: Figure) -> Option<&KeyFigures> {
        let column = self.figures.iter().position(|f| *f == figure)?;
        self.cases.get(case)?.key_figures.get(column)?.as_ref()
    }

    /// Cases of one arrangement, with their places.
    pub fn of(&self, arrangement: Arrangement) -> impl Iterator<Item = (usize, &CaseResult)> {
        self.cases.iter().enumerate().filter(move |(_, c)| c.arrangement() == arrangement)
    }

    /// How the configurations were chosen that operating points leave open.
    pub fn choices(&self) -> impl Iterator<Item = &ConfigurationChoice> {
        self.of(Arrangement::Chain).filter_map(|(_, case)| case.baseline.choice.as_ref())
    }

    /// Statuses of all samples and cases together: solved, out of range, not solved.
    pub fn totals(&self, arrangement: Arrangement) -> [u64; 3] {
        self.of(arrangement)
            .fold([0; 3], |sum, (_, c)| std::array::from_fn(|n| sum[n] + c.counts[n]))
    }
}
