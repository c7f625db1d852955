//! Names and values of a row.

use std::ops::{Range, RangeInclusive};

use super::file::CsvFile;
use super::format::NOT_MEASURED;
use super::header::HeaderColumn;
use super::record::{Cell, Record};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Dimension, Mistake, UnitInUse};
use crate::printable;

/// The factor by which a number without a unit of its own may lie above or below its nominal value.
/// Parts that are compared on purpose lie within it; nothing farther can be meant without its unit.
const FARTHEST_PLAIN: f64 = 1e5;

/// A row of a CSV file; cells are counted by the columns of the file's format.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<'a> {
    file: &'a CsvFile<'a>,
    record: &'a Record,
}

/// A cell that is not empty, with its column.
#[derive(Debug)]
struct WrittenCell<'a> {
    header: &'a HeaderColumn<'a>,
    cell: Cell,
}

/// The value that an empty cell takes.
#[derive(Debug, Clone, Copy)]
struct Nominal {
    value: f64,
    /// Whether a cell of this column may hold zero.
    may_be_zero: bool,
}

impl<'a> Row<'a> {
    fn new(file: &'a CsvFile<'a>, record: &'a Record) -> Self {
        Self { file, record }
    }

    /// The place of a cell; that of a missing one is the end of the row.
    pub(crate) fn span(&self, column: usize) -> Range<usize> {
        let index = self.file.columns[column].as_ref().map_or(usize::MAX, |header| header.index);
        self.record.span(index)
    }

    /// The place of a column's name; none where the file lacks the column.
    pub(crate) fn span_of_name(&self, column: usize) -> Option<Range<usize>> {
        self.file.columns[column].as_ref().map(HeaderColumn::span)
    }

