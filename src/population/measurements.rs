//! Measured values of parts: columns of a CSV file as it comes from a test room, a row a part.
//!
//! Columns with the names of a parts file hold the values of a parameter. Other columns of numbers are
//! read too. What names, dates or counts the parts is left out, and told.

use super::parts_file;
use crate::converter::Parameter;
use crate::input::csv::{self, ColumnRequest, NumberColumn, ReadFile};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics};
use crate::input::quantity::{self, Dimension};

/// Fewest values of a column: fewer fit almost any shape.
pub const LEAST_VALUES: usize = 8;

/// The columns of values that a parts file has.
const PART_COLUMNS: [&str; 8] = {
    let [_, _, a, b, c, d, e, f, g, h] = parts_file::COLUMNS;
    [a, b, c, d, e, f, g, h]
};

/// A value and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredValue {
    /// Line of the file, from 1.
    pub line: usize,
    /// The value in the SI unit.
    pub value: f64,
}

/// A column of measured values, [`LEAST_VALUES`] at least, not all equal.
#[derive(Debug, Clone, PartialEq)]
pub struct ValueColumn {
    /// Its name; the plain one where it is a column of a parts file.
    pub name: String,
    /// The parameter that it measures, as far as its name tells.
    pub parameter: Option<Parameter>,
    /// Symbol of the SI unit of its values; empty where there is none.
    pub unit: &'static str,
    /// Its values in the order of the file.
    pub values: Vec<MeasuredValue>,
    /// Rows in which it is empty.
    pub empty_rows: usize,
}

/// A column that is not studied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOutColumn {
    /// Its name.
    pub name: String,
    /// Why, as "left out: …" goes on.
    pub reason: String,
}

/// What a file of measurements holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurements {
    /// Columns of measured values, one at least.
    pub columns: Vec<ValueColumn>,
    /// Columns that are not studied.
    pub left_out: Vec<LeftOutColumn>,
}

/// Reads the text of a file of measurements; `name` is what messages call the file. Of the columns only
/// those that are `wanted` are read, or all where none is.
///
/// # Errors
///
/// All errors that the text holds: those of its form, values that are no numbers above zero in a column
/// of a parts file or in one that is wanted, and too few values there.
pub fn parse(
    name: &str,
    text: &str,
    wanted: &[String],
) -> Result<ReadFile<Measurements>, Diagnostics> {
    let text = diagnostics::without_mark(text);
    let mut errors = Vec::new();
    let request = ColumnRequest { known: &PART_COLUMNS, wanted };
    let read = csv::read_columns(text, request, &mut errors).map(|file| {
        let others = file.others.into_iter();
        let mut left_out: Vec<LeftOutColumn> =
            others.map(|other| LeftOutColumn { name: other.name, reason: other.reason }).collect();
        let mut columns = Vec::new();
        for column in file.columns {
            let is_needed = column.known.is_some() || !wanted.is_empty();
            match problem(&column) {
                None => columns.push(ValueColumn::new(column)),
                Some(reason) if is_needed => errors.push(useless(&column, &reason)),
                Some(reason) => left_out.push(LeftOutColumn { name: column.name, reason }),
            }
        }
        ReadFile { content: Measurements { columns, left_out }, read_as: file.read_as }
    });
    if let Some(read) = read.as_ref().filter(|read| read.content.columns.is_empty())
        && errors.is_empty()
    {
        errors.push(nothing_measured(text, &read.content.left_out));
    }
    match read {
        Some(read) if errors.is_empty() => Ok(read),
        _ => Err(Diagnostics::new(name, text, errors)),
    }
}

impl ValueColumn {
    fn new(column: NumberColumn) -> Self {
        let is_of = |p: &Parameter| column.known.is_some_and(|name| name.starts_with(p.key()));
        let cells = column.cells.iter();
        Self {
            parameter: Parameter::ALL.into_iter().find(is_of),
            unit: column.dimension.map_or("", |dimension| dimension.symbol()),
            values: cells.map(|c| MeasuredValue { line: c.line, value: c.value }).collect(),
            empty_rows: column.empty,
            name: column.name,
        }
    }
}

