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
    /// Whether one that costs less than the best of its kind may meet the target: that is not decided.
    pub is_open: bool,
}

/// One for each matched grade that has others beside it, in the order of the offers; all in the chain, on
/// fresh samples where sets were tried on them.
pub fn matching_options<'a>(
    ranking: &'a Ranking,
    grades: &'a Grades,
    target: f64,
) -> Vec<MatchingOption<'a>> {
    // The best set of those with some grades, and whether a cheaper one is not decided.
    let best = |place: usize, is_meant: &dyn Fn(usize) -> bool| {
        let meant = ranking.sets.iter().filter(|set| is_meant(set.candidate.grades[place]));
        let all: Vec<&SetResult> = meant.map(|set| ranking.last_result(set)).collect();
        let best = all.iter().copied().min_by(|a, b| {
            let verdict = a.good.verdict(target).cmp(&b.good.verdict(target));
            verdict.then(a.cost.estimate.total_cmp(&b.cost.estimate))
        })?;
        let may_be_better = |own: &&SetResult| {
            own.good.verdict(target) == Verdict::NotDecided
                && own.cost.estimate < best.cost.estimate
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
                is_open: is_with_open || is_without_open,
            })
        })
    });
    options.collect()
}
