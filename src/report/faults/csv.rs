//! `faults.csv`.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::study::faults::{FaultResult, FaultStudy};

/// Columns of `faults.csv`.
const COLUMNS: [&str; 20] = [
    "operating_point",
    "arrangement",
    "kind",
    "place",
    "leg",
    "remaining",
    "outcome",
    "switching_frequency_Hz",
    "phase",
    "carries",
    "output_current_A",
    "rms_tank_current_A",
    "sharing_error",
    "lowest_blocking_voltage_V",
    "highest_blocking_voltage_V",
    "limits_met",
    "yield",
    "yield_lower",
    "yield_upper",
    "samples",
];

/// A row a fault, operating point, arrangement and phase; without a steady state one row alone.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn faults(study: &FaultStudy) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COLUMNS)?;
    for result in &study.results {
        let phases = result.outcome.state().map_or(0, |found| found.state.phases.len());
        if phases == 0 {
            table.row(cells(study, result, None))?;
        }
        for phase in 0..phases {
            table.row(cells(study, result, Some(phase)))?;
        }
    }
    table.text()
}

fn cells(study: &FaultStudy, result: &FaultResult, phase: Option<usize>) -> Vec<CsvCell> {
    let fault = result.fault();
    let found = result.outcome.state();
    let own = phase.and_then(|k| Some(&found?.state.phases[k]));
    let carries = phase.and_then(|k| Some(found?.carrying.contains(&k)));
    let good = result.remaining_yield.as_ref().map(|own| own.good);
    let highest = result.blocking.and_then(|own| own.highest);
    vec![
        CsvCell::text(&study.before(result).operating_point),
        CsvCell::text(result.arrangement().name()),
        CsvCell::text(fault.failure.name()),
        CsvCell::count(fault.phase as u64 + 1),
        fault.legs.map_or_else(CsvCell::empty, |legs| CsvCell::text(legs.name())),
        CsvCell::number(fault.failure.remaining()),
        CsvCell::text(result.outcome.name()),
        CsvCell::number(found.map(|own| own.state.switching_frequency.0)),
        phase.map_or_else(CsvCell::empty, |k| CsvCell::count(k as u64 + 1)),
        carries.map_or_else(CsvCell::empty, CsvCell::flag),
        CsvCell::number(own.map(|own| own.output_current.0)),
        CsvCell::number(own.map(|own| own.rms_current.0)),
        CsvCell::number(result.sharing.map(|own| own.of_all)),
        CsvCell::number(result.blocking.map(|own| own.lowest.0)),
        CsvCell::number(highest.map(|voltage| voltage.0)),
        CsvCell::flag(result.meets_limits()),
        CsvCell::number(good.map(|own| own.estimate)),
        CsvCell::number(good.map(|own| own.lower)),
        CsvCell::number(good.map(|own| own.upper)),
        good.map_or_else(CsvCell::empty, |own| CsvCell::count(own.trials)),
    ]
}
