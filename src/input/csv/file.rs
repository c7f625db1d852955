//! A whole CSV file: what it holds, and how it was read.

use std::collections::BTreeSet;

use super::decimals::{self, DecimalSign};
use super::detection;
use super::format::Format;
use super::header::{self, Header, HeaderColumn};
use super::record::{self, Cell, Extent, Record};
use super::separator::Separator;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity;
use crate::printable;

/// What a file held, and how it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadFile<T> {
    /// What it held.
    pub content: T,
    /// How it was read, as "read …" goes on; none for the plain form.
    pub read_as: Option<String>,
}

/// A CSV file whose header and numbers are understood.
#[derive(Debug)]
pub(crate) struct CsvFile<'f> {
    pub(super) format: Format<'f>,
    separator: Separator,
    /// Cells of the header.
    pub(super) width: usize,
    /// In the order of the format; none where the file lacks an optional column.
    pub(super) columns: Vec<Option<HeaderColumn<'f>>>,
    ignored: Vec<String>,
    pub(super) decimals: DecimalSign,
    /// Cells that have a unit of their own.
    cells_with_units: usize,
    pub(super) records: Vec<Record>,
}

/// Reads a text, with all errors of its form; the values of its cells are read row by row.
pub(crate) fn read<'f>(
    text: &str,
    format: Format<'f>,
    errors: &mut Vec<Diagnostic>,
) -> Option<CsvFile<'f>> {
    if let Some(error) = steering_character(text) {
        errors.push(error);
        return None;
    }
    let (separator, body) = detection::separator_of(text, format, errors)?;
    let mut records =
        record::records(text, Extent { body, most: usize::MAX }, separator, errors).into_iter();
    let Some(head) = records.next() else {
        errors.push(empty(format));
        return None;
    };
    let records: Vec<Record> = records.collect();
    let Header { columns, mut ignored } = header::read(&head, format, errors)?;
    if let Some(error) = row_of_units(format, &columns, &records) {
        errors.push(error);
        return None;
    }
    ignored.extend(without_name(&head, &records));
    check_widths(&head, &records, errors);
    let cells: Vec<_> = values(format, &columns, &records).collect();
    report_columns_without_unit(&columns, &cells, errors);
    let others = other_cells(&columns, &records);
    let decimals = decimals::of(cells.iter().map(|cell| &cell.cell), others, errors)?;
    let cells_with_units = cells.iter().filter(|cell| cell.has_unit()).count();
    let width = head.width();
    Some(CsvFile {
        format,
        separator,
        width,
        columns,
        ignored,
        decimals,
        cells_with_units,
        records,
    })
}

/// The names of the columns of a file that holds none of the format's, ready for a message. `None` of
/// one that is no table, or whose header is elsewhere: to read it tells what is wrong.
pub(crate) fn names_of_other_columns(text: &str, format: Format<'_>) -> Option<String> {
    if steering_character(text).is_some() || detection::knows_name_anywhere(text, format) {
        return None;
    }
    let first = text.lines().next().unwrap_or_default();
    let (separator, body) = match detection::declaration(first) {
        Some(_) => detection::separator_of(text, format, &mut Vec::new()),
        None => detection::fitting_separator(text, &mut Vec::new()),
    }?;
    let extent = Extent { body, most: 1 };
    let head = record::records(text, extent, separator, &mut Vec::new()).into_iter().next()?;
    Some(header::listed(head.texts().filter(|name| !name.is_empty())))
}

impl CsvFile<'_> {
    /// How the file was read, as "read …" goes on, where that is not the plain form.
    pub(crate) fn read_as(&self) -> Option<String> {
        let mut said = Vec::new();
        let signs = [self.separator.unusual(), self.decimals.unusual()];
        let signs: Vec<&str> = signs.into_iter().flatten().collect();
        if !signs.is_empty() {
            said.push(format!("with {}", signs.join(" and ")));
        }
        let units = self.columns.iter().flatten().filter_map(HeaderColumn::unusual_unit);
        header::add_units(&mut said, units.map(|(name, unit)| format!("{name} in {unit}")));
        match self.cells_with_units {
            0 => {}
            1 => said.push("with 1 cell in its own unit".to_owned()),
            n => said.push(format!("with {n} cells in their own unit")),
        }
        if !self.ignored.is_empty() {
            let plural = if self.ignored.len() == 1 { "" } else { "s" };
            said.push(format!("without the column{plural} {}", self.ignored.join(", ")));
        }
        (!said.is_empty()).then(|| said.join("; "))
    }
}

/// A cell that holds a value, with its column.
struct ValueCell {
    column: usize,
    cell: Cell,
}

impl ValueCell {
    fn has_unit(&self) -> bool {
        quantity::has_unit(&self.cell.text)
    }
}

