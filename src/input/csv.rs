//! CSV rows with the places of their cells, for messages that point at them.

use std::ops::Range;

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::input::diagnostics::Diagnostic;
use crate::input::quantity;

/// What a file holds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Format {
    /// The kind of file, as messages name it: "parts".
    pub(crate) kind: &'static str,
    /// The columns, in their order.
    pub(crate) columns: &'static [&'static str],
    /// The factor by which a value may lie above its nominal value and, where it cannot be zero,
    /// below it.
    pub(crate) farthest: f64,
}

/// The value that an empty cell takes.
#[derive(Debug, Clone, Copy)]
struct Nominal {
    value: f64,
    /// Whether a cell of this column may hold zero.
    may_be_zero: bool,
}

/// All records of the text, including the header.
pub(crate) fn rows(text: &str, format: Format, errors: &mut Vec<Diagnostic>) -> Vec<Row> {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) => rows.push(Row::new(text, format, record)),
            Err(error) => errors.push(Diagnostic::new(
                0..0,
                format!("this is not valid CSV: {error}"),
                "expected comma-separated values",
            )),
        }
    }
    rows
}

/// Whether the header names the columns in their order. Only its first mistake is reported, because
/// a missing column displaces all that follow.
pub(crate) fn header_is_right(
    header: Option<Row>,
    format: Format,
    errors: &mut Vec<Diagnostic>,
) -> bool {
    let Format { kind, columns, .. } = format;
    let Some(header) = header else {
        let label = format!("expected the header {}", columns.join(","));
        errors.push(Diagnostic::new(0..0, format!("the {kind} file is empty"), label));
        return false;
    };
    for index in 0..columns.len().max(header.cells.len()) {
        let found = header.cells.get(index);
        let expected = columns.get(index).copied();
        if found == expected {
            continue;
        }
        let message = match (found, expected) {
            (Some(found), Some(_)) => format!("column {} is `{found}`", index + 1),
            (Some(found), None) => format!("`{found}` is a column too many"),
            (None, _) => format!("the header ends after {index} columns"),
        };
        let label = match expected {
            Some(expected) => format!("expected the column `{expected}` here"),
            None => format!("expected {} columns", columns.len()),
        };
        let help = format!("the header must be {}", columns.join(","));
        errors.push(Diagnostic::new(header.span(index), message, label).with_help(Some(help)));
        return false;
    }
    true
}

/// A record with the places of its cells.
#[derive(Debug)]
pub(crate) struct Row {
    format: Format,
    cells: StringRecord,
    spans: Vec<Range<usize>>,
}

impl Row {
    fn new(text: &str, format: Format, cells: StringRecord) -> Self {
        let start = cells.position().and_then(|at| usize::try_from(at.byte()).ok()).unwrap_or(0);
        Self { format, cells, spans: cell_spans(text, start) }
    }

    /// The place of a cell; that of a missing one is the end of the row.
    pub(crate) fn span(&self, index: usize) -> Range<usize> {
        let end = self.spans.last().map_or(0, |last| last.end);
        self.spans.get(index).cloned().unwrap_or(end..end)
    }

    /// The text of a cell; `None` for an empty or missing one.
    pub(crate) fn cell(&self, index: usize) -> Option<&str> {
        self.cells.get(index).filter(|text| !text.is_empty())
    }

    /// The text of the first cell, which names what the row is about.
    pub(crate) fn name(&self, what: &str, errors: &mut Vec<Diagnostic>) -> Option<&str> {
        let name = self.cell(0);
        if name.is_none() {
            errors.push(Diagnostic::new(
                self.span(0),
                format!("the row names no {what}"),
                format!("expected the name of the {what}"),
            ));
        }
        name
    }

