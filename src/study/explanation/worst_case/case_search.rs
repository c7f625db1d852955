//! The search of one worst case.

use super::case_figure::{CaseFigure, UnsolvedConverter};
use super::extreme::{ExtremeConverter, SOLVED_AFRESH};
use super::found::{Searched, WorstCase};
use super::middle::BoxMiddle;
use super::search::{BoxFigure, SearchStart, local_maxima};
use super::sensitivities::Sensitivities;
use crate::converter::Converter;
use crate::population::Population;
use crate::statistics::Extreme;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::explanation::explained::Explained;
use crate::study::explanation::kept::KeptSamples;

/// Samples with the largest values that a search starts from.
const STARTS: usize = 3;
/// A converter found elsewhere is searched from if its value is larger by this share.
const BETTER: f64 = 1e-6;

/// One search: a limited figure in a case.
#[derive(Debug, Clone, Copy)]
pub(super) struct LimitedCase {
    pub(super) case: usize,
    pub(super) figure: Figure,
    pub(super) demand: Demand,
}

/// The search of one worst case.
pub(super) struct WorstCaseSearch<'a> {
    pub(super) explained: Explained<'a>,
    pub(super) population: &'a Population,
    pub(super) middle: &'a BoxMiddle<'a>,
    pub(super) limited: LimitedCase,
}

/// Where a search starts.
struct Starts {
    /// Converters with large values, the largest first.
    converters: Vec<Converter>,
    /// Whether also from the corners that the sensitivities point to.
    corners: bool,
}

impl WorstCaseSearch<'_> {
    /// Whether it is the same figure in the same arrangement.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        let arrangement = |of: &Self| of.middle.case.arrangement;
        self.limited.figure == other.limited.figure && arrangement(self) == arrangement(other)
    }

    /// Searches from the largest samples and the corners.
    pub(super) fn first(&self, work: f64) -> Searched {
        let mut over_box = self.over_box(work);
        self.searched(&mut over_box, &Starts { converters: self.samples(), corners: true })
    }

    /// Searches with more work, from the converter that was found too.
    pub(super) fn again(&self, work: f64, found: &Searched) -> Searched {
        let mut over_box = self.over_box(work);
        let converters = found.drawn.iter().cloned().chain(self.samples()).collect();
        self.searched(&mut over_box, &Starts { converters, corners: true })
    }

    /// Searches from that of some converters with the largest value, where it is larger than what was found; none
    /// where no value is. Only takes the converter where the limit is exceeded already: there only the amount is open.
    pub(super) fn go_on_from<'c>(
        &self,
        work: f64,
        found: &Searched,
        converters: impl Iterator<Item = &'c Converter>,
    ) -> Option<Searched> {
        let work = if found.exceeds_its_limit() { 0.0 } else { work };
        let mut over_box = self.over_box(work);
        let least = found.value()? * (1.0 + BETTER);
        let values = converters.filter_map(|drawn| {
            let components = over_box.components(&over_box.tolerance_box.point(drawn))?;
            let value = components.into_iter().fold(f64::NEG_INFINITY, f64::max);
            (value > least).then_some((value, drawn))
        });
        let (_, best) = values.max_by(|a, b| a.0.total_cmp(&b.0))?;
        let starts = Starts { converters: vec![best.clone()], corners: false };
        Some(self.searched(&mut over_box, &starts))
    }

    /// The figure over the box.
    fn over_box(&self, work: f64) -> CaseFigure<'_> {
        CaseFigure::new(self.explained.session, self.middle, self.limited.figure, 1.0, work)
    }

    fn searched(&self, over_box: &mut CaseFigure, starts: &Starts) -> Searched {
        let Explained { session, run, .. } = self.explained;
        let LimitedCase { case, figure, demand } = self.limited;
        let result = &run.cases[case];
        let BoxMiddle { case: solver_case, tolerance_box, .. } = self.middle;
        let nominal = session
            .measurement(&[])
            .solved(&result.baseline.state, session.nominal(), solver_case)
            .value(figure);
        let before = over_box.work;
        let sensitivities = over_box.sensitivities(self.middle);
        let correlation = |i, j| tolerance_box.correlation(i, j);
        let (extreme, drawn) = self.extreme(over_box, sensitivities.as_ref(), starts).unzip();
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
        Searched { worst, drawn, work: before - over_box.work }
    }

    /// The largest of the solved samples.
    fn largest_sample(&self) -> Option<Extreme> {
        let figures = self.explained.run.key_figures(self.limited.case, self.limited.figure)?;
        Some(Extreme { value: figures.max, sample: figures.max_sample })
    }

    /// The largest value found in the box, with the converter of the box: of the maxima and the first start, each
    /// solved afresh.
    fn extreme(
        &self,
        over_box: &mut CaseFigure,
        sensitivities: Option<&Sensitivities>,
        starts: &Starts,
    ) -> Option<(ExtremeConverter, Converter)> {
        let tolerance_box = over_box.tolerance_box;
        let point = |drawn: &Converter| tolerance_box.point(drawn);
        let of_converters = starts
            .converters
            .iter()
            .map(|drawn| SearchStart { point: point(drawn), component: None });
        let mut all: Vec<SearchStart> = of_converters.collect();
        if starts.corners {
            all.extend(sensitivities.map(Sensitivities::corners).into_iter().flatten());
        }
        let constant = sensitivities.filter(|own| own.is_constant());
        let maxima = match constant {
            Some(own) => vec![own.middle_as_maximum()],
            None => local_maxima(over_box, &all),
        };
        let found = maxima.iter().take(SOLVED_AFRESH).map(|maximum| {
            (tolerance_box.converter(&maximum.point), maximum.point.clone(), maximum.settled)
        });
        let given = starts.converters.first().map(|drawn| (drawn.clone(), point(drawn), false));
        let condition = &self.middle.case.point.condition;
        let solved = found.chain(given).filter_map(|(drawn, point, settled)| {
            let converter = drawn.as_if_nominal_at(condition, self.explained.session.nominal());
            let value = over_box.solved_afresh(&converter).ok()?;
            let at_ends = point.iter().filter(|place| place.abs() >= 1.0).count();
            Some((ExtremeConverter { value, converter, settled, at_ends }, drawn))
        });
        solved.reduce(|largest, next| if next.0.value > largest.0.value { next } else { largest })
    }

    /// The samples with the largest values: that of the whole run, and some of the first ones.
    fn samples(&self) -> Vec<Converter> {
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
        let samples = largest.into_iter().chain(others).take(STARTS);
        samples.map(|sample| self.population.draw(sample)).collect()
    }
}
