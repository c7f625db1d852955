//! The comparison of grades on the terminal, 80 columns wide: the decision first.

use std::fmt::Write as _;

use super::words;
use crate::report::terminal::{
    CAUTION, folded, grouped, interval, table, trimmed, verdict_word, yield_percent,
};
use crate::scenario::{Grades, Scenario};
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::grades::{Comparison, Ranking, SetResult, Step};
use crate::study::pairing::{Chance, REPEATS, Stocked};

/// Sets of the front that are listed at most.
const SHOWN: usize = 8;

/// The result of a comparison of grades.
pub fn grades(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&Stocked>,
) -> String {
    let settings = ranking.settings;
    let mut text = format!(
        "{}\n{} sets of grades, {} samples each, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        ranking.sets.len(),
        grouped(ranking.sets[0].good.trials),
        settings.seed,
        settings.method.name(),
        scenario.phases,
    );
    if ranking.is_partial() {
        text.push_str("PARTIAL: interrupted. What follows rests on what was done by then.\n\n");
    } else if stocked.is_some_and(Stocked::is_partial) {
        text.push_str("PARTIAL: interrupted while the stock was allotted.\n\n");
    }
    if settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take decisions from --solver exact.\n\n",
        );
    }
    text.push_str(&decision(scenario, grades, ranking));
    text.push('\n');
    text.push_str(&balancing(scenario, grades, ranking));
    text.push('\n');
    text.push_str(&certainty(grades, ranking, scenario.limits.yield_target));
    text.push('\n');
    text.push_str(&shortlist(grades, ranking));
    text.push_str(&steps(grades, ranking, scenario.limits.yield_target));
    text.push_str(&front(grades, ranking));
    if let Some(stocked) = stocked {
        text.push_str(&pairing(stocked));
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
        "  cost of a good converter: {} {} ({} to {})\n  parts on offer in a built one: {}",
        words::money(best.cost.estimate),
        grades.currency,
        words::money(best.cost.lower),
        words::money(best.cost.upper),
        words::money(best.parts),
    );
    if best.surplus > 0.0 {
        let surplus = words::money(best.surplus);
        let _ = writeln!(text, "  of it for parts beyond the need (least orders): {surplus}");
    }
    if let Some(weeks) = best.lead_time {
        let _ = writeln!(text, "  lead time: {weeks} weeks");
    }
    text.push_str(match ranking.standing {
        Verdict::Pass => "",
        Verdict::NotDecided => "  no set is sure to meet the target: take more samples\n",
        Verdict::Fail => "  every set misses the target: this is the cheapest of them\n",
    });
    if ranking.shortlist.is_empty() {
        text.push_str("  not tried on fresh samples: picked as the best, it looks too good\n");
    } else {
        let _ = writeln!(text, "  on fresh samples (seed {})", ranking.fresh_seed);
    }
    text
}

/// What the flying capacitors are worth: the best that can be had without them.
fn balancing(scenario: &Scenario, grades: &Grades, ranking: &Ranking) -> String {
    let Some(best) = &ranking.without_balancing else { return String::new() };
    let all = ranking.paralleled.len();
    if !best.cost.estimate.is_finite() {
        return format!("Without charge balancing none of {all} sets makes a good converter.\n");
    }
    let target = scenario.limits.yield_target;
    let found = format!(
        "{} ({}), {} a good converter, yield {}",
        words::set(grades, best),
        verdict_word(best.good.verdict(target)).to_lowercase(),
        words::money(best.cost.estimate),
        yield_percent(best.good.estimate),
    );
    let compared = match best.against {
        Some(Comparison { cost: Some(cost), .. }) => format!(
            "  cost against the recommended set: {} ({})\n",
            words::signed(cost.estimate),
            words::cost_ends(&cost)
        ),
        _ => String::new(),
    };
    format!("Without charge balancing, the best of {all}:\n  {found}\n{compared}")
}

/// How many of the other sets are surely dearer, and which are not.
fn certainty(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    let ties = ranking.ties(target);
    let (over, all) = (ranking.passed_over(), ranking.sets.len() - 1);
    let mut text = format!("How sure? Of {all} other sets ");
    match ties.len() {
        0 => text.push_str("none ties with it in cost.\n"),
        n => {
            let _ = writeln!(text, "{n} cannot be told from it by cost (ties):");
        }
    }
    text.push_str(&listed(grades, &ties, target));
    if !over.is_empty() {
        let _ = writeln!(text, "Cheaper, but passed over for their yield:");
        text.push_str(&listed(grades, &over, target));
    }
    text
}

