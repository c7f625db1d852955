//! `grades.csv`, a row per set of grades; `build_list.csv`, a row per phase to be built.

use crate::report::format::csv::text;
use crate::scenario::{Grades, Offer};
use crate::statistics::Difference;
use crate::study::allocation::{Allocation, Stock};
use crate::study::grades::{Ranking, RankingAnswer, SetResult};

/// Columns before those of the grades.
const BEFORE: [&str; 2] = ["arrangement", "stream"];
/// Columns after those of the grades, one for each parameter on offer.
const AFTER: [&str; 20] = [
    "samples",
    "passed",
    "yield",
    "yield_lower",
    "yield_upper",
    "parts_cost",
    "surplus_cost",
    "cost_per_good_converter",
    "cost_lower",
    "cost_upper",
    "lead_time_weeks",
    "on_pareto_front",
    "recommended",
    "yield_difference",
    "yield_difference_lower",
    "yield_difference_upper",
    "cost_difference",
    "cost_difference_lower",
    "cost_difference_upper",
    "tie",
];

/// All sets on the first samples (verification run 0), in the scenario's order, first in the chain,
/// then paralleled; then those tried again on fresh ones. Numbers in the shortest form that reads
/// back as the same double, empty where there is none.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn grades(grades: &Grades, ranking: &Ranking, target: f64) -> anyhow::Result<String> {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let names = grades.offers.iter().map(|offer| format!("{}_grade", offer.parameter.key()));
    let fixed = |names: &[&str]| names.iter().map(ToString::to_string).collect::<Vec<_>>();
    writer.write_record(fixed(&BEFORE).into_iter().chain(names).chain(fixed(&AFTER)))?;
    let first = ranking.sets.iter().chain(&ranking.paralleled);
    let fresh = ranking.shortlist.iter().chain(&ranking.paralleled_shortlist);
    let is_recommended = ranking.answer(target) == RankingAnswer::Recommended;
    for set in first.chain(fresh) {
        let chosen = |offer: &Offer| {
            let mut chosen = set.candidate.chosen(grades);
            let found = chosen.find(|(part, _)| part.parameter == offer.parameter);
            found.map_or_else(String::new, |(_, grade)| grade.name.clone())
        };
        let arrangement = set.candidate.arrangement.name().to_owned();
        let row = [arrangement, set.source.stream.to_string()]
            .into_iter()
            .chain(grades.offers.iter().map(chosen));
        let recommended = is_recommended && set.candidate == ranking.sets[ranking.best].candidate;
        writer.write_record(row.chain(results(set, recommended)))?;
    }
    text(writer)
}

/// Columns of `build_list.csv`.
const BUILD_COLUMNS: [&str; 9] = [
    "converter",
    "phase",
    "tank",
    "flying_capacitor",
    "flying_capacitor_return_leg",
    "pass",
    "sharing_error",
    "missed_operating_point",
    "missed",
];

/// `build_list.csv`: a row per phase of every converter to be built, with the serials of its parts.
/// The flying capacitors are those between this phase and the next; empty where they count as
/// nominal and in the last phase.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn build_list(stock: &Stock, found: &Allocation) -> anyhow::Result<String> {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    writer.write_record(BUILD_COLUMNS)?;
    for (n, build) in found.build_list.iter().enumerate() {
        let between = build.tanks.len().saturating_sub(1);
        let capacitor = |leg: usize, k: usize| {
            let taken = (k < between).then(|| build.capacitors.get(leg * between + k)).flatten();
            taken.map_or_else(String::new, |taken| stock.capacitors[*taken].serial.clone())
        };
        let missed = build.evaluation.missed.as_ref();
        for (k, tank) in build.tanks.iter().enumerate() {
            writer.write_record([
                (n + 1).to_string(),
                (k + 1).to_string(),
                stock.tanks[*tank].serial.clone(),
                capacitor(0, k),
                capacitor(1, k),
                build.evaluation.passes.to_string(),
                build.evaluation.sharing_error.map_or_else(String::new, number),
                missed.map_or_else(String::new, |missed| missed.operating_point.clone()),
                missed.map_or_else(String::new, |missed| missed.demand.name()),
            ])?;
        }
    }
    text(writer)
}

fn number(x: f64) -> String {
    if x.is_finite() { x.to_string() } else { String::new() }
}

fn results(set: &SetResult, recommended: bool) -> Vec<String> {
    let difference = |d: Option<Difference>| -> [String; 3] {
        d.map_or_else(Default::default, |d| [d.estimate, d.lower, d.upper].map(number))
    };
    let mut row = vec![set.good.trials.to_string(), set.good.successes.to_string()];
    row.extend([set.good.estimate, set.good.lower, set.good.upper].map(number));
    row.extend([set.parts, set.surplus].map(number));
    row.extend([set.cost.estimate, set.cost.lower, set.cost.upper].map(number));
    row.push(set.lead_time.map_or_else(String::new, number));
    row.extend([set.on_front, recommended].map(|flag| flag.to_string()));
    row.extend(difference(set.against.map(|against| against.good)));
    row.extend(difference(set.against.and_then(|against| against.cost)));
    row.push(set.against.map_or_else(String::new, |against| against.is_tie().to_string()));
    row
}
