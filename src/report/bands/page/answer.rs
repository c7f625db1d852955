//! The answer: the bands to specify, then the verdict and the margin of the present ones.

use maud::{Markup, html};

use crate::report::bands::words::names::{self, starting_bands};
use crate::report::bands::words::{
    assumptions, critical, limits, margins, numbers, orderable, specify,
};
use crate::report::format::names::{arrangement_heading, capital, parameter_and_symbol};
use crate::report::format::numbers::{NONE, given_percent, level, samples, yield_percent};
use crate::report::format::page::parts::{headings, number, table, verdict_class, verdict_sign};
use crate::report::format::switching;
use crate::report::format::tolerance::measured_parts_alone;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::bands::{ArrangementBands, Bands, Proposal};

pub(super) fn answer(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() { p class="notice" { strong { (names::unfinished(bands)) } } }
        @if bands.settings.method == Method::Averaged {
            p class="notice" {
                strong { "The averaged solver underestimates the sharing error." }
                " It keeps the fundamental harmonic alone. Confirm these bands with the exact solver."
            }
        }
        @let tolerances = bands.present.iter().map(|(_, own)| own);
        @if let Some(alone) = measured_parts_alone(tolerances) { p class="notice" { (alone) } }
        p class="lead" { strong { (specify::bands_to_specify(bands)) } }
        @if let Some(shift) = &bands.sharing_shift {
            p class="notice" { (switching::shift_beside_limit(scenario, shift)) }
        }
        (specified(scenario, bands))
        div class="verdicts" { @for part in &bands.parts { (card(part, bands)) } }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

/// The bands to specify, and what to know about them.
fn specified(scenario: &Scenario, bands: &Bands) -> Markup {
    let proposal = bands.proposal();
    html! {
        @if let Some(proposal) = &proposal {
            (set(bands, proposal))
            p class="remark" {
                "Specify the whole set: fresh samples confirmed it as a whole. A band is a half \
                 width, or both of its unequal ends, in percent of the nominal value."
            }
            @if let Some(exact) = specify::exact_parts(proposal) { p class="notice" { (exact) } }
        }
        @if let Some(sentence) = assumptions::beside_set(bands) {
            p { (sentence) " " a href="#what-if" { "All assumptions" } }
        }
        @if let Some(reason) = orderable::not_found(bands) { p { (reason) } }
        @if let Some(pair) = specify::pair(bands) { p { (pair) } }
        @if let Some(on_offer) = specify::on_offer(bands) { p class="notice" { (on_offer) } }
        @if let Some(exact) = specify::assumed_exact(scenario, bands) { p class="notice" { (exact) } }
    }
}

/// The bands to specify beside the present ones; a set on offer is both.
fn set(bands: &Bands, proposal: &Proposal) -> Markup {
    let exact = || "exact".to_owned();
    let present = |p| bands.present.get(p).map_or_else(exact, numbers::band_of);
    let body = html! {
        @for parameter in names::banded(bands, Some(proposal)) {
            @let specified = names::specified(bands, proposal, parameter).unwrap_or_else(exact);
            tr {
                th scope="row" { (parameter_and_symbol(parameter)) }
                @if !bands.on_offer { (number(present(parameter))) }
                td class="n" { strong { (specified) } }
            }
        }
        tr class="limited" {
            th scope="row" { "yield at least" }
            @if !bands.on_offer {
                @let good = bands.parts.first().map(|part| part.present.good.lower);
                (number(good.map_or_else(|| NONE.into(), yield_percent)))
            }
            (number(yield_percent(proposal.verification.good.lower)))
        }
    };
    let source = names::source(proposal.source);
    let columns = ["part", "present", &source];
    let shown = |name: &&str| !bands.on_offer || *name != "present";
    let columns: Vec<_> = columns.into_iter().filter(shown).collect();
    table("Bands to specify, balanced chain", &headings(1, &columns), &body)
}

/// The verdict on the present bands of an arrangement, and their margin.
fn card(part: &ArrangementBands, bands: &Bands) -> Markup {
    let good = &part.present.good;
    let class = format!("card {} {}", part.arrangement.name(), verdict_class(part.told_verdict()));
    let sentences = [margins::margin(part, bands), critical::critical(part, bands)];
    html! {
        article class=(class) {
            h3 { (arrangement_heading(part.arrangement)) }
            p class="word" { (verdict_sign(part.told_verdict())) (capital(names::verdict_word(part))) }
            p {
                "With the " (starting_bands(bands)) ", " strong { (yield_percent(good.estimate)) }
                " of the converters meet all limits at all operating points ("
                (level(good.confidence)) " interval " (yield_percent(good.lower)) " to "
                (yield_percent(good.upper)) "). The target is "
                (given_percent(bands.rule.target)) "."
            }
            @for sentence in sentences.into_iter().flatten() { p { strong { (sentence) } } }
            @if let Some(binding) = &part.present.binding {
                p {
                    "Missed most with the " (starting_bands(bands)) ": "
                    (limits::limit_and_point(binding)) ", by " (samples(binding.missed)) "."
                }
            }
        }
    }
}
