//! The map of two bands: which pairs meet the target.

use maud::{Markup, html};

use crate::report::bands::words::names::{chart_point, starting_bands};
use crate::report::bands::words::numbers::{band, short_percent};
use crate::report::format::figures;
use crate::report::format::names::{parameter, parameter_and_symbol};
use crate::report::format::numbers::{counted, level, yield_percent};
use crate::report::format::page::parts::{folded_table, headings};
use crate::study::bands::Bands;
use crate::study::bands::map::{CellVerdict, TradeMap};

pub(super) fn trade_off(map: &TradeMap, bands: &Bands) -> Markup {
    html! {
        p class="lead" {
            "Each dot is a pair of bands that meets the target. All other bands stay as they are."
        }
        figure class="alone" {
            (chart(map))
            figcaption {
                b { "Dot" } ": meets the target. " b { "Cross" } ": misses it. " b { "Circle" }
                ": not decided. " b { "Line" } ": what is inside meets the target. " b { "Dashed line" }
                ": what is beyond misses it. " b { "Ring" } ": " (starting_bands(bands))
                ". Between grid points both lines are straight, and nothing was tried."
            }
        }
        (grid(map))
        p class="remark" {
            "All dots and crosses together hold at " (level(bands.rule.plain)) " confidence. All grid points \
             are drawn from the same fresh samples (" (map.source) "), so they differ only in their bands. \
             Their intervals are at the " (short_percent(bands.rule.map.get())) " level: the \
             permitted error is shared by the " (map.axes[0].len()) " columns. A cross has nothing but \
             crosses above it in its column."
        }
        @if map.violations > 0 {
            p class="notice" {
                "The trend is violated at " (counted(map.violations as u64, "pair"))
                " of neighbours: the wider one meets the target, the narrower one may not. Both \
                 lines follow the first crossing. What lies beyond it counts as not decided."
            }
        }
    }
}

fn chart(map: &TradeMap) -> Markup {
    let names = map.pair.map(parameter_and_symbol);
    let name = figures::Name {
        id: "map".into(),
        title: format!("{} against {}", names[0], names[1]),
        description:
            "Grid of two bands: dots meet the target, crosses miss it, circles are not decided. \
                      What is inside the line meets the target, what is beyond the dashed line \
                      misses it. The ring is at the starting bands."
                .into(),
    };
    let chart = figures::Chart {
        names: names.map(|name| format!("band of {name}")),
        axes: &map.axes,
        points: map.cells.iter().map(chart_point).collect(),
        inner: &map.inner,
        outer: &map.outer,
        present: map.present,
    };
    figures::chart(&name, &chart, figures::ChartSize::Large)
}

/// Every second grid point in numbers, the widest band of the second parameter on top.
fn grid(map: &TradeMap) -> Markup {
    let across = map.axes[0].len();
    let body = html! {
        @for j in (0..map.axes[1].len()).rev().step_by(2) {
            tr {
                th scope="row" { (band(map.axes[1][j])) }
                @for cell in map.cells[j * across..(j + 1) * across].iter().step_by(2) {
                    td class="n" {
                        @if cell.verdict == CellVerdict::Meets {
                            strong { (yield_percent(cell.good.lower)) }
                        } @else {
                            (yield_percent(cell.good.lower))
                        }
                    }
                }
            }
        }
    };
    let [first, second] = map.pair.map(|p| parameter(p).long);
    let mut names = vec![format!("{second} ↓, {first} →")];
    names.extend(map.axes[0].iter().step_by(2).map(|at| band(*at)));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let caption =
        "Lower end of the yield’s interval at every second grid point. Bold: meets the target";
    folded_table(caption, &headings(1, &names), &body)
}
