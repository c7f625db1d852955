//! CSV rows with the places of their cells, for messages that point at them.

use std::ops::Range;

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::input::diagnostics::Diagnostic;
use crate::input::quantity;

/// The columns of a file, in their order.
pub(crate) type Columns = &'static [&'static str];

/// All records of the text, the header's among them. Values may be at most `farthest` times the
/// nominal one, and where they cannot be zero no less than by that factor below it.
pub(crate) fn rows(
    text: &str,
    (columns, farthest): (Columns, f64),
    errors: &mut Vec<Diagnostic>,
) -> Vec<Row> {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) => rows.push(Row::new(text, (columns, farthest), record)),
            Err(error) => errors.push(Diagnostic::new(
                0..0,
                format!("this is not valid CSV: {error}"),
                "expected comma-separated values",
            )),
        }
    }
    rows
}

/// Checks the header up to its first fault: what follows a missing column is only out of place.
///
/// `kind` says what file it is: "parts".
pub(crate) fn header_is_right(
    header: Option<Row>,
    (kind, columns): (&str, Columns),
    errors: &mut Vec<Diagnostic>,
) -> bool {
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
    columns: Columns,
    /// How many times above or below its nominal value a part may be.
    farthest: f64,
    cells: StringRecord,
    spans: Vec<Range<usize>>,
}

impl Row {
    fn new(text: &str, (columns, farthest): (Columns, f64), cells: StringRecord) -> Self {
        let start = cells.position().and_then(|at| usize::try_from(at.byte()).ok()).unwrap_or(0);
        Self { columns, farthest, cells, spans: cell_spans(text, start) }
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
        let (found, wanted) = (self.cells.len(), self.columns.len());
        if found == wanted {
            return true;
        }
        let label = if found < wanted {
            format!("expected a cell for `{}` here", self.columns[found])
        } else {
            format!("expected no cell after `{}`", self.columns[wanted - 1])
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
                return self.is_near(index, (value, may_be_zero), nominal, errors).then_some(value);
            }
            Ok(_) => "is out of range".to_owned(),
        };
        let column = self.columns[index];
        let range = if may_be_zero { "of zero or more" } else { "above zero" };
        errors.push(Diagnostic::new(
            self.span(index),
            format!("`{text}` in the column `{column}` {problem}"),
            format!("expected a plain number {range}, such as 4.56e-6, or nothing for the nominal"),
        ));
        None
    }

    /// Whether a value is no farther from the nominal one than parts can be: one that is has most
    /// often been written in another unit than the column's. Reported where not. Where zero is allowed,
    /// nothing is too small, and where the nominal value is zero, nothing is too large.
    fn is_near(
        &self,
        index: usize,
        (value, may_be_zero): (f64, bool),
        nominal: f64,
        errors: &mut Vec<Diagnostic>,
    ) -> bool {
        let least = if may_be_zero { 0.0 } else { nominal / self.farthest };
        let most = if nominal > 0.0 { nominal * self.farthest } else { f64::INFINITY };
        if (least..=most).contains(&value) {
            return true;
        }
        let column = self.columns[index];
        let unit = match column.rsplit('_').next() {
            Some("H") => " in henry",
            Some("F") => " in farad",
            Some("ohm") => " in ohm",
            Some("V") => " in volt",
            _ => "",
        };
        let text = self.cell(index).unwrap_or_default();
        let farthest = self.farthest;
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
