//! What sets of grades cost, in lines of characters.

use crate::converter::Arrangement;
use crate::report::format::blocks::{Scale, Strip, fitted};
use crate::report::format::names::parameter;
use crate::report::format::numbers::{money, yield_percent};
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::report::grades::words;
use crate::scenario::{Grades, Scenario};
use crate::study::grades::{Ranking, SetResult};

/// Sets that are drawn, those nearest to the recommended one in cost.
const SETS: usize = 6;
/// Characters of the scale, and of the name of a set.
const SCALE: u32 = 20;
const LABEL: usize = 27;

/// The sets nearest in cost, a row each; nothing where none makes a good converter.
pub(super) fn costs(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let best = ranking.recommended();
    let sets = nearest(ranking);
    if !best.cost.estimate.is_finite() || sets.len() < 2 {
        return String::new();
    }
    let ends = sets.iter().flat_map(|set| [set.cost.lower, set.cost.estimate, set.cost.upper]);
    let scale = Scale::holding(ends, SCALE);
    let axis = sets.iter().flat_map(|set| [set.cost.lower, set.cost.upper]);
    let axis = axis
        .filter(|end| end.is_finite())
        .fold([f64::INFINITY, 0.0], |[least, most], end| [least.min(end), f64::max(most, end)]);
    let line = axis.iter().fold(Strip::new(scale), |strip, end| strip.label(*end, &money(*end)));
    let reference = words::reference(scenario, ranking);
    let mut table = table(&["nearest in cost", "target", "yield", "cost", &line.text()]);
    right(&mut table, 1..4);
    left(&mut table, 4);
    for set in sets {
        table.add_row([
            fitted(&name(grades, set, ranking, reference), LABEL),
            words::verdict_in_ranking(ranking, set, scenario.limits.yield_target).to_owned(),
            yield_percent(set.good.estimate),
            words::cost(set.cost.estimate),
            Strip::new(scale).interval([set.cost.lower, set.cost.upper], set.cost.estimate).text(),
        ]);
    }
    trimmed(&table)
}

/// The recommended set and those nearest to it in cost, the cheapest first.
fn nearest(ranking: &Ranking) -> Vec<&SetResult> {
    let own = ranking.recommended().cost.estimate;
    let all = ranking.sets.iter().chain(ranking.without_balancing());
    let last = all.map(|set| ranking.last_result(set));
    let mut sets: Vec<&SetResult> = last.filter(|set| set.cost.estimate.is_finite()).collect();
    let distance = |set: &SetResult| (set.cost.estimate - own).abs();
    sets.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
    sets.truncate(SETS);
    sets.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
    sets
}

/// What a set has instead of the parts of the best one.
fn name(grades: &Grades, set: &SetResult, ranking: &Ranking, reference: &str) -> String {
    let best = ranking.recommended();
    if set.candidate == best.candidate {
        return format!("> the {reference} set");
    }
    let has = |grade: &str, offer| {
        best.candidate
            .chosen(grades)
            .any(|(own, chosen)| own.parameter == offer && chosen.name == grade)
    };
    let others =
        set.candidate.chosen(grades).filter(|(offer, own)| !has(&own.name, offer.parameter));
    let parts =
        others.map(|(offer, own)| format!("{} {}", parameter(offer.parameter).short, own.name));
    let plain = (set.candidate.arrangement == Arrangement::Paralleled).then(|| "plain".to_owned());
    format!("with {}", plain.into_iter().chain(parts).collect::<Vec<_>>().join(", "))
}
