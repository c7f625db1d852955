//! Figures of the brief, each under its finding.

use maud::html;

use crate::converter::{Arrangement, Parameter};
use crate::report::bands::words::limits::limit_cells;
use crate::report::bands::words::marks;
use crate::report::bands::words::names::{chart_point, specified};
use crate::report::bands::words::numbers::{band_of, three_digits};
use crate::report::format::figures::{
    BandRow, Chart, ChartSize, FigureWidth, Name, band_rows, chart,
};
use crate::report::format::names::{parameter, parameter_and_symbol};
use crate::report::format::numbers::{NONE, count};
use crate::report::format::page::brief::{Finding, both_widths};
use crate::study::bands::map::CellVerdict;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Proposal, Subject, WidestBand};

/// Parts shown: more would not fit the sheet.
const PARTS: usize = 9;

fn name(id: &str, title: &str, description: &str) -> Name {
    Name { id: format!("brief-{id}"), title: title.to_owned(), description: description.to_owned() }
}

/// Every part with its bands.
pub(super) fn parts(bands: &Bands) -> Option<Finding> {
    let chain = bands.part(Arrangement::Chain);
    let proposal = bands.proposal();
    let is_banded = |own: &Parameter| {
        let in_proposal = proposal.as_ref().and_then(|set| set.tolerances.get(*own));
        bands.present.get(*own).is_some() || in_proposal.is_some()
    };
    let all: Vec<Parameter> = Parameter::ALL.into_iter().filter(is_banded).collect();
    let rows: Vec<BandRow> =
        all.iter().take(PARTS).map(|own| row(*own, chain, proposal.as_ref(), bands)).collect();
    (!rows.is_empty()).then_some(())?;
    let drawn = |id: &str, width: FigureWidth| {
        let title = "Bands of every part: now, to specify, and the widest alone";
        let text = "A row a part: a pale bar to the widest band of this part alone, a solid one to the band to specify. A tick marks the present band.";
        band_rows(&name(id, title, text), &rows, width)
    };
    let left = all.len() - rows.len();
    let left = if left > 0 { format!(" {left} more parts: see below.") } else { String::new() };
    Some(Finding {
        heading: parts_heading(chain),
        remark: Some(format!(
            "Solid: to specify, all at once. Pale: the widest of this part alone, others as now. Tick: now.{left}"
        )),
        inside: both_widths(
            &drawn("parts", FigureWidth::Wide),
            &drawn("parts-narrow", FigureWidth::Narrow),
        ),
    })
}

/// The common factor that all bands bear.
fn parts_heading(chain: Option<&ArrangementBands>) -> String {
    let together = chain.and_then(|part| part.row(Subject::Together)).map(WidestBand::outcome);
    match together {
        Some(BandOutcome::Confirmed(at) | BandOutcome::AllMeet(at)) if at > 0.0 => {
            format!("All bands together can be {} times those of now", three_digits(at))
        }
        Some(BandOutcome::NoneMeets) => "Even exact parts miss the target".to_owned(),
        _ => "How wide each band can be".to_owned(),
    }
}

fn row(
    own: Parameter,
    chain: Option<&ArrangementBands>,
    proposal: Option<&Proposal>,
    bands: &Bands,
) -> BandRow {
    let exact = || "exact".to_owned();
    let present = bands.present.get(own);
    let set = proposal.and_then(|set| set.tolerances.get(own));
    let alone = chain.and_then(|part| part.row(Subject::Alone(own)));
    let limit = alone.and_then(|row| limit_cells(bands, row));
    BandRow {
        label: parameter_and_symbol(own),
        remark: limit.map_or_else(String::new, |own| own.limit),
        present: present.map(|own| own.band),
        specified: set.map(|own| own.band),
        widest: alone.and_then(|row| Some(row.confirmed()?.at)),
        texts: [
            present.map_or_else(exact, band_of),
            proposal.map_or_else(
                || NONE.to_owned(),
                |set| specified(bands, set, own).map_or_else(exact, |text| last_word(&text)),
            ),
            alone.map_or_else(|| NONE.to_owned(), marks::widest_alone),
        ],
    }
}

/// The band behind the name of a part.
fn last_word(text: &str) -> String {
    text.rsplit(", ").next().unwrap_or(text).to_owned()
}

/// Pairs of two bands that meet the target.
pub(super) fn map(bands: &Bands) -> Option<Finding> {
    let map = bands.map.as_ref()?;
    let title = "Pairs of two bands: which meet the target";
    let text = "Dots meet the target, crosses miss it, circles are not decided; the ring is at the bands of now.";
    let chart_of = Chart {
        names: map.pair.map(|own| format!("band of {}", parameter(own).short)),
        axes: &map.axes,
        points: map.cells.iter().map(chart_point).collect(),
        inner: &map.inner,
        outer: &map.outer,
        present: map.present,
    };
    let meeting = map.cells.iter().filter(|cell| cell.verdict == CellVerdict::Meets).count();
    let [first, second] = map.pair.map(|own| parameter(own).short);
    let [meeting, all] = [meeting, map.cells.len()].map(|n| count(n as u64));
    Some(Finding {
        heading: format!("{meeting} of {all} pairs of {first} and {second} meet the target"),
        remark: Some(
            "Dot: meets. Cross: misses. Circle: not decided. Ring: now. All other bands as now."
                .to_owned(),
        ),
        inside: html! { (chart(&name("map", title, text), &chart_of, ChartSize::Small)) },
    })
}
