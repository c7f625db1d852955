//! Columns of measured parts: what incoming inspection found, drawn as it is.

use std::ops::Range;
use std::sync::Arc;

use super::keys::{MeasuredFiles, PartContext, ShapeKey};
use super::shape::{MeasuredParts, Shape, ShapeName};
use super::single::Tolerance;
use crate::converter::Parameter;
use crate::input::csv::{self, Format, ReadFile};
use crate::input::diagnostics::{Diagnostics, InputError};
use crate::scenario::reader::Table;

/// Factor by which a measured part may lie above or below its nominal value. No grade of parts is
/// that wide; a value in another unit is wrong by 1000 or more.
pub const FARTHEST_PART: f64 = 3.0;
/// The fewest parts that a column must hold inside the band.
const FEWEST: usize = 5;

/// A column of a file.
pub(super) struct MeasuredColumn {
    file: String,
    column: String,
    /// The places of the values of both keys.
    places: [Range<usize>; 2],
}

const MEASURED: &[ShapeName] = &[ShapeName::Measured];

impl MeasuredColumn {
    /// Reads `file` and `column`; `None` within for other shapes.
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    pub(super) fn read(table: &mut Table<'_>, name: Option<ShapeName>) -> Option<Option<Self>> {
        let is_needed = name == Some(ShapeName::Measured);
        let keys = [
            ("file", "CSV file of measured parts; its path is relative to the scenario file"),
            ("column", "column of the file, with or without its unit"),
        ];
        let typed = keys.map(|(key, meaning)| {
            let field = table.key(key, meaning);
            let (place, value) = (field.key_span(), field.value_span());
            let typed = field.text().needed_if(is_needed, "only with \"measured\"");
            ShapeKey { key, shapes: MEASURED }.check(table, name, place);
            table.needed_with(key, "shape", vec![ShapeName::Measured.word()]);
            typed.map(|typed| typed.zip(value))
        });
        let [file, column] = typed;
        let both = file?.zip(column?).filter(|_| is_needed);
        Some(both.map(|((file, first), (column, second))| Self {
            file,
            column,
            places: [first, second],
        }))
    }

    /// The tolerance of the parts in the column; those outside the ends of a band are screened out.
    pub(super) fn tolerance(
        self,
        table: &Table<'_>,
        ends: Option<[f64; 2]>,
        parameter: Parameter,
        context: PartContext<'_>,
    ) -> Option<Tolerance> {
        let nominal = (context.nominal)(parameter).filter(|nominal| *nominal > 0.0)?;
        let ReadFile { content: values, read_as } =
            self.values(table, parameter, nominal, context.files)?;
        let mut deviations: Vec<f64> = values.iter().map(|value| value / nominal - 1.0).collect();
        deviations.sort_by(f64::total_cmp);
        let all = deviations.len();
        // A part at the end of the band, but for rounding, is inside it.
        let is_inside = |x: &f64| ends.is_none_or(|[a, b]| (a - 1e-12..=b + 1e-12).contains(x));
        deviations.retain(is_inside);
        let inside = deviations.len();
        let [Some(low), Some(high)] =
            [deviations.first(), deviations.last()].map(Option::<&f64>::copied)
        else {
            return self.refuse(table, &parts_found(all, inside));
        };
        if inside < FEWEST {
            return self.refuse(table, &parts_found(all, inside));
        }
        if low >= high {
            return self.refuse(table, "holds equal values only");
        }
        let [low, high] = ends.unwrap_or([low, high]);
        let (middle, band) = (0.5 * (low + high), 0.5 * (high - low));
        let values: Arc<[f64]> = deviations.iter().map(|x| (x - middle) / band).collect();
        let screened = ends.map(|_| (all - values.len()) as f64 / all as f64);
        let shape = Shape::Measured(Arc::new(MeasuredParts {
            file: self.file,
            column: self.column,
            read_as,
            values,
        }));
        Some(Tolerance { middle, screened, ..Tolerance::new(shape, band) })
    }

    fn refuse(&self, table: &Table<'_>, problem: &str) -> Option<Tolerance> {
        let column = csv::quoted(&self.column);
        let message = format!("the column `{column}` of {} {problem}", self.file);
        let expected = format!("expected {FEWEST} parts at least that are not all equal");
        table.report_at(Some(self.places[1].clone()), message, &expected);
        None
    }

