//! How wide each band can be, one by one and all together.

use maud::{Markup, html};

use super::comparison;
use super::runs::bounds;
use crate::report::bands::words::names::varied;
use crate::report::bands::words::numbers::{three_digits, width};
use crate::report::bands::words::{confidence, limits, margins, marks, specify};
use crate::report::format::figures;
use crate::report::format::names::arrangement;
use crate::report::format::numbers::{NONE, unbroken, yield_percent};
use crate::report::format::page::parts::{
    folded, headings_with_text_last, number, remarked, unlabelled_table,
};
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Subject, WidestBand};

pub(super) fn each_part(part: &ArrangementBands, bands: &Bands) -> Markup {
    let confirmed =
        |row: &WidestBand| row.subject != Subject::Together && row.confirmed().is_some();
    html! {
        p class="lead" {
            "How wide each band can be while all others stay as they are. The last row widens all \
             bands by one factor."
        }
        @if part.rows.iter().any(confirmed) { (bars(part)) }
        (rows(part, bands))
        p class="remark" {
            "Margin: widest ÷ present. " (limits::ESTIMATE) " " (confidence::single_rows(bands)) " "
            (specify::unlisted(bands).unwrap_or_default())
        }
        @for violation in margins::violations(part) { p class="notice" { (violation) } }
        @if let Some(found) = &part.comparison { (comparison::comparison(found, bands)) }
    }
}

fn bars(part: &ArrangementBands) -> Markup {
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let bars: Vec<figures::Bar> = alone
        .map(|row| figures::Bar {
            label: varied(row.subject).into(),
            present: row.present,
            widest: row.confirmed().map(|run| run.at).ok_or(match row.outcome() {
                BandOutcome::NoneMeets => "none",
                _ => "not decided",
            }),
        })
        .collect();
    let name = figures::Name {
        id: format!("bars-{}", part.arrangement.name()),
        title: "Present and widest bands".into(),
        description: "A tick at the present band of each part, and a bar from there to its widest \
                      confirmed band while the others stay. The table has the numbers."
            .into(),
    };
    html! {
        figure class="alone" {
            (figures::band_bars(&name, "band, of the nominal value", &bars))
            figcaption {
                "Tick: present band. Bar: from there to the widest confirmed band of this part \
                 alone. Dark: the widest band is above the present one. Pale: it is below. \
                 Logarithmic scale."
            }
        }
    }
}

fn rows(part: &ArrangementBands, bands: &Bands) -> Markup {
    let names = [
        "part",
        "present",
        "widest confirmed",
        "margin",
        "yield there",
        "search: widest that meets",
        "search: narrowest that fails",
        "estimate",
        "yield if exact",
        "limited by",
    ];
    let (alone, together): (Vec<_>, Vec<_>) =
        part.rows.iter().partition(|row| row.subject != Subject::Together);
    let body =
        html! { @for row in alone.into_iter().chain(together) { (cells(part, row, bands)) } };
    let caption = format!("Widest bands, {}", arrangement(part.arrangement).long);
    let table = html! {
        (unlabelled_table(&caption, &headings_with_text_last(&names), &body))
        @for remark in marks::remarks(part, bands) { p class="remark" { (remark) } }
    };
    folded(&caption, &table)
}

fn cells(part: &ArrangementBands, row: &WidestBand, bands: &Bands) -> Markup {
    let limited = (row.subject == Subject::Together).then_some("limited");
    let [inside, outside] = [row.search.widest(), row.search.failing()]
        .map(|point| point.map_or_else(|| NONE.into(), |p| width(row, p.at)));
    let point = limits::limit_cells(bands, row).and_then(|limit| limit.operating_point);
    html! {
        tr class=[limited] data-point=[point] {
            th scope="row" { (varied(row.subject)) }
            (number(width(row, row.present)))
            (number(unbroken(&marks::widest(part, row))))
            (number(row.margin().map_or_else(|| NONE.into(), three_digits)))
            @match row.confirmed() {
                Some(run) => (remarked(&yield_percent(run.good.estimate), &bounds(run))),
                None => (number(NONE)),
            }
            (number(inside))
            (number(outside))
            (number(limits::estimate(bands, row).unwrap_or_else(|| NONE.into())))
            (number(yield_percent(row.exact.estimate)))
            td {
                @match limits::limit_cells(bands, row) {
                    Some(limit) => {
                        (limit.limit)
                        @if let Some(point) = limit.operating_point {
                            br;
                            small { (unbroken(&format!("at “{point}”"))) }
                        }
                    }
                    None => (NONE),
                }
            }
        }
    }
}
