//! Tables: the short list, the effect of one grade, the Pareto front.

use std::fmt::Write as _;

use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, signed_money, yield_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::report::grades::words;
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::grades::{GradeStep, Ranking, SetComparison, SetResult, SteppedSet};

/// Sets of the front that are listed at most.
const LISTED: usize = 8;

/// All of them, as far as there is something to show.
pub(super) fn tables(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let target = scenario.limits.yield_target;
    short_list(grades, ranking, target)
        + &steps(grades, ranking, target)
        + &front(scenario, grades, ranking)
}

/// A row of a table of sets.
struct SetRow {
    name: String,
    numbers: Vec<String>,
}

/// A table of sets; where names are too long to stand beside the numbers, each has a line of its own.
fn set_table(headings: &[&str], rows: &[SetRow]) -> String {
    let filled = |name: &dyn Fn(&SetRow) -> String| {
        let mut table = table(headings);
        for row in rows {
            table.add_row(std::iter::once(name(row)).chain(row.numbers.iter().cloned()));
        }
        trimmed(&table)
    };
    let beside = filled(&|row| row.name.clone());
    if beside.lines().count() == rows.len() + 1 {
        return beside;
    }
    let below = filled(&|_| String::new());
    let mut lines = below.lines();
    let mut text = lines.next().map_or_else(String::new, |heading| format!("{heading}\n"));
    for (row, numbers) in rows.iter().zip(lines) {
        let _ = writeln!(text, "{}\n{numbers}", row.name);
    }
    text
}

fn short_list(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.shortlist.len() < 2 {
        return String::new();
    }
    let listed = ranking.shortlist.iter().filter(|result| result.against.is_some());
    let rows: Vec<SetRow> = listed
        .map(|result| {
            let against = result.against.as_ref();
            let numbers = vec![
                words::verdict_word(result, result.verdict(target)).to_owned(),
                yield_percent(result.good.estimate),
                words::cost(result.cost.estimate),
                against.map_or_else(String::new, cost_ends),
                against.map_or("", cost_result).to_owned(),
            ];
            SetRow { name: words::set(grades, result), numbers }
        })
        .collect();
    let headings = ["short list, fresh samples", "target", "yield", "cost", "difference", ""];
    set_table(&headings, &rows) + "\n"
}

fn cost_result(against: &SetComparison) -> &'static str {
    match against {
        _ if against.is_tie() => "tie",
        _ if against.is_cheaper() => "lower",
        _ if against.is_dearer() => "higher",
        _ => "",
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
            words::verdict_word(result, result.verdict(target)).to_owned(),
            against.cost.map_or_else(|| NONE.into(), |cost| signed_money(cost.estimate)),
            cost_ends(against),
        ]);
        if against.is_cheaper() && result.verdict(target) == Verdict::Pass {
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

fn front(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let front = ranking.front();
    let rows: Vec<SetRow> = front
        .iter()
        .take(LISTED)
        .map(|result| {
            let named = result.candidate == ranking.sets[ranking.best].candidate;
            let numbers = vec![
                if named { "*".to_owned() } else { String::new() },
                words::cost(result.cost.estimate),
                yield_percent(result.good.estimate),
                words::weeks(result.lead_time),
                fresh_cost(ranking, result),
            ];
            SetRow { name: words::set(grades, result), numbers }
        })
        .collect();
    let more = match front.len().saturating_sub(LISTED) {
        0 => String::new(),
        more => format!("and {more} more, listed in grades.csv\n"),
    };
    let remark = match ranking.sets.len() {
        1 => "",
        _ => " The best of many look better than they are: fresh cost corrects that.",
    };
    let headings = ["Pareto front", "", "cost", "yield", "weeks", "fresh cost"];
    format!(
        "{}{more}* the {} set. Costs and yields are those of the first samples, seed {}.{remark}\n\n",
        set_table(&headings, &rows),
        words::reference(scenario, ranking),
        ranking.settings.seed
    )
}

fn fresh_cost(ranking: &Ranking, result: &SetResult) -> String {
    let last = ranking.last_result(result);
    if last.source == result.source { NONE.into() } else { words::cost(last.cost.estimate) }
}
