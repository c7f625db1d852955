//! All verification runs, with their random streams.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::bands::words::names::{outcome, starting_bands, varied};
use crate::report::bands::words::numbers::width;
use crate::report::format::names::arrangement;
use crate::report::format::numbers::{NONE, yield_percent};
use crate::report::format::page::parts::{folded_table, headings_with_text_last, number};
use crate::study::bands::verification::Verification;
use crate::study::bands::{ArrangementBands, Bands};

pub(super) fn runs(bands: &Bands) -> Markup {
    let body = html! {
        @for part in &bands.parts { (arrangement_runs(part, bands)) }
        @for (n, run) in bands.orderable.iter().flat_map(|set| &set.verifications).enumerate() {
            tr {
                th scope="row" { "bands to order, " (arrangement(Arrangement::Chain).short) }
                (number((n + 1).to_string()))
                (cells(run, NONE, bands))
            }
        }
    };
    let names = ["bands", "run", "stream", "at", "yield", "interval", "target"];
    folded_table("Verification runs, one by one", &headings_with_text_last(&names), &body)
}

fn arrangement_runs(part: &ArrangementBands, bands: &Bands) -> Markup {
    let name = arrangement(part.arrangement).short;
    html! {
        tr {
            th scope="row" { (starting_bands(bands)) ", " (name) }
            (number("1"))
            (cells(&part.present, NONE, bands))
        }
        @for row in &part.rows {
            @for (n, run) in row.verifications.iter().enumerate() {
                tr {
                    th scope="row" { (varied(row.subject)) ", " (name) }
                    (number((n + 1).to_string()))
                    (cells(run, &width(row, run.at), bands))
                }
            }
        }
    }
}

fn cells(run: &Verification, at: &str, bands: &Bands) -> Markup {
    html! {
        (number(run.source.stream.to_string()))
        (number(at))
        (number(yield_percent(run.good.estimate)))
        (number(bounds(run)))
        td { (outcome(run.good.verdict(bands.rule.target))) }
    }
}

/// Both ends of the interval of a verification run.
pub(super) fn bounds(run: &Verification) -> String {
    let [lower, upper] = [run.good.lower, run.good.upper].map(yield_percent);
    format!("{lower} to {upper}")
}