/// Why the values of a column have no shape that could be told.
fn problem(column: &NumberColumn) -> Option<String> {
    let values = column.cells.iter().map(|cell| cell.value);
    let first = column.cells.first().map_or(0.0, |cell| cell.value);
    if column.cells.len() < LEAST_VALUES {
        let plural = if column.cells.len() == 1 { "" } else { "s" };
        Some(format!("it holds {} value{plural}, fewer than {LEAST_VALUES}", column.cells.len()))
    } else if values.into_iter().all(|value| value.to_bits() == first.to_bits()) {
        Some("all of its values are equal".to_owned())
    } else {
        None
    }
}

fn useless(column: &NumberColumn, reason: &str) -> Diagnostic {
    let message = format!("the column `{}` tells no shape: {reason}", csv::quoted(&column.name));
    let label = format!("expected {LEAST_VALUES} values at least, not all equal");
    let help = "name the other columns with --column to leave this one out".to_owned();
    Diagnostic::new(column.span.clone(), message, label).with_help(Some(help))
}

fn nothing_measured(text: &str, left_out: &[LeftOutColumn]) -> Diagnostic {
    let head = text.lines().next().unwrap_or_default().len();
    let told: Vec<String> =
        left_out.iter().map(|column| format!("`{}`: {}", column.name, column.reason)).collect();
    let label = format!(
        "expected a column such as magnetising_inductance_H, with {LEAST_VALUES} values at least"
    );
    let message = "the file holds no column of measured values";
    let help = (!told.is_empty()).then(|| told.join("; "));
    Diagnostic::new(0..head, message, label).with_help(help)
}

/// A quantity as one would type it, in the unit of this symbol.
pub fn example_of_unit(unit: &str) -> &'static str {
    dimension_of_unit(unit).map_or("2.4", Dimension::example)
}

/// A typed value, with a unit of its own where the columns of this unit have one.
pub fn value_in_unit(text: &str, unit: &str) -> Option<f64> {
    let dimension = dimension_of_unit(unit);
    // A bare number where a unit belongs could be meant in any.
    let is_complete = dimension.is_none() || quantity::has_unit(text);
    let value = quantity::number_of_column(text, dimension, 0).ok();
    value.filter(|_| is_complete)
}

