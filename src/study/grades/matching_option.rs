//! Matching as an option beside the grades: the best set with matched parts against the best one without.

use super::result::{Ranking, SetResult};
use crate::converter::Parameter;
use crate::scenario::{Grades, Matching};
use crate::statistics::Verdict;

/// A matched grade, and the best sets with it and without any matched grade of this part.
#[derive(Debug, Clone, Copy)]
pub struct MatchingOption<'a> {
    /// The part.
    pub parameter: Parameter,
    /// Name of the matched grade.
    pub grade: &'a str,
    /// How its parts are matched.
    pub matching: Matching,
    /// The best set with this grade.
    pub with: &'a SetResult,
    /// The best set with another grade of this part, none of them matched.
    pub without: &'a SetResult,
    /// Whether undecided sets count.
    pub undecided: UndecidedSets,
}

impl MatchingOption<'_> {
    /// Whether the samples show which of both sets costs less.
    pub fn is_shown(&self) -> bool {
        match (&self.with.against, &self.without.against) {
            (None, Some(own)) | (Some(own), None) => own.is_dearer() || own.is_cheaper(),
            _ => {
                let [a, b] = [self.with.cost, self.without.cost];
                a.lower > b.upper || b.lower > a.upper
            }
        }
    }

    /// Whether both sets were tried on the same samples.
    pub fn is_on_same_samples(&self) -> bool {
        self.with.source == self.without.source
    }
}

/// What becomes of sets that may meet the target, and are not shown to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UndecidedSets {
    /// None of them costs less than the best that meets it.
    Dearer,
    /// Some cost less, and are left aside.
    Aside,
    /// No set is recommended: they count like those that are shown to meet it.
    Included,
}

/// One for each matched grade that has others beside it, in the order of the offers; all in the chain, on
/// fresh samples where sets were tried on them.
pub fn matching_options<'a>(
    ranking: &'a Ranking,
    grades: &'a Grades,
    target: f64,
) -> Vec<MatchingOption<'a>> {
    // Verdicts have different levels on the short list and beside it. Without a recommended set, whose level
    // all others face, they sort out only what misses the target.
    let is_recommended = ranking.verdict(target) == Verdict::Pass;
    let order = |set: &SetResult| match set.verdict(target) {
        Verdict::Pass => 0,
        Verdict::NotDecided => u8::from(is_recommended),
        Verdict::Fail => 2,
    };
    // The best set of those with some grades, and whether a cheaper one is not decided.
    let best = |place: usize, is_meant: &dyn Fn(usize) -> bool| {
        let meant = ranking.sets.iter().filter(|set| is_meant(set.candidate.grades[place]));
        let all: Vec<&SetResult> = meant.map(|set| ranking.last_result(set)).collect();
        let best = all.iter().copied().min_by(|a, b| {
            order(a).cmp(&order(b)).then(a.cost.estimate.total_cmp(&b.cost.estimate))
        })?;
        let may_be_better = |own: &&SetResult| {
            own.verdict(target) == Verdict::NotDecided && own.cost.estimate < best.cost.estimate
        };
        Some((best, all.iter().any(may_be_better)))
    };
    let offers = grades.offers.iter().enumerate();
    let options = offers.flat_map(|(place, offer)| {
        let plain = move |grade: usize| offer.grades[grade].tolerance.matching.is_none();
        offer.grades.iter().enumerate().filter_map(move |(n, grade)| {
            let matching = grade.tolerance.matching?;
            let (with, is_with_open) = best(place, &|other| other == n)?;
            let (without, is_without_open) = best(place, &plain)?;
            Some(MatchingOption {
                parameter: offer.parameter,
                grade: &grade.name,
                matching,
                with,
                without,
                undecided: match is_with_open || is_without_open {
                    _ if !is_recommended => UndecidedSets::Included,
                    true => UndecidedSets::Aside,
                    false => UndecidedSets::Dearer,
                },
            })
        })
    });
    options.collect()
}
