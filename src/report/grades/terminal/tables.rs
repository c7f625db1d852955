//! Tables: the short list, the effect of one grade, the Pareto front.

use std::fmt::Write as _;

use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, signed_money, yield_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::report::grades::words;
use crate::scenario::Grades;
use crate::statistics::Verdict;
use crate::study::grades::{GradeStep, Ranking, SetComparison, SetResult, SteppedSet};

/// Sets of the front that are listed at most.
const LISTED: usize = 8;

/// All of them, as far as there is something to show.
pub(super) fn tables(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    short_list(grades, ranking, target) + &steps(grades, ranking, target) + &front(grades, ranking)
}

fn short_list(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.shortlist.len() < 2 {
        return String::new();
    }
    let mut table =
        table(&["short list, fresh samples", "target", "yield", "cost", "difference", ""]);
    for result in ranking.shortlist.iter().filter(|result| result.against.is_some()) {
        let against = result.against.as_ref();
        table.add_row([
            words::set(grades, result),
            words::target_result(result.good.verdict(target)).to_owned(),
            yield_percent(result.good.estimate),
            words::cost(result.cost.estimate),
            against.map_or_else(String::new, cost_ends),
            against.map_or("", cost_result).to_owned(),
        ]);
    }
    format!("{}\n", trimmed(&table))
}

fn cost_result(against: &SetComparison) -> &'static str {
    match against.cost {
        None => "",
        Some(_) if against.is_tie() => "tie",
        Some(_) if against.is_cheaper() => "lower",
        Some(_) => "higher",
    }
}

fn cost_ends(against: &SetComparison) -> String {
    against.cost.map_or_else(|| NONE.into(), |cost| words::cost_ends(&cost).replace(" to ", "…"))
}

fn steps(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.steps.is_empty() {
        return String::new();
    }
    let mut table = table(&["one grade", "to", "yield, points", "target", "cost", "interval"]);
    let mut notes = String::new();
    for SteppedSet { step, result, stated } in &ranking.steps {
        let Some(against) = &result.against else { continue };
        table.add_row([
            step_name(grades, *step) + if *stated { "" } else { " *" },
            grades.offers[step.offer].grades[step.grade].name.clone(),
            words::points(against.good.estimate),
            words::target_result(result.good.verdict(target)).to_owned(),
            against.cost.map_or_else(|| NONE.into(), |cost| signed_money(cost.estimate)),
            cost_ends(against),
        ]);
        if against.is_cheaper() && result.good.verdict(target) == Verdict::Pass {
            let _ =
                writeln!(notes, "Cheaper, and meets the target: {}", words::set(grades, result));
        }
    }
    if beyond_combinations(ranking) {
        notes.insert_str(0, "* not among the combinations of the scenario\n");
    }
    format!(
        "Effect of one grade: change of yield and of cost per good converter\n{}{notes}\n",
        trimmed(&table)
    )
}

/// Whether a step leads to a set that the scenario does not state.
fn beyond_combinations(ranking: &Ranking) -> bool {
    ranking.steps.iter().any(|step| step.result.against.is_some() && !step.stated)
}

fn step_name(grades: &Grades, step: GradeStep) -> String {
    let direction = if step.dearer { "dearer" } else { "cheaper" };
    format!("{} {direction}", parameter(grades.offers[step.offer].parameter).short)
}

fn front(grades: &Grades, ranking: &Ranking) -> String {
    let front = ranking.front();
    let mut table = table(&["Pareto front", "", "cost", "yield", "weeks", "fresh cost"]);
    for result in front.iter().take(LISTED) {
        let chosen = result.candidate == ranking.sets[ranking.best].candidate;
        table.add_row([
            words::set(grades, result),
            if chosen { "*".to_owned() } else { String::new() },
            words::cost(result.cost.estimate),
            yield_percent(result.good.estimate),
            words::weeks(result.lead_time),
            fresh_cost(ranking, result),
        ]);
    }
    let more = match front.len().saturating_sub(LISTED) {
        0 => String::new(),
        more => format!("and {more} more, listed in grades.csv\n"),
    };
    format!(
        "{}{more}* recommended. Costs and yields are those of the first samples, seed {}. The best \
         of many look better than they are: fresh cost corrects that.\n\n",
        trimmed(&table),
        ranking.settings.seed
    )
}

fn fresh_cost(ranking: &Ranking, result: &SetResult) -> String {
    let last = ranking.last_result(result);
    if last.source == result.source { NONE.into() } else { words::cost(last.cost.estimate) }
}
