//! Losses, efficiency and junction temperatures of all samples at an operating point.

use maud::{Markup, html};

use super::parts::Point;
use super::switches::SPREAD;
use crate::report::format::numbers;
use crate::report::format::page::parts::{arrangement, cells, headings, table};
use crate::report::run::losses::figures;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::run::Run;

/// The losses of each kind of part; nothing where the scenario does not tell them apart.
pub(super) fn section(run: &Run, point: &Point) -> Markup {
    let rows = html! {
        @for figure in figures(run) {
            @for (place, (n, case)) in point.cases.iter().enumerate() {
                tr {
                    @if place == 0 { th scope="rowgroup" rowspan="2" class="wraps" { (name(figure)) } }
                    (arrangement(case.arrangement()))
                    (cells(run.key_figures(*n, Figure::Losses(figure)), &SPREAD, written(figure)))
                }
            }
        }
    };
    let head = headings(2, &["figure", "arrangement", "min", "p05", "p50", "p95", "max"]);
    html! {
        @if figures(run).next().is_some() {
            (table("Losses and junction temperatures over the samples", &head, &rows))
            p class="remark" {
                "Each part loses what its own resistance takes at its own temperature. The rest is the \
                 series resistance, which is not told apart. Efficiency is output power over output \
                 power and these losses. Losses of turn-on and turn-off are not included."
            }
        }
    }
}

fn written(figure: LossFigure) -> fn(f64) -> String {
    match figure {
        LossFigure::Efficiency => numbers::in_percent,
        _ => numbers::four,
    }
}

/// Its name with the unit.
fn name(figure: LossFigure) -> &'static str {
    match figure {
        LossFigure::Efficiency => "efficiency, %",
        LossFigure::Switches => "loss in the switches, W",
        LossFigure::Windings => "loss in the windings, W",
        LossFigure::Rectifiers => "loss in the rectifiers, W",
        LossFigure::Rest => "loss in the rest, W",
        LossFigure::SwitchJunction => "hottest switch, °C",
        LossFigure::RectifierJunction => "hottest diode, °C",
        LossFigure::Junction => "hottest junction, °C",
    }
}
