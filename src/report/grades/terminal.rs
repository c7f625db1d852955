//! The comparison of grades on the terminal, 80 columns wide: the decision first.

use std::fmt::Write as _;

use super::words;
use crate::report::format::numbers::{grouped, interval, verdict_word, yield_percent};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::{Grades, Scenario};
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::allocation::{PassingRange, REPEATS, StockAllocation};
use crate::study::common::demand::Binding;
use crate::study::grades::{
    BalancingVerdict, GradeStep, Ranking, SetComparison, SetResult, SteppedSet,
};

/// Sets of the front that are listed at most.
const SHOWN: usize = 8;

/// The result of a comparison of grades.
pub(super) fn text(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let settings = ranking.settings;
    let mut text = format!(
        "{}\n{}, {} samples each, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        words::sets(ranking.sets.len()),
        grouped(ranking.sets[0].good.trials),
        settings.seed,
        settings.method.name(),
        scenario.phases,
    );
    if ranking.is_partial() {
        text.push_str("PARTIAL: interrupted. What follows rests on what was done by then.\n\n");
    } else if stocked.is_some_and(StockAllocation::is_partial) {
        text.push_str("PARTIAL: interrupted while the stock was allotted.\n\n");
    }
    if settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take decisions from --solver exact.\n\n",
        );
    }
    let best = ranking.recommended();
    if best.cost.estimate.is_finite() {
        text.push_str(&decision(scenario, grades, ranking));
        text.push_str(&balancing(scenario, grades, ranking));
        text.push_str(&certainty(grades, ranking, scenario.limits.yield_target));
        text.push_str(&shortlist(grades, ranking, scenario.limits.yield_target));
        text.push_str(&steps(grades, ranking, scenario.limits.yield_target));
        text.push_str(&front(grades, ranking));
    } else {
        text.push_str("No set makes a good converter: there is nothing to recommend.\n");
        if let Some(Binding { operating_point, demand, missed }) = &best.binding {
            let demand = demand.name().replace('_', " ");
            let (missed, all) = (grouped(*missed), grouped(best.good.trials));
            let _ = writeln!(
                text,
                "  {} misses {demand} at \"{operating_point}\" with {missed} of {all} samples",
                words::set(grades, best)
            );
        }
        text.push('\n');
    }
    if let Some(stocked) = stocked {
        text.push_str(&allocation(stocked));
    }
    text.push_str(CAUTION);
    folded(&text)
}

fn decision(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let best = ranking.recommended();
    let target = scenario.limits.yield_target;
    let mut text = format!(
        "Recommended: {}\n  {} (target {}): yield {}\n",
        words::set(grades, best),
        verdict_word(ranking.verdict(target)),
        yield_percent(target),
        interval(&best.good),
    );
    let _ = writeln!(
        text,
        "  cost of a good converter: {} {} ({} to {})",
        words::money(best.cost.estimate),
        grades.currency,
        words::money(best.cost.lower),
        words::money(best.cost.upper),
    );
    if best.surplus > 0.0 {
        let surplus = words::money(best.surplus);
        let _ = writeln!(text, "    of it for parts beyond the need (least orders): {surplus}");
    }
    let _ = writeln!(text, "  parts on offer in a built one: {}", words::money(best.parts));
    if let Some(weeks) = best.lead_time {
        let _ = writeln!(text, "  lead time: {weeks} weeks (shown, not weighed)");
    }
    if ranking.shortlist.is_empty() {
        text.push_str("  not tried on fresh samples: picked as the best, it looks too good\n");
    } else {
        let (source, tried) = (ranking.verification, ranking.shortlist.len());
        let _ = writeln!(text, "  on fresh samples ({source}), as one of {tried}");
    }
    text.push_str(&shortfall(ranking, target));
    text.push('\n');
    text
}

