//! The matrix of faults on a terminal, 80 columns wide.

use super::fault_word::{FaultWord, failure};
use super::rows::WorstRow;
use crate::report::format::terminal::{right, table, trimmed};
use crate::study::faults::FaultStudy;

/// Up to so many phases the matrix holds words, beyond it letters.
const WORDS_UP_TO: usize = 7;

/// The worst of all operating points and legs, a row a failure.
pub(in crate::report) fn worst_of_all(study: &FaultStudy) -> String {
    let phases = study.healthy.first().map_or(0, |own| own.state.phases.len());
    let rows = WorstRow::all(study, phases);
    let numbers: Vec<String> = (1..=phases).map(|k| k.to_string()).collect();
    let headings = ["worst of all points and legs"].into_iter();
    let headings = headings.chain(numbers.iter().map(String::as_str)).chain(["paral."]);
    let mut table = table(&headings.collect::<Vec<_>>());
    right(&mut table, 1..phases + 2);
    for row in &rows {
        let cell =
            |word: &Option<FaultWord>| word.map_or_else(String::new, |word| sign(word, phases));
        let cells = row.chain.iter().chain([&row.paralleled]).map(cell);
        table.add_row(std::iter::once(failure(row.failure)).chain(cells));
    }
    format!("{}{}\n", trimmed(&table), key(&rows, phases > WORDS_UP_TO))
}

/// A word, or its letter where there are many phases.
pub(in crate::report) fn sign(cell: FaultWord, phases: usize) -> String {
    if phases <= WORDS_UP_TO { cell.word().into() } else { cell.letter().into() }
}

/// What the words or letters mean that stand in the rows, in short; the word “runs” needs none.
fn key(rows: &[WorstRow], is_short: bool) -> String {
    let words = WorstRow::words(rows).into_iter();
    let words = words.filter(|word| is_short || *word != FaultWord::Runs);
    let told = words.map(|word| {
        let mark = if is_short { word.letter() } else { word.word() };
        format!("{mark}: {}", word.meaning().rsplit(": ").next().unwrap_or_default())
    });
    told.collect::<Vec<_>>().join("; ")
}
