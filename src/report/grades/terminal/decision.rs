//! The recommended set, charge balancing, and how the other sets compare.

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
    if !best.cost.estimate.is_finite() {
        let reason = words::not_built(grades, best).map_or_else(String::new, |text| text + "\n");
        return format!("No set makes a good converter: none is recommended.\n{reason}\n");
    }
    let mut text = recommended(scenario, grades, ranking);
    if let Some(sentences) = words::balancing(scenario, grades, ranking) {
        let _ = writeln!(text, "{}\n", sentences.join(" "));
    }
    text + &others(scenario, grades, ranking)
}

fn recommended(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
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
    lines.extend(words::shortfall(scenario, ranking));
    let lines = lines.iter().fold(String::new(), |text, line| text + "  " + line + "\n");
    format!("Recommended: {}\n{lines}\n", words::set(grades, best))
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
