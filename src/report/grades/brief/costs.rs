//! Cost over failures, single steps, and matching.

use maud::html;

use crate::report::format::figures::{CostAxes, CostDot, Mark, Name, cost_failures};
use crate::report::format::names::parameter;
use crate::report::format::numbers::{
    NONE, count, counted, money, ppm, signed_money, yield_percent,
};
use crate::report::format::page::brief::{Finding, both_widths};
use crate::report::format::page::parts::{headings, number, verdict_class, verdict_sign};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words;
use crate::statistics::Verdict;
use crate::study::grades::{SetResult, SteppedSet, matching_options};

/// Sets that cost up to so many times as much as the recommended one are drawn.
const NEAR: f64 = 1.12;
/// Sets that are drawn at least, where there are as many that cost no more than [`FAR`].
const FEWEST: usize = 6;
/// Sets that cost more than so many times as much are never drawn: the others would lie on one line.
const FAR: f64 = 3.0;
/// Steps shown: more would not fit the sheet.
const STEPS: usize = 6;
/// Size of the drawing on a desk, and where the page is narrow.
const WIDE: [f64; 2] = [680.0, 260.0];
const NARROW: [f64; 2] = [352.0, 280.0];

/// The picture of all sets.
pub(super) fn finding(told: GradesSubject) -> Option<Finding> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let sets: Vec<&SetResult> = ranking
        .sets
        .iter()
        .chain(&ranking.paralleled)
        .map(|set| ranking.last_result(set))
        .filter(|set| set.cost.estimate.is_finite())
        .collect();
    let reach = reach(told, &sets)?;
    let (near, above): (Vec<&SetResult>, Vec<&SetResult>) =
        sets.iter().partition(|set| set.cost.estimate <= reach);
    let allowed = 1.0 - scenario.limits.yield_target;
    let samples = ranking.sets[0].good.trials as f64;
    let axes = |size: [f64; 2]| CostAxes {
        size,
        cost: format!("cost per good converter, {}", grades.currency),
        least: libm::pow(10.0, libm::floor(libm::log10((0.9 / samples).min(0.1 * allowed)))),
        allowed: Mark { value: allowed, label: format!("target {}\u{a0}ppm", ppm(allowed)) },
        above: words_above(&above),
    };
    let named = named(told);
    let dots: Vec<CostDot> = near.iter().map(|set| dot(told, set, &named)).collect();
    // Where it is narrow, the answer above names the recommended set.
    let mut few = dots.clone();
    few.iter_mut().filter(|dot| dot.is_chosen).for_each(|dot| dot.label.truncate(1));
    let drawn = |id: &str, size: [f64; 2], dots: &[CostDot]| {
        let name = Name {
            id: format!("brief-{id}"),
            title: "Cost per good converter over failures, a dot a set of grades".into(),
            description:
                "The large dot is the set that the answer names; rivals have their names beside \
                          them. Right of the heavy line a set misses the target."
                    .into(),
        };
        cost_failures(&name, &axes(size), dots)
    };
    Some(Finding {
        heading: heading(told),
        remark: None,
        inside: both_widths(&drawn("costs", WIDE, &dots), &drawn("costs-narrow", NARROW, &few)),
    })
}

/// Up to which cost sets are drawn.
fn reach(told: GradesSubject, sets: &[&SetResult]) -> Option<f64> {
    let mut costs: Vec<f64> = sets.iter().map(|set| set.cost.estimate).collect();
    costs.sort_by(f64::total_cmp);
    let last = costs.get(FEWEST - 1).or(costs.last())?;
    let own = told.ranking.recommended().cost.estimate;
    let [near, far] =
        if own.is_finite() && own > 0.0 { [NEAR * own, FAR * own] } else { [0.0, *last] };
    Some(last.clamp(near, far))
}

fn heading(told: GradesSubject) -> String {
    let target = told.scenario.limits.yield_target;
    let [with, without] = [&told.ranking.sets, &told.ranking.paralleled].map(Vec::len);
    let sets = match without {
        0 => counted(with as u64, "set"),
        _ => format!("{with} sets with charge balancing and {without} without"),
    };
    match told.ranking.set_to_build(target) {
        Some(_) => {
            format!("Of {sets}, the recommended one meets the target at the lowest cost")
        }
        None => format!("Cost and failures of {sets}"),
    }
}

/// What lies above the picture.
fn words_above(above: &[&SetResult]) -> Option<String> {
    let costs = || above.iter().map(|set| set.cost.estimate);
    let least = costs().reduce(f64::min)?;
    let most = costs().reduce(f64::max)?;
    let sets =
        if above.len() == 1 { "1 set lies".into() } else { format!("{} sets lie", above.len()) };
    Some(format!("{sets} above: {} to {}", words::sum(least), words::sum(most)))
}

/// A set with the words that stand beside its dot.
struct NamedSet<'a> {
    set: &'a SetResult,
    words: Vec<String>,
}

/// How a set falls short of the target.
fn short_of(set: &SetResult, target: f64) -> &'static str {
    match set.verdict(target) {
        _ if !set.is_judged => "not judged",
        Verdict::Fail => "misses the target",
        Verdict::Pass | Verdict::NotDecided => "target not decided",
    }
}