    fn written(&self, column: usize) -> Option<WrittenCell<'a>> {
        let header = self.file.columns[column].as_ref()?;
        Some(WrittenCell { header, cell: self.record.cell(header.index)? })
    }

    /// The text of a cell; `None` for an empty or missing one.
    pub(crate) fn text(&self, column: usize) -> Option<String> {
        self.written(column).map(|written| printable::cell_text(&written.cell.text).to_owned())
    }

    /// The text of the first column, which names what the row is about: one line. Reported where it is
    /// none.
    pub(crate) fn name(&self, what: &str, errors: &mut Vec<Diagnostic>) -> Option<String> {
        let name = self.text(0);
        let is_hidden = |c: &char| printable::steers(*c) || printable::selects_variant(*c);
        let hidden = name.iter().flat_map(|name| name.chars()).find(is_hidden);
        let label = format!("expected the name of the {what}");
        if name.is_none() {
            let message = format!("the row names no {what}");
            errors.push(Diagnostic::new(self.span(0), message, label));
        } else if let Some(hidden) = hidden {
            let code = printable::code(hidden);
            let message = format!("the name of the {what} holds the character {code}");
            let label = label + " on one line, without characters that do not show";
            errors.push(Diagnostic::new(self.span(0), message, label));
        }
        name
    }

    /// Whether there is a cell for every column, reported where not, and none too many, reported
    /// already: the values of such a row stand in the wrong columns.
    pub(crate) fn has_all_cells(&self, errors: &mut Vec<Diagnostic>) -> bool {
        if self.record.width() > self.file.width {
            return false;
        }
        let len = self.record.len();
        let columns = || self.file.columns.iter().flatten();
        let missing = columns().filter(|column| column.index >= len);
        let Some(first) = missing.min_by_key(|column| column.index) else { return true };
        let wanted = columns().map(|column| column.index + 1).max().unwrap_or(0);
        let message = format!("the row has {len} cells instead of {wanted}");
        let label = format!("expected a cell for `{}` here", first.written);
        errors.push(Diagnostic::new(self.record.span(len), message, label));
        false
    }

    /// The value of a cell in its SI unit, or `nominal` where it is empty; `None` when it is wrong.
    pub(crate) fn value(
        &self,
        column: usize,
        may_be_zero: bool,
        nominal: f64,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let Some(written) = self.written(column) else { return Some(nominal) };
        let nominal = Nominal { value: nominal, may_be_zero };
        let in_range = self.in_range(&written, may_be_zero);
        let error = match &in_range {
            Ok(value) => self.too_far(&written, *value, nominal),
            Err(problem) => {
                let expected = Self::expected(&written, may_be_zero, self.file.format.empty);
                Some(Self::wrong(&written, problem, expected))
            }
        };
        if error.is_none() {
            return in_range.ok();
        }
        errors.extend(error);
        None
    }

    /// Any number of a cell, or `nominal` where it is empty; `None` when it is wrong.
    pub(crate) fn signed(
        &self,
        column: usize,
        nominal: f64,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let Some(written) = self.written(column) else { return Some(nominal) };
        let read = self.number(&written);
        let empty = self.file.format.empty;
        let expected = format!("expected a plain number, such as -0.0002, or nothing {empty}");
        read.map_err(|mistake| errors.push(Self::wrong(&written, &problem(&mistake), expected)))
            .ok()
    }

    /// A measured value in its SI unit; `None` where nothing was measured, and when it is wrong.
    pub(crate) fn reading(
        &self,
        column: usize,
        may_be_zero: bool,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let written = self.written(column)?;
        let in_range = self.in_range(&written, may_be_zero);
        let expected = || Self::expected(&written, may_be_zero, NOT_MEASURED);
        in_range.map_err(|problem| errors.push(Self::wrong(&written, &problem, expected()))).ok()
    }

    /// The same of a value that cannot lie outside a range: such a one has another unit.
    pub(crate) fn reading_within(
        &self,
        column: usize,
        range: &RangeInclusive<f64>,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let value = self.reading(column, *range.start() == 0.0, errors)?;
        if range.contains(&value) {
            return Some(value);
        }
        let written = self.written(column)?;
        let dimension = written.header.dimension;
        let [low, high] =
            [range.start(), range.end()].map(|end| quantity::rounded(*end, dimension));
        let expected = match *range.start() {
            0.0 => format!("expected at most {high} here; a cell may hold its unit"),
            _ => format!("expected {low} to {high} here; a cell may hold its unit"),
        };
        errors.push(Self::wrong(&written, "is far from what this operating point has", expected));
        None
    }

    /// The number of a cell above zero, or zero where that may be.
    fn in_range(&self, written: &WrittenCell<'_>, may_be_zero: bool) -> Result<f64, String> {
        let value = self.number(written).map_err(|mistake| problem(&mistake))?;
        let is_right = value > 0.0 || (may_be_zero && value == 0.0);
        if is_right { Ok(value) } else { Err("is out of range".to_owned()) }
    }

    fn number(&self, WrittenCell { header, cell, .. }: &WrittenCell<'_>) -> Result<f64, Mistake> {
        let HeaderColumn { dimension, unit, .. } = header;
        let power = unit.as_ref().map_or(0, |unit| unit.power);
        quantity::number_of_column(&self.file.decimals.pointed(&cell.text), *dimension, power)
    }

    fn wrong(written: &WrittenCell<'_>, problem: &str, expected: String) -> Diagnostic {
        let WrittenCell { header, cell } = written;
        let message = format!("`{}` in the column `{}` {problem}", cell.quoted(), header.written);
        Diagnostic::new(cell.span.clone(), message, expected)
    }

    /// What a cell may hold instead of a number out of range; `empty` is what an empty one is for.
    fn expected(written: &WrittenCell<'_>, may_be_zero: bool, empty: &str) -> String {
        let range = if may_be_zero { "of zero or more" } else { "above zero" };
        let or_quantity = written
            .header
            .dimension
            .map_or_else(String::new, |dimension| format!(" or \"{}\"", dimension.example()));
        format!("expected a plain number {range}, such as 4.56e-6{or_quantity}, or nothing {empty}")
    }

    /// The error of a value that no part has: beyond the range of the file's kind or, without a unit of
    /// its own, so far from nominal that its unit must be wrong.
    fn too_far(
        &self,
        written: &WrittenCell<'_>,
        value: f64,
        nominal: Nominal,
    ) -> Option<Diagnostic> {
        if nominal.value == 0.0 || value == 0.0 {
            return None;
        }
        let WrittenCell { header, cell, .. } = written;
        let HeaderColumn { written, dimension, unit, .. } = header;
        let has_unit = quantity::has_unit(&cell.text);
        let power = unit.as_ref().map_or(0, |unit| unit.power);
        let ratio = value / nominal.value;
        let meant = dimension
            .filter(|_| !has_unit)
            .and_then(|dimension| quantity::meant_unit(ratio, power, dimension));
        // A column in the SI unit may hold parts almost without loss.
        let is_small = nominal.may_be_zero && power == 0 && ratio <= 1.0;
        let is_credible = has_unit
            || is_small
            || (meant.is_none() && (1.0 / FARTHEST_PLAIN..=FARTHEST_PLAIN).contains(&ratio));
        let range = self.file.format.farthest.map(|farthest| nominal.range(farthest));
        let is_inside = range.as_ref().is_none_or(|range| range.contains(&value));
        if is_credible && is_inside {
            return None;
        }
        let nearest = quantity::rounded(nominal.value, *dimension);
        let message =
            format!("`{}` in the column `{written}` is too far from {nearest}", cell.quoted());
        let help = dimension.filter(|_| !has_unit).and_then(|dimension| {
            let written_unit = match unit {
                Some(unit) => unit.symbol.as_str(),
                None => dimension.symbol(),
            };
            unit_in_doubt(meant, is_inside.then(|| format!("{} {written_unit}", cell.quoted())))
        });
        let label = expected(*dimension, unit.as_ref().filter(|_| power != 0), range, &nearest);
        Some(Diagnostic::new(cell.span.clone(), message, label).with_help(help))
    }
}

