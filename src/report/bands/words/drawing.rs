//! What the drawing may say, and how sure that is.

use super::part::clipped;
use super::{band, factor, level, start, subject, times};
use crate::converter::{Arrangement, Parameter};
use crate::statistics::Verdict;
use crate::study::bands::{Bands, Proposal, ProposalSource, Subject};

/// What the drawing may say, and where that comes from.
pub(in crate::report) fn proposal(bands: &Bands) -> String {
    let own = match bands.proposal().map(|proposal| proposal.source) {
        Some(ProposalSource::Cheapest) => {
            let price = bands.cheapest.as_ref().and_then(|found| found.choice.as_ref());
            let price = price.map_or(0.0, |choice| choice.price);
            format!("the cheapest set on offer, {price:.2} for its parts of a converter.")
        }
        Some(ProposalSource::Factor(at)) => {
            format!("all present bands times {}{}.", times(at), clipped(bands, at))
        }
        Some(ProposalSource::Only(parameter)) => {
            format!("the widest band of {}.", subject(Subject::Alone(parameter)))
        }
        None => nothing(bands),
    };
    format!("For the drawing: {own}")
}

fn nothing(bands: &Bands) -> String {
    let passes = bands.parts.first().is_some_and(|part| part.verdict == Verdict::Pass);
    let several = bands.present.iter().count() > 1;
    let what = if bands.priced { "set on offer" } else { "wider set" };
    if !bands.priced && several && bands.present.iter().all(|(_, own)| own.band <= 0.0) {
        "a row of the table, or a pair from the map. All bands are 0 % at present, so that there is \
         no common factor."
            .into()
    } else if passes {
        format!("the present bands. No {what} was proven on fresh samples.")
    } else {
        let what = if bands.priced { "set on offer" } else { "set of bands" };
        format!("nothing yet. No {what} was proven on fresh samples.")
    }
}

/// What is to be minded about a proposed set: bands of 0 %.
pub(in crate::report) fn exact_parts(proposal: &Proposal) -> Option<String> {
    let exact = proposal.tolerances.iter().filter(|(_, own)| own.band <= 0.0);
    let names: Vec<_> = exact.map(|(p, _)| subject(Subject::Alone(p))).collect();
    (!names.is_empty()).then(|| {
        format!(
            "Nobody sells a band of 0 %: {}. The set holds only with parts that are exact there.",
            names.join(", ")
        )
    })
}

/// Where present bands were not shown to pass: a pair from the map that meets the target.
pub(in crate::report) fn pair(bands: &Bands) -> Option<String> {
    let chain = bands.parts.first().filter(|part| part.verdict != Verdict::Pass)?;
    let map = bands.map.as_ref().filter(|_| chain.arrangement == Arrangement::Chain)?;
    let Some(pair) = map.widest_pair() else {
        return Some(
            "From the map: no pair of bands above 0 % was shown to meet the target.".into(),
        );
    };
    let [first, second] = [0, 1]
        .map(|n: usize| format!("{} {}", subject(Subject::Alone(map.pair[n])), band(pair[n])));
    let listed = if bands.priced { "; whether such bands are on offer was not asked" } else { "" };
    Some(format!(
        "From the map: {first} with {second} meets the target, all other bands as they are{listed}."
    ))
}

/// That margins know of no price lists.
pub(in crate::report) fn unlisted(bands: &Bands) -> Option<&'static str> {
    (bands.priced && !bands.parts.is_empty()).then_some(
        "Margins, widest bands and map take any band, also of parts that come only in those on offer.",
    )
}

/// What it means that parts on offer have no tolerance of their own.
pub(in crate::report) fn on_offer(bands: &Bands) -> Option<String> {
    if !bands.on_offer {
        return None;
    }
    let confirmed = bands.cheapest.as_ref().is_some_and(|found| found.confirmed().is_some());
    Some(if confirmed {
        "The set on offer: parts on offer have no [tolerance] table of their own, so verdict, margins \
         and map are asked of the cheapest set on offer that was proven."
            .into()
    } else {
        "Parts on offer have no [tolerance] table of their own, and no set on offer was proven: there \
         is none for verdict, margins and map to stand on."
            .into()
    })
}

/// Heading of a proposed set in a table.
pub(in crate::report) fn source(source: ProposalSource) -> String {
    match source {
        ProposalSource::Cheapest => "cheapest set".into(),
        ProposalSource::Factor(at) => format!("all {}", factor(at)),
        ProposalSource::Only(_) => "widest".into(),
    }
}

/// A parameter's band in a proposed set, with the name of the part to buy if it has one.
pub(in crate::report) fn proposed(
    bands: &Bands,
    proposal: &Proposal,
    parameter: Parameter,
) -> Option<String> {
    let band = self::band(proposal.tolerances.get(parameter)?.band);
    let chosen = bands.cheapest.as_ref().and_then(|found| found.chosen(parameter));
    Some(match chosen.and_then(|offered| offered.name.as_ref()) {
        Some(name) if proposal.source == ProposalSource::Cheapest => format!("{name}, {band}"),
        _ => band,
    })
}

/// Parameters that have a band now or in a proposed set.
pub(in crate::report) fn banded(bands: &Bands, proposal: &Proposal) -> Vec<Parameter> {
    let has =
        |p: &Parameter| bands.present.get(*p).is_some() || proposal.tolerances.get(*p).is_some();
    Parameter::ALL.into_iter().filter(has).collect()
}

/// The parameters that count as exact, and what that means; none where all have a tolerance.
pub(in crate::report) fn exact(bands: &Bands) -> Option<String> {
    let exact = Parameter::ALL.into_iter().filter(|p| bands.present.get(*p).is_none());
    let names: Vec<_> = exact.map(|p| p.key().replace('_', " ")).collect();
    (!names.is_empty() && !bands.parts.is_empty()).then(|| {
        format!(
            "Taken as exact, for want of a [tolerance] table: {}. The verdict on the {}, the margins \
             and the map count on it.",
            names.join(", "),
            start(bands)
        )
    })
}

/// How sure the answers are, the drawing's first, then all at once.
pub(in crate::report) fn sureness(bands: &Bands) -> String {
    let (each, together) = (bands.error_each(), bands.confidence_together());
    let together = if together > 0.0 {
        format!("that all hold at once is sure to {} at least", level(together))
    } else {
        "of all at once nothing is claimed".into()
    };
    let drawing = bands.proposal().map_or_else(String::new, |_| {
        format!("That the set for the drawing holds is sure to {}. ", level(1.0 - each))
    });
    let made = match bands.statements() {
        1 => "1 statement is".into(),
        n => format!("{n} statements are"),
    };
    format!(
        "{drawing}{made} made here. Each by itself is wrong in at most {} of such searches; \
         {together}.",
        level(each),
    )
}
