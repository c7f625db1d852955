//! The worst case of every limited figure, three ways.
//!
//! - *Extreme value* (`search`): the largest value found in the tolerance box (`tolerance_box`) by a
//!   bounded search. It starts from the corners that the sensitivities of every component point to, and
//!   from the samples with the largest values. No part moved alone makes it larger. It is not proved to
//!   be the largest of the box.
//! - *Root-sum-square* (`sensitivities`): the slopes of every component in the middle of the box, times
//!   the half widths of the bands, added as the root of their sum of squares; the correlation of the
//!   parts enters as a quadratic form. To first order, and the largest over the components. For a
//!   sharing error the components are the signed deviations of the phases, which have slopes where the
//!   error itself has a kink.
//! - *Monte Carlo*: what the target share of all converters keeps to at the confidence of the scenario,
//!   an order statistic of the run, with the largest sample.
//!
//! The frequency that converters of the box need is searched in the same way (`frequency`).
//!
//! The work of all searches together is bounded and counted (`case_figure`), never timed: the result
//! is the same for any number of threads.

mod case_figure;
mod extreme;
mod frequency;
mod influence;
mod middle;
mod search;
mod sensitivities;
mod tolerance_box;

pub use self::case_figure::{SolvedCounts, UnsolvedConverter};
pub use self::extreme::ExtremeConverter;
pub use self::frequency::FrequencyExtremes;
pub(super) use self::middle::box_middles;
pub use self::search::{BoxFigure, LocalMaximum, SearchStart, local_maxima};
pub use self::sensitivities::Sensitivities;
pub use self::tolerance_box::ToleranceBox;

use self::case_figure::CaseFigure;
use self::extreme::SOLVED_AFRESH;
use self::middle::BoxMiddle;
use crate::converter::Converter;
use crate::engine::EngineError;
use crate::population::Population;
use crate::statistics::{Extreme, QuantileEnd};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::settings::Draws;
use crate::study::explanation::explained::Explained;
use crate::study::explanation::kept::KeptSamples;

/// Work of all searches together, in limits of one solver's search: about as many seconds. The first
/// searches take this part of it at most; those that did not settle may take what is left.
const WORK: f64 = 3.0;
const FIRST: f64 = 1.8;
/// Work of one of the first searches at most.
const FIRST_EACH: f64 = 0.06;
/// A search is repeated with more work only if it is so many times as much.
const WORTH_REPEATING: f64 = 1.5;
/// Searches that found their limits exceeded are repeated only if no more than these did not settle: there only
/// the amount is open.
const FEW_EXCEEDED: usize = 4;
/// Samples with the largest values that a search starts from.
const STARTS: usize = 3;

/// The worst case of a limited figure at an operating point in an arrangement. Values are in the
/// figure's unit; shares are fractions.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCase {
    /// Index of the case among those of the run.
    pub case: usize,
    /// The limited figure.
    pub figure: Figure,
    /// Its limit, as what converters must meet.
    pub demand: Demand,
    /// Its value for the nominal converter.
    pub nominal: f64,
    /// The root-sum-square value; none where the converter in the middle of the box, or one beside it,
    /// is not solved.
    pub root_sum_square: Option<f64>,
    /// What the target share of all converters keeps to at the confidence.
    pub tolerance_limit: QuantileEnd,
    /// The largest of the solved samples.
    pub largest_sample: Option<Extreme>,
    /// The extreme value; none where no converter of the box was solved.
    pub extreme: Option<ExtremeConverter>,
    /// Parts that the search moves; those that are always alike count as one.
    pub parts: usize,
    /// Converters that the search solved or failed to solve.
    pub counts: SolvedCounts,
    /// A converter of the box that has no value, solved afresh; none where the search met none.
    pub unsolved: Option<UnsolvedConverter>,
}

impl WorstCase {
    /// How many times as far from the nominal value as the largest sample the extreme value lies; none
    /// where either is missing or no sample is above the nominal value.
    pub fn times_as_far(&self) -> Option<f64> {
        let sampled = self.largest_sample?.value - self.nominal;
        let found = self.extreme.as_ref()?.value - self.nominal;
        (sampled > 0.0).then(|| found / sampled)
    }

