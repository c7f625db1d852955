//! The summary of `gain`.

use serde_json::{Value, json};

use crate::converter::voltage_gain;
use crate::report::format::configuration::json::ConfigurationCandidateEntry;
use crate::report::format::summary::SCHEMA;
use crate::scenario::Scenario;
use crate::study::common::curve::{POINTS, VoltageRange};
use crate::study::gain::{ConfigurationGain, Coverage, Gain, PointGain};
use crate::units::Volt;

/// Voltage gain over frequency, the operating points, and how the configurations cover them. The
/// curves themselves stand in `gain.csv`.
pub(super) fn summary(scenario: &Scenario, gain: &Gain) -> Value {
    let configurations = gain.configurations.iter().map(|c| configuration(scenario, gain, c));
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "gain",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "solver": gain.method.name(),
        "arrangement": "chain",
        "input_voltage_V": gain.input_voltage,
        "rated_current_A": gain.rated_current,
        "loads": gain.loads,
        "frequencies": POINTS,
        "lowest_frequency_Hz": scenario.frequency.minimum,
        "highest_frequency_Hz": scenario.frequency.maximum,
        "not_solved": gain.not_solved(),
        "prefer": scenario.prefer.name(),
        "all_covered": gain.covers_all(),
        "configurations": configurations.collect::<Vec<_>>(),
        "coverage": gain.coverage.iter().map(|c| coverage(gain, c)).collect::<Vec<_>>(),
        "operating_points": gain.points.iter().map(point).collect::<Vec<_>>(),
    })
}

fn configuration(scenario: &Scenario, gain: &Gain, found: &ConfigurationGain) -> Value {
    let m = |v: Volt| {
        voltage_gain(scenario.nominal.turns_ratio, v, gain.input_voltage, scenario.phases)
    };
    let curves = found.curves.iter().map(|c| {
        let peak = c.curve.peak.map(|peak| {
            json!({
                "frequency_Hz": peak.frequency,
                "output_voltage_V": peak.voltage,
                "gain": m(peak.voltage),
                "at_end_of_band": peak.at_end,
            })
        });
        json!({
            "load": gain.loads[c.load],
            "output_current_A": gain.current(c.load),
            "peak": peak,
            "output_voltage_V": c.curve.range().map(|r| range(&r)),
            "not_solved": c.curve.not_solved(),
        })
    });
    json!({
        "drive": found.configuration.drive,
        "rectifier": found.configuration.rectifier,
        "curves": curves.collect::<Vec<_>>(),
    })
}

fn range(range: &VoltageRange) -> Value {
    json!({ "lowest": range.lowest, "highest": range.highest })
}

fn coverage(gain: &Gain, coverage: &Coverage) -> Value {
    let name = |n: usize| gain.configurations[n].configuration.name();
    let overlaps = coverage.overlaps.iter().map(|(a, b, common)| {
        json!({ "configurations": [name(*a), name(*b)], "output_voltage_V": range(common) })
    });
    json!({
        "load": gain.loads[coverage.load],
        "output_current_A": gain.current(coverage.load),
        "overlaps": overlaps.collect::<Vec<_>>(),
        "holes": coverage.holes.iter().map(range).collect::<Vec<_>>(),
    })
}

fn point(point: &PointGain) -> Value {
    let request = &point.request;
    json!({
        "operating_point": request.name,
        "input_voltage_V": request.input_voltage,
        "output_voltage_V": request.output_voltage,
        "output_current_A": request.output_current,
        "gain": point.gain,
        "configuration_chosen": point.choice.open,
        "covered": point.choice.chosen.is_some(),
        "candidates": ConfigurationCandidateEntry::all(&point.choice),
    })
}
