//! Two bands traded against each other.

use maud::{Markup, html};

use crate::converter::Parameter;
use crate::report::bands::words as shared;
use crate::report::format::figures;
use crate::report::format::page::parts::{headings, table};
use crate::report::format::words;
use crate::study::bands::Bands;
use crate::study::bands::map::{CellVerdict, TradeMap};

pub(super) fn trade(map: &TradeMap, bands: &Bands) -> Markup {
    let names = map.pair.map(words::parameter);
    let name = figures::Name {
        id: "map".into(),
        title: format!("{} against {}", names[0], names[1]),
        description: "Grid of two bands: dots meet the target, crosses miss it, circles are open. \
                      What is inside the line meets it, what is beyond the dashed line misses it; \
                      the ring is where the scenario stands."
            .into(),
    };
    let chart = figures::Chart {
        names: names.map(|name| format!("band of {name}")),
        axes: &map.axes,
        points: map.cells.iter().map(|cell| shared::point(cell.verdict)).collect(),
        inner: &map.inner,
        outer: &map.outer,
        present: map.present,
    };
    html! {
        p class="lead" {
            "Any one dot may be picked for both bands at once: all dots together are claimed at "
            (words::given_percent(bands.rule.plain.get())) " confidence. All other bands stay as they are."
        }
        figure class="alone" {
            (figures::chart(&name, &chart))
            figcaption {
                b { "Dot" } ": meets the target. " b { "Cross" } ": misses it. " b { "Circle" }
                ": open, the samples do not tell; more samples narrow the strip between "
                b { "line" } " (what is inside meets the target) and " b { "dashed line" }
                " (what is beyond misses it). Both are straight between grid points, where nothing \
                 was tried. " b { "Ring" } ": " (shared::start(bands)) "."
            }
        }
        (grid(map))
        p class="remark" {
            "The search only laid the axes. All grid points are drawn from one fresh seed ("
            (map.seed) "), so that they differ by their bands alone, and their intervals are at the "
            (words::unbroken(&shared::level(bands.rule.map.get()))) " level: the permitted error is shared by \
             the " (map.axes[0].len()) " columns."
        }
        @if map.violations > 0 {
            p class="notice" {
                "The trend is violated at " (map.violations) " pairs of neighbours: the wider one \
                 meets the target, the narrower one may not. Both lines follow the first crossing, \
                 and what lies beyond it counts as open."
            }
        }
    }
}

/// Every second grid point in numbers, the widest band of the second parameter on top.
fn grid(map: &TradeMap) -> Markup {
    let across = map.axes[0].len();
    let body = html! {
        @for j in (0..map.axes[1].len()).rev().step_by(2) {
            tr {
                th scope="row" { (words::unbroken(&shared::band(map.axes[1][j]))) }
                @for cell in map.cells[j * across..(j + 1) * across].iter().step_by(2) {
                    td class="number" {
                        @if cell.verdict == CellVerdict::Meets { strong { (words::yield_percent(cell.good.lower)) } }
                        @else { (words::yield_percent(cell.good.lower)) }
                    }
                }
            }
        }
    };
    let [first, second] = map.pair.map(Parameter::key).map(|key| key.replace('_', " "));
    let mut names = vec![format!("{second} ↓, {first} →")];
    names.extend(map.axes[0].iter().step_by(2).map(|band| words::unbroken(&shared::band(*band))));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let caption =
        "Lower end of the yield’s interval at every second grid point; bold: meets the target";
    table(caption, &headings(1, &names), &body)
}
