//! CSV files: solved units, gain curves, and parts that can be fed back.

use anyhow::Context;

use crate::converter::{Parameter, voltage_gain};
use crate::population::parts_file;
use crate::scenario::Scenario;
use crate::solver::{Method, PhaseState};
use crate::study::gain::Gain;
use crate::study::run::Run;
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

fn text(writer: csv::Writer<Vec<u8>>) -> anyhow::Result<String> {
    let bytes = writer.into_inner().context("cannot assemble a CSV file")?;
    Ok(String::from_utf8(bytes)?)
}

/// `units.csv`: one row a unit, operating point, arrangement and phase; numbers in the shortest
/// form that reads back as the same double, empty where not solved.
///
/// # Errors
///
/// None that can happen with rows built here.
pub fn units(results: &[UnitResult], method: Method) -> anyhow::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(UNIT_COLUMNS)?;
    for result in results {
        for k in 0..result.phases {
            let state = result.outcome.solved();
            let phase = state.map(|s| &s.phases[k]);
            let number = |x: Option<f64>| x.map_or_else(String::new, |x| x.to_string());
            let of = |f: fn(&PhaseState) -> f64| number(phase.map(f));
            writer.write_record([
                result.unit.clone(),
                result.point.name.clone(),
                result.arrangement.name().into(),
                method.name().into(),
                (k + 1).to_string(),
                result.outcome.name().into(),
                number(state.map(|s| s.switching_frequency.0)),
                of(|p| p.output_current.0),
                of(|p| p.mean_abs_current.0),
                of(|p| p.rms_current.0),
                of(|p| p.peak_current.0),
                of(|p| p.charge),
                of(|p| p.start_voltage.0),
                number(result.sharing_error),
            ])?;
        }
    }
    text(writer)
}

/// The curves of `gain`: a row a configuration, load and frequency, numbers in the shortest form
/// that reads back as the same double, empty where there is no voltage.
///
/// # Errors
///
/// None that can happen with rows built here.
pub fn gain(scenario: &Scenario, gain: &Gain) -> anyhow::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(GAIN_COLUMNS)?;
    for found in &gain.configurations {
        for curve in &found.curves {
            for point in &curve.curve.points {
                let voltage = point.reached.voltage();
                let number = |x: Option<f64>| x.map_or_else(String::new, |x| x.to_string());
                let (n, input) = (scenario.nominal.turns_ratio, gain.input_voltage);
                let m = voltage.map(|v| voltage_gain(n, v, input, scenario.phases));
                let beyond = curve.curve.beyond_peak(point.frequency);
                writer.write_record([
                    found.configuration.drive.name().to_owned(),
                    found.configuration.rectifier.name().to_owned(),
                    gain.loads[curve.load].to_string(),
                    gain.current(curve.load).0.to_string(),
                    point.frequency.0.to_string(),
                    point.reached.name().to_owned(),
                    number(voltage.map(|v| v.0)),
                    number(m),
                    if beyond { "beyond peak" } else { "inductive" }.to_owned(),
                ])?;
            }
        }
    }
    text(writer)
}

/// The worst converter of every case as a parts file.
///
/// # Errors
///
/// None that can happen with rows built here.
pub fn worst_converters(run: &Run) -> anyhow::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(parts_file::COLUMNS)?;
    for case in &run.cases {
        let Some(worst) = &case.worst else { continue };
        let unit = format!(
            "sample {}: worst {} at {}",
            worst.sample,
            case.arrangement().name(),
            case.operating_point()
        );
        for (k, tank) in worst.converter.tanks.iter().enumerate() {
            let flying = |leg: &[crate::units::Farad]| {
                leg.get(k).map_or_else(String::new, |c| c.0.to_string())
            };
            let number = |x: f64| x.to_string();
            let tank = Parameter::of_tank().filter_map(|p| tank.value(p)).map(number);
            let legs = [flying(&worst.converter.flying), flying(&worst.converter.flying_return)];
            writer.write_record(
                [unit.clone(), (k + 1).to_string()].into_iter().chain(tank).chain(legs),
            )?;
        }
    }
    text(writer)
}
