//! The bands to specify, and what to know about them.

use super::margins::clipped;
use super::names::{exact_parts as all_exact, listed};
use super::numbers::{band, three_digits};
use crate::converter::Arrangement;
use crate::report::format::names::{parameter, told};
use crate::report::format::numbers::money;
use crate::report::format::premises;
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::{BandOutcome, Bands, Proposal, ProposalSource, Subject};

/// The bands to specify, and where they come from.
pub(in crate::report) fn bands_to_specify(bands: &Bands) -> String {
    let answer = match bands.proposal().map(|proposal| proposal.source) {
        Some(ProposalSource::Cheapest) => cheapest_set(bands),
        Some(ProposalSource::Steps) => "a set that can be ordered, every band a step.".into(),
        Some(ProposalSource::Factor(at)) => {
            let clipped = clipped(bands, at).map_or_else(String::new, |names| format!(" {names}"));
            let is_any_measured = bands.measured().next().is_some();
            let kept = if is_any_measured { " Measured parts stay as they are." } else { "" };
            format!("all present bands times {}.{clipped}{kept}", three_digits(at))
        }
        Some(ProposalSource::Only(only)) => format!("the widest band of {}.", parameter(only).long),
        None if !bands.is_judged() => "none, as no limit is set for the chain.".to_owned(),
        None => nothing_confirmed(bands),
    };
    format!("Bands to specify: {answer}")
}

fn cheapest_set(bands: &Bands) -> String {
    let choice = bands.cheapest.as_ref().and_then(|found| found.choice.as_ref());
    let price = choice.map_or_else(String::new, |choice| {
        format!(" Its parts cost {} per converter.", money(choice.price))
    });
    let settled = bands.cheapest.as_ref().is_some_and(Cheapest::is_settled);
    let set = if settled {
        "the cheapest set on offer that meets the target."
    } else {
        "the cheapest confirmed set on offer. A cheaper one may meet the target."
    };
    format!("{set}{price}")
}

fn nothing_confirmed(bands: &Bands) -> String {
    let passes = bands.parts.first().is_some_and(|part| part.verdict == Verdict::Pass);
    let bands_to_order = || bands.present.iter().filter(|(_, part)| !part.is_measured());
    let several = bands_to_order().count() > 1;
    if !bands.priced && several && bands_to_order().all(|(_, part)| part.band <= 0.0) {
        let pair = if bands.map.is_some() { ", or a pair from the map" } else { "" };
        return format!(
            "one row of the table{pair}. All present bands are 0\u{a0}%, so that there is no common \
             factor."
        );
    }
    let (excluded, reason) = why_nothing(bands);
    let start = match (passes, excluded) {
        (true, _) => "the present bands.",
        (false, true) => "none.",
        (false, false) => "none yet.",
    };
    format!("{start} {reason}")
}

/// Whether nothing that was searched can meet the target, and why nothing is specified.
fn why_nothing(bands: &Bands) -> (bool, String) {
    let chain = bands.part(Arrangement::Chain);
    let together = chain.and_then(|part| part.row(Subject::Together));
    let passes = chain.is_some_and(|part| part.verdict == Verdict::Pass);
    let misses = together.is_some_and(|row| row.outcome() == BandOutcome::NoneMeets);
    let every_set_misses = bands.cheapest.as_ref().is_some_and(Cheapest::rules_out);
    if bands.has_not_searched() {
        return (false, "The search for a set was interrupted.".into());
    }
    match (bands.priced, passes) {
        (true, _) if every_set_misses => (true, "Every set on offer misses the target.".into()),
        (true, _) if bands.cheapest.as_ref().is_some_and(|own| own.verifications.is_empty()) => (
            false,
            "The search did not see a set on offer meet the target; some are not decided.".into(),
        ),
        (true, _) => (false, "Fresh samples confirmed no set on offer.".into()),
        (false, true) => (false, "Fresh samples confirmed no wider set.".into()),
        (false, false) if misses => (true, format!("Even {} miss the target.", all_exact(bands))),
        (false, false) => (false, "Fresh samples confirmed no set of bands.".into()),
    }
}

/// What to know about a set with bands of 0\u{a0}%.
pub(in crate::report) fn exact_parts(proposal: &Proposal) -> Option<String> {
    let exact = proposal.tolerances.iter().filter(|(_, part)| part.band <= 0.0);
    let names = listed(exact.map(|(parameter, _)| parameter));
    (!names.is_empty()).then(|| {
        format!("Nobody sells a band of 0\u{a0}%: {names}. The set needs exact parts there.")
    })
}

/// Where present bands were not shown to pass: a pair from the map that meets the target.
pub(in crate::report) fn pair(bands: &Bands) -> Option<String> {
    let chain = bands.parts.first().filter(|part| part.verdict != Verdict::Pass)?;
    let map = bands.map.as_ref().filter(|_| chain.arrangement == Arrangement::Chain)?;
    let Some(pair) = map.widest_pair() else {
        return Some(
            "From the map: no pair of bands above 0\u{a0}% was shown to meet the target.".into(),
        );
    };
    let [first, second] =
        [0, 1].map(|n: usize| format!("{} {}", parameter(map.pair[n]).long, band(pair[n])));
    let listed = if bands.priced { " They may not be on offer." } else { "" };
    Some(format!(
        "From the map: {first} with {second} meets the target. All other bands stay as they \
         are.{listed}"
    ))
}

/// That margins know of no price lists.
pub(in crate::report) fn unlisted(bands: &Bands) -> Option<&'static str> {
    (bands.priced && !bands.parts.is_empty())
        .then_some("Margins, widest bands and map are not restricted to the parts on offer.")
}

/// What it means that parts on offer have no tolerance of their own.
pub(in crate::report) fn on_offer(bands: &Bands) -> Option<&'static str> {
    let confirmed = bands.cheapest.as_ref().is_some_and(|found| found.confirmed().is_some());
    bands.on_offer.then_some(if confirmed {
        "Parts on offer have no [tolerance] table. Verdict, margins and map are those of the \
         cheapest confirmed set on offer."
    } else {
        "Parts on offer have no [tolerance] table, and no set on offer was confirmed. So there is \
         no verdict, no margin and no map."
    })
}

/// The parameters that count as exact, and what that means; none where all have a tolerance.
pub(in crate::report) fn assumed_exact(scenario: &Scenario, bands: &Bands) -> Option<String> {
    let exact = told(scenario).filter(|p| bands.present.get(*p).is_none());
    premises::assumed_exact(exact).filter(|_| !bands.parts.is_empty())
}
