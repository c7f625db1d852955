//! The set of bands that can be ordered, and what keeps each band from its next step.

use maud::{Markup, html};

use crate::report::bands::words::names::varied;
use crate::report::bands::words::orderable::{
    self as words, letters, next_step, next_steps, not_found, remarks,
};
use crate::report::format::figures;
use crate::report::format::names::parameter_and_symbol;
use crate::report::format::numbers::{NONE, unbroken};
use crate::report::format::page::parts::{headings_with_text_last, number, remarked, table};
use crate::study::bands::orderable::{OrderableBand, OrderableSet};
use crate::study::bands::{Bands, Subject};

pub(super) fn orderable(found: &OrderableSet, bands: &Bands) -> Markup {
    let names = ["part", "present", "to order", "next step", "yield there", "limited by"];
    let body = html! { @for own in &found.bands { (row(own, bands)) } };
    html! {
        p class="lead" {
            @if let Some(reason) = not_found(bands) {
                (reason)
            } @else {
                "Every band is a step that can be ordered. Parts that hardly matter have the widest \
                 steps. No single band can go one step further and still be shown to meet the target \
                 with so many samples."
            }
        }
        @if !found.bands.is_empty() {
            (bars(found, bands))
            (table("Bands to order, and one step wider", &headings_with_text_last(&names), &body))
            p class="remark" { (letters(bands, found).unwrap_or_default()) " " (next_steps(bands)) }
            @for remark in remarks(bands, found) { p class="remark" { (remark) } }
        }
    }
}

fn bars(found: &OrderableSet, bands: &Bands) -> Markup {
    let bar = |own: &OrderableBand| figures::Bar {
        label: varied(Subject::Alone(own.parameter)).into(),
        present: present(own, bands),
        widest: Ok(own.band),
    };
    let name = figures::Name {
        id: "bars-order".into(),
        title: "Present bands and bands to order".into(),
        description:
            "A tick at the present band of each part, and a bar from there to the band to \
                      order. The table has the numbers."
                .into(),
    };
    let bars: Vec<figures::Bar> = found.bands.iter().map(bar).collect();
    html! {
        figure class="alone" {
            (figures::band_bars(&name, "band, of the nominal value", &bars))
            figcaption {
                "Tick: present band. Bar: from there to the band to order. Dark: it is wider than \
                 the present one. Pale: it is narrower. Logarithmic scale."
                @if found.bands.iter().any(|own| words::is_unequal(bands, own)) {
                    " Unequal bands are shown by their half widths."
                }
            }
        }
    }
}

/// The present band of a part.
fn present(own: &OrderableBand, bands: &Bands) -> f64 {
    bands.present.get(own.parameter).map_or(0.0, |present| present.band)
}

fn row(own: &OrderableBand, bands: &Bands) -> Markup {
    let next = next_step(bands, own);
    html! {
        tr {
            th scope="row" { (parameter_and_symbol(own.parameter)) }
            (number(words::present(bands, own.parameter)))
            td class="n" { strong { (words::ordered(bands, own.parameter, own.band)) } }
            (number(next.band.unwrap_or_else(|| NONE.into())))
            @match next.searched_yield.zip(next.interval) {
                Some((good, interval)) => (remarked(&good, &interval)),
                None => (number(NONE)),
            }
            td {
                (next.limit)
                @if let Some(point) = next.operating_point {
                    br;
                    small { (unbroken(&format!("at “{point}”"))) }
                }
            }
        }
    }
}
