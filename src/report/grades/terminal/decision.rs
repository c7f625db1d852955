//! The answer, charge balancing, and how the other sets compare.

use std::fmt::Write as _;

use crate::report::format::names::verdict_capitals;
use crate::report::format::numbers::{given_percent, money, yield_interval};
use crate::report::grades::words;
use crate::scenario::{Grades, Scenario};
use crate::study::grades::{Ranking, SetResult};

/// Sets that are listed at most.
const LISTED: usize = 8;

/// What to buy, and how certain that is.
pub(super) fn decision(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let best = ranking.recommended();
    let has_cost = best.cost.estimate.is_finite();
    let mut lines: Vec<String> = words::refusal(scenario, ranking).into_iter().collect();
    if has_cost {
        lines.extend(named(scenario, grades, ranking));
    } else {
        lines.extend(words::not_built(grades, best));
    }
    let mut text = lines.join("\n") + "\n\n";
    if let Some(sentences) = words::balancing(scenario, grades, ranking) {
        let _ = writeln!(text, "{}\n", sentences.join(" "));
    }
    if has_cost { text + &others(scenario, grades, ranking) } else { text }
}

/// The set that the answer names, with its numbers.
fn named(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> Vec<String> {
    let (best, target) = (ranking.recommended(), scenario.limits.yield_target);
    let mut lines = vec![
        format!(
            "{}: yield {}, target {}",
            verdict_capitals(ranking.verdict(target)),
            yield_interval(&best.good),
            given_percent(target),
        ),
        format!(
            "cost per good converter: {} {} ({})",
            words::cost(best.cost.estimate),
            grades.currency,
            words::cost_bounds(best.cost),
        ),
    ];
    if best.surplus > 0.0 {
        lines.push(format!("of it for surplus parts (minimum orders): {}", money(best.surplus)));
    }
    lines.push(format!("compared parts, per converter built: {}", money(best.parts)));
    if let Some(weeks) = best.lead_time {
        lines.push(format!("lead time: {weeks} weeks (shown, not weighed)"));
    }
    lines.push(words::verification(ranking));
    lines.extend(words::advice(scenario, ranking));
    let role = words::role(scenario, ranking).unwrap_or("Reference");
    let heading = format!("{role}: {}", words::set(grades, best));
    let lines = lines.iter().map(|line| format!("  {line}"));
    std::iter::once(heading).chain(lines).collect()
}

/// How many of the other sets cost more, and which do not.
fn others(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let Some(text) = words::cost_count(scenario, grades, ranking) else { return String::new() };
    let list = |heading: &str, sets: &[&SetResult]| {
        if sets.is_empty() { String::new() } else { listed(heading, sets, grades, scenario) }
    };
    text + "\n"
        + &list("Same cost within the interval (ties):", &ranking.ties())
        + &list("Cheaper, but not chosen because of the yield:", &ranking.passed_over())
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