fn listed(grades: &Grades, sets: &[&SetResult], target: f64) -> String {
    let mut text = String::new();
    for set in sets.iter().take(SHOWN) {
        let remark = match set.good.verdict(target) {
            Verdict::Pass => "",
            Verdict::NotDecided => " (yield not decided)",
            Verdict::Fail => " (misses the target)",
        };
        let _ = writeln!(text, "  {}{remark}", words::set(grades, set));
    }
    if sets.len() > SHOWN {
        let _ = writeln!(text, "  and {} more, listed in grades.csv", sets.len() - SHOWN);
    }
    text
}

fn shortlist(grades: &Grades, ranking: &Ranking) -> String {
    let rivals = ranking.shortlist.iter().filter(|set| set.against.is_some());
    let mut table = table(&["short list, fresh samples", "", "yield", "cost", "against it"]);
    let mut any = false;
    for set in rivals {
        any = true;
        let against = set.against.as_ref();
        table.add_row([
            words::set(grades, set),
            against.map_or("", remark).to_owned(),
            yield_percent(set.good.estimate),
            words::money(set.cost.estimate),
            against.map_or_else(String::new, cost_ends),
        ]);
    }
    if any { format!("{}\n", trimmed(&table)) } else { String::new() }
}

fn remark(against: &Comparison) -> &'static str {
    match against.cost {
        None => "",
        Some(_) if against.is_tie() => "tie",
        Some(_) if against.is_cheaper() => "cheaper",
        Some(_) => "dearer",
    }
}

fn cost_ends(against: &Comparison) -> String {
    against.cost.map_or_else(|| "–".into(), |cost| words::cost_ends(&cost))
}

fn steps(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    if ranking.steps.is_empty() {
        return String::new();
    }
    let mut table = table(&["one grade", "to", "yield, points", "", "cost", "interval"]);
    for (step, result) in &ranking.steps {
        let Some(against) = &result.against else { continue };
        table.add_row([
            heading(grades, *step),
            grades.offers[step.offer].grades[step.grade].name.clone(),
            words::points(against.good.estimate),
            verdict_word(result.good.verdict(target)).to_lowercase(),
            against.cost.map_or_else(|| "–".into(), |cost| words::signed(cost.estimate)),
            cost_ends(against),
        ]);
    }
    format!(
        "What one grade buys: change of yield (pass: still meets the target) and of cost\n{}\n",
        trimmed(&table)
    )
}

fn heading(grades: &Grades, step: Step) -> String {
    let direction = if step.up { "dearer" } else { "cheaper" };
    format!("{} {direction}", words::symbol(grades.offers[step.offer].parameter))
}

fn front(grades: &Grades, ranking: &Ranking) -> String {
    let front = ranking.front();
    let mut table = table(&["front of cost and yield", "", "cost", "yield", "weeks"]);
    for set in front.iter().take(SHOWN) {
        let chosen = set.candidate == ranking.sets[ranking.best].candidate;
        table.add_row([
            words::set(grades, set),
            if chosen { "*".to_owned() } else { String::new() },
            words::money(set.cost.estimate),
            yield_percent(set.good.estimate),
            words::weeks(set.lead_time),
        ]);
    }
    let more = front.len().saturating_sub(SHOWN);
    let more =
        if more > 0 { format!("and {more} more, listed in grades.csv\n") } else { String::new() };
    format!(
        "{}{more}(* recommended; first samples, seed {})\n\n",
        trimmed(&table),
        ranking.settings.seed
    )
}

fn pairing(Stocked { stock, pairing }: &Stocked) -> String {
    let Some(found) = pairing else {
        return "Stock: interrupted before the tanks were allotted\n\n".into();
    };
    let Chance { mean, least, most } = found.at_random;
    let by_then = if found.partial { " by then" } else { "" };
    let proof = if found.proven { " (proven: no list passes more)" } else { "" };
    format!(
        "Stock: of {} tanks, converters built: {}; so many pass{by_then} (solver):\n  \
         allotted as in build_list.csv   {:>5}{proof}\n  \
         sorted by resonance             {:>5}\n  \
         at random, mean of {REPEATS}         {mean:>7.1} ({least} to {most})\n\n",
        stock.tanks.len(),
        found.converters,
        found.allotted,
        found.sorted,
    )
}
