//! `units.csv`.

use crate::report::format::csv::text;
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
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(UNIT_COLUMNS)?;
    for result in results {
        for k in 0..result.phases {
            let state = result.outcome.solved();
            let phase = state.map(|s| &s.phases[k]);
            let number = |x: Option<f64>| x.map_or_else(String::new, |x| x.to_string());
            let of_phase = |f: fn(&PhaseState) -> f64| number(phase.map(f));
            writer.write_record([
                result.unit.clone(),
                result.point.name.clone(),
                result.arrangement.name().into(),
                method.name().into(),
                (k + 1).to_string(),
                result.outcome.name().into(),
                number(state.map(|s| s.switching_frequency.0)),
                of_phase(|p| p.output_current.0),
                of_phase(|p| p.mean_abs_current.0),
                of_phase(|p| p.rms_current.0),
                of_phase(|p| p.peak_current.0),
                of_phase(|p| p.charge),
                of_phase(|p| p.start_voltage.0),
                number(result.sharing_error),
            ])?;
        }
    }
    text(writer)
}
