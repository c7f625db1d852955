//! The matrix of faults: a word, a sign and a colour for each.

use maud::{Markup, html};

use super::fault_word::FaultWord;
use super::rows::FailureRow;
use crate::converter::Arrangement;
use crate::report::format::numbers;
use crate::report::format::page::parts;
use crate::study::faults::{FaultResult, FaultStudy, HealthyConverter};

/// Phases up to which cells have signs beside their words.
const SIGNS_UP_TO: usize = 8;

/// One an operating point.
pub(in crate::report) fn matrices(study: &FaultStudy) -> Markup {
    html! {
        @for (n, before) in study.healthy.iter().enumerate() {
            @if before.arrangement == Arrangement::Chain { (of_point(study, n, before)) }
        }
    }
}

fn of_point(study: &FaultStudy, healthy: usize, before: &HealthyConverter) -> Markup {
    let of_index = |index: usize| -> Vec<&FaultResult> {
        study.results.iter().filter(|result| result.healthy == index).collect()
    };
    let (own, other) = (of_index(healthy), of_index(healthy + 1));
    let phases = before.state.phases.len();
    let caption = format!(
        "{}: {} before a fault. Columns: the phase; of a flying capacitor the phase before it",
        before.operating_point,
        numbers::quantity(before.state.switching_frequency)
    );
    let is_wide = phases > SIGNS_UP_TO;
    let head = html! {
        tr {
            th scope="col" class="text" { "what fails" }
            @for k in 1..=phases { th scope="col" class="text" { @if !is_wide { "phase\u{a0}" } (k) } }
            th scope="col" class="text" { "paralleled, any" }
        }
    };
    let rows = html! {
        @for row in FailureRow::all(&own) {
            @let reference = other.iter().find(|result| row.is_of(result.fault()));
            tr {
                th scope="row" class="wraps" { (row.heading()) }
                @for k in 0..phases { (cell(row.at(k), is_wide)) }
                (cell(reference.copied(), is_wide))
            }
        }
    };
    html! { div class="matrix" data-point=(before.operating_point) { (parts::table(&caption, &head, &rows)) } }
}

fn cell(result: Option<&FaultResult>, is_wide: bool) -> Markup {
    html! {
        @match result {
            Some(result) if is_wide => (short_outcome(FaultWord::of_result(result), false)),
            Some(result) => (outcome(FaultWord::of_result(result))),
            None => td {},
        }
    }
}

/// A cell with a word, a sign and a colour.
pub(in crate::report) fn outcome(cell: FaultWord) -> Markup {
    html! { td class=(format!("outcome {}", class(cell))) title=(cell.meaning()) { (sign(cell)) (cell.word()) } }
}

/// The same in little room: with its letter where there are many columns.
pub(in crate::report) fn short_outcome(cell: FaultWord, is_short: bool) -> Markup {
    let word = if is_short { cell.letter() } else { cell.word() };
    html! { td class=(format!("outcome {}", class(cell))) title=(cell.meaning()) { (word) } }
}

fn class(cell: FaultWord) -> &'static str {
    match cell {
        FaultWord::Runs => "good",
        FaultWord::Limit | FaultWord::Trap | FaultWord::Unknown => "doubt",
        FaultWord::Range
        | FaultWord::Stops
        | FaultWord::Heats
        | FaultWord::Shorts
        | FaultWord::NotSolved => "bad",
    }
}

fn sign(cell: FaultWord) -> Markup {
    let shape = match cell {
        FaultWord::Runs => "M4 13L10 19L21 5",
        FaultWord::Limit => "M12 4V14M12 19V20",
        FaultWord::Trap => "M5 5V19H19M14 14L19 19L14 23",
        FaultWord::Range => "M3 12H21M8 7L3 12L8 17",
        FaultWord::Stops => "M6 6H18V18H6Z",
        FaultWord::Heats => "M10 14V5A2 2 0 0 1 14 5V14A4 4 0 1 1 10 14",
        FaultWord::Shorts => "M13 3L7 13H17L11 22",
        FaultWord::Unknown => "M8 8A4 4 0 1 1 12 13V16M12 20V21",
        FaultWord::NotSolved => "M5 5L19 19M19 5L5 19",
    };
    html! {
        svg class="sign" viewBox="0 0 24 24" aria-hidden="true" focusable="false" {
            path d=(shape) {}
        }
    }
}

/// What the words of a study mean. Each cell holds its word, so no colour or sign has to be looked up here; the
/// sentences stand once, as a cell has no room for one and a word comes again in most rows.
pub(in crate::report) fn key(study: &FaultStudy) -> Markup {
    let is_said =
        |word: &FaultWord| study.results.iter().any(|result| FaultWord::of_result(result) == *word);
    html! {
        table class="key" {
            tbody {
                @for word in FaultWord::ALL.into_iter().filter(is_said) {
                    tr { (outcome(word)) td { (word.meaning()) } }
                }
            }
        }
    }
}
