//! How wide each band may be, one by one and all together.

use maud::{Markup, html};

use super::bounds;
use crate::report::bands::words as shared;
use crate::report::format::figures;
use crate::report::format::page::parts::{headings, number, remarked, table};
use crate::report::format::words;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Subject, WidestBand};

pub(super) fn widest(part: &ArrangementBands, bands: &Bands) -> Markup {
    html! {
        p class="lead" {
            "How wide each band may be while all others stay as they are, and all together by one \
             factor. Each line is a claim by itself: for two bands widened at once take a whole set \
             or a pair from the map."
        }
        @if part.rows.iter().any(|row| row.subject != Subject::Together && row.confirmed().is_some()) {
            (bars(part))
        }
        (rows(part))
        @for remark in shared::remarks(part, bands) { p class="remark" { (remark) "." } }
        @for violation in shared::violations(part) { p class="notice" { (violation) } }
    }
}

fn bars(part: &ArrangementBands) -> Markup {
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let bars: Vec<figures::Bar> = alone
        .map(|row| figures::Bar {
            label: shared::subject(row.subject),
            present: row.present,
            widest: row.confirmed().map(|verification| verification.at).ok_or(
                match row.outcome() {
                    BandOutcome::NoneMeets => "none",
                    _ => "open",
                },
            ),
        })
        .collect();
    let name = figures::Name {
        id: format!("bars-{}", part.arrangement.name()),
        title: "Present and widest bands".into(),
        description: "A tick at each part’s present band, and a bar from there to the widest band \
                      that meets the target while the others stay. The table has the numbers."
            .into(),
    };
    html! {
        figure class="alone" {
            (figures::band_bars(&name, "band, of the nominal value", &bars))
            figcaption {
                "Tick: present band. Bar: from there to the widest band of this part alone; filled \
                 where there is room, hatched where it stays below the present one. Equal distances are equal ratios."
            }
        }
    }
}

fn rows(part: &ArrangementBands) -> Markup {
    let names = [
        "part",
        "present",
        "widest, proven",
        "times present",
        "yield there",
        "search: seen to hold at, no more at",
        "yield if exact",
        "stopped by",
    ];
    let together = part.rows.iter().filter(|row| row.subject == Subject::Together);
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let body = html! { @for row in alone.chain(together) { (cells(part, row)) } };
    let caption = format!("Widest bands: {}", words::arrangement(part.arrangement));
    table(&caption, &headings(1, &names), &body)
}

fn cells(part: &ArrangementBands, row: &WidestBand) -> Markup {
    let place = |at: f64| words::unbroken(&shared::place(row, at));
    let limited = if row.subject == Subject::Together { Some("limited") } else { None };
    let [inside, outside] = [row.search.widest(), row.search.failing()]
        .map(|point| point.map_or_else(|| words::NONE.into(), |p| place(p.at)));
    html! {
        tr class=[limited] {
            th scope="row" { (shared::subject(row.subject)) }
            (number(place(row.present)))
            (number(words::unbroken(&shared::widest(part, row))))
            (number(row.margin().map_or_else(|| words::NONE.into(), shared::times)))
            @match row.confirmed() {
                Some(verification) => (remarked(&words::yield_percent(verification.good.estimate), &bounds(verification))),
                None => (number(words::NONE)),
            }
            (number(format!("{inside}, {outside}")))
            (number(words::yield_percent(row.exact.estimate)))
            td {
                @match row.binding() {
                    Some(b) => {
                        (words::unbroken(&shared::limit(b)))
                        br;
                        small { (words::unbroken(&format!("at “{}”", b.operating_point))) }
                    }
                    None => (words::NONE),
                }
            }
        }
    }
}
