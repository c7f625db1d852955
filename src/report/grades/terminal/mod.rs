//! The comparison of grades on the terminal, 80 columns wide: the decision first.

mod allocation;
mod decision;
mod figure;
mod order;
mod tables;

use std::fmt::Write as _;

use super::allotted_stock::AllottedStock;
use super::words;
use crate::report::format::names::PARTIAL;
use crate::report::format::numbers::count;
use crate::report::format::premises;
use crate::report::format::screen::{Blocks, CommandWord, NextQuestion, Screen, quick_look};
use crate::report::format::switching;
use crate::scenario::{Grades, Scenario};
use crate::study::allocation::StockAllocation;
use crate::study::grades::{Ranking, matching_options, price_gaps};

/// Converters of the stock that fail, with what would mend them, in the screenful: beside the grades, and
/// alone.
const MENDED: usize = 2;
const ALONE: usize = 12;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> Screen {
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: before(scenario, grades, ranking, stocked),
        answer: decision::decision(scenario, grades, ranking)
            + &switching::shift_line(scenario, ranking.sharing_shift.as_ref())
            + &heading(scenario, ranking),
        figure: figure::costs(scenario, grades, ranking),
        notes: notes(scenario, grades, ranking, stocked),
    };
    let has_list = stocked.is_some_and(is_built);
    let next = if has_list { of_list() } else { next(scenario) };
    blocks.screen(&all_tables(scenario, grades, ranking, stocked), next)
}

/// What to know before the answer.
fn before(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let mut text = String::new();
    if let Some(stage) = ranking.interrupted {
        let _ = write!(text, "{PARTIAL} {}\n\n", words::stopped_at(stage));
    } else if stocked.is_some_and(StockAllocation::is_partial) {
        text += PARTIAL;
        text += " The stock was being allotted.\n\n";
    }
    text += quick_look(ranking.settings.method);
    text += &premises::text(scenario, Some(grades));
    if let Some(alone) = words::measured_parts_alone(scenario, grades) {
        text += &(alone + "\n\n");
    }
    let gaps = price_gaps(grades);
    gaps.iter().fold(text, |text, gap| text + &words::price_gap(gap) + "\n")
}

/// The other sets, the series, and the stock.
fn notes(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let mut text = decision::others(scenario, grades, ranking);
    if let Some(found) = ranking.order(scenario, grades) {
        text += &order::series(grades, &found, ranking.next_order(scenario, grades).as_ref());
    }
    for option in matching_options(ranking, grades, scenario.limits.yield_target) {
        if let Some(claim) = words::matching(&option) {
            let _ = writeln!(text, "{claim}. {}", words::matching_failures(&option));
        }
    }
    text += &premises::exact_text(scenario, Some(grades));
    let stock = stocked.map(|own| "\n".to_owned() + &allocation::allocation(own, MENDED));
    text + &stock.unwrap_or_default()
}

/// What the screenful has no room for.
fn all_tables(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> String {
    let mut text = String::new();
    if let Some(found) = ranking.order(scenario, grades) {
        text += &order::parts(grades, &found, ranking.next_order(scenario, grades).as_ref());
    }
    if ranking.recommended().cost.estimate.is_finite() {
        text += &decision::rivals(scenario, grades, ranking);
        text += &tables::tables(scenario, grades, ranking);
    }
    text + &stocked.map_or_else(String::new, allocation::mended)
}

fn heading(scenario: &Scenario, ranking: &Ranking) -> String {
    format!(
        "{}, {} samples per set, seed {}, {} solver, {} phases\n",
        words::set_count(ranking.sets.len()),
        count(ranking.sets[0].good.trials),
        ranking.settings.seed,
        ranking.settings.method.name(),
        scenario.phases,
    )
}

/// What one asks next of the grades.
fn next(scenario: &Scenario) -> NextQuestion {
    if !scenario.exact_offers().is_empty() {
        // To the other questions about samples parts on offer are exact.
        NextQuestion::verb("faults", "what is left when one part fails?")
    } else if scenario.sensors.is_some() {
        NextQuestion::verb("sensors", "can the current sensors go?")
    } else {
        NextQuestion::verb("capacitors", "how large must the flying capacitors be?")
    }
}

/// Whether there is a list of converters to build.
fn is_built(stocked: &StockAllocation) -> bool {
    stocked.allocation.as_ref().is_some_and(|own| !own.build_list.is_empty())
}

/// What one asks next of a list of converters to build.
fn of_list() -> NextQuestion {
    NextQuestion::verb("units", "what does each converter of the list carry?")
        .with([CommandWord::Plain("--parts".to_owned()), CommandWord::ResultFile("build_list.csv")])
}

/// The stock where it alone was allotted.
pub(super) fn stock_screen(allotted: AllottedStock) -> Screen {
    let AllottedStock { scenario, settings, stocked, .. } = allotted;
    let partial = if stocked.is_partial() { format!("{PARTIAL}\n\n") } else { String::new() };
    let (method, phases) = (settings.method.name(), scenario.phases);
    let basis = format!("measured parts in stock, {method} solver, {phases} phases\n");
    let missing = premises::missing_limit(scenario);
    let unlimited = missing.map_or_else(String::new, |told| format!("{told}\n\n"));
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: partial + quick_look(settings.method) + &unlimited,
        answer: allocation::allocation(stocked, ALONE) + &basis,
        ..Blocks::default()
    };
    let next = if is_built(stocked) { of_list() } else { next(scenario) };
    blocks.screen(&allocation::mended(stocked), next)
}
