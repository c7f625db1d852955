//! Columns of numbers in files of measurements, whatever else these hold.

use std::ops::Range;

use super::decimals::{self, DecimalSign};
use super::detection;
use super::file::{check_widths, steering_character};
use super::format::{Format, NOT_MEASURED};
use super::free_header::{self, FreeHeader};
use super::header;
use super::record::{self, Cell, Extent, Record};
use super::separator::Separator;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Dimension};

/// What a file of measurements is read for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ColumnRequest<'a> {
    /// Plain names of columns that are always numbers.
    pub(crate) known: &'static [&'static str],
    /// Names of the columns that are wanted; all columns of numbers where there is none.
    pub(crate) wanted: &'a [String],
}

/// A column of numbers, each in the SI unit.
#[derive(Debug)]
pub(crate) struct NumberColumn {
    /// Its plain name where it is a known one, else its name as written.
    pub(crate) name: String,
    /// Its plain name where it is a known one.
    pub(crate) known: Option<&'static str>,
    /// What its values measure.
    pub(crate) dimension: Option<Dimension>,
    /// Its numbers in the order of the file.
    pub(crate) cells: Vec<NumberCell>,
    /// Rows in which it is empty.
    pub(crate) empty: usize,
    /// Where its name is.
    pub(crate) span: Range<usize>,
}

/// A number and its place.
#[derive(Debug)]
pub(crate) struct NumberCell {
    /// Line of the file, from 1.
    pub(crate) line: usize,
    /// The number.
    pub(crate) value: f64,
}

/// A column that is no measurement.
#[derive(Debug)]
pub(crate) struct OtherColumn {
    /// Its name.
    pub(crate) name: String,
    /// Why it is none.
    pub(crate) reason: String,
}

/// What a file of measurements holds.
#[derive(Debug)]
pub(crate) struct ColumnsFile {
    /// Columns of numbers.
    pub(crate) columns: Vec<NumberColumn>,
    /// The others.
    pub(crate) others: Vec<OtherColumn>,
    /// How the file was read, as "read …" goes on, where that is not the plain form.
    pub(crate) read_as: Option<String>,
}

/// Reads all columns of numbers, or those that are wanted. A column that is known or wanted must hold
/// numbers above zero, or nothing; others may hold anything, and are told apart.
pub(crate) fn read_columns(
    text: &str,
    request: ColumnRequest<'_>,
    errors: &mut Vec<Diagnostic>,
) -> Option<ColumnsFile> {
    let format = Format {
        kind: "measurements",
        columns: request.known,
        texts: 0,
        optional: &[],
        optional_texts: 0,
        farthest: None,
        empty: NOT_MEASURED,
    };
    if let Some(error) = steering_character(text) {
        errors.push(error);
        return None;
    }
    let (separator, body) = separator_of(text, format, errors)?;
    let extent = Extent { body, most: usize::MAX };
    let mut records = record::records(text, extent, separator, errors).into_iter();
    let (Some(head), records) = (records.next(), records.collect::<Vec<_>>()) else {
        let label = "expected a header and a row for each part";
        errors.push(Diagnostic::new(0..0, "the file is empty", label));
        return None;
    };
    check_widths(&head, &records, errors);
    let headers = free_header::read(&head, format, request.wanted, errors);
    let table = Table { text, records, separator };
    let (mut measured, mut others) = (Vec::new(), Vec::new());
    for header in headers {
        match table.reason_to_leave_out(&header) {
            Some(reason) => others.push(OtherColumn { name: header.name, reason }),
            None => measured.push(header),
        }
    }
    let cells: Vec<Cell> = measured.iter().flat_map(|header| table.cells(header.index)).collect();
    let decimals = decimals::of(cells.iter(), std::iter::empty(), errors)?;
    let read_as = table.read_as(decimals, &measured);
    let columns = measured.into_iter().map(|header| table.column(header, decimals, errors));
    Some(ColumnsFile { columns: columns.collect(), others, read_as })
}

