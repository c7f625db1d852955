//! The file of waveforms that `units --waveforms` writes.

use std::io::Write;

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::solver::waveforms::WaveformPoint;
use crate::study::units::UnitWaveforms;

/// Its columns.
const COLUMNS: [&str; 12] = [
    "unit",
    "operating_point",
    "arrangement",
    "phase",
    "time_s",
    "tank_current_A",
    "magnetising_current_A",
    "rectified_current_A",
    "bridge_voltage_V",
    "resonant_capacitor_voltage_V",
    "flying_capacitor_voltage_V",
    "flying_capacitor_return_leg_voltage_V",
];

/// The first line of every such file.
pub fn first_line_of_waveforms() -> String {
    COLUMNS.join(",")
}

/// Waveforms as CSV: one row a unit, operating point, arrangement, phase and instant.
pub struct WaveformTable<W: Write>(CsvTable<W>);

impl<W: Write> WaveformTable<W> {
    /// A file without rows.
    ///
    /// # Errors
    ///
    /// When it cannot be written, as for all that follow.
    pub fn new(writer: W) -> anyhow::Result<Self> {
        CsvTable::into_writer(writer, COLUMNS).map(Self)
    }

    /// Adds the waveforms of a unit in a case.
    ///
    /// # Errors
    ///
    /// When they cannot be written.
    pub fn add(&mut self, waveforms: &UnitWaveforms<'_>) -> anyhow::Result<()> {
        let result = waveforms.result;
        let known =
            [&result.name, &result.point.name, result.arrangement.name()].map(CsvCell::text);
        for (k, phase) in waveforms.phases.iter().enumerate() {
            for point in &phase.points {
                let phase = [CsvCell::count(k as u64 + 1)];
                self.0.row(known.iter().cloned().chain(phase).chain(cells(point)))?;
            }
        }
        Ok(())
    }

    /// Writes what is left.
    ///
    /// # Errors
    ///
    /// When that fails.
    pub fn finish(self) -> anyhow::Result<()> {
        self.0.finish()
    }
}

fn cells(point: &WaveformPoint) -> [CsvCell; 8] {
    let [flying, flying_return] = point.flying_voltages.map(|v| CsvCell::number(v.map(|v| v.0)));
    [
        CsvCell::number(point.time.0),
        CsvCell::number(point.tank_current.0),
        CsvCell::number(point.magnetising_current.0),
        CsvCell::number(point.rectified_current.0),
        CsvCell::number(point.bridge_voltage.0),
        CsvCell::number(point.capacitor_voltage.0),
        flying,
        flying_return,
    ]
}
