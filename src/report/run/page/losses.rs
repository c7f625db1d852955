//! Losses, efficiency and junction temperatures of all samples at an operating point.

use maud::{Markup, html};

use super::parts::Point;
use super::switches::SPREAD;
use crate::report::format::page::parts::{arrangement, cells, folded_table, headings};
use crate::report::format::{names, numbers};
use crate::report::run::losses::{figures, left_out};
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::run::Run;

/// The losses of each kind of part; nothing where the scenario does not tell them apart.
pub(super) fn section(run: &Run, point: &Point) -> Markup {
    let rows = html! {
        @for figure in figures(run).filter(|own| *own != LossFigure::LostShare) {
            @for (place, (n, case)) in point.cases.iter().enumerate() {
                tr {
                    @if place == 0 { th scope="rowgroup" rowspan="2" class="wraps" { (names::loss_figure(figure)) } }
                    (arrangement(case.arrangement()))
                    (row(run, *n, figure))
                }
            }
        }
    };
    let head = headings(2, &["figure", "arrangement", "min", "p05", "p50", "p95", "max"]);
    html! {
        @if figures(run).next().is_some() {
            (folded_table("Losses and junction temperatures over the samples", &head, &rows))
            p class="remark" {
                "Each part loses what its own resistance takes at its own temperature. The rest is the \
                 series resistance, which is not told apart. Efficiency is output power over output \
                 power and these losses. " (left_out(run))
            }
        }
    }
}

/// The spread of a figure. That of the efficiency is what the lost share leaves: so samples without a
/// value count as those that lose most.
fn row(run: &Run, case: usize, figure: LossFigure) -> Markup {
    if figure == LossFigure::Efficiency {
        let mut lost = SPREAD;
        lost.reverse();
        let lost_share = run.key_figures(case, Figure::Losses(LossFigure::LostShare));
        return cells(lost_share, &lost, |lost| numbers::in_percent(1.0 - lost));
    }
    cells(run.key_figures(case, Figure::Losses(figure)), &SPREAD, numbers::four)
}
