//! Sentences of the brief.

use crate::report::bands::words::names::{banded, specified};
use crate::report::bands::words::numbers::short_percent;
use crate::report::bands::words::{assumptions, critical, orderable, specify};
use crate::report::format::names::{method, parameter};
use crate::report::format::numbers::{count, money, yield_percent};
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::{Bands, Proposal, ProposalSource};

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

/// What would change the answer.
pub(super) fn changes(bands: &Bands) -> Vec<String> {
    let cheaper = bands.cheapest.as_ref().is_some_and(|found| !Cheapest::is_settled(found));
    let cheaper = cheaper.then(|| "More samples: a cheaper set may meet the target.".to_owned());
    let chain = bands.parts.first();
    let mut all: Vec<String> = [
        assumptions::beside_set(bands),
        cheaper,
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
