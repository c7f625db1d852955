//! How configurations were chosen where operating points leave them open.

use maud::{Markup, html};

use crate::report::format::configuration::terminal::preference;
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::{names, numbers};
use crate::study::common::choice::{ConfigurationCandidate, ConfigurationChoice};

/// Columns of a table of configurations, text in the first four.
pub(in crate::report) const COLUMNS: [&str; 7] = [
    "operating point",
    "drive",
    "rectifier",
    "result",
    "frequency, kHz",
    "loss, W",
    "worst switch RMS, A",
];

/// A table of all configurations tried; nothing where none was left open.
pub(in crate::report) fn choices<'a>(
    choices: impl Iterator<Item = &'a ConfigurationChoice>,
) -> Markup {
    let choices: Vec<&ConfigurationChoice> = choices.collect();
    let rows = html! {
        @for choice in &choices {
            @for (n, candidate) in choice.candidates.iter().enumerate() {
                @let taken = choice.chosen == Some(n);
                tr class=[taken.then_some("limited")] {
                    @if n == 0 {
                        th scope="rowgroup" rowspan=(choice.candidates.len()) data-point=(candidate.point.name) {
                            (candidate.point.name)
                        }
                    }
                    (configuration(candidate))
                    td { (result(choice, n)) }
                    (figures(candidate))
                }
            }
        }
    };
    html! {
        @if let Some(first) = choices.first() {
            (table("Configurations left open: all that were tried", &headings(4, &COLUMNS), &rows))
            p class="remark" {
                "Of the configurations that work in both arrangements, " (preference(first.prefer))
                " decides. Out of range: no frequency in the band delivers the output. The figures \
                 are those of the nominal chain."
            }
        }
    }
}

/// Cells with drive and rectifier.
pub(in crate::report) fn configuration(candidate: &ConfigurationCandidate) -> Markup {
    html! {
        td { (names::drive(candidate.point.drive).long) }
        td { (names::rectifier(candidate.point.rectifier).long) }
    }
}

/// What became of a candidate; bold for the one taken.
pub(in crate::report) fn result(choice: &ConfigurationChoice, candidate: usize) -> Markup {
    html! {
        @if choice.chosen == Some(candidate) { b { (choice.reason(candidate)) } }
        @else { (choice.reason(candidate)) }
    }
}

/// Cells with frequency, loss and worst switch current; dashes where it does not work.
pub(in crate::report) fn figures(candidate: &ConfigurationCandidate) -> Markup {
    html! {
        @match candidate.nominal_figures() {
            Some(m) => {
                (number(numbers::kilo(m.switching_frequency.0)))
                (number(numbers::three(m.loss.0)))
                (number(numbers::three(m.switch_rms_current.0)))
            }
            None => { @for _ in 0..3 { (number(numbers::NONE)) } }
        }
    }
}
