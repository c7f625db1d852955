//! `units.csv` and `over_load.csv`.

use crate::converter::Shared;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::{
    CurrentComparison, Listed, LoadCurrents, MeasuredLoad, OverLoad, SearchOutcome, UnitPhase,
    UnitResult,
};

/// Columns of `units.csv`.
const UNIT_COLUMNS: [&str; 21] = [
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
    "meets_limits",
    "measured_output_current_A",
    "output_current_difference_A",
    "measured_mean_abs_tank_current_A",
    "mean_abs_tank_current_difference_A",
    "measured_rms_tank_current_A",
    "rms_tank_current_difference_A",
];

/// Columns of `over_load.csv`.
const LOAD_COLUMNS: [&str; 17] = [
    "unit",
    "operating_point",
    "arrangement",
    "solver",
    "output_power_W",
    "phase",
    "status",
    "switching_frequency_Hz",
    "output_current_A",
    "mean_abs_tank_current_A",
    "rms_tank_current_A",
    "measured_output_current_A",
    "output_current_difference_A",
    "measured_mean_abs_tank_current_A",
    "mean_abs_tank_current_difference_A",
    "measured_rms_tank_current_A",
    "rms_tank_current_difference_A",
];

/// `units.csv`: one row a unit, operating point, arrangement and phase; numbers in the shortest
/// form that reads back as the same double, empty where not solved or not measured.
///
/// # Errors
///
/// None that can happen with rows built here, as for the other file.
pub(super) fn units(
    scenario: &Scenario,
    listed: &Listed,
    method: Method,
) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(UNIT_COLUMNS)?;
    for result in &listed.results {
        let measured = result.measured.map(|n| &listed.measured[n]);
        for k in 0..scenario.phases {
            let known = unit_cells(result, k, method).into_iter();
            table.row(known.chain(measured_cells(measured, k)))?;
        }
    }
    table.text()
}

fn unit_cells(result: &UnitResult, k: usize, method: Method) -> [CsvCell; 15] {
    let solved = result.solved.as_ref();
    let of_phase = |f: fn(&UnitPhase) -> f64| CsvCell::number(solved.map(|s| f(&s.phases[k])));
    [
        CsvCell::text(&result.name),
        CsvCell::text(&result.point.name),
        CsvCell::text(result.arrangement.name()),
        CsvCell::text(method.name()),
        CsvCell::count(k as u64 + 1),
        CsvCell::text(result.outcome.status),
        CsvCell::number(solved.map(|s| s.switching_frequency.0)),
        of_phase(|p| p.output_current.0),
        of_phase(|p| p.mean_abs_current.0),
        of_phase(|p| p.rms_current.0),
        of_phase(|p| p.peak_current.0),
        of_phase(|p| p.charge),
        of_phase(|p| p.start_voltage.0),
        CsvCell::number(solved.map(|s| s.sharing_error)),
        CsvCell::flag(result.meets_limits()),
    ]
}

/// Measured currents of a phase, each with its difference from the prediction.
fn measured_cells(load: Option<&MeasuredLoad>, k: usize) -> impl Iterator<Item = CsvCell> {
    let cells = move |current| {
        let comparison: Option<CurrentComparison> = load.and_then(|l| l.comparison(k, current));
        let difference = comparison.and_then(|c| c.difference());
        [
            CsvCell::number(comparison.map(|c| c.measured.0)),
            CsvCell::number(difference.map(|difference| difference.0)),
        ]
    };
    Shared::ALL.into_iter().flat_map(cells)
}

/// A converter at one load, as a row tells of it.
struct LoadRow<'a> {
    point: &'a str,
    power: f64,
    outcome: SearchOutcome,
    frequency: Option<f64>,
    phases: Option<&'a [UnitPhase]>,
    measured: Option<&'a MeasuredLoad>,
}

/// `over_load.csv`: one row a unit, operating point, arrangement, output power and phase. Below the
/// loads of a curve stand those at which currents were measured.
pub(super) fn over_load(
    scenario: &Scenario,
    listed: &Listed,
    over_load: &OverLoad,
    method: Method,
) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(LOAD_COLUMNS)?;
    for curves in &over_load.curves {
        for row in load_rows(listed, over_load, curves) {
            for k in 0..scenario.phases {
                let known = load_cells(curves, &row, k, method).into_iter();
                table.row(known.chain(measured_cells(row.measured, k)))?;
            }
        }
    }
    table.text()
}

/// The loads of a curve, then those at which currents were measured.
fn load_rows<'a>(
    listed: &'a Listed,
    over_load: &'a OverLoad,
    curves: &'a LoadCurrents,
) -> impl Iterator<Item = LoadRow<'a>> {
    let range = &over_load.ranges[curves.range];
    let followed = curves.loads.iter().map(|load| LoadRow {
        point: &range.point.name,
        power: load.output_power.0,
        outcome: load.outcome,
        frequency: load.solved.as_ref().map(|solved| solved.switching_frequency.0),
        phases: load.solved.as_ref().map(|solved| &solved.phases[..]),
        measured: None,
    });
    let is_own = |load: &&MeasuredLoad| {
        load.reading.unit == curves.unit
            && load.arrangement() == curves.arrangement
            && range.members.contains(&load.reading.operating_point)
    };
    let measured = listed.measured.iter().filter(is_own).map(|load| LoadRow {
        point: &load.operating_point,
        power: load.output_power().0,
        outcome: load.outcome,
        frequency: load.switching_frequency.map(|frequency| frequency.0),
        phases: load.predicted.as_deref(),
        measured: Some(load),
    });
    followed.chain(measured)
}

fn load_cells(curves: &LoadCurrents, row: &LoadRow<'_>, k: usize, method: Method) -> [CsvCell; 11] {
    let of_phase = |f: fn(&UnitPhase) -> f64| CsvCell::number(row.phases.map(|p| f(&p[k])));
    [
        CsvCell::text(&curves.name),
        CsvCell::text(row.point),
        CsvCell::text(curves.arrangement.name()),
        CsvCell::text(method.name()),
        CsvCell::number(row.power),
        CsvCell::count(k as u64 + 1),
        CsvCell::text(row.outcome.status),
        CsvCell::number(row.frequency),
        of_phase(|p| p.output_current.0),
        of_phase(|p| p.mean_abs_current.0),
        of_phase(|p| p.rms_current.0),
    ]
}
