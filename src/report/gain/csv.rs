//! `gain.csv`.

use crate::report::format::csv::text;
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
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(GAIN_COLUMNS)?;
    for found in &gain.configurations {
        for curve in &found.curves {
            for point in &curve.curve.points {
                let voltage = point.reached.voltage();
                let number = |x: Option<f64>| x.map_or_else(String::new, |x| x.to_string());
                let beyond = curve.curve.beyond_peak(point.frequency);
                writer.write_record([
                    found.configuration.drive.name().to_owned(),
                    found.configuration.rectifier.name().to_owned(),
                    gain.loads[curve.load].to_string(),
                    gain.current(curve.load).0.to_string(),
                    point.frequency.0.to_string(),
                    point.reached.name().to_owned(),
                    number(voltage.map(|v| v.0)),
                    number(voltage.map(|v| gain.gain_at(v))),
                    if beyond { "beyond peak" } else { "inductive" }.to_owned(),
                ])?;
            }
        }
    }
    text(writer)
}
