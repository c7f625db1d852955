//! The answer, charge balancing, and how the other sets compare.

use std::fmt::Write as _;

use crate::report::format::numbers::{given_percent, money, yield_interval};
use crate::report::grades::words;
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::grades::{Ranking, SetResult};

/// Sets that are listed at most.
const LISTED: usize = 8;

/// What to buy, and how certain that is.
pub(super) fn decision(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let with = with_balancing(scenario, grades, ranking) + "\n";
    let balancing = words::balancing(scenario, grades, ranking);
    let balancing = balancing.map_or_else(String::new, |said| said.join(" ") + "\n");
    match without_balancing(scenario, grades, ranking) {
        Some(without) => without + "\n" + &balancing + &with,
        None => with + &balancing,
    }
}

/// The best set without charge balancing, where that is shown to be the better choice.
fn without_balancing(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> Option<String> {
    let role = words::role_without(scenario, ranking)?;
    let best = ranking.without_balancing()?;
    let verdict = best.verdict(scenario.limits.yield_target);
    let mut numbers = set_numbers(scenario, grades, best, verdict);
    numbers.push(words::verification(ranking, &ranking.paralleled_shortlist));
    let mut lines: Vec<String> = words::refusal_without(scenario, ranking).into_iter().collect();
    lines.push(format!("{role}: {}", words::set(grades, best)));
    lines.extend(numbers.iter().map(|line| format!("  {line}")));
    Some(lines.join("\n"))
}

/// The set with charge balancing that the answer names, or why there is none.
fn with_balancing(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let best = ranking.recommended();
    let mut lines: Vec<String> = words::refusal(scenario, ranking).into_iter().collect();
    if best.cost.estimate.is_finite() {
        let verdict = ranking.verdict(scenario.limits.yield_target);
        let mut numbers = set_numbers(scenario, grades, best, verdict);
        numbers.push(words::verification(ranking, &ranking.shortlist));
        numbers.extend(words::advice(scenario, ranking));
        let role = words::role(scenario, ranking).unwrap_or("Reference");
        lines.push(format!("{role}: {}", words::set(grades, best)));
        lines.extend(numbers.iter().map(|line| format!("  {line}")));
    } else {
        lines.extend(words::not_built(grades, best));
    }
    lines.join("\n")
}

/// The yield, the cost and the lead time of a set.
fn set_numbers(
    scenario: &Scenario,
    grades: &Grades,
    best: &SetResult,
    verdict: Verdict,
) -> Vec<String> {
    let mut lines = vec![
        format!(
            "{}: yield {}, target {}",
            words::verdict_word(best, verdict).to_uppercase(),
            yield_interval(&best.good),
            given_percent(scenario.limits.yield_target),
        ),
        format!(
            "cost per good converter: {} {} ({})",
            words::cost(best.cost.estimate),
            grades.currency,
            words::cost_bounds(best.cost),
        ),
    ];
    if let Some(weeks) = best.lead_time {
        lines.push(format!("lead time: {weeks} weeks (shown, not weighed)"));
    }
    lines
}

/// How many of the other sets cost more; nothing where none has a cost.
pub(super) fn others(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let has_cost = ranking.recommended().cost.estimate.is_finite();
    let said = words::cost_count(scenario, grades, ranking).filter(|_| has_cost);
    said.map_or_else(String::new, |said| said + "\n")
}

/// The sets that do not cost more.
pub(super) fn rivals(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let list = |heading: &str, sets: &[&SetResult]| {
        if sets.is_empty() { String::new() } else { listed(heading, sets, grades, scenario) }
    };
    details(ranking.recommended())
        + &list("Same cost within the interval (ties):", &ranking.ties())
        + &list("Cheaper, but not chosen because of the yield:", &ranking.passed_over())
}

/// What the cost of the named set holds.
fn details(best: &SetResult) -> String {
    let parts = format!("compared parts, per converter built: {}", money(best.parts));
    let surplus = (best.surplus > 0.0)
        .then(|| format!("surplus, for a minimum order or a price break: {}", money(best.surplus)));
    let lines = std::iter::once(parts).chain(surplus);
    lines.fold("Cost of the named set\n".to_owned(), |text, line| format!("{text}  {line}\n"))
        + "\n"
}

fn listed(heading: &str, sets: &[&SetResult], grades: &Grades, scenario: &Scenario) -> String {
    let mut text = format!("{heading}\n");
    for result in sets.iter().take(LISTED) {
        let remark = words::target_remark(result, scenario.limits.yield_target);
        let _ = writeln!(text, "  {} ({remark})", words::set(grades, result));
    }
    if sets.len() > LISTED {
        let _ = writeln!(text, "  and {} more, listed in grades.csv", sets.len() - LISTED);
    }
    text
}
