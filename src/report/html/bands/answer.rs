//! The answer, first: what the drawing may say, and what margin the present bands have.

use maud::{Markup, html};

use crate::report::bands::words as shared;
use crate::report::html::parts::{headings, number, table};
use crate::report::html::{verdict, words};
use crate::solver::Method;
use crate::study::bands::{Bands, Part};

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
        p class="remark" { (shared::sureness(bands)) }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

/// Whole sets of bands, the proposed one first.
fn drawing(bands: &Bands) -> Markup {
    let proposals = bands.proposals();
    let sources: Vec<_> = proposals.iter().map(|own| shared::source(own.source)).collect();
    let mut names = vec!["part", "present"];
    names.extend(sources.iter().map(String::as_str));
    let text = |text: Option<String>| text.unwrap_or_else(|| "exact".into());
    let body = html! {
        @for parameter in shared::banded(bands, &proposals) {
            tr {
                th scope="row" { (words::parameter(parameter)) }
                (number(text(bands.present.get(parameter).map(|own| words::percent(own.band)))))
                @for (n, own) in proposals.iter().enumerate() {
                    @let band = words::unbroken(&text(shared::proposed(bands, own, parameter)));
                    td class="number" { @if n == 0 { strong { (band) } } @else { (band) } }
                }
            }
        }
        tr class="limited" {
            th scope="row" { "yield at least" }
            @let present = bands.parts.first().map(|part| words::yield_percent(part.present.lower));
            (number(present.unwrap_or_default()))
            @for own in &proposals { (number(words::yield_percent(own.look.good.lower))) }
        }
    };
    html! {
        @if !proposals.is_empty() {
            (table("Bands that the drawing may give, chain", &headings(1, &names), &body))
            p class="remark" {
                "Take a column as a whole: each set was tried as it stands on fresh samples, which \
                 the search did not use. Bands are half widths, of the nominal value."
            }
        }
        @if let Some(exact) = shared::exact(bands) { p class="notice" { (exact) } }
    }
}

fn card(part: &Part, bands: &Bands) -> Markup {
    let good = &part.present;
    let class = format!("card {} {}", part.arrangement.name(), verdict::class(part.verdict));
    html! {
        article class=(class) {
            h3 { (words::arrangement_heading(part.arrangement)) }
            p class="word" { (verdict::sign(part.verdict)) (words::verdict(part.verdict)) }
            p {
                "With the present bands " strong { (words::yield_percent(good.estimate)) }
                " of the converters meet every limit at every operating point ("
                (words::given_percent(good.confidence.get())) " interval "
                (words::yield_percent(good.lower)) " to " (words::yield_percent(good.upper))
                "); the target is " (words::given_percent(bands.rule.target)) "."
            }
            @for sentence in [shared::together(part), shared::critical(part)].into_iter().flatten() {
                p { strong { (sentence) } }
            }
            @if let Some(binding) = &part.binding {
                p {
                    "Missed most often with the present bands: " (shared::limit(binding))
                    " at operating point “" (binding.operating_point) "”, by "
                    (words::samples(binding.missed)) "."
                }
            }
        }
    }
}
