//! `grades.csv`, a row per set of grades; `build_list.csv`, a row per phase to be built;
//! `not_passing.csv`, the same of converters that fail.

use crate::converter::Parameter;
use crate::population::parts_file;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::scenario::{Grades, Offer};
use crate::statistics::Difference;
use crate::study::allocation::{Allocation, Mend, PlannedConverter, RejectedConverter, Stock};
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

/// Columns that both lists have after those of a parts file of `units`: serials of the parts.
const SERIALS: [&str; 3] = ["tank", "flying_capacitor", "flying_capacitor_return_leg"];
/// Columns of `not_passing.csv` after these.
const WHY: [&str; 6] = [
    "sharing_error",
    "missed_operating_point",
    "missed",
    "exchange_in",
    "exchange_parameter",
    "exchange_value",
];

/// `build_list.csv`: a row per phase of every converter to be built, a parts file of `units` with the
/// serials behind. The flying capacitors are those between this phase and the next; empty where they
/// count as nominal and in the last phase.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn build_list(stock: &Stock, found: &Allocation) -> anyhow::Result<String> {
    let columns = parts_file::COLUMNS.into_iter().chain(SERIALS);
    let mut table = CsvTable::with_columns(columns.map(str::to_owned))?;
    for (n, build) in found.build_list.iter().enumerate() {
        for row in phases(stock, n + 1, build) {
            table.row(row)?;
        }
    }
    table.text()
}

/// `not_passing.csv`: the same of the converters that fail, with the first limit that each misses and the
/// part whose exchange would mend it.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn not_passing(stock: &Stock, found: &Allocation) -> anyhow::Result<String> {
    let columns = parts_file::COLUMNS.into_iter().chain(SERIALS).chain(WHY);
    let mut table = CsvTable::with_columns(columns.map(str::to_owned))?;
    for (n, rejected) in found.rejected.iter().enumerate() {
        let number = found.build_list.len() + n + 1;
        for row in phases(stock, number, &rejected.planned) {
            table.row(row.into_iter().chain(why(stock, rejected)))?;
        }
    }
    table.text()
}

/// The rows of a converter, phase by phase.
fn phases(
    stock: &Stock,
    number_of_converter: usize,
    build: &PlannedConverter,
) -> Vec<Vec<CsvCell>> {
    let between = build.tanks.len().saturating_sub(1);
    let capacitor = |leg: usize, k: usize| {
        let taken = (k < between).then(|| build.capacitors.get(leg * between + k)).flatten()?;
        stock.capacitors.get(*taken)
    };
    let row = |(k, n): (usize, &usize)| {
        let (tank, slots) = (&stock.tanks[*n], [capacitor(0, k), capacitor(1, k)]);
        let mut row =
            vec![CsvCell::count(number_of_converter as u64), CsvCell::count(k as u64 + 1)];
        row.extend(Parameter::of_tank().map(|p| CsvCell::number(tank.part.value(p))));
        row.extend(slots.map(|slot| CsvCell::number(slot.map(|own| own.part.0))));
        row.push(CsvCell::text(&tank.serial));
        row.extend(
            slots.map(|slot| slot.map_or_else(CsvCell::empty, |own| CsvCell::text(&own.serial))),
        );
        row
    };
    build.tanks.iter().enumerate().map(row).collect()
}

/// Why a converter fails, and what would mend it.
fn why(stock: &Stock, rejected: &RejectedConverter) -> [CsvCell; 6] {
    let evaluation = &rejected.planned.evaluation;
    let missed = evaluation.missed.as_ref();
    let exchange = match rejected.mend {
        Mend::Exchange(exchange) => Some(exchange),
        Mend::SeveralParts | Mend::NotTried => None,
    };
    let text = |text: Option<&str>| text.map_or_else(CsvCell::empty, CsvCell::text);
    [
        evaluation.sharing_error.map_or_else(CsvCell::empty, number),
        text(missed.map(|missed| missed.operating_point.as_str())),
        text(missed.map(|missed| missed.demand.name()).as_deref()),
        text(exchange.map(|own| stock.serial_of(own))),
        text(exchange.map(|own| own.parameter.key())),
        exchange.map_or_else(CsvCell::empty, |own| number(own.value)),
    ]
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