/// The rows of a file below its header.
struct Table<'a> {
    text: &'a str,
    records: Vec<Record>,
    separator: Separator,
}

impl Table<'_> {
    fn cells(&self, index: usize) -> impl Iterator<Item = Cell> {
        self.records.iter().filter_map(move |record| record.cell(index))
    }

    /// Why a column that need not hold measurements holds none.
    fn reason_to_leave_out(&self, header: &FreeHeader) -> Option<String> {
        if header.must_be_numbers {
            return None;
        }
        let mut cells = self.cells(header.index).peekable();
        if cells.peek().is_none() {
            return Some("it is empty".to_owned());
        }
        let numbers: Result<Vec<f64>, Cell> =
            cells.map(|cell| header.number(&pointed(&cell.text)).ok_or(cell)).collect();
        match numbers {
            Err(cell) => Some(format!("`{}` is no number", cell.quoted())),
            Ok(numbers) if counts_rows(&numbers) => Some("it counts the rows".to_owned()),
            Ok(numbers) if numbers.iter().any(|number| *number <= 0.0) => {
                Some("not all of its values are above zero".to_owned())
            }
            Ok(_) => None,
        }
    }

    fn column(
        &self,
        header: FreeHeader,
        decimals: DecimalSign,
        errors: &mut Vec<Diagnostic>,
    ) -> NumberColumn {
        let (mut cells, mut empty, mut lacks_unit) = (Vec::new(), 0, false);
        let (mut line, mut seen) = (1, 0);
        for record in &self.records {
            let Some(cell) = record.cell(header.index) else {
                empty += 1;
                continue;
            };
            line += self.text[seen..cell.span.start].matches('\n').count();
            seen = cell.span.start;
            lacks_unit |= header.lacks_unit() && !quantity::has_unit(&cell.text);
            match header.number(&decimals.pointed(&cell.text)).filter(|value| *value > 0.0) {
                Some(value) => cells.push(NumberCell { line, value }),
                None => errors.push(no_measurement(&cell, &header.shown())),
            }
        }
        if lacks_unit {
            errors.push(header.without_unit());
        }
        let FreeHeader { name, known, dimension, span, .. } = header;
        NumberColumn { name, known, dimension, cells, empty, span }
    }

    fn read_as(&self, decimals: DecimalSign, headers: &[FreeHeader]) -> Option<String> {
        let signs = [self.separator.unusual(), decimals.unusual()];
        let signs: Vec<&str> = signs.into_iter().flatten().collect();
        let mut said = Vec::new();
        if !signs.is_empty() {
            said.push(format!("with {}", signs.join(" and ")));
        }
        header::add_units(&mut said, headers.iter().filter_map(FreeHeader::unusual_unit));
        (!said.is_empty()).then(|| said.join("; "))
    }
}

/// A number with a decimal point, for a first look: the decimal sign of the file is found later.
fn pointed(text: &str) -> String {
    DecimalSign::Comma.pointed(text)
}

/// Whether numbers rise by one from row to row.
fn counts_rows(numbers: &[f64]) -> bool {
    let is_step = |pair: &[f64]| (pair[1] - pair[0] - 1.0).abs() < 1e-9;
    numbers.len() > 1 && numbers.windows(2).all(is_step)
}

fn no_measurement(cell: &Cell, column: &str) -> Diagnostic {
    Diagnostic::new(
        cell.span.clone(),
        format!("`{}` in the column `{column}` is no measured value", cell.quoted()),
        format!("expected a number above zero such as 4.56e-6, or nothing {NOT_MEASURED}"),
    )
}

/// The separator and the byte at which the header begins. A file that holds a known column is read as
/// parts files are.
fn separator_of(
    text: &str,
    format: Format<'_>,
    errors: &mut Vec<Diagnostic>,
) -> Option<(Separator, usize)> {
    let first = text.lines().next().unwrap_or_default();
    if detection::knows_name_anywhere(text, format) || detection::declaration(first).is_some() {
        detection::separator_of(text, format, errors)
    } else {
        detection::fitting_separator(text, errors)
    }
}