fn dimension_of_unit(unit: &str) -> Option<Dimension> {
    Dimension::ALL.into_iter().find(|dimension| dimension.symbol() == unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of ten rows; all values are invented.
    fn rows(head: &str, row: impl Fn(usize) -> String) -> String {
        let rows: Vec<String> = (0..10).map(row).collect();
        format!("{head}\n{}\n", rows.join("\n"))
    }

    fn read(text: &str, wanted: &[&str]) -> ReadFile<Measurements> {
        let wanted: Vec<String> = wanted.iter().map(|name| (*name).to_owned()).collect();
        parse("m.csv", text, &wanted).unwrap_or_else(|errors| panic!("{errors}"))
    }

    fn refused(text: &str, wanted: &[&str]) -> String {
        let wanted: Vec<String> = wanted.iter().map(|name| (*name).to_owned()).collect();
        parse("m.csv", text, &wanted).unwrap_err().to_string()
    }

    #[test]
    fn columns_of_parts_and_other_numbers_are_told_from_the_rest() {
        let head = "serial,date,row,magnetising_inductance_uH,gap_um,ESR (mohm),drift,note";
        let text = rows(head, |k| {
            let note = if k == 3 { "reworked" } else { "" };
            format!("C{k},2031-05-0{k},{},22.{k},{},3{k}.5,-0.{k},{note}", k + 1, 400 + 3 * k)
        });
        let found = read(&text, &[]);
        let names: Vec<&str> = found.content.columns.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["magnetising_inductance_H", "gap_um", "ESR (mohm)"]);
        let [first, gap, esr] = &found.content.columns[..] else { panic!("{names:?}") };
        assert_eq!(first.parameter, Some(Parameter::MagnetisingInductance));
        assert_eq!((first.unit, first.values[4].line), ("H", 6));
        assert!((first.values[4].value - 22.4e-6).abs() < 1e-18);
        assert_eq!((gap.unit, gap.parameter, esr.unit), ("", None, "Ω"));
        assert!((esr.values[0].value - 0.0305).abs() < 1e-15);
        let left: Vec<String> =
            found.content.left_out.iter().map(|c| format!("{}: {}", c.name, c.reason)).collect();
        assert_eq!(
            left,
            [
                "date: `2031-05-00` is no number",
                "row: it counts the rows",
                "drift: not all of its values are above zero",
                "note: `reworked` is no number"
            ]
        );
        assert_eq!(
            found.read_as.as_deref(),
            Some("with magnetising_inductance in uH; ESR (mohm) in mohm")
        );
        let one = read(&text, &["GAP_um"]).content;
        assert_eq!((one.columns.len(), one.left_out.len()), (1, 0));
        assert_eq!(read(&text, &["magnetising_inductance"]).content.columns.len(), 1);
    }

    #[test]
    fn semicolons_decimal_commas_blank_rows_and_empty_cells() {
        let text = rows("Prüfling;Lm µH", |k| {
            format!("P{k};{}", if k == 2 { String::new() } else { format!("22,{k}") })
        });
        let found = read(&text.replace("P4", "\nP4"), &[]);
        let column = &found.content.columns[0];
        assert_eq!((column.name.as_str(), column.values.len(), column.empty_rows), ("Lm µH", 9, 1));
        assert_eq!(column.values[3].line, 7, "a blank line counts");
        assert!((column.values[0].value - 22.0).abs() < 1e-12, "no brackets: a word of the name");
        assert_eq!(
            found.read_as.as_deref(),
            Some("with semicolons between the cells and decimal commas")
        );
        for name in ["turns_ratio", "Übersetzung"] {
            let one = read(&rows(name, |k| format!("2,4{k}")), &[]).content;
            assert!((one.columns[0].values[3].value - 2.43).abs() < 1e-12, "one column, commas");
        }
        let long = "n".repeat(90) + " (nF)";
        let column = &read(&rows(&long, |k| format!("4.{k}")), &[&long]).content.columns[0];
        assert_eq!((column.name.as_str(), column.unit), (long.as_str(), "F"), "to its last letter");
        let one = rows("value", |k| format!("4.{k}"));
        assert_eq!(read(&one, &[]).content.columns[0].values.len(), 10);
    }

    #[test]
    fn errors_point_at_their_places() {
        let cores = |cell: &str| {
            rows("serial,magnetising_inductance_H", |k| {
                if k == 3 { format!("C3,{cell}") } else { format!("C{k},2.{k}e-5") }
            })
        };
        for (text, wanted, place, words) in [
            (
                cores("OL"),
                "",
                "5:4",
                "`OL` in the column `magnetising_inductance_H` is no measured value",
            ),
            (cores("-2e-5"), "", "5:4", "expected a number above zero"),
            (cores("0"), "", "5:4", "expected a number above zero"),
            (cores("2.1 V"), "", "5:4", "no measured value"),
            (cores("2e-5"), "gap", "1:32", "no column is called `gap`"),
            (cores("2e-5"), "serial", "2:1", "`C0` in the column `serial` is no measured value"),
            (cores("2e-5").replace("_H", ""), "", "1:8", "has no unit"),
            (
                cores("2e-5").lines().take(6).collect::<Vec<_>>().join("\n"),
                "",
                "1:8",
                "it holds 5 values, fewer than 8",
            ),
            (rows("turns_ratio", |_| "2.4".to_owned()), "", "1:1", "all of its values are equal"),
            (rows("a,b", |k| format!("x{k},y")), "", "1:1", "no column of measured values"),
            (rows("a,a", |k| format!("2.{k},3.{k}")), "", "1:3", "second column of this name"),
            (String::new(), "", "1:1", "the file is empty"),
            (rows("a;b,c", |k| format!("2;{k},5")), "", "1:1", "has two separators"),
        ] {
            let wanted: Vec<&str> = [wanted].into_iter().filter(|name| !name.is_empty()).collect();
            let shown = refused(&text, &wanted);
            assert!(shown.contains(&format!("m.csv:{place}\n")), "{place}:\n{shown}");
            assert!(shown.contains(words), "{words}:\n{shown}");
        }
    }
}
