//! Records of a CSV text, with the places of their cells.

use std::borrow::Cow;
use std::ops::Range;

use csv::{ReaderBuilder, StringRecord, Trim};

use super::names::quoted;
use super::separator::Separator;
use crate::input::diagnostics::Diagnostic;

/// The text of a cell and its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) span: Range<usize>,
}

impl Cell {
    /// Its text as messages quote it.
    pub(super) fn quoted(&self) -> Cow<'_, str> {
        quoted(&self.text)
    }
}

/// A record with the places of its cells.
#[derive(Debug)]
pub(super) struct Record {
    separator: Separator,
    cells: StringRecord,
    spans: Vec<Range<usize>>,
}

impl Record {
    /// Cells up to the last one that is not empty.
    pub(super) fn width(&self) -> usize {
        let filled = self.cells.iter().enumerate().filter(|(_, text)| !text.is_empty());
        filled.last().map_or(0, |(last, _)| last + 1)
    }

    /// Cells, with empty ones at the end.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    /// The place of a cell; that of a missing one is the end of the row.
    pub(super) fn span(&self, index: usize) -> Range<usize> {
        let end = self.spans.last().map_or(0, |last| last.end);
        self.spans.get(index).cloned().unwrap_or(end..end)
    }

    /// The text of a cell, empty where it is missing.
    pub(super) fn text(&self, index: usize) -> &str {
        self.cells.get(index).unwrap_or_default()
    }

    /// The texts of all cells.
    pub(super) fn texts(&self) -> impl Iterator<Item = &str> {
        self.cells.iter()
    }

    /// A cell that is not empty.
    pub(super) fn cell(&self, index: usize) -> Option<Cell> {
        let text = self.cells.get(index).filter(|text| !text.is_empty())?;
        Some(Cell { text: text.to_owned(), span: self.span(index) })
    }

    pub(super) fn is_comma_separated(&self) -> bool {
        self.separator == Separator::Comma
    }
}

/// The first record of the text; its errors are reported when all records are read.
pub(super) fn first(text: &str, separator: Separator) -> Option<Record> {
    let extent = Extent { body: 0, most: 1 };
    records(text, extent, separator, &mut Vec::new()).into_iter().next()
}

/// What of a text is read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    /// The byte at which it begins.
    pub(super) body: usize,
    /// Most records to be read.
    pub(super) most: usize,
}

/// Records of the text, the header among them; rows without content are left out.
pub(super) fn records(
    text: &str,
    Extent { body, most }: Extent,
    separator: Separator,
    errors: &mut Vec<Diagnostic>,
) -> Vec<Record> {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .delimiter(separator.byte())
        .from_reader(&text.as_bytes()[body..]);
    let mut records = Vec::new();
    for record in reader.records() {
        if records.len() == most {
            break;
        }
        match record {
            Ok(cells) => {
                let start = cells.position().and_then(|at| usize::try_from(at.byte()).ok());
                let spans = cell_spans(text, body + start.unwrap_or(0), separator, errors);
                let record = Record { separator, cells, spans };
                records.extend(Some(record).filter(|record| record.width() > 0));
            }
            Err(error) => errors.push(Diagnostic::new(
                0..0,
                format!("this is not valid CSV: {error}"),
                "expected rows of cells",
            )),
        }
    }
    records
}

/// The places of the cells of the record that starts at `start`, blank lines before it skipped.
fn cell_spans(
    text: &str,
    start: usize,
    separator: Separator,
    errors: &mut Vec<Diagnostic>,
) -> Vec<Range<usize>> {
    let rest = text.get(start..).unwrap_or_default();
    let start = start + (rest.len() - rest.trim_start_matches(['\r', '\n']).len());
    let mut spans = Vec::new();
    let (mut from, mut quoted, mut open) = (start, false, false);
    // Where a second quote would mean a quote in the text.
    let mut closed = None;
    for (offset, byte) in text.bytes().enumerate().skip(start) {
        match byte {
            b'"' if offset == from => (quoted, open) = (true, true),
            b'"' if open => (open, closed) = (false, Some(offset + 1)),
            b'"' if quoted && closed == Some(offset) => open = true,
            _ if open => {}
            b'\r' | b'\n' => {
                spans.push(trimmed(text, from..offset));
                return spans;
            }
            byte if byte == separator.byte() => {
                spans.push(trimmed(text, from..offset));
                (from, quoted) = (offset + 1, false);
            }
            b' ' | b'\t' => {}
            _ if quoted => {
                errors.push(text_after_quote(offset));
                quoted = false;
            }
            _ => {}
        }
    }
    if open {
        let message = "this quote is never closed";
        errors.push(Diagnostic::new(from..from + 1, message, "expected a second quote"));
    }
    spans.push(trimmed(text, from..text.len()));
    spans
}

fn text_after_quote(offset: usize) -> Diagnostic {
    let label = "expected the end of the cell after its second quote";
    let help = "write a quote inside a cell twice".to_owned();
    Diagnostic::new(offset..offset, "text follows a closed quote", label).with_help(Some(help))
}

fn trimmed(text: &str, span: Range<usize>) -> Range<usize> {
    let cell = &text[span.clone()];
    let start = span.start + (cell.len() - cell.trim_start().len());
    start..start + cell.trim().len()
}
