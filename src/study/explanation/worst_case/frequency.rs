//! How near converters of the tolerance box come to the ends of the frequency band, and whether they
//! leave it.
//!
//! The search is that of extreme values, once for the highest and once for the lowest frequency. It goes
//! where a converter has none inside the band, and keeps the first such converter.

use super::case_figure::{CaseFigure, UnsolvedConverter};
use super::extreme::{ExtremeConverter, SOLVED_AFRESH};
use super::middle::BoxMiddle;
use super::search::{SearchStart, local_maxima};
use super::sensitivities::Sensitivities;
use crate::engine::EngineError;
use crate::population::Population;
use crate::study::common::figures::Figure;
use crate::study::explanation::explained::Explained;

/// Work of all these searches together, in limits of one solver's search, and of each at most.
const WORK: f64 = 0.6;
const WORK_EACH: f64 = 0.05;

/// The frequencies that converters of the tolerance box need at an operating point in an arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct FrequencyExtremes {
    /// Index of the case among those of the run.
    pub case: usize,
    /// That of the nominal converter, in hertz.
    pub nominal: f64,
    /// The lowest found; none where no converter was solved.
    pub lowest: Option<ExtremeConverter>,
    /// The highest found; likewise.
    pub highest: Option<ExtremeConverter>,
    /// A converter of the box without a steady state in the band, solved afresh; none where the
    /// searches met none.
    pub unsolved: Option<UnsolvedConverter>,
}

/// Finds them for all cases of a run.
///
/// # Errors
///
/// When the user asks to stop before all are found.
pub(super) fn frequency_extremes(
    explained: Explained,
    population: &Population,
    middles: &[BoxMiddle],
) -> Result<Vec<FrequencyExtremes>, EngineError> {
    let cases: Vec<usize> = (0..explained.run.cases.len()).collect();
    let work = (WORK / (2 * cases.len().max(1)) as f64).min(WORK_EACH);
    let search = |case: &usize| {
        let middle = &middles[*case];
        FrequencySearch { explained, population, middle, case: *case, work }.extremes()
    };
    explained.session.workers().map(&cases, search)
}

/// The searches in one case.
struct FrequencySearch<'a> {
    explained: Explained<'a>,
    population: &'a Population,
    middle: &'a BoxMiddle<'a>,
    case: usize,
    work: f64,
}

/// What one search found.
struct FoundFrequency {
    extreme: Option<ExtremeConverter>,
    unsolved: Option<UnsolvedConverter>,
}

impl FrequencySearch<'_> {
    fn extremes(&self) -> FrequencyExtremes {
        let [low, high] = [-1.0, 1.0].map(|sign| self.found(sign));
        FrequencyExtremes {
            case: self.case,
            nominal: self.explained.run.cases[self.case].baseline.state.switching_frequency.0,
            lowest: low.extreme,
            highest: high.extreme,
            unsolved: high.unsolved.or(low.unsolved),
        }
    }

    /// The largest value of the frequency times a sign.
    fn found(&self, sign: f64) -> FoundFrequency {
        let Explained { session, run, .. } = self.explained;
        let BoxMiddle { case, tolerance_box, .. } = self.middle;
        let figure = Figure::SwitchingFrequency;
        let mut over_box = CaseFigure::new(session, self.middle, figure, sign, self.work);
        let sensitivities = over_box.sensitivities(self.middle);
        let sample = run.key_figures(self.case, figure).map(|figures| {
            let sample = if sign > 0.0 { figures.max_sample } else { figures.min_sample };
            let point = tolerance_box.point(&self.population.draw(sample));
            SearchStart { point, component: None }
        });
        let corners = sensitivities.as_ref().map(Sensitivities::corners).into_iter().flatten();
        let starts: Vec<SearchStart> = sample.into_iter().chain(corners).collect();
        let maxima = local_maxima(&mut over_box, &starts);
        let solved = maxima.iter().take(SOLVED_AFRESH).filter_map(|maximum| {
            let converter = tolerance_box.converter(&maximum.point);
            let converter = converter.as_if_nominal_at(&case.point.condition, session.nominal());
            let value = sign * over_box.solved_afresh(&converter).ok()?;
            let at_ends = maximum.point.iter().filter(|place| place.abs() >= 1.0).count();
            Some(ExtremeConverter { value, converter, settled: maximum.settled, at_ends })
        });
        let extreme =
            solved.reduce(
                |largest, next| {
                    if sign * next.value > sign * largest.value { next } else { largest }
                },
            );
        let is_confirmed = |found: &UnsolvedConverter| {
            over_box.solved_afresh(&found.converter) == Err(found.status)
        };
        let unsolved = over_box.unsolved.clone().filter(is_confirmed);
        FoundFrequency { extreme, unsolved }
    }
}
