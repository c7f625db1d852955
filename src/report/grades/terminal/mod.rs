//! The comparison of grades on the terminal, 80 columns wide: the decision first.

mod allocation;
mod decision;
mod order;
mod tables;

use super::allotted_stock::AllottedStock;
use super::words;
use crate::report::format::names::PARTIAL;
use crate::report::format::numbers::count;
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded};
use crate::scenario::{Grades, Scenario};
use crate::solver::Method;
use crate::study::allocation::StockAllocation;
use crate::study::grades::{Ranking, matching_options, price_gaps};

/// The result of a comparison of grades.
pub(super) fn text(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let mut text = heading(scenario, ranking);
    if ranking.is_partial() {
        text += PARTIAL;
        text += " All numbers rest on the samples done by then.\n\n";
    } else if stocked.is_some_and(StockAllocation::is_partial) {
        text += PARTIAL;
        text += " The stock was being allotted.\n\n";
    }
    if ranking.settings.method == Method::Averaged {
        text += QUICK_LOOK;
    }
    if let Some(alone) = words::measured_parts_alone(scenario, grades) {
        text += &(alone + "\n\n");
    }
    for gap in price_gaps(grades) {
        text += &(words::price_gap(&gap) + "\n\n");
    }
    text += &decision::decision(scenario, grades, ranking);
    if let Some(found) = ranking.order(scenario, grades) {
        text += &order::order(grades, &found);
    }
    for option in matching_options(ranking, grades, scenario.limits.yield_target) {
        if let Some(claim) = words::matching(&option) {
            let failures = words::matching_failures(&option);
            text += &(claim + ":\n  " + &failures + ".\n\n");
        }
    }
    if ranking.recommended().cost.estimate.is_finite() {
        text += &tables::tables(scenario, grades, ranking);
    }
    if let Some(stocked) = stocked {
        text += &allocation::allocation(stocked);
    }
    text += CAUTION;
    folded(&text)
}

fn heading(scenario: &Scenario, ranking: &Ranking) -> String {
    format!(
        "{}\n{}, {} samples per set, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        words::set_count(ranking.sets.len()),
        count(ranking.sets[0].good.trials),
        ranking.settings.seed,
        ranking.settings.method.name(),
        scenario.phases,
    )
}

/// The stock where it alone was allotted.
pub(super) fn stock_text(allotted: AllottedStock) -> String {
    let AllottedStock { scenario, settings, stocked, .. } = allotted;
    let heading = format!(
        "{}\nmeasured parts in stock, {} solver, {} phases\n\n",
        scenario.title,
        settings.method.name(),
        scenario.phases
    );
    let partial = if stocked.is_partial() { format!("{PARTIAL}\n\n") } else { String::new() };
    let quick = if settings.method == Method::Averaged { QUICK_LOOK } else { "" };
    folded(&(heading + &partial + quick + &allocation::allocation(stocked) + CAUTION))
}
