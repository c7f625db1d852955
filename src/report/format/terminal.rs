//! What the terminal shows: tables and folded text, 80 columns wide.

use std::ops::Range;

use comfy_table::{
    Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets,
};
use textwrap::core::display_width;

use super::numbers::{UNITS, plain};

/// The usual caution, for every result.
pub(in crate::report) const CAUTION: &str = "\
High voltage can kill and a wrong rating can burn: capacitors stay charged after
switch-off. These are model results; the applicable standards, local codes and
a qualified engineer decide.\n";

/// What to know of results by the averaged solver, before the answer.
pub(in crate::report) const QUICK_LOOK: &str = "\
A quick look: the averaged (fundamental harmonic) solver may understate errors.
Take decisions from --solver exact.\n\n";

pub(in crate::report) const WIDTH: u16 = 80;
/// Blanks behind a column of a table.
const GAP: u16 = 1;

pub(in crate::report) fn table(headings: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_width(WIDTH)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_header(headings.iter().copied());
    for (n, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, GAP));
        if n >= 2 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// Aligns some columns to the right.
pub(in crate::report) fn right(table: &mut Table, columns: Range<usize>) {
    for n in columns {
        if let Some(column) = table.column_mut(n) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

/// Aligns a column to the left.
pub(in crate::report) fn left(table: &mut Table, column: usize) {
    if let Some(column) = table.column_mut(column) {
        column.set_cell_alignment(CellAlignment::Left);
    }
}

/// The table as it is shown: a column that cuts a word is made as wide as the word, where the terminal has room.
fn with_whole_words(table: &Table) -> String {
    let shown = table.to_string();
    let mut wider = table.clone();
    for n in 0..wider.column_count() {
        let rows = table.header().into_iter().chain(table.row_iter());
        let cells = rows.filter_map(|row| row.cell_iter().nth(n)).map(Cell::content);
        let cut = |cell: String| {
            let words = cell.split_whitespace().filter(|word| !shown.contains(word));
            words.map(display_width).max()
        };
        let longest = cells.filter_map(cut).max().and_then(|width| u16::try_from(width).ok());
        if let (Some(width), Some(column)) = (longest, wider.column_mut(n)) {
            let width = Width::Fixed(width.saturating_add(GAP));
            column.set_constraint(ColumnConstraint::LowerBoundary(width));
        }
    }
    let whole = wider.to_string();
    let fits = whole.lines().all(|line| display_width(line) <= usize::from(WIDTH));
    if fits { whole } else { shown }
}

/// Lines without the blanks that a table leaves at their ends.
pub(in crate::report) fn trimmed(table: &Table) -> String {
    with_whole_words(table).lines().fold(String::new(), |mut text, line| {
        text.push_str(line.trim_end());
        text.push('\n');
        text
    })
}

/// The text with lines that are too long folded between words, not at hyphens; no line breaks within
/// a number nor between it and its unit. Blanks that no line may break at become blanks like others.
pub(in crate::report) fn folded(text: &str) -> String {
    folded_to(text, usize::from(WIDTH))
}

/// The same for another number of columns.
pub(in crate::report) fn folded_to(text: &str, columns: usize) -> String {
    let options = textwrap::Options::new(columns)
        .subsequent_indent("  ")
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    let folded = text.lines().fold(String::new(), |mut folded, line| {
        if display_width(line) > columns {
            folded.push_str(&textwrap::fill(&joined(line), &options));
        } else {
            folded.push_str(line);
        }
        folded.push('\n');
        folded
    });
    plain(&folded)
}

/// The text with no break within a number, nor between it and its unit.
pub(in crate::report) fn joined(line: &str) -> String {
    let mut words = line.split(' ').peekable();
    let mut text = String::new();
    while let Some(word) = words.next() {
        text.push_str(word);
        let Some(next) = words.peek() else { break };
        let is_number = word.ends_with(|c: char| c.is_ascii_digit());
        let follows = next.starts_with(|c: char| c.is_ascii_digit()) || begins_with_unit(next);
        text.push(if is_number && follows { '\u{a0}' } else { ' ' });
    }
    text
}

/// Whether a word is a unit, maybe with a sign of punctuation.
fn begins_with_unit(word: &str) -> bool {
    UNITS.contains(&word.trim_end_matches(|c: char| !c.is_alphanumeric() && c != '%'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_their_units_stay_together() {
        let line = joined("in 2 000 of 9 at 5.1 % or 3 A at 40 V, 90.0 kHz (4.56 µH) and 3 Apples");
        assert_eq!(
            line,
            "in 2\u{a0}000 of 9 at 5.1\u{a0}% or 3\u{a0}A at 40\u{a0}V, 90.0\u{a0}kHz (4.56\u{a0}µH) and 3 \
             Apples"
        );
        let long = format!("{} 95 % interval", "x".repeat(76));
        assert_eq!(folded(&long), format!("{}\n  95 % interval\n", "x".repeat(76)));
    }

    #[test]
    fn no_word_of_a_table_is_cut_where_all_have_room() {
        let mut told = table(&["band", "chosen", "why"]);
        let long = "the sharing error of the converter, ".repeat(6);
        told.add_row(["on-resistance", "20 %", &long]);
        let shown = trimmed(&told);
        assert!(shown.contains("\non-resistance "), "{shown}");
        assert!(shown.lines().all(|line| line.len() <= usize::from(WIDTH)), "{shown}");
        // A word wider than a terminal is cut nevertheless.
        told.add_row(["x".repeat(90).as_str(), "20 %", &long]);
        assert!(trimmed(&told).lines().all(|line| line.len() <= usize::from(WIDTH)));
    }
}
