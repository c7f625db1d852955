//! Names of rows, outcomes and steps.

use crate::converter::Parameter;
use crate::report::format::figures::ChartPoint;
use crate::report::format::names::{self, PARTIAL, parameter};
use crate::report::format::numbers::yield_percent;
use crate::statistics::Verdict;
use crate::study::bands::map::{CellVerdict, MapCell};
use crate::study::bands::{ArrangementBands, Bands, BandsStep, Proposal, ProposalSource, Subject};

use super::numbers::{band_of, factor, step};

/// The bands of a row.
pub(in crate::report) fn varied(subject: Subject) -> &'static str {
    match subject {
        Subject::Together => "all bands together",
        Subject::Alone(parameter) => self::parameter(parameter).long,
    }
}

/// The bands that verdict, margins and map refer to.
pub(in crate::report) fn starting_bands(bands: &Bands) -> &'static str {
    if bands.on_offer { "set on offer" } else { "present bands" }
}

/// Parts whose bands are all zero; measured ones stay as they are.
pub(in crate::report) fn exact_parts(bands: &Bands) -> &'static str {
    if bands.measured().next().is_some() {
        "exact parts beside the measured ones"
    } else {
        "exact parts"
    }
}

/// What the verdict on the present bands of an arrangement is called.
pub(in crate::report) fn verdict_word(part: &ArrangementBands) -> &'static str {
    names::verdict_if_judged(part.verdict, part.is_judged)
}

/// What an interval says about the target.
pub(in crate::report) fn outcome(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "meets",
        Verdict::NotDecided => "not decided",
        Verdict::Fail => "misses",
    }
}

/// What the fresh samples say about a point of the map: its name in the summary, and its class.
pub(in crate::report) fn map_point(verdict: CellVerdict) -> &'static str {
    match verdict {
        CellVerdict::Meets => "meets",
        CellVerdict::Open => "open",
        CellVerdict::Misses => "misses",
    }
}

/// A point of the map as it is drawn.
pub(in crate::report) fn chart_point(cell: &MapCell) -> ChartPoint {
    ChartPoint {
        class: map_point(cell.verdict),
        told: format!("yield {}", yield_percent(cell.good.estimate)),
    }
}

/// Heading of the bands to specify in a table.
pub(in crate::report) fn source(source: ProposalSource) -> String {
    match source {
        ProposalSource::Cheapest => "chosen set".into(),
        ProposalSource::Steps => "to order".into(),
        ProposalSource::Factor(at) => format!("all {}", factor(at)),
        ProposalSource::Only(_) => "widest".into(),
    }
}

/// The band to specify for a parameter, with the name of the part to buy if it has one.
pub(in crate::report) fn specified(
    bands: &Bands,
    proposal: &Proposal,
    parameter: Parameter,
) -> Option<String> {
    let own = proposal.tolerances.get(parameter)?;
    let has_steps = bands.orderable.as_ref().is_some_and(|found| found.has_steps(parameter));
    if proposal.source == ProposalSource::Steps && has_steps {
        return Some(step(own));
    }
    let band = band_of(own);
    let chosen = bands.cheapest.as_ref().and_then(|found| found.chosen(parameter));
    Some(match chosen.and_then(|part| part.name.as_ref()) {
        Some(name) if proposal.source == ProposalSource::Cheapest => format!("{name}, {band}"),
        _ => band,
    })
}

/// Parameters that have a band at present or in the set to specify.
pub(in crate::report) fn banded(bands: &Bands, proposal: Option<&Proposal>) -> Vec<Parameter> {
    let is_in_set = |p: Parameter| proposal.is_some_and(|own| own.tolerances.get(p).is_some());
    let has_band = |p: &Parameter| bands.present.get(*p).is_some() || is_in_set(*p);
    Parameter::ALL.into_iter().filter(has_band).collect()
}

/// Names of parameters, as a list.
pub(in crate::report) fn listed(parameters: impl IntoIterator<Item = Parameter>) -> String {
    let names: Vec<_> = parameters.into_iter().map(|p| parameter(p).long).collect();
    names.join(", ")
}

/// What a search that was stopped had still to do. Its last step is lost, however far it was.
pub(in crate::report) fn unfinished(bands: &Bands) -> String {
    let mut names = bands.unfinished.iter().map(|step| step_name(*step));
    let lost = names.next().unwrap_or_default();
    let rest: Vec<_> = names.collect();
    let rest =
        if rest.is_empty() { String::new() } else { format!(" Not begun: {}.", rest.join("; ")) };
    format!("{PARTIAL} Stopped and discarded: {lost}.{rest}")
}

fn step_name(step: BandsStep) -> String {
    match step {
        BandsStep::Present(arrangement) => format!("present bands, {}", arrangement.name()),
        BandsStep::Widest(arrangement, subject) => {
            format!("{}, {}", varied(subject), arrangement.name())
        }
        BandsStep::Cheapest => "the cheapest set".into(),
        BandsStep::Orderable => "the set of bands to order".into(),
        BandsStep::Critical(arrangement) => {
            format!("comparison of the bands, {}", arrangement.name())
        }
        BandsStep::Trade => "the map of two bands".into(),
        BandsStep::Assumptions => "other assumptions".into(),
    }
}