    /// The extreme value as a share of the limit; none where there is no such value.
    pub fn share_of_limit(&self) -> Option<f64> {
        self.extreme.as_ref().map(|extreme| self.demand.use_of(extreme.value))
    }
}

/// One search: a limited figure in a case.
#[derive(Debug, Clone, Copy)]
struct LimitedCase {
    case: usize,
    figure: Figure,
    demand: Demand,
}

/// The frequencies that converters of the box need, case by case.
///
/// # Errors
///
/// When the user asks to stop before all are found.
pub(super) fn frequency_extremes(
    explained: Explained,
    middles: &[BoxMiddle],
) -> Result<Vec<FrequencyExtremes>, EngineError> {
    frequency::frequency_extremes(explained, &population(explained), middles)
}

/// The population of a run.
fn population(explained: Explained) -> Population {
    let Explained { session, run, .. } = explained;
    let draws = Draws { source: run.source, samples: run.settings.samples };
    session.population(&session.scenario().tolerances, draws)
}

/// Finds the worst cases of a run.
///
/// # Errors
///
/// When the user asks to stop before all are found.
pub(super) fn worst_cases(
    explained: Explained,
    middles: &[BoxMiddle],
) -> Result<Vec<WorstCase>, EngineError> {
    let Explained { session, run, .. } = explained;
    let limits = &session.scenario().limits;
    let cases = run.cases.iter().enumerate().flat_map(|(case, result)| {
        let demands = Demand::all(limits, result.arrangement());
        demands
            .into_iter()
            .filter_map(move |demand| Some(LimitedCase { case, figure: demand.figure?, demand }))
    });
    let cases: Vec<LimitedCase> = cases.collect();
    let population = population(explained);
    let search = |limited: LimitedCase, work: f64| {
        let middle = &middles[limited.case];
        WorstCaseSearch { explained, population: &population, middle, limited, work }.worst_case()
    };
    let first = (FIRST / cases.len().max(1) as f64).min(FIRST_EACH);
    let mut searched = session.workers().map(&cases, |limited| search(*limited, first))?;
    let open = open_searches(&searched);
    let left = WORK - searched.iter().map(|searched| searched.work).sum::<f64>();
    let more = left / open.len().max(1) as f64;
    if more > WORTH_REPEATING * first {
        let again = session.workers().map(&open, |n| search(cases[*n], more))?;
        open.into_iter().zip(again).for_each(|(n, again)| searched[n] = again);
    }
    Ok(searched.into_iter().map(|searched| searched.worst).collect())
}

/// A worst case, and the work that its search took.
struct Searched {
    worst: WorstCase,
    work: f64,
}

impl Searched {
    fn is_open(&self) -> bool {
        self.worst.extreme.as_ref().is_some_and(|extreme| !extreme.settled)
    }

    fn exceeds_its_limit(&self) -> bool {
        self.worst.share_of_limit().is_some_and(|share| share > 1.0)
    }
}

/// Which searches are worth more work.
fn open_searches(searched: &[Searched]) -> Vec<usize> {
    let open = (0..searched.len()).filter(|n| searched[*n].is_open());
    let (exceeding, mut others): (Vec<usize>, Vec<usize>) =
        open.partition(|n| searched[*n].exceeds_its_limit());
    if exceeding.len() <= FEW_EXCEEDED {
        others.extend(exceeding);
    }
    others
}

/// The search of one worst case.
struct WorstCaseSearch<'a> {
    explained: Explained<'a>,
    population: &'a Population,
    middle: &'a BoxMiddle<'a>,
    limited: LimitedCase,
    work: f64,
}

