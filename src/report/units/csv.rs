//! `units.csv`.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::solver::{Method, PhaseState};
use crate::study::units::UnitResult;

/// Columns of `units.csv`.
const UNIT_COLUMNS: [&str; 14] = [
    "unit",
    "operating_point",
    "arrangement",
    "solver",
    "phase",
    "status",
    "switching_frequency_Hz",
    "output_current_A",
    "mean_abs_tank_current_A",
    "rms_tank_current_A",
    "peak_tank_current_A",
    "charge_C",
    "interval_start_voltage_V",
    "sharing_error",
];

/// `units.csv`: one row a unit, operating point, arrangement and phase; numbers in the shortest
/// form that reads back as the same double, empty where not solved.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn units(results: &[UnitResult], method: Method) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(UNIT_COLUMNS)?;
    for result in results {
        for k in 0..result.phases {
            let state = result.outcome.solved();
            let phase = state.map(|s| &s.phases[k]);
            let of_phase = |f: fn(&PhaseState) -> f64| CsvCell::number(phase.map(f));
            table.row([
                CsvCell::text(&result.unit),
                CsvCell::text(&result.point.name),
                CsvCell::text(result.arrangement.name()),
                CsvCell::text(method.name()),
                CsvCell::count(k as u64 + 1),
                CsvCell::text(result.outcome.name()),
                CsvCell::number(state.map(|s| s.switching_frequency.0)),
                of_phase(|p| p.output_current.0),
                of_phase(|p| p.mean_abs_current.0),
                of_phase(|p| p.rms_current.0),
                of_phase(|p| p.peak_current.0),
                of_phase(|p| p.charge),
                of_phase(|p| p.start_voltage.0),
                CsvCell::number(result.sharing_error),
            ])?;
        }
    }
    table.text()
}