/// All cells of values that are not empty.
fn values<'a>(
    format: Format<'a>,
    columns: &'a [Option<HeaderColumn<'a>>],
    records: &'a [Record],
) -> impl Iterator<Item = ValueCell> {
    records.iter().flat_map(move |record| {
        value_columns(format, columns).filter_map(move |(column, header)| {
            Some(ValueCell { column, cell: record.cell(header.index)? })
        })
    })
}

/// All cells of columns that are not read.
fn other_cells<'a>(
    columns: &'a [Option<HeaderColumn<'a>>],
    records: &'a [Record],
) -> impl Iterator<Item = Cell> {
    let is_read = |index: usize| columns.iter().flatten().any(|own| own.index == index);
    records.iter().flat_map(move |record| {
        (0..record.width())
            .filter(move |index| !is_read(*index))
            .filter_map(|index| record.cell(index))
    })
}

/// The columns of values that a file has.
fn value_columns<'a>(
    format: Format<'a>,
    columns: &'a [Option<HeaderColumn<'a>>],
) -> impl Iterator<Item = (usize, &'a HeaderColumn<'a>)> {
    let present = columns.iter().enumerate().filter_map(|(n, column)| Some((n, column.as_ref()?)));
    present.filter(move |(column, _)| !format.is_text(*column))
}

/// A file with such a character is no text, or is meant to be seen as another one.
pub(super) fn steering_character(text: &str) -> Option<Diagnostic> {
    let steers = |c: &char| printable::steers(*c) && !matches!(c, '\n' | '\r' | '\t');
    let (at, found) = text.char_indices().find(|(_, c)| steers(c))?;
    let help = (found == '\0').then(|| "save the file as CSV in the encoding UTF-8".to_owned());
    let message = format!("the file holds the character {}", printable::code(found));
    let label = "expected text without characters that do not show";
    Some(Diagnostic::new(at..at + found.len_utf8(), message, label).with_help(help))
}

/// The error of a file with the units of its columns in a row below the header.
fn row_of_units(
    format: Format<'_>,
    columns: &[Option<HeaderColumn<'_>>],
    records: &[Record],
) -> Option<Diagnostic> {
    let row = records.first()?;
    let mut units = value_columns(format, columns).filter_map(|(_, column)| {
        let text = row.text(column.index).trim_matches(['(', ')', '[', ']']);
        let is_unit = column.dimension.is_some_and(|wanted| quantity::unit(text, wanted).is_ok());
        let is_none = column.dimension.is_none() && ["-", "–", "1"].contains(&text);
        (!text.is_empty()).then_some(if is_none { None } else { Some(is_unit) })
    });
    let mut seen = false;
    let all = units.all(|unit| {
        seen |= unit == Some(true);
        unit != Some(false)
    });
    let help = "write the units into the names of the columns, such as flying_capacitance_uF";
    let label = "expected values: remove this row";
    let error = Diagnostic::new(row.span(0), "this row holds units of measurement", label);
    (all && seen).then(|| error.with_help(Some(help.to_owned())))
}

fn empty(format: Format<'_>) -> Diagnostic {
    let label = format!("expected the header {}", format.columns.join(","));
    Diagnostic::new(0..0, format!("the {} file is empty", format.kind), label)
}

/// Columns that hold something and have no name, by their numbers.
fn without_name(head: &Record, records: &[Record]) -> impl Iterator<Item = String> {
    let is_used = |index: &usize| records.iter().any(|record| record.cell(*index).is_some());
    let nameless = (0..head.width()).filter(|index| head.text(*index).is_empty());
    nameless.filter(is_used).map(|index| format!("number {}", index + 1))
}

/// Reports rows that have more cells than the header.
pub(super) fn check_widths(head: &Record, records: &[Record], errors: &mut Vec<Diagnostic>) {
    let width = head.width();
    for record in records.iter().filter(|record| record.width() > width) {
        let message = format!("the row has {} cells instead of {width}", record.width());
        let label = format!("expected no cell after `{}`", head.text(width - 1));
        let help = "are the decimals after a comma? Put semicolons between the cells, or quotes \
                    around the numbers";
        let help = record.is_comma_separated().then(|| help.to_owned());
        errors.push(Diagnostic::new(record.span(width), message, label).with_help(help));
    }
}

/// Reports columns whose header has no unit, if a cell has none either.
fn report_columns_without_unit(
    columns: &[Option<HeaderColumn<'_>>],
    cells: &[ValueCell],
    errors: &mut Vec<Diagnostic>,
) {
    let bare: BTreeSet<usize> =
        cells.iter().filter(|cell| !cell.has_unit()).map(|cell| cell.column).collect();
    let headers = bare.into_iter().filter_map(|column| columns[column].as_ref());
    errors.extend(headers.filter(|h| h.lacks_unit()).map(HeaderColumn::without_unit));
}
