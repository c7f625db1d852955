//! Pieces that several sections of the page are made of.

use maud::{Markup, html};

use super::words;
use crate::converter::Arrangement;
use crate::report::svg;
use crate::statistics::Summary;
use crate::study::run::{CaseResult, Run};

/// An operating point: its number, counted from 1, and its two cases with their places.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point<'a> {
    pub number: usize,
    pub cases: [(usize, &'a CaseResult); 2],
}

impl<'a> Point<'a> {
    /// All operating points of a run.
    pub(super) fn all(run: &'a Run) -> Vec<Self> {
        let pairs = run.cases.chunks_exact(Arrangement::ALL.len()).enumerate();
        pairs
            .map(|(n, pair)| Self {
                number: n + 1,
                cases: [(2 * n, &pair[0]), (2 * n + 1, &pair[1])],
            })
            .collect()
    }

    /// The case with charge balancing.
    pub(super) fn chain(&self) -> &'a CaseResult {
        self.cases[0].1
    }

    /// What the scenario calls it.
    pub(super) fn name(&self) -> &'a str {
        self.chain().operating_point()
    }

    /// An identifier in the page.
    pub(super) fn id(&self) -> String {
        format!("point-{}", self.number)
    }
}

/// A section with its heading in the margin where there is room.
pub(super) fn section(id: &str, heading: &str, inside: &Markup) -> Markup {
    html! {
        section id=(id) aria-labelledby=(format!("{id}-heading")) {
            h2 id=(format!("{id}-heading")) { (heading) }
            div class="body" { (inside) }
        }
    }
}

/// A table in a frame of its own that scrolls where the page is too narrow.
pub(super) fn table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div class="frame" tabindex="0" role="region" aria-label=(caption) {
            table {
                caption { span { (caption) } }
                thead { (head) }
                tbody { (body) }
            }
        }
    }
}

/// One row of column headings; the first `texts` columns hold texts, the others numbers.
pub(super) fn headings(texts: usize, names: &[&str]) -> Markup {
    html! {
        tr {
            @for (n, name) in names.iter().enumerate() {
                th scope="col" class=[(n < texts).then_some("text")] { (name) }
            }
        }
    }
}

/// Headings of the cells that tell an operating point's two arrangements apart: the point, once
/// for both, and the arrangement.
pub(super) fn case_headings(point: &Point, place: usize) -> Markup {
    html! {
        @if place == 0 {
            th scope="rowgroup" rowspan="2" { a href=(format!("#{}", point.id())) { (point.name()) } }
        }
        (arrangement(point.cases[place].1.arrangement()))
    }
}

/// A row's heading that names an arrangement, with a sample of how it is drawn.
pub(super) fn arrangement(arrangement: Arrangement) -> Markup {
    html! {
        th scope="row" class="arrangement" {
            (svg::swatch(arrangement.name())) " " (words::arrangement(arrangement))
        }
    }
}

/// A cell with a number.
pub(super) fn number(text: impl AsRef<str>) -> Markup {
    html! { td class="number" { (text.as_ref()) } }
}

/// A cell with a number and a remark in small below it.
pub(super) fn remarked(text: &str, remark: &str) -> Markup {
    html! { td class="number" { (text) br; small { (remark) } } }
}

/// Cells with figures of a summary; dashes where there is none.
pub(super) fn cells(
    summary: Option<&Summary>,
    figures: &[fn(&Summary) -> f64],
    write: fn(f64) -> String,
) -> Markup {
    html! {
        @for figure in figures {
            (number(summary.map_or_else(|| words::NONE.into(), |s| write(figure(s)))))
        }
    }
}

/// What the colours and hatchings of a figure mean.
pub(super) fn legend() -> Markup {
    html! {
        span class="legend" {
            @for a in Arrangement::ALL {
                span { (svg::swatch(a.name())) " " (words::arrangement(a)) }
            }
        }
    }
}

/// A figure with its caption and legend.
pub(super) fn figure(drawing: &Markup, caption: &Markup) -> Markup {
    html! { figure { (drawing) figcaption { (legend()) (caption) } } }
}

/// The five numbers of a range.
pub(super) fn range(summary: &Summary) -> svg::Range {
    [summary.min, summary.p05, summary.p50, summary.p95, summary.max]
}
