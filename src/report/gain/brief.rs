//! The brief of `gain`: which output voltages are reached, and how.

use maud::{Markup, html};

use super::curves;
use super::words::{self, range};
use crate::report::format::names;
use crate::report::format::numbers::{count, four, given_percent, kilo, quantity};
use crate::report::format::page::brief::{Brief, Finding, brief, sentences, short_brief};
use crate::report::format::page::brief_basis::{as_typed, caution, frequency_band, nominal_phase};
use crate::report::format::page::parts::{headings, headings_with_text_last, number};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::choice::Feasibility;
use crate::study::gain::{Gain, PointGain};

/// Operating points and loads shown: more would not fit the sheet.
const POINTS: usize = 8;
const LOADS: usize = 6;
/// So many operating points, and fewer loads, leave paper empty.
const SHORT: usize = 5;

/// The first sheet.
pub(super) fn sheet(scenario: &Scenario, gain: &Gain) -> Markup {
    let is_short = gain.points.len() <= SHORT && gain.loads.len() < SHORT;
    let drawn = if is_short { short_brief } else { brief };
    drawn(&Brief {
        question: "Which output voltages does the converter reach, and in which configuration?"
            .to_owned(),
        answer: format!("{} {}", words::reached(gain), words::voltages(gain)),
        verdicts: Vec::new(),
        measure: format!(
            "{} in, 100 % load {}",
            quantity(gain.input_voltage),
            quantity(gain.rated_current)
        ),
        notice: (gain.method == Method::Averaged).then(|| {
            html! {
                p {
                    "A quick look: the averaged (fundamental harmonic) solver is wrong at light load and far \
                     from resonance. Take decisions from the exact solver."
                }
            }
        }),
        columns: [vec![coverage(gain)], vec![points(gain)], vec![gaps(gain)]],
        last: [list("How sure", &how_sure(scenario, gain)), list("What would change this answer", &changes())],
        foot: vec![
            frequency_band(scenario),
            nominal_phase(scenario),
            caution(&html! {
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

fn list(heading: &str, all: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(all) }
}

/// The voltages that every configuration covers.
fn coverage(gain: &Gain) -> Finding {
    let without = gain.coverage.iter().filter(|own| own.gaps.is_empty()).count();
    Finding {
        heading: format!("No gap at {without} of {} loads", gain.coverage.len()),
        remark: Some(
            "Bars: voltages covered. Dotted: operating points, by number. Pale: gaps.".to_owned(),
        ),
        inside: curves::brief_ranges(gain),
    }
}

/// Every operating point with the configuration that it takes.
fn points(gain: &Gain) -> Finding {
    let reached = gain.points.iter().filter(|own| own.choice.chosen.is_some()).count();
    let more = gain.points.len().saturating_sub(POINTS);
    Finding {
        heading: format!("{reached} of {} operating points reached", gain.points.len()),
        remark: Some(
            "Drive, then rectifier; the lowest loss where the scenario leaves it open.".to_owned(),
        ),
        inside: html! {
            table class="points" {
                thead { (headings_with_text_last(&["point", "out, V", "out, A", "gain", "kHz", "configuration"])) }
                tbody { @for (n, own) in gain.points.iter().take(POINTS).enumerate() { (point(n, own)) } }
            }
            @if more > 0 { p class="remark" { (more) " more: " a href="#points" { "all operating points" } "." } }
        },
    }
}

fn point(place: usize, own: &PointGain) -> Markup {
    let chosen = own.choice.chosen.and_then(|n| own.choice.candidates.get(n));
    let figures = chosen.and_then(|own| match own.feasibility {
        Feasibility::Works(figures) => Some(figures),
        _ => None,
    });
    let frequency = figures.map(|own| kilo(own.switching_frequency.0));
    html! {
        tr class=[chosen.is_none().then_some("limited")] {
            th scope="row" { (place + 1) ". " (own.request.name) }
            (number(as_typed(own.request.output_voltage.0)))
            (number(as_typed(own.request.output_current.0)))
            (number(four(own.gain)))
            (number(frequency.unwrap_or_else(|| "–".to_owned())))
            td {
                @match chosen {
                    Some(own) => (names::configuration(own.point.configuration())),
                    None => b { "not reached" },
                }
            }
        }
    }
}

/// Voltages that no configuration reaches, load by load.
fn gaps(gain: &Gain) -> Finding {
    let gaps: usize = gain.coverage.iter().map(|own| own.gaps.len()).sum();
    let more = gain.coverage.len().saturating_sub(LOADS);
    Finding {
        heading: match gaps {
            0 => format!("All of {} is reached at every load", range(&gain.span)),
            1 => format!("One gap in {}", range(&gain.span)),
            n => format!("{n} gaps in {}", range(&gain.span)),
        },
        remark: None,
        inside: html! {
            table {
                thead { (headings(1, &["load", "of the largest", "gaps"])) }
                tbody {
                    @for own in gain.coverage.iter().take(LOADS) {
                        tr class=[(!own.gaps.is_empty()).then_some("limited")] {
                            th scope="row" { (quantity(gain.current(own.load))) }
                            (number(given_percent(gain.loads[own.load])))
                            td class="n" {
                                @if own.gaps.is_empty() { "none" }
                                @for (n, gap) in own.gaps.iter().enumerate() { @if n > 0 { br; } (range(gap)) }
                            }
                        }
                    }
                }
            }
            @if more > 0 { p class="remark" { (more) " more loads: " a href="#coverage" { "coverage" } "." } }
        },
    }
}

fn how_sure(scenario: &Scenario, gain: &Gain) -> Vec<String> {
    let unsolved = match gain.not_solved() {
        0 => "all points of the curves are solved".to_owned(),
        n => format!("{} points of the curves are not solved", count(n as u64)),
    };
    let mut all = vec![format!(
        "Nominal parts in the balanced chain, {} solver; {unsolved}.",
        names::method(gain.method).long
    )];
    all.extend(words::temperatures(scenario));
    all.push("Magnetic saturation is left out: do not use a high peak at light load.".to_owned());
    all
}

fn changes() -> Vec<String> {
    vec![
        "Tolerances: a run counts the converters that miss an operating point.".to_owned(),
        "The ends of the frequency band: many curves end there.".to_owned(),
    ]
}