/// What to know where the recommended set does not pass.
fn shortfall(ranking: &Ranking, target: f64) -> String {
    let (tried, best) = (ranking.shortlist.len(), ranking.recommended());
    match ranking.verdict(target) {
        Verdict::Pass => String::new(),
        Verdict::Fail => format!(
            "  none of the {} best sets meets the target: this is the cheapest of them\n",
            tried.max(1)
        ),
        Verdict::NotDecided => {
            let open =
                "  no set tried is sure to meet the target: this is the cheapest that may;\n";
            open.to_owned()
                + &best.good.samples_to_decide(target).map_or_else(String::new, |n| {
                    format!("  about {} samples would decide, at this yield\n", grouped(n))
                })
        }
    }
}

/// What the flying capacitors are worth: the best that can be had without them.
fn balancing(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let target = scenario.limits.yield_target;
    let Some((worth, best)) = ranking.balancing(target) else { return String::new() };
    let answer = match worth {
        BalancingVerdict::Recommended => "Charge balancing pays.",
        BalancingVerdict::NotRecommended => "CHARGE BALANCING DOES NOT PAY HERE.",
        BalancingVerdict::NotDecided => "Whether charge balancing pays is open.",
    };
    let all = ranking.paralleled.len();
    if !best.cost.estimate.is_finite() {
        return format!("{answer} Without it no set, of {all}, makes a good converter.\n\n");
    }
    let compared = match best.against.and_then(|against| against.cost) {
        Some(cost) => {
            format!(", {} ({})", words::signed(cost.estimate), words::cost_ends(&cost))
        }
        None => String::new(),
    };
    format!(
        "{answer} Without it the best set, of {all}, is\n  {}\n  yield {} ({}); a good converter: \
         {}{compared}\n\n",
        words::set(grades, best),
        yield_percent(best.good.estimate),
        verdict_word(best.good.verdict(target)).to_lowercase(),
        words::money(best.cost.estimate),
    )
}

/// How many of the other sets are surely dearer, and which are not.
fn certainty(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    let (ties, over) = (ranking.ties(), ranking.passed_over());
    let all = ranking.sets.len() - 1;
    if all == 0 {
        return String::new();
    }
    let dearer = ranking.dearer();
    let mut text = format!("How sure? Of {all} others {dearer} cost surely more");
    if let Some(next) = ranking.runner_up(target) {
        let _ = write!(
            text,
            ". Next in cost that meets the target: {}, {} ({}), yield {}",
            words::set(grades, next),
            words::signed(ranking.above_recommended(next).amount),
            words::signed_percent(ranking.above_recommended(next).relative),
            yield_percent(next.good.estimate)
        );
    }
    text.push_str(".\n");
    if !ties.is_empty() {
        text.push_str("The samples cannot tell from it by cost (ties):\n");
        text.push_str(&listed(grades, &ties, target));
    }
    if !over.is_empty() {
        text.push_str("Surely cheaper, but passed over for their yield:\n");
        text.push_str(&listed(grades, &over, target));
    }
    text.push('\n');
    text
}

fn listed(grades: &Grades, sets: &[&SetResult], target: f64) -> String {
    let mut text = String::new();
    for set in sets.iter().take(SHOWN) {
        let _ = writeln!(text, "  {} ({})", words::set(grades, set), words::standing(set, target));
    }
    if sets.len() > SHOWN {
        let _ = writeln!(text, "  and {} more, listed in grades.csv", sets.len() - SHOWN);
    }
    text
}

fn shortlist(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.shortlist.len() < 2 {
        return String::new();
    }
    let mut table = table(&["short list, fresh samples", "", "yield", "", "cost", "against it"]);
    for set in ranking.shortlist.iter().filter(|set| set.against.is_some()) {
        let against = set.against.as_ref();
        table.add_row([
            words::set(grades, set),
            against.map_or("", remark).to_owned(),
            yield_percent(set.good.estimate),
            words::verdict(set.good.verdict(target)).to_owned(),
            words::money(set.cost.estimate),
            against.map_or_else(String::new, cost_ends),
        ]);
    }
    format!("{}\n", trimmed(&table))
}

