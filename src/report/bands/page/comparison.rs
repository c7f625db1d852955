//! The parts compared on fresh samples: which band is the most critical one.

use maud::{Markup, html};

use crate::report::bands::words::critical;
use crate::report::bands::words::names::starting_bands;
use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, p_value, signed, yield_percent};
use crate::report::format::page::parts::{folded_table, headings_with_text_last, number, remarked};
use crate::study::bands::{Bands, ComparedPart, CriticalComparison};

pub(super) fn comparison(found: &CriticalComparison, bands: &Bands) -> Markup {
    let names = ["part", "yield", "difference, points", "p-value", "told apart"];
    let rows = found.others.iter().chain(&found.present);
    let body = html! {
        tr class="limited" {
            th scope="row" { (parameter(found.candidate).long) }
            (number(yield_percent(found.good.estimate)))
            (number(NONE))
            (number(NONE))
            td { "proposed" }
        }
        @for compared in rows { (row(compared, bands)) }
    };
    html! {
        (folded_table("Parts compared, each varied alone", &headings_with_text_last(&names), &body))
        p class="remark" { (critical::compared(found, bands)) }
    }
}

fn row(compared: &ComparedPart, bands: &Bands) -> Markup {
    let name = compared.parameter.map_or_else(|| starting_bands(bands), |p| parameter(p).long);
    let difference = &compared.difference;
    let [estimate, lower, upper] =
        [difference.estimate, difference.lower, difference.upper].map(|x| signed(100.0 * x, 3));
    html! {
        tr {
            th scope="row" { (name) }
            (number(yield_percent(compared.good.estimate)))
            (remarked(&estimate, &format!("{lower} to {upper}")))
            (number(p_value(compared.p_value)))
            td { @if compared.is_told_apart { "yes" } @else { "no" } }
        }
    }
}
