//! The page of a comparison.

use maud::{Markup, html};

use super::brief::sheet;
use super::{values as scenario, words};
use crate::report::format::page::parts::{
    folded_table, headings, headings_with_text_last, number, section,
};
use crate::report::format::page::prose;
use crate::report::format::page::{briefed_document, generator};
use crate::study::compare::{Compared, Comparison, ReadResult};

/// The whole page: the brief, then every result against the first.
pub(super) fn page(found: &Comparison) -> String {
    let fields = [format!("results of {}", found.first.verb), generator()];
    let inside = html! {
        @for (n, own) in found.others.iter().enumerate() {
            @let letter = words::letter(n + 1);
            (section(
                &format!("result-{}", letter.to_lowercase()),
                &format!("Result {letter}"),
                &against(&found.first, n, own),
            ))
        }
        (section("methods", "Methods", &html! {
            @for sentence in words::method(found) { p { (sentence) } }
            p { "A number without yield is compared by its interval, where one is told. Ratings have none." }
        }))
        (section("cautions", "Cautions", &prose::cautions()))
        (section("reproduce", "Making it again", &reproduce(found)))
    };
    briefed_document("Results compared", &found.first.title, &fields, &sheet(found), inside)
}

fn reproduce(found: &Comparison) -> Markup {
    let others = found.others.iter().map(|own| &own.other);
    let all: Vec<String> = std::iter::once(&found.first).chain(others).map(words::path).collect();
    html! { p { code { "fairphase compare " (all.join(" ")) } } }
}

fn against(first: &ReadResult, place: usize, own: &Compared) -> Markup {
    let letter = words::letter(place + 1);
    html! {
        p class="lead" { (words::answer(place, first, own)) }
        (basis(first, own, &letter))
        (yields(own, &letter))
        (values(own, &letter))
        @if !own.unmatched.is_empty() {
            p class="remark" { "In one of both alone: " (own.unmatched.join("; ")) "." }
        }
    }
}

fn basis(first: &ReadResult, own: &Compared, letter: &str) -> Markup {
    let body = html! {
        @for change in scenario::changes(first, own) {
            tr {
                th scope="row" class="wraps" { (change.name) }
                @for value in &change.values { (number(value)) }
            }
        }
    };
    html! {
        @if own.basis.is_empty() { p { (words::no_change(first, &own.other)) } } @else {
            (folded_table("All values of the scenario that differ", &headings(1, &["value", "A", letter]), &body))
        }
    }
}

fn yields(own: &Compared, letter: &str) -> Markup {
    let names = [
        "yield",
        "A",
        letter,
        "difference, points",
        "interval",
        "gained; lost",
        "p-value",
        "compared",
        "shown",
    ];
    let body = html! {
        @for change in &own.yields {
            tr class=[change.is_shown().then_some("limited")] {
                th scope="row" class="wraps" { (words::subject(&change.first)) }
                @for share in words::shares(change) { (number(share)) }
                (number(words::points(change.difference.estimate)))
                (number(words::ends(change)))
                (number(words::gained_and_lost(change)))
                (number(words::p_value(change)))
                td { (words::pairing(change.pairing)) }
                td { (words::shown(change)) }
            }
        }
    };
    html! {
        @if !own.yields.is_empty() {
            (folded_table("All yields", &headings_with_text_last(&names), &body))
        }
    }
}

fn values(own: &Compared, letter: &str) -> Markup {
    let body = html! {
        @for change in words::by_change(own) {
            tr {
                th scope="row" class="wraps" { (words::measured(&change.first)) }
                (number(words::value(&change.first)))
                (number(words::value(&change.other)))
                (number(words::relative(change)))
                td { (words::apart(change)) }
            }
        }
    };
    html! {
        @if !words::by_change(own).is_empty() {
            (folded_table(
                "All other numbers that differ, by change",
                &headings_with_text_last(&["number", "A", letter, "change", "intervals"]),
                &body,
            ))
        }
    }
}
