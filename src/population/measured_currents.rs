//! Files of measured currents: one row a phase of a listed converter at one load.

use std::collections::BTreeMap;

use super::current_readings::{self, CurrentReading, ReadingCollector, ReadingPlace};
use super::parts_file::{self, PartsList};
use crate::input::csv::{self, ReadFile, quoted};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics};
use crate::scenario::PointRequest;

/// The columns that such a file must have; those of [`current_readings::COLUMNS`] may be there.
const COLUMNS: [&str; 2] = ["unit", "phase"];

/// Reads the text of a file of measured currents of the converters of a parts file; `name` is what
/// messages call the file. The readings of the parts file come first in the result.
///
/// # Errors
///
/// All errors that the text holds.
pub fn parse(
    name: &str,
    text: &str,
    list: &PartsList,
    operating_points: &[PointRequest],
) -> Result<ReadFile<Vec<CurrentReading>>, Diagnostics> {
    let text = diagnostics::without_mark(text);
    let mut errors = Vec::new();
    let readings = read(text, list, operating_points, &mut errors);
    match readings {
        Some(readings) if errors.is_empty() => Ok(readings),
        _ => Err(Diagnostics::new(name, text, errors)),
    }
}

fn read(
    text: &str,
    list: &PartsList,
    operating_points: &[PointRequest],
    errors: &mut Vec<Diagnostic>,
) -> Option<ReadFile<Vec<CurrentReading>>> {
    let format = csv::Format {
        kind: "measured",
        columns: &COLUMNS,
        texts: COLUMNS.len(),
        optional: &current_readings::COLUMNS,
        optional_texts: current_readings::TEXTS,
        farthest: None,
        empty: csv::NOT_MEASURED,
    };
    let file = csv::read(text, format, errors)?;
    let phases = list.units.first().map_or(0, |unit| unit.converter.phases());
    let units: BTreeMap<&str, usize> =
        list.units.iter().zip(0..).map(|(unit, n)| (unit.name.as_str(), n)).collect();
    let mut readings = ReadingCollector::new(phases, operating_points).beside(&list.readings);
    for row in file.rows() {
        let Some(name) = row.name("unit", errors) else { continue };
        let is_complete = row.has_all_cells(errors);
        let phase = parts_file::phase(&row, phases, errors);
        let Some(&unit) = units.get(name.as_str()) else {
            let message = format!("the parts file lists no unit `{}`", quoted(&name));
            let label = "expected the name of a unit of the parts file";
            errors.push(Diagnostic::new(row.span(0), message, label));
            continue;
        };
        if let Some(phase) = phase.filter(|_| is_complete) {
            let place = ReadingPlace { unit, phase: phase - 1, first_column: COLUMNS.len() };
            readings.add(&row, place, errors);
        }
    }
    if readings.found.len() == list.readings.len() && errors.is_empty() {
        let [.., output, mean, rms] = current_readings::COLUMNS;
        let end = text.trim_end().len();
        errors.push(Diagnostic::new(
            end..end,
            "the file holds no measured current",
            format!("expected one in a column `{output}`, `{mean}` or `{rms}`"),
        ));
    }
    Some(ReadFile { content: readings.found, read_as: file.read_as() })
}
