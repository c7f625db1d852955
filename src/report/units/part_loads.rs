//! What every part of listed converters carries: the highest of all of them on terminal and page, with the
//! converter that carries it, and in the summary. The loads of each converter are in `unit_ratings.csv`.

use std::fmt::Write as _;

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::page::parts::{
    headings, headings_with_text_last, number, section, table as page_table,
};
use crate::report::format::part_loads::{
    self, COLUMNS, LimitedLoad, PartGroup, PartRow, derated_cell, highest_flux_linkage,
};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::study::common::loaded_parts::HighestLoad;
use crate::study::units::{Listed, UnitResult};

/// The name of the file with the loads of every converter.
pub(super) const FILE: &str = "unit_ratings.csv";

/// For the terminal: the table of the chain, and the loads that have a limit. Nothing where no loads are
/// known.
pub(super) fn text(scenario: &Scenario, listed: &Listed) -> String {
    let chain = listed.highest_loads(Arrangement::Chain);
    if chain.is_empty() {
        return String::new();
    }
    let groups = [PartGroup { name: None, rows: rows(scenario, &chain) }];
    let mut text = format!("{}\n{}", caption(listed), part_loads::terminal_table(&groups));
    for sentence in remarks(scenario, listed, Arrangement::Chain, &chain) {
        let _ = writeln!(text, "{sentence}");
    }
    let _ = writeln!(text, "Each converter, and the paralleled reference: {FILE}.\n");
    text + &limited(scenario, listed)
}

/// What the table holds.
fn caption(listed: &Listed) -> String {
    match listed.verdicts.len() {
        1 => "What every part of the chain carries, at its hardest operating point".to_owned(),
        n => format!(
            "What every part of the chain carries at most, of {} and all operating points",
            numbers::counted(n as u64, "converter")
        ),
    }
}

fn rows(scenario: &Scenario, loads: &[HighestLoad]) -> Vec<PartRow> {
    let cell = |rating| {
        let own = loads.iter().find(|own| own.rating == rating)?;
        Some(derated_cell(scenario, rating, own.value))
    };
    part_loads::rows(scenario.phases, &cell)
}

fn remarks(
    scenario: &Scenario,
    listed: &Listed,
    arrangement: Arrangement,
    loads: &[HighestLoad],
) -> Vec<String> {
    let derating =
        (!scenario.derating.is_empty()).then(|| part_loads::derating(scenario).to_owned());
    let return_leg = part_loads::return_leg(listed.drives());
    let falling_first = part_loads::falling_first(scenario, arrangement);
    let flux = highest_flux_linkage(scenario, loads);
    [flux, return_leg, falling_first, derating].into_iter().flatten().collect()
}

/// Loads beside their limits, in both arrangements.
fn limited_loads(scenario: &Scenario, listed: &Listed) -> Vec<LimitedLoad> {
    let of_arrangement =
        |arrangement| LimitedLoad::all(scenario, arrangement, &listed.highest_loads(arrangement));
    Arrangement::ALL.map(of_arrangement).concat()
}

fn limited(scenario: &Scenario, listed: &Listed) -> String {
    let all = limited_loads(scenario, listed);
    LimitedLoad::terminal_table(all, "highest", "of unit", |place| {
        listed.results[place].name.clone()
    })
}

/// The section of the page; nothing where no loads are known.
pub(super) fn page(scenario: &Scenario, listed: &Listed) -> Markup {
    let [chain, paralleled] = Arrangement::ALL.map(|own| listed.highest_loads(own));
    if chain.is_empty() && paralleled.is_empty() {
        return html! {};
    }
    let inside = html! {
        (of_arrangement(scenario, listed, Arrangement::Chain))
        (of_arrangement(scenario, listed, Arrangement::Paralleled))
        (limited_table(scenario, listed))
        (details(scenario, listed, &chain))
    };
    section("parts", "What the parts carry", &inside)
}

fn of_arrangement(scenario: &Scenario, listed: &Listed, arrangement: Arrangement) -> Markup {
    let loads = listed.highest_loads(arrangement);
    let caption = match arrangement {
        Arrangement::Chain => caption(listed),
        Arrangement::Paralleled => {
            "The same of the paralleled reference, on rescaled tanks".to_owned()
        }
    };
    let columns = COLUMNS.map(|name| name.replace('\n', ", "));
    let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
    let rows = html! {
        @for PartRow { name, cells } in rows(scenario, &loads) {
            tr {
                th scope="row" { (name) }
                @for cell in cells { (number(cell)) }
            }
        }
    };
    html! {
        @if !loads.is_empty() {
            (page_table(&caption, &headings(1, &columns), &rows))
            @for remark in remarks(scenario, listed, arrangement, &loads) { p class="remark" { (remark) } }
        }
    }
}

/// The loads that have a limit.
fn limited_table(scenario: &Scenario, listed: &Listed) -> Markup {
    let all = limited_loads(scenario, listed);
    let columns = ["part and load", "arrangement", "highest", "limit", "used", "converter"];
    let rows = html! {
        @for own in &all {
            tr class=[own.is_missed.then_some("limited")] {
                th scope="row" { (own.load) }
                td { (names::arrangement(own.arrangement).short) }
                (number(&own.highest))
                (number(&own.limit))
                (number(&own.used))
                td { (where_it_is(&listed.results[own.place])) }
            }
        }
    };
    html! {
        @if !all.is_empty() {
            (page_table("Limits of single parts, before derating", &headings_with_text_last(&columns), &rows))
        }
    }
}

/// Every load of the chain, with the converter that has it.
fn details(scenario: &Scenario, listed: &Listed, chain: &[HighestLoad]) -> Markup {
    let columns = ["part and load", "highest", "limit", "converter, operating point"];
    let optional = |value: Option<f64>, stress| {
        value.map_or_else(|| numbers::NONE.into(), |value| part_loads::with_unit(stress, value))
    };
    let rows = html! {
        @for own in chain {
            tr {
                th scope="row" { (part_loads::part_and_load(own.rating)) }
                (number(part_loads::with_unit(own.rating.stress, own.value)))
                (number(optional(part_loads::limit(scenario, Arrangement::Chain, own.rating), own.rating.stress)))
                td { (where_it_is(&listed.results[own.place])) }
            }
        }
    };
    html! {
        details {
            summary { "All loads of the chain, before derating" }
            (page_table("Highest loads, and who carries them", &headings_with_text_last(&columns), &rows))
            p class="remark" {
                "Voltages of capacitors and switches include the assumed drift of the flying-capacitor \
                 voltages. The same for each converter, operating point and arrangement: "
                code { (FILE) } "."
            }
        }
    }
}

/// The converter with the operating point.
pub(super) fn where_it_is(result: &UnitResult) -> String {
    format!("{}, {}", result.name, result.point.name)
}
