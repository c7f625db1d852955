//! The comparison of grades on the terminal, 80 columns wide: the decision first.

use std::fmt::Write as _;

use super::words;
use crate::report::terminal::{
    CAUTION, folded, grouped, interval, table, trimmed, verdict_word, yield_percent,
};
use crate::scenario::{Grades, Scenario};
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::grades::{Comparison, Ranking, Role, SetResult, Step, Verified};
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
        "{}\n{} of {} sets of grades, {} samples each, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        ranking.sets.len(),
        grades.sets.len(),
        grouped(settings.samples),
        settings.seed,
        settings.method.name(),
        scenario.phases,
    );
    if ranking.partial {
        text.push_str(
            "PARTIAL: interrupted. What follows rests on the trials that were finished.\n\n",
        );
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
    text.push_str(&certainty(grades, ranking, scenario.limits.yield_target));
    text.push('\n');
    text.push_str(&rivals(grades, ranking));
    text.push_str(&steps(grades, ranking));
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
        words::set(grades, &best.set),
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
    if ranking.all_miss {
        text.push_str("  every set misses the target: this is the cheapest of them\n");
    }
    if ranking.verified.is_empty() {
        text.push_str("  not tried on fresh samples: picked as the best, it looks too good\n");
    } else {
        let seed = ranking.fresh_seed;
        let _ = writeln!(text, "  these numbers come from fresh samples (seed {seed})");
    }
    for rival in ranking.overturned_by(target) {
        let _ = writeln!(
            text,
            "  NOT SETTLED: fresh samples show {} cheaper ({}); take more samples, or treat both as \
             equal",
            words::set(grades, &rival.set),
            words::money(rival.cost.estimate)
        );
    }
    if let Some(good) = ranking.paralleled {
        let good = yield_percent(good.estimate);
        let _ = writeln!(text, "  the same parts without charge balancing: yield {good}");
    }
    text
}

/// How many of the other sets are surely dearer, and which are not.
fn certainty(grades: &Grades, ranking: &Ranking, target: f64) -> String {
    let others = || ranking.sets.iter().filter_map(|set| Some((set, set.against?)));
    let ties: Vec<&SetResult> = ranking.ties().collect();
    let cheaper = others().filter(|(_, against)| against.is_cheaper()).count();
    let all = others().count();
    let mut text =
        format!("How sure? Of {all} other sets {} cost surely more", all - cheaper - ties.len());
    if cheaper > 0 {
        let _ = write!(text, ", {cheaper} surely less but miss the target");
    }
    match ties.len() {
        0 => text.push_str("; none ties.\n"),
        n => {
            let _ = writeln!(text, "; {n} cannot be told apart (ties):");
        }
    }
    for set in ties.iter().take(SHOWN) {
        let misses = set.good.verdict(target) == Verdict::Fail;
        let remark = if misses && !ranking.all_miss { " (misses the target)" } else { "" };
        let _ = writeln!(text, "  {}{remark}", words::set(grades, &set.set));
    }
    if ties.len() > SHOWN {
        let _ = writeln!(text, "  and {} more, listed in grades.csv", ties.len() - SHOWN);
    }
    text
}

fn rivals(grades: &Grades, ranking: &Ranking) -> String {
    let rival = |v: &&Verified| {
        v.roles.iter().any(|role| matches!(role, Role::Rival | Role::CheapestOfAll))
    };
    let rivals: Vec<_> = ranking.verified.iter().filter(rival).collect();
    if rivals.is_empty() {
        return String::new();
    }
    let mut table = table(&["nearest rivals, fresh samples", "", "yield", "cost", "against it"]);
    for Verified { result, .. } in rivals {
        let against = result.against.as_ref();
        table.add_row([
            words::set(grades, &result.set),
            against.map_or("", remark).to_owned(),
            yield_percent(result.good.estimate),
            words::money(result.cost.estimate),
            against.map_or_else(String::new, cost_ends),
        ]);
    }
    format!("{}\n", trimmed(&table))
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
    against.cost.map_or_else(|| "–".into(), |cost| words::ends(&cost, words::signed))
}

fn steps(grades: &Grades, ranking: &Ranking) -> String {
    if ranking.verified.len() < 2 {
        return String::new();
    }
    let mut table = table(&["one grade", "to", "yield, points", "cost", "interval"]);
    for (step, result) in ranking.steps() {
        let Some(against) = &result.against else { continue };
        table.add_row([
            heading(grades, step),
            grades.offers[step.offer].grades[step.grade].name.clone(),
            words::points(against.good.estimate),
            against.cost.map_or_else(|| "–".into(), |cost| words::signed(cost.estimate)),
            cost_ends(against),
        ]);
    }
    format!(
        "What one grade buys: change of yield and of the cost of a good converter\n{}\n",
        trimmed(&table)
    )
}

fn heading(grades: &Grades, step: Step) -> String {
    let direction = if step.up { "dearer" } else { "cheaper" };
    format!("{} {direction}", words::symbol(grades.offers[step.offer].parameter))
}

fn front(grades: &Grades, ranking: &Ranking) -> String {
    let mut front: Vec<&SetResult> = ranking.sets.iter().filter(|set| set.on_front).collect();
    front.sort_by(|a, b| a.cost.estimate.total_cmp(&b.cost.estimate));
    let mut table = table(&["front of cost and yield", "", "cost", "yield", "weeks"]);
    for set in front.iter().take(SHOWN) {
        let chosen = set.set == ranking.sets[ranking.best].set;
        table.add_row([
            words::set(grades, &set.set),
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
    let Chance { mean, least, most } = found.as_they_come;
    let by_then = if found.partial { " by then" } else { "" };
    format!(
        "Stock: {} tanks make {} converters; so many pass{by_then} (solver):\n  \
         allotted as in build_list.csv   {:>5}\n  \
         sorted by resonance             {:>5}\n  \
         as they come, mean of {REPEATS}      {mean:>7.1} ({least} to {most})\n\n",
        stock.tanks.len(),
        found.converters,
        found.allotted,
        found.sorted,
    )
}
