//! Names of columns in a file that may hold any.

use std::ops::Range;

use super::format::Format;
use super::header::{self, ColumnName};
use super::record::Record;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Dimension, UnitInUse};
use crate::printable;

/// Names of columns that tell parts apart, in the files of this program.
const NAMES_OF_PARTS: [&str; 3] = ["unit", "phase", "serial"];

/// What a unit in the name of an unknown column may measure.
const MEASURED: [Dimension; 7] = [
    Dimension::Inductance,
    Dimension::Capacitance,
    Dimension::Resistance,
    Dimension::Frequency,
    Dimension::Voltage,
    Dimension::Current,
    Dimension::Power,
];

/// A column of any name.
#[derive(Debug)]
pub(super) struct FreeHeader {
    /// Its plain name where it is known, else as written.
    pub(super) name: String,
    pub(super) known: Option<&'static str>,
    /// As written, on one line.
    pub(super) written: String,
    /// Its place among the columns of the file.
    pub(super) index: usize,
    pub(super) dimension: Option<Dimension>,
    unit: Option<UnitInUse>,
    pub(super) span: Range<usize>,
    /// Whether a cell that is no number is an error.
    pub(super) must_be_numbers: bool,
}

impl FreeHeader {
    /// Its name as messages show it.
    pub(super) fn shown(&self) -> String {
        header::shortened(&self.written)
    }

    fn power(&self) -> i32 {
        self.unit.as_ref().map_or(0, |unit| unit.power)
    }

    /// A number of the column, written with a decimal point; a unit of its own counts.
    pub(super) fn number(&self, text: &str) -> Option<f64> {
        quantity::number_of_column(text, self.dimension, self.power()).ok()
    }

    /// Whether nothing tells the unit of its values.
    pub(super) fn lacks_unit(&self) -> bool {
        self.known.is_some() && self.dimension.is_some() && self.unit.is_none()
    }

    pub(super) fn without_unit(&self) -> Diagnostic {
        Diagnostic::new(
            self.span.clone(),
            format!("the column `{}` has no unit", self.shown()),
            format!("expected `{}`, or a unit in every cell of the column", self.name),
        )
    }

    /// Its name and unit, where that is not the SI unit.
    pub(super) fn unusual_unit(&self) -> Option<String> {
        let unit = self.unit.as_ref().filter(|unit| unit.power != 0)?;
        let name = match self.known {
            Some(plain) => header::base(plain),
            None => &self.shown(),
        };
        Some(format!("{name} in {}", unit.symbol))
    }

    fn is_wanted(&self, wanted: &str) -> bool {
        let key = match self.known {
            Some(plain) => header::base(plain),
            None => &self.written,
        };
        let names = [self.written.as_str(), &self.name, key];
        names.iter().any(|name| name.eq_ignore_ascii_case(wanted.trim()))
    }
}

/// The columns of a header that are wanted, or all that have a name.
pub(super) fn read(
    head: &Record,
    format: Format<'static>,
    wanted: &[String],
    errors: &mut Vec<Diagnostic>,
) -> Vec<FreeHeader> {
    let named = head.texts().enumerate().filter(|(_, written)| !written.is_empty());
    let mut found: Vec<FreeHeader> =
        named.map(|(index, written)| column(head, index, written, format, errors)).collect();
    report_twins(&found, errors);
    if wanted.is_empty() {
        found.retain(|header| !NAMES_OF_PARTS.contains(&header.name.as_str()));
        return found;
    }
    for name in wanted.iter().filter(|name| !found.iter().any(|header| header.is_wanted(name))) {
        let names = header::listed(found.iter().map(|header| header.written.as_str()));
        let message = format!("no column is called `{}`", super::quoted(name));
        let label = format!("expected {names}");
        errors.push(Diagnostic::new(header::end(head), message, label));
    }
    found.retain(|header| wanted.iter().any(|name| header.is_wanted(name)));
    for header in &mut found {
        header.must_be_numbers = true;
    }
    found
}

fn column(
    head: &Record,
    index: usize,
    written: &str,
    format: Format<'static>,
    errors: &mut Vec<Diagnostic>,
) -> FreeHeader {
    let (span, written) = (head.span(index), printable::line(written).into_owned());
    let Some(ColumnName { column, unit }) = header::column_of(&written, format) else {
        let measured = free_unit(&written);
        let (dimension, unit) = measured.map_or((None, None), |(d, unit)| (Some(d), Some(unit)));
        let name = written.clone();
        let (known, must_be_numbers) = (None, false);
        return FreeHeader { name, known, written, index, dimension, unit, span, must_be_numbers };
    };
    let (dimension, shown) = (header::dimension_of(column, format), header::shortened(&written));
    let unit = unit.unwrap_or_else(|mistake| {
        errors.push(header::wrong_unit(&shown, span.clone(), dimension, &mistake));
        None
    });
    let plain = format.columns[column];
    let (name, known, must_be_numbers) = (plain.to_owned(), Some(plain), true);
    FreeHeader { name, known, written, index, dimension, unit, span, must_be_numbers }
}

/// Reports columns of one name: no option could tell them apart.
fn report_twins(found: &[FreeHeader], errors: &mut Vec<Diagnostic>) {
    for (k, header) in found.iter().enumerate() {
        if found[..k].iter().any(|other| other.name.eq_ignore_ascii_case(&header.name)) {
            let message = format!("`{}` is a second column of this name", header.shown());
            errors.push(Diagnostic::new(
                header.span.clone(),
                message,
                "expected every column once",
            ));
        }
    }
}

/// The unit at the end of a name: in brackets, or after an underscore.
fn free_unit(written: &str) -> Option<(Dimension, UnitInUse)> {
    let in_brackets = [('(', ')'), ('[', ']')].into_iter().find_map(|(open, close)| {
        written.strip_suffix(close)?.rsplit_once(open).map(|(_, unit)| unit.trim())
    });
    let after_underscore = || written.rsplit_once('_').map(|(_, unit)| unit);
    let text = in_brackets.or_else(after_underscore)?;
    // A small letter alone is more likely a word, such as the lot in `lot_a`.
    let is_letter = text.chars().count() == 1 && text.chars().all(char::is_lowercase);
    let unit_of = |dimension| Some((dimension, quantity::unit(text, dimension).ok()?));
    if is_letter { None } else { MEASURED.into_iter().find_map(unit_of) }
}