/// What a value should be: its unit and its range, if it has one, or the value that it should be near.
fn expected(
    dimension: Option<Dimension>,
    unit: Option<&UnitInUse>,
    range: Option<RangeInclusive<f64>>,
    nearest: &str,
) -> String {
    let in_unit = match (unit, dimension) {
        (Some(unit), _) => format!(" in {},", unit.symbol),
        (None, Some(dimension)) => format!(" in {},", dimension.unit_name()),
        (None, None) => String::new(),
    };
    let shown = |value: f64| quantity::rounded(value, dimension);
    let values = match range {
        Some(range) => format!("from {} to {}", shown(*range.start()), shown(*range.end())),
        None => format!("near {nearest}"),
    };
    format!("expected a plain number{in_unit} {values}")
}

/// What to write instead of a plain number whose unit is in doubt.
fn unit_in_doubt(meant: Option<String>, with_unit: Option<String>) -> Option<String> {
    let near = meant.map(|unit| format!("in {unit} it would be near: is the unit right?"));
    let Some(cell) = with_unit else { return near };
    let near = near.unwrap_or_else(|| "is the unit right?".to_owned());
    Some(format!("{near} If it is meant, write it with its unit: {cell}"))
}

impl CsvFile<'_> {
    /// The rows below the header.
    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.records.iter().map(|record| Row::new(self, record))
    }
}

impl Nominal {
    /// The values that a part may have, at most a factor away.
    fn range(self, farthest: f64) -> RangeInclusive<f64> {
        let least = if self.may_be_zero { 0.0 } else { self.value / farthest };
        least..=self.value * farthest
    }
}

/// What is wrong with a cell, read on from its column.
fn problem(mistake: &Mistake) -> String {
    match mistake {
        Mistake::NoNumber | Mistake::Empty => "is not a number".to_owned(),
        other => other.to_string(),
    }
}