fn remark(against: &SetComparison) -> &'static str {
    match against.cost {
        None => "",
        Some(_) if against.is_tie() => "tie",
        Some(_) if against.is_cheaper() => "cheaper",
        Some(_) => "dearer",
    }
}

fn cost_ends(against: &SetComparison) -> String {
    against.cost.map_or_else(|| "–".into(), |cost| words::cost_ends(&cost).replace(" to ", "…"))
}

fn steps(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.steps.is_empty() {
        return String::new();
    }
    let mut table = table(&["one grade", "to", "yield, points", "", "cost", "interval"]);
    let mut better = Vec::new();
    let mut beyond = false;
    for SteppedSet { step, result, stated } in &ranking.steps {
        let Some(against) = &result.against else { continue };
        beyond |= !*stated;
        let meets = result.good.verdict(target) == Verdict::Pass;
        if against.is_cheaper() && meets {
            better.push(words::set(grades, result));
        }
        table.add_row([
            heading(grades, *step) + if *stated { "" } else { " *" },
            grades.offers[step.offer].grades[step.grade].name.clone(),
            words::points(against.good.estimate),
            words::verdict(result.good.verdict(target)).to_owned(),
            against.cost.map_or_else(|| "–".into(), |cost| words::signed(cost.estimate)),
            cost_ends(against),
        ]);
    }
    let mut text = format!(
        "What one grade buys: change of yield (pass: still meets the target) and of cost\n{}",
        trimmed(&table)
    );
    if beyond {
        text.push_str("(* not among the stated combinations)\n");
    }
    for set in better {
        let _ = writeln!(text, "Surely cheaper, and meets the target: {set}");
    }
    text.push('\n');
    text
}

fn heading(grades: &Grades, step: GradeStep) -> String {
    let direction = if step.dearer { "dearer" } else { "cheaper" };
    format!("{} {direction}", words::symbol(grades.offers[step.offer].parameter))
}

fn front(grades: &Grades, ranking: &Ranking) -> String {
    let front = ranking.front();
    let mut table = table(&["front of cost and yield", "", "cost", "yield", "weeks", "fresh cost"]);
    for set in front.iter().take(SHOWN) {
        let chosen = set.candidate == ranking.sets[ranking.best].candidate;
        table.add_row([
            words::set(grades, set),
            if chosen { "*".to_owned() } else { String::new() },
            words::money(set.cost.estimate),
            yield_percent(set.good.estimate),
            words::weeks(set.lead_time),
            fresh_cost(ranking, set),
        ]);
    }
    let more = front.len().saturating_sub(SHOWN);
    let more =
        if more > 0 { format!("and {more} more, listed in grades.csv\n") } else { String::new() };
    format!(
        "{}{more}(* recommended; first samples, seed {}, which flatter what they pick)\n\n",
        trimmed(&table),
        ranking.settings.seed
    )
}

fn fresh_cost(ranking: &Ranking, set: &SetResult) -> String {
    let last = ranking.last_result(set);
    if last.source == set.source { "–".into() } else { words::money(last.cost.estimate) }
}

fn allocation(StockAllocation { stock, allocation }: &StockAllocation) -> String {
    let Some(found) = allocation else {
        return "Stock: interrupted before the tanks were allotted\n\n".into();
    };
    let PassingRange { mean, least, most } = found.at_random;
    let by_then = if found.partial { " by then" } else { "" };
    let proof = if found.proven { " (proven: no list passes more)" } else { "" };
    format!(
        "Stock: of {} tanks, converters built: {}; so many pass{by_then} (solver):\n  \
         allotted as in build_list.csv   {:>5}{proof}\n  \
         sorted by resonance             {:>5}\n  \
         at random, mean of {REPEATS}         {mean:>7.1} ({least} to {most})\n\n",
        stock.tanks.len(),
        found.converters,
        found.allocated,
        found.sorted,
    )
}
