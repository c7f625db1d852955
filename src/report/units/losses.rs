//! The least efficient and the hottest of listed converters. Losses and temperatures of each converter are in
//! `unit_losses.csv`.

use std::fmt::Write as _;

use maud::{Markup, html};

use super::part_loads::where_it_is;
use crate::converter::Arrangement;
use crate::report::format::names;
use crate::report::format::numbers::{decimals, in_percent};
use crate::report::format::page::parts::{
    headings_with_text_last, number, section, table as page_table,
};
use crate::report::format::terminal::{table, trimmed};
use crate::study::common::loss_figures::LossFigure;
use crate::study::units::{Listed, UnitResult};

/// The name of the file with the losses of every converter.
pub(super) const FILE: &str = "unit_losses.csv";

/// What the table holds.
const CAPTION: &str = "The lowest efficiency and the highest temperatures of all converters";

/// A figure that is the worst of an arrangement.
struct Worst<'a> {
    arrangement: Arrangement,
    figure: LossFigure,
    value: f64,
    result: &'a UnitResult,
}

impl<'a> Worst<'a> {
    /// In both arrangements; nothing where no losses are told apart.
    fn all(listed: &'a Listed) -> Vec<Self> {
        let figures =
            [LossFigure::Efficiency, LossFigure::SwitchJunction, LossFigure::RectifierJunction];
        let pairs =
            figures.into_iter().flat_map(|figure| Arrangement::ALL.map(|own| (figure, own)));
        pairs.filter_map(|(figure, arrangement)| Self::of(listed, figure, arrangement)).collect()
    }

    fn of(listed: &'a Listed, figure: LossFigure, arrangement: Arrangement) -> Option<Self> {
        let own = listed.results.iter().filter(|result| result.arrangement == arrangement);
        let values = own.filter_map(|result| {
            let value = result.solved.as_ref()?.loss_figure(figure)?;
            Some(Self { arrangement, figure, value, result })
        });
        let is_worse = |a: &Self, b: &Self| match figure {
            LossFigure::Efficiency => b.value < a.value,
            _ => b.value > a.value,
        };
        values.reduce(|worst, next| if is_worse(&worst, &next) { next } else { worst })
    }

    fn cell(&self) -> String {
        match self.figure {
            LossFigure::Efficiency => in_percent(self.value),
            _ => decimals(self.value, 1),
        }
    }
}

/// For the terminal; nothing where no losses are told apart.
pub(super) fn text(listed: &Listed) -> String {
    let all = Worst::all(listed);
    if all.is_empty() {
        return String::new();
    }
    let mut rows = table(&["figure", "arrangement", "worst", "of unit"]);
    for own in &all {
        rows.add_row([
            names::loss_figure(own.figure).to_owned(),
            names::arrangement(own.arrangement).short.to_owned(),
            own.cell(),
            own.result.name.clone(),
        ]);
    }
    let mut text = format!("{CAPTION}\n{}", trimmed(&rows));
    let _ = writeln!(text, "Each converter, with its losses by part: {FILE}.\n");
    text
}

/// The section of the page; nothing where no losses are told apart.
pub(super) fn page(listed: &Listed) -> Markup {
    let all = Worst::all(listed);
    let head = headings_with_text_last(&["figure", "arrangement", "worst", "converter"]);
    let rows = html! {
        @for own in &all {
            tr {
                th scope="row" { (names::loss_figure(own.figure)) }
                td { (names::arrangement(own.arrangement).short) }
                (number(own.cell()))
                td { (where_it_is(own.result)) }
            }
        }
    };
    html! {
        @if !all.is_empty() {
            (section("losses", "Losses and temperatures", &html! {
                (page_table(CAPTION, &head, &rows))
                p class="remark" { "Each converter, with its losses by part: " code { (FILE) } "." }
            }))
        }
    }
}
