//! `gain.csv`.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::study::gain::Gain;

/// Columns of `gain.csv`.
const GAIN_COLUMNS: [&str; 9] = [
    "drive",
    "rectifier",
    "load",
    "output_current_A",
    "switching_frequency_Hz",
    "status",
    "output_voltage_V",
    "gain",
    "side",
];

/// The curves of `gain`: a row a configuration, load and frequency, numbers in the shortest form
/// that reads back as the same double, empty where there is no voltage.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn gain(gain: &Gain) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(GAIN_COLUMNS)?;
    for found in &gain.configurations {
        for curve in &found.curves {
            for point in &curve.curve.points {
                let voltage = point.reached.voltage();
                let beyond = curve.curve.beyond_peak(point.frequency);
                table.row([
                    CsvCell::text(found.configuration.drive.name()),
                    CsvCell::text(found.configuration.rectifier.name()),
                    CsvCell::number(gain.loads[curve.load]),
                    CsvCell::number(gain.current(curve.load).0),
                    CsvCell::number(point.frequency.0),
                    CsvCell::text(point.reached.name()),
                    CsvCell::number(voltage.map(|v| v.0)),
                    CsvCell::number(voltage.map(|v| gain.gain_at(v))),
                    CsvCell::text(if beyond { "beyond peak" } else { "inductive" }),
                ])?;
            }
        }
    }
    table.text()
}