    /// The values of the column in SI units; empty cells are parts that were not measured.
    fn values(
        &self,
        table: &Table<'_>,
        parameter: Parameter,
        nominal: f64,
        files: &MeasuredFiles<'_>,
    ) -> Option<ReadFile<Vec<f64>>> {
        let file = match files.read(&self.file) {
            Ok(file) => file,
            Err(InputError::Unreadable { cause, .. }) => {
                let message = format!("cannot read {}: {cause}", self.file);
                let expected = "expected a CSV file, its path relative to the scenario file";
                table.report_at(Some(self.places[0].clone()), message, expected);
                return None;
            }
            Err(InputError::Invalid(errors)) => {
                files.errors.borrow_mut().push(errors);
                return None;
            }
        };
        let plain = plain_name(&self.column, parameter);
        let columns = [plain.as_str()];
        let format = Format {
            kind: "measured parts",
            columns: &columns,
            texts: 0,
            optional: &[],
            optional_texts: 0,
            farthest: Some(FARTHEST_PART),
            empty: csv::NOT_MEASURED,
        };
        if let Some(names) = csv::names_of_other_columns(&file.text, format) {
            let message = format!("{} has no column `{}`", self.file, csv::quoted(&self.column));
            table.report_at(Some(self.places[1].clone()), message, &format!("expected {names}"));
            return None;
        }
        let mut errors = Vec::new();
        let (mut values, mut read_as) = (Vec::new(), None);
        if let Some(csv) = csv::read(&file.text, format, &mut errors) {
            read_as = csv.read_as();
            let written = csv.rows().filter(|row| row.text(0).is_some());
            values.extend(written.filter_map(|row| row.value(0, false, nominal, &mut errors)));
        }
        if errors.is_empty() {
            return Some(ReadFile { content: values, read_as });
        }
        files.errors.borrow_mut().push(Diagnostics::new(file.name(), file.text.as_str(), errors));
        None
    }
}

/// How many parts a column holds, and how many of them lie inside the band.
fn parts_found(all: usize, inside: usize) -> String {
    let parts = match all {
        0 => "no parts".to_owned(),
        1 => "1 part".to_owned(),
        _ => format!("{all} parts"),
    };
    let band =
        if inside < all { format!(", {inside} of them inside the band") } else { String::new() };
    format!("holds {parts}{band}")
}

/// The plain form of a column's name: words joined by underscores, then the unit of the parameter.
/// The name may have been typed with a unit, as the file has it.
fn plain_name(typed: &str, parameter: Parameter) -> String {
    let typed = typed.trim();
    let open = typed.find(['(', '[', '/']).filter(|start| *start > 0);
    let bare = open.map_or(typed, |start| &typed[..start]);
    let words: Vec<&str> = bare.split([' ', '-', '_']).filter(|word| !word.is_empty()).collect();
    let unit = parameter.unit_suffix().trim_start_matches('_');
    let is_unit = |word: &str| {
        let symbol = if unit == "ohm" { ["ohm", "Ω"] } else { [unit, unit] };
        let prefix = symbol.iter().find_map(|symbol| word.strip_suffix(symbol));
        prefix.is_some_and(|prefix| ["", "p", "n", "u", "µ", "μ", "m", "k"].contains(&prefix))
    };
    let words = match words.split_last() {
        Some((last, rest)) if !unit.is_empty() && !rest.is_empty() && is_unit(last) => {
            rest.to_vec()
        }
        _ => words,
    };
    words.join("_") + parameter.unit_suffix()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_names_of_columns_by_hand() {
        for (typed, plain) in [
            ("magnetising_inductance_H", "magnetising_inductance_H"),
            ("magnetising_inductance", "magnetising_inductance_H"),
            ("Lm_uH", "Lm_H"),
            ("Lm (µH)", "Lm_H"),
            ("Lm 100 kHz [µH]", "Lm_100_kHz_H"),
            ("H", "H_H"),
        ] {
            assert_eq!(plain_name(typed, Parameter::MagnetisingInductance), plain, "{typed}");
        }
        assert_eq!(plain_name("turns ratio", Parameter::TurnsRatio), "turns_ratio");
        assert_eq!(plain_name("R_mohm", Parameter::SeriesResistance), "R_ohm");
    }
}
