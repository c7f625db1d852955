//! `grades.csv`, a row per set of grades; `build_list.csv`, a row per phase to be built.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::scenario::{Grades, Offer};
use crate::statistics::Difference;
use crate::study::allocation::{Allocation, Stock};
use crate::study::grades::{Ranking, SetResult};

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
    let names = grades.offers.iter().map(|offer| format!("{}_grade", offer.parameter.key()));
    let fixed = |names: &[&str]| names.iter().map(ToString::to_string).collect::<Vec<_>>();
    let columns = fixed(&BEFORE).into_iter().chain(names).chain(fixed(&AFTER));
    let mut table = CsvTable::with_columns(columns)?;
    let first = ranking.sets.iter().chain(&ranking.paralleled);
    let fresh = ranking.shortlist.iter().chain(&ranking.paralleled_shortlist);
    let to_build = ranking.set_to_build(target).map(|set| &set.candidate);
    for set in first.chain(fresh) {
        let chosen = |offer: &Offer| {
            let mut chosen = set.candidate.chosen(grades);
            let found = chosen.find(|(part, _)| part.parameter == offer.parameter);
            found.map_or_else(CsvCell::empty, |(_, grade)| CsvCell::text(&grade.name))
        };
        let arrangement = CsvCell::text(set.candidate.arrangement.name());
        let row = [arrangement, CsvCell::count(set.source.stream)]
            .into_iter()
            .chain(grades.offers.iter().map(chosen));
        let recommended = to_build == Some(&set.candidate);
        table.row(row.chain(results(set, recommended)))?;
    }
    table.text()
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
    let mut table = CsvTable::with_columns(BUILD_COLUMNS)?;
    for (n, build) in found.build_list.iter().enumerate() {
        let between = build.tanks.len().saturating_sub(1);
        let capacitor = |leg: usize, k: usize| {
            let taken = (k < between).then(|| build.capacitors.get(leg * between + k)).flatten();
            taken.map_or_else(CsvCell::empty, |taken| {
                CsvCell::text(&stock.capacitors[*taken].serial)
            })
        };
        let missed = build.evaluation.missed.as_ref();
        for (k, tank) in build.tanks.iter().enumerate() {
            table.row([
                CsvCell::count(n as u64 + 1),
                CsvCell::count(k as u64 + 1),
                CsvCell::text(&stock.tanks[*tank].serial),
                capacitor(0, k),
                capacitor(1, k),
                CsvCell::flag(build.evaluation.passes),
                build.evaluation.sharing_error.map_or_else(CsvCell::empty, number),
                CsvCell::text(missed.map_or("", |missed| &missed.operating_point)),
                missed.map_or_else(CsvCell::empty, |m| CsvCell::text(&m.demand.name())),
            ])?;
        }
    }
    table.text()
}

fn number(x: f64) -> CsvCell {
    CsvCell::number(Some(x).filter(|x| x.is_finite()))
}

fn results(set: &SetResult, recommended: bool) -> Vec<CsvCell> {
    let difference = |d: Option<Difference>| -> [CsvCell; 3] {
        d.map_or([const { CsvCell::empty() }; 3], |d| [d.estimate, d.lower, d.upper].map(number))
    };
    let mut row = vec![CsvCell::count(set.good.trials), CsvCell::count(set.good.successes)];
    row.extend([set.good.estimate, set.good.lower, set.good.upper].map(number));
    row.extend([set.parts, set.surplus].map(number));
    row.extend([set.cost.estimate, set.cost.lower, set.cost.upper].map(number));
    row.push(set.lead_time.map_or_else(CsvCell::empty, number));
    row.extend([set.on_front, recommended].map(CsvCell::flag));
    row.extend(difference(set.against.map(|against| against.good)));
    row.extend(difference(set.against.and_then(|against| against.cost)));
    row.push(set.against.map_or_else(CsvCell::empty, |against| CsvCell::flag(against.is_tie())));
    row
}
