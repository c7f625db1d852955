//! Pieces that several sections of a run's page are made of.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::page::parts::arrangement;
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

/// Headings of the cells that tell an operating point's two arrangements apart: the point, once
/// for both, and the arrangement.
pub(super) fn case_headings(point: &Point, place: usize) -> Markup {
    html! {
        @if place == 0 {
            th scope="rowgroup" rowspan="2" data-point=(point.name()) { a href=(format!("#{}", point.id())) { (point.name()) } }
        }
        (arrangement(point.cases[place].1.arrangement()))
    }
}
