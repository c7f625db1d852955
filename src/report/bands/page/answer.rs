//! The answer, first: what the drawing may say, and what margin the present bands have.

use maud::{Markup, html};

use crate::report::bands::words as shared;
use crate::report::format::page::parts as verdict;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::words;
use crate::solver::Method;
use crate::study::bands::{ArrangementBands, Bands, Proposal};

pub(super) fn answer(bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() { p class="notice" { strong { (shared::unfinished(bands)) } } }
        @if bands.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." }
                " The averaged solver keeps fundamentals alone and flatters the sharing error: \
                 take bands from the exact solver."
            }
        }
        p class="lead" { strong { (shared::proposal(bands)) } }
        (drawing(bands))
        div class="verdicts" { @for part in &bands.parts { (card(part, bands)) } }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

/// The proposed set of bands beside the present one.
fn drawing(bands: &Bands) -> Markup {
    let proposal = bands.proposal();
    html! {
        @if let Some(own) = &proposal {
            (set(bands, own))
            p class="remark" {
                "Take the set as a whole: it was tried as it stands on fresh samples, which the \
                 search did not use. Bands are half widths, of the nominal value."
            }
            @if let Some(exact) = shared::exact_parts(own) { p class="notice" { (exact) } }
        }
        @if let Some(pair) = shared::pair(bands) { p { (pair) } }
        p class="remark" { (shared::sureness(bands)) }
        @if let Some(on_offer) = shared::on_offer(bands) { p class="notice" { (on_offer) } }
        @if let Some(unlisted) = shared::unlisted(bands) { p class="remark" { (unlisted) } }
        @if let Some(exact) = shared::exact(bands) { p class="notice" { (exact) } }
    }
}

/// The proposed bands beside the present ones; a set on offer is both.
fn set(bands: &Bands, own: &Proposal) -> Markup {
    let exact = || "exact".to_owned();
    let band = |at: f64| words::unbroken(&shared::band(at));
    let now = |p| bands.present.get(p).map_or_else(exact, |own| band(own.band));
    let body = html! {
        @for parameter in shared::banded(bands, own) {
            @let proposed = shared::proposed(bands, own, parameter).unwrap_or_else(exact);
            tr {
                th scope="row" { (words::parameter(parameter)) }
                @if !bands.on_offer { (number(now(parameter))) }
                td class="number" { strong { (words::unbroken(&proposed)) } }
            }
        }
        tr class="limited" {
            th scope="row" { "yield at least" }
            @if !bands.on_offer {
                @let good = bands.parts.first().map(|part| part.present.good.lower);
                (number(good.map(words::yield_percent).unwrap_or_default()))
            }
            (number(words::yield_percent(own.verification.good.lower)))
        }
    };
    let source = shared::source(own.source);
    let names = ["part", "present", &source];
    let kept = |name: &&str| !bands.on_offer || *name != "present";
    let names: Vec<_> = names.into_iter().filter(kept).collect();
    table("Bands that the drawing may give, chain", &headings(1, &names), &body)
}

fn card(part: &ArrangementBands, bands: &Bands) -> Markup {
    let good = &part.present.good;
    let class =
        format!("card {} {}", part.arrangement.name(), verdict::verdict_class(part.verdict));
    html! {
        article class=(class) {
            h3 { (words::arrangement_heading(part.arrangement)) }
            p class="word" { (verdict::verdict_sign(part.verdict)) (words::verdict(part.verdict)) }
            p {
                "With the " (shared::start(bands)) " " strong { (words::yield_percent(good.estimate)) }
                " of the converters meet every limit at every operating point ("
                (words::given_percent(good.confidence.get())) " interval "
                (words::yield_percent(good.lower)) " to " (words::yield_percent(good.upper))
                "); the target is " (words::given_percent(bands.rule.target)) "."
            }
            @for sentence in [shared::together(part, bands), shared::critical(part)].into_iter().flatten() {
                p { strong { (sentence) } }
            }
            @if let Some(binding) = &part.present.binding {
                p {
                    "Missed most often with the " (shared::start(bands)) ": " (shared::limit(binding))
                    " at operating point “" (binding.operating_point) "”, by "
                    (words::samples(binding.missed)) "."
                }
            }
        }
    }
}