impl WorstCaseSearch<'_> {
    fn worst_case(&self) -> Searched {
        let Explained { session, run, .. } = self.explained;
        let LimitedCase { case, figure, demand } = self.limited;
        let result = &run.cases[case];
        let BoxMiddle { case: solver_case, tolerance_box, .. } = self.middle;
        let mut over_box = CaseFigure::new(session, self.middle, figure, 1.0, self.work);
        let nominal = session
            .measurement(&[])
            .solved(&result.baseline.state, session.nominal(), solver_case)
            .value(figure);
        let sensitivities = over_box.sensitivities(self.middle);
        let correlation = |i, j| tolerance_box.correlation(i, j);
        let extreme = self.extreme(&mut over_box, sensitivities.as_ref());
        let unsolved = over_box.unsolved.take();
        let is_confirmed =
            |u: &UnsolvedConverter| over_box.solved_afresh(&u.converter) == Err(u.status);
        let worst = WorstCase {
            case,
            figure,
            demand,
            nominal,
            root_sum_square: sensitivities.map(|s| s.root_sum_square(correlation)),
            tolerance_limit: result.tolerance_limit(figure),
            largest_sample: self.largest_sample(),
            extreme,
            unsolved: unsolved.filter(is_confirmed),
            parts: tolerance_box.size(),
            counts: over_box.counts,
        };
        Searched { worst, work: self.work - over_box.work }
    }

    /// The largest of the solved samples.
    fn largest_sample(&self) -> Option<Extreme> {
        let figures = self.explained.run.key_figures(self.limited.case, self.limited.figure)?;
        Some(Extreme { value: figures.max, sample: figures.max_sample })
    }

    /// The largest value found in the box: of the maxima and the largest sample, each solved afresh.
    fn extreme(
        &self,
        over_box: &mut CaseFigure,
        sensitivities: Option<&Sensitivities>,
    ) -> Option<ExtremeConverter> {
        let tolerance_box = over_box.tolerance_box;
        let samples: Vec<Converter> =
            self.samples().iter().map(|sample| self.population.draw(*sample)).collect();
        let of_samples = samples
            .iter()
            .map(|drawn| SearchStart { point: tolerance_box.point(drawn), component: None });
        let mut starts: Vec<SearchStart> = of_samples.collect();
        starts.extend(sensitivities.map(Sensitivities::corners).into_iter().flatten());
        let constant = sensitivities.filter(|own| own.is_constant());
        let maxima = match constant {
            Some(own) => vec![own.middle_as_maximum()],
            None => local_maxima(over_box, &starts),
        };
        let found = maxima.iter().take(SOLVED_AFRESH).map(|maximum| {
            (tolerance_box.converter(&maximum.point), maximum.point.clone(), maximum.settled)
        });
        let drawn = samples.first().map(|drawn| (drawn.clone(), tolerance_box.point(drawn), false));
        let condition = &self.middle.case.point.condition;
        let solved = found.chain(drawn).filter_map(|(converter, point, settled)| {
            let converter = converter.as_if_nominal_at(condition, self.explained.session.nominal());
            let value = over_box.solved_afresh(&converter).ok()?;
            let at_ends = point.iter().filter(|place| place.abs() >= 1.0).count();
            Some(ExtremeConverter { value, converter, settled, at_ends })
        });
        solved.reduce(|largest, next| if next.value > largest.value { next } else { largest })
    }

    /// The samples with the largest values: that of the whole run, and some of the first ones.
    fn samples(&self) -> Vec<u64> {
        let LimitedCase { case, figure, .. } = self.limited;
        let kept: &KeptSamples = self.explained.kept;
        let mut known: Vec<Extreme> = (0..kept.measured())
            .filter_map(|sample| {
                Some(Extreme { value: kept.figure(sample, case, figure)?, sample })
            })
            .collect();
        known.sort_by(|a, b| b.value.total_cmp(&a.value).then(a.sample.cmp(&b.sample)));
        let largest = self.largest_sample().map(|extreme| extreme.sample);
        let others = known.iter().map(|extreme| extreme.sample);
        let others = others.filter(|sample| Some(*sample) != largest);
        largest.into_iter().chain(others).take(STARTS).collect()
    }
}