/// The sets that are named: the recommended one, the next, the cheapest not shown to meet the target, and the best
/// ones with and without matching.
fn named(told: GradesSubject<'_>) -> Vec<NamedSet<'_>> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let target = scenario.limits.yield_target;
    let best = ranking.recommended();
    let reference = words::reference(scenario, ranking);
    let mut all = vec![NamedSet {
        set: best,
        words: vec![
            format!("{reference}: {}", money(best.cost.estimate)),
            words::set(grades, best),
        ],
    }];
    let against = |set: &SetResult| signed_money(ranking.above_recommended(set).amount);
    let cheaper = ranking.passed_over().into_iter().next();
    let cheaper = cheaper.map(|set| (set, format!("{}, {}", against(set), short_of(set, target))));
    let next = ranking.runner_up(target).map(|set| (set, format!("next: {}", against(set))));
    let options = matching_options(ranking, grades, target);
    let matched = options.first().map(|own| (own.with, format!("matched: {}", against(own.with))));
    for (set, first) in [next, matched, cheaper].into_iter().flatten() {
        let is_new = all.iter().all(|own| own.set.candidate != set.candidate);
        if is_new && set.cost.estimate.is_finite() {
            all.push(NamedSet { set, words: vec![first, changed(told, set)] });
        }
    }
    all
}

/// The grades in which a set differs from the recommended one.
fn changed(told: GradesSubject, set: &SetResult) -> String {
    let best = &told.ranking.recommended().candidate;
    let recommended = |place: usize| best.grades.get(place);
    let offers = told.grades.offers.iter().enumerate();
    let other = offers.filter(|(place, _)| recommended(*place) != set.candidate.grades.get(*place));
    let names = other.map(|(place, offer)| {
        let grade = &offer.grades[set.candidate.grades[place]];
        format!("{} {}", parameter(offer.parameter).short, grade.name)
    });
    names.collect::<Vec<_>>().join(", ")
}

fn dot(told: GradesSubject, set: &SetResult, named: &[NamedSet]) -> CostDot {
    let label = named.iter().find(|own| own.set.candidate == set.candidate);
    let best = &told.ranking.recommended().candidate;
    CostDot {
        failures: set.good.failing(),
        cost: [set.cost.estimate, set.cost.lower, set.cost.upper],
        class: set.candidate.arrangement.name(),
        title: format!(
            "{}: {}, {}",
            words::set(told.grades, set),
            words::cost(set.cost.estimate),
            yield_percent(set.good.estimate)
        ),
        is_chosen: set.candidate == *best,
        label: label.map_or_else(Vec::new, |own| own.words.clone()),
    }
}

/// What one grade dearer or cheaper does.
pub(super) fn steps(told: GradesSubject) -> Option<Finding> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let target = scenario.limits.yield_target;
    (!ranking.steps.is_empty()).then(|| Finding {
        heading: "What one other grade changes".to_owned(),
        remark: None,
        inside: html! {
            table {
                thead { (headings(1, &["part → grade", "target", "failures, ppm", "cost"])) }
                tbody {
                    @for SteppedSet { step, result, .. } in ranking.steps.iter().take(STEPS) {
                        @let offer = &grades.offers[step.offer];
                        @let verdict = result.verdict(target);
                        tr {
                            th scope="row" { (parameter(offer.parameter).short) " → " (offer.grades[step.grade].name) }
                            td class=(format!("n {}", verdict_class(verdict))) {
                                span class="word" { (verdict_sign(verdict)) (words::verdict_word(result, verdict)) }
                            }
                            (number(ppm(result.good.failing()[0])))
                            (number(cost_change(result)))
                        }
                    }
                }
            }
        },
    })
}

fn cost_change(result: &SetResult) -> String {
    let cost = result.against.and_then(|against| against.cost);
    cost.map_or_else(|| NONE.to_owned(), |cost| signed_money(cost.estimate))
}

/// The best set with matched parts beside the best one without.
pub(super) fn matching(told: GradesSubject) -> Option<Finding> {
    let GradesSubject { scenario, grades, ranking, .. } = told;
    let options = matching_options(ranking, grades, scenario.limits.yield_target);
    let option = options.first()?;
    let part = parameter(option.parameter).short;
    let heading = words::matching(option)?;
    let rows = [("matched", option.with), ("as it comes", option.without)];
    Some(Finding {
        heading,
        remark: Some(format!(
            "Best set with this grade ({part} of {} sorted together) and best set without matching{}.",
            count(option.matching.pieces as u64),
            if option.is_on_same_samples() { "; same samples" } else { "" }
        )),
        inside: html! {
            table {
                thead { (headings(2, &[part, "set", "failures, ppm", "cost"])) }
                tbody {
                    @for (name, set) in rows {
                        tr {
                            th scope="row" { (name) }
                            td { (words::set(grades, set)) }
                            (number(ppm(set.good.failing()[0])))
                            (number(words::cost(set.cost.estimate)))
                        }
                    }
                }
            }
        },
    })
}