    /// Whether there is a cell for every column; reported where not.
    pub(crate) fn has_all_cells(&self, errors: &mut Vec<Diagnostic>) -> bool {
        let (found, wanted) = (self.cells.len(), self.format.columns.len());
        if found == wanted {
            return true;
        }
        let label = if found < wanted {
            format!("expected a cell for `{}` here", self.format.columns[found])
        } else {
            format!("expected no cell after `{}`", self.format.columns[wanted - 1])
        };
        let message = format!("the row has {found} cells instead of {wanted}");
        errors.push(Diagnostic::new(self.span(found.min(wanted)), message, label));
        false
    }

    /// The value of a cell, or `nominal` where it is empty; `None` when it is wrong.
    pub(crate) fn value(
        &self,
        index: usize,
        may_be_zero: bool,
        nominal: f64,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let Some(text) = self.cell(index) else { return Some(nominal) };
        let problem = match text.parse().map(|value| (value, quantity::in_range(value))) {
            Err(_) => "is not a number".to_owned(),
            Ok((value, _)) if !f64::is_finite(value) => "is not a finite number".to_owned(),
            Ok((_, Err(mistake))) => mistake.to_string(),
            Ok((_, Ok(value))) if value > 0.0 || (may_be_zero && value == 0.0) => {
                let nominal = Nominal { value: nominal, may_be_zero };
                return self.is_near(index, value, nominal, errors).then_some(value);
            }
            Ok(_) => "is out of range".to_owned(),
        };
        let column = self.format.columns[index];
        let range = if may_be_zero { "of zero or more" } else { "above zero" };
        errors.push(Diagnostic::new(
            self.span(index),
            format!("`{text}` in the column `{column}` {problem}"),
            format!("expected a plain number {range}, such as 4.56e-6, or nothing for the nominal"),
        ));
        None
    }

    /// Whether a value is near enough to the nominal one to be a part's. A value that is not was
    /// mostly written in another unit than the column's. Reported where not. Where zero is allowed,
    /// nothing is too small, and where the nominal value is zero, nothing is too large.
    fn is_near(
        &self,
        index: usize,
        value: f64,
        nominal: Nominal,
        errors: &mut Vec<Diagnostic>,
    ) -> bool {
        let Nominal { value: nominal, may_be_zero } = nominal;
        let farthest = self.format.farthest;
        let least = if may_be_zero { 0.0 } else { nominal / farthest };
        let most = if nominal > 0.0 { nominal * farthest } else { f64::INFINITY };
        if (least..=most).contains(&value) {
            return true;
        }
        let column = self.format.columns[index];
        let unit = match column.rsplit('_').next() {
            Some("H") => " in henry",
            Some("F") => " in farad",
            Some("ohm") => " in ohm",
            Some("V") => " in volt",
            _ => "",
        };
        let text = self.cell(index).unwrap_or_default();
        errors.push(Diagnostic::new(
            self.span(index),
            format!(
                "`{text}` in the column `{column}` is farther than a factor {farthest} from {nominal:e}"
            ),
            format!("expected a plain number{unit} from {least:.3e} to {most:.3e}"),
        ));
        false
    }
}

/// The places of the cells of the record that starts at `start`, blank lines before it skipped.
fn cell_spans(text: &str, start: usize) -> Vec<Range<usize>> {
    let rest = text.get(start..).unwrap_or_default();
    let start = start + (rest.len() - rest.trim_start_matches(['\r', '\n']).len());
    let mut spans = Vec::new();
    let (mut from, mut quoted, mut open) = (start, false, false);
    for (offset, byte) in text.bytes().enumerate().skip(start) {
        match byte {
            b'"' if offset == from => (quoted, open) = (true, true),
            b'"' if quoted => open = !open,
            b',' if !open => {
                spans.push(trimmed(text, from..offset));
                (from, quoted) = (offset + 1, false);
            }
            b'\r' | b'\n' if !open => {
                spans.push(trimmed(text, from..offset));
                return spans;
            }
            _ => {}
        }
    }
    spans.push(trimmed(text, from..text.len()));
    spans
}

fn trimmed(text: &str, span: Range<usize>) -> Range<usize> {
    let cell = &text[span.clone()];
    let start = span.start + (cell.len() - cell.trim_start().len());
    start..start + cell.trim().len()
}
