//! Sentences of the brief.

use crate::report::bands::words::limits::limit_and_point;
use crate::report::bands::words::names::{banded, specified};
use crate::report::bands::words::numbers::short_percent;
use crate::report::bands::words::{assumptions, critical, orderable, specify};
use crate::report::format::names::{method, parameter};
use crate::report::format::numbers::{count, money, yield_percent};
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::{ArrangementBands, Bands, Proposal, ProposalSource};

/// What the page answers.
pub(super) fn question(bands: &Bands) -> &'static str {
    if bands.priced {
        "Which tolerance bands are enough, and which of the parts on offer cost least?"
    } else {
        "How wide may the tolerance bands of the parts be?"
    }
}

/// What to specify, with the yield that it keeps.
pub(super) fn answer(bands: &Bands) -> String {
    let Some(proposal) = bands.proposal() else { return specify::bands_to_specify(bands) };
    let parts: Vec<String> = banded(bands, Some(&proposal))
        .into_iter()
        .filter(|own| !bands.measured().any(|measured| measured == *own))
        .filter_map(|own| {
            Some(format!("{} {}", parameter(own).short, specified(bands, &proposal, own)?))
        })
        .collect();
    format!(
        "Specify {}: at least {} of the converters are good.{}",
        parts.join(", "),
        yield_percent(proposal.verification.good.lower),
        costs(bands, &proposal)
    )
}

fn costs(bands: &Bands, proposal: &Proposal) -> String {
    let found = bands.cheapest.as_ref().filter(|_| proposal.source == ProposalSource::Cheapest);
    let choice = found.and_then(|own| own.choice.as_ref());
    choice.map_or_else(String::new, |choice| {
        format!(" These parts cost {} a converter.", money(choice.price))
    })
}

/// What the numbers rest on.
pub(super) fn how_sure(bands: &Bands) -> Vec<String> {
    let settings = &bands.settings;
    let each = short_percent(bands.error_each());
    let specified = bands.proposal().map(|_| {
        let confidence = short_percent(bands.confidence_of_each());
        format!("The bands to specify hold with {confidence} confidence, as a whole set.")
    });
    let all = [
        Some(format!(
            "Searched with {} converters a run, by the {} solver; fresh converters confirm what is found.",
            count(settings.samples),
            method(settings.method).long
        )),
        specified,
        Some(format!("Each other statement is wrong in at most {each} of such searches.")),
    ];
    all.into_iter().flatten().collect()
}

/// What would change the choice of a set on offer: more samples, or the limit that all sets miss.
fn other_sets(found: &Cheapest, chain: Option<&ArrangementBands>) -> Option<String> {
    if found.rules_out() && found.confirmed().is_none() {
        let missed = chain.and_then(|own| own.present.binding.as_ref())?;
        return Some(format!("Another limit: missed most is {}.", limit_and_point(missed)));
    }
    let which = if found.confirmed().is_some() { "a cheaper set" } else { "a set" };
    (!found.is_settled()).then(|| format!("More samples: {which} may meet the target."))
}

/// What would change the answer.
pub(super) fn changes(bands: &Bands) -> Vec<String> {
    let chain = bands.parts.first();
    let mut all: Vec<String> = [
        assumptions::beside_set(bands),
        bands.cheapest.as_ref().and_then(|found| other_sets(found, chain)),
        orderable::not_found(bands),
        specify::pair(bands),
        chain.and_then(|part| critical::critical(part, bands)),
    ]
    .into_iter()
    .flatten()
    .collect();
    if all.is_empty() {
        all.push("Nothing else was tried.".to_owned());
    }
    all
}
