//! The worst case of every limited figure, three ways.
//!
//! - *Extreme value* (`search`): the largest value found in the tolerance box (`tolerance_box`) by a
//!   bounded search. It starts from the corners that the sensitivities of every component point to, and
//!   from the samples with the largest values; then from what was found at other operating points, where
//!   that is more. No part moved alone makes it larger. It is not proved to
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
mod case_search;
mod extreme;
mod found;
mod frequency;
mod influence;
mod middle;
mod search;
mod sensitivities;
mod tolerance_box;

pub use self::case_figure::{SolvedCounts, UnsolvedConverter};
pub use self::extreme::ExtremeConverter;
pub use self::found::WorstCase;
pub use self::frequency::FrequencyExtremes;
pub(super) use self::middle::box_middles;
pub use self::search::{BoxFigure, LocalMaximum, SearchStart, local_maxima};
pub use self::sensitivities::Sensitivities;
pub use self::tolerance_box::ToleranceBox;

use self::case_search::{LimitedCase, WorstCaseSearch};
use self::found::Searched;
use self::middle::BoxMiddle;
use crate::engine::EngineError;
use crate::population::Population;
use crate::study::common::demand::Demand;
use crate::study::common::settings::Draws;
use crate::study::explanation::explained::Explained;

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
/// How often searches of one figure exchange what they found at their operating points.
const EXCHANGES: u32 = 2;
/// Converters of other operating points that a search tries at most, those with the largest values.
const MOST_TRIED: usize = 8;

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
        let (arrangement, drive) = (result.arrangement(), result.baseline.case.point.drive);
        let limited = move |demand: Demand| {
            let figure = demand.figure.filter(|figure| figure.applies(arrangement, drive))?;
            Some(LimitedCase { case, figure, demand })
        };
        Demand::all(limits, arrangement).into_iter().filter_map(limited)
    });
    let cases: Vec<LimitedCase> = cases.collect();
    let population = population(explained);
    let searches: Vec<WorstCaseSearch> = cases
        .into_iter()
        .map(|limited| {
            let middle = &middles[limited.case];
            WorstCaseSearch { explained, population: &population, middle, limited }
        })
        .collect();
    let first = (FIRST / searches.len().max(1) as f64).min(FIRST_EACH);
    let mut searched = session.workers().map(&searches, |search| search.first(first))?;
    exchange(explained, &searches, &mut searched, first)?;
    let open = open_searches(&searched);
    let left = WORK - searched.iter().map(|searched| searched.work).sum::<f64>();
    let more = left / open.len().max(1) as f64;
    if more > WORTH_REPEATING * first {
        let again = session.workers().map(&open, |n| searches[*n].again(more, &searched[*n]))?;
        open.into_iter().zip(again).for_each(|(n, again)| searched[n].take(again));
    }
    Ok(searched.into_iter().map(|searched| searched.worst).collect())
}

/// Lets searches of one figure go on from what was found at other operating points, where that is more.
fn exchange(
    explained: Explained,
    searches: &[WorstCaseSearch],
    searched: &mut [Searched],
    work: f64,
) -> Result<(), EngineError> {
    for _ in 0..EXCHANGES {
        let others = others(searches, searched);
        let further = explained.session.workers().map(&others, |others| {
            let converters = others.found.iter().filter_map(|n| searched[*n].drawn.as_ref());
            searches[others.own].go_on_from(work, &searched[others.own], converters)
        })?;
        if further.iter().all(Option::is_none) {
            break;
        }
        for (own, further) in searched.iter_mut().zip(further) {
            if let Some(further) = further {
                own.take(further);
            }
        }
    }
    Ok(())
}

/// Searches whose extreme converters one search tries.
struct Others {
    /// Index of the search that tries them.
    own: usize,
    /// Indices of the others.
    found: Vec<usize>,
}

/// Those of each search: the same figure, in the same arrangement, at other operating points; of many those that
/// found the largest values.
fn others(searches: &[WorstCaseSearch], searched: &[Searched]) -> Vec<Others> {
    let mut by_value: Vec<usize> = (0..searches.len()).collect();
    let value = |n: &usize| searched[*n].value().unwrap_or(f64::NEG_INFINITY);
    by_value.sort_by(|a, b| value(b).total_cmp(&value(a)));
    let of = |own: usize| {
        let is_other = |n: &usize| *n != own && searches[*n].is_like(&searches[own]);
        Others { own, found: by_value.iter().copied().filter(is_other).take(MOST_TRIED).collect() }
    };
    (0..searches.len()).map(of).collect()
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
