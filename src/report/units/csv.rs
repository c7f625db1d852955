//! `units.csv`, `unit_ratings.csv`, `unit_losses.csv`, `commutation.csv` and `over_load.csv`.

use crate::converter::{Rating, Shared};
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::solver::commutation::{Transition, TurnOn};
use crate::study::common::commutation::SoftSwitching;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
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

/// `unit_ratings.csv`: one row a unit, operating point and arrangement, with a column for each load of a part
/// that any of them has.
pub(super) fn ratings(scenario: &Scenario, listed: &Listed) -> anyhow::Result<String> {
    let is_there = |rating: &Rating| {
        let figure = Figure::Rating(*rating);
        let first = listed.by_unit().next().unwrap_or_default();
        first.iter().any(|own| figure.applies(own.arrangement, own.point.drive))
    };
    let ratings: Vec<Rating> =
        Rating::all_for(scenario.phases, listed.drives()).filter(is_there).collect();
    let names = ["unit", "operating_point", "arrangement", "status"].map(str::to_owned);
    let columns = names.into_iter().chain(ratings.iter().map(|rating| rating.name()));
    let mut table = CsvTable::with_columns(columns)?;
    for result in &listed.results {
        let loads = result.solved.as_ref().map_or(&[][..], |solved| &solved.loads);
        let load = |rating: &Rating| {
            let own = loads.iter().find(|own| own.rating == *rating);
            CsvCell::number(own.map(|own| own.value))
        };
        let status = CsvCell::text(result.outcome.status);
        let cells = names_of(result).into_iter().chain([status]);
        table.row(cells.chain(ratings.iter().map(load)))?;
    }
    table.text()
}

/// `unit_losses.csv`: one row a unit, operating point and arrangement; none where the scenario does not tell losses
/// apart.
pub(super) fn losses(scenario: &Scenario, listed: &Listed) -> anyhow::Result<Option<String>> {
    let told = LossFigure::told(scenario, Method::Exact);
    let told: Vec<LossFigure> = told.filter(|own| *own != LossFigure::LostShare).collect();
    if told.is_empty() {
        return Ok(None);
    }
    let names = ["unit", "operating_point", "arrangement", "status", "loss_W"];
    let columns = names.into_iter().chain(told.iter().map(|figure| figure.name()));
    let mut table = CsvTable::with_columns(columns)?;
    for result in &listed.results {
        let solved = result.solved.as_ref();
        let first = [
            CsvCell::text(result.outcome.status),
            CsvCell::number(solved.map(|solved| solved.loss.0)),
        ];
        let value = |figure: &LossFigure| solved.and_then(|solved| solved.loss_figure(*figure));
        let cells = told.iter().map(|figure| CsvCell::number(value(figure)));
        table.row(names_of(result).into_iter().chain(first).chain(cells))?;
    }
    table.text().map(Some)
}

/// Which result a row tells of.
fn names_of(result: &UnitResult) -> [CsvCell; 3] {
    [
        CsvCell::text(&result.name),
        CsvCell::text(&result.point.name),
        CsvCell::text(result.arrangement.name()),
    ]
}

/// Columns of `commutation.csv`.
const TRANSITION_COLUMNS: [&str; 11] = [
    "unit",
    "operating_point",
    "arrangement",
    "leg",
    "phase",
    "transition",
    "turn_on_voltage_V",
    "interval_voltage_V",
    "verdict",
    "spare",
    "turn_off_current_A",
];

/// `commutation.csv`: one row a unit, operating point, arrangement, leg, phase and transition; none where no
/// switches are described.
pub(super) fn commutation(listed: &Listed) -> anyhow::Result<Option<String>> {
    let judged = listed.results.iter().filter_map(|result| {
        let switching = result.solved.as_ref()?.switching.as_ref()?;
        Some((result, switching))
    });
    if judged.clone().next().is_none() {
        return Ok(None);
    }
    let mut table = CsvTable::with_columns(TRANSITION_COLUMNS)?;
    for (result, switching) in judged {
        for transition in &switching.commutation.transitions {
            let cells = transition_cells(switching, transition);
            table.row(names_of(result).into_iter().chain(cells))?;
        }
    }
    table.text().map(Some)
}

fn transition_cells(switching: &SoftSwitching, own: &Transition) -> [CsvCell; 8] {
    let verdict = match switching.verdict(own) {
        TurnOn::Soft => "soft",
        TurnOn::Hard => "hard",
        TurnOn::NotDecided => "not decided",
    };
    [
        CsvCell::text(own.leg.name()),
        CsvCell::count(own.phase as u64 + 1),
        CsvCell::text(own.swing.name()),
        CsvCell::number(own.turn_on_voltage.0),
        CsvCell::number(own.interval_voltage.0),
        CsvCell::text(verdict),
        CsvCell::number(own.spare),
        CsvCell::number(own.turn_off_current.0),
    ]
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
