//! The summary of `check`.

use serde_json::{Value, json};

use crate::report::format::configuration::json as choice;
use crate::report::format::json::SCHEMA;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::figures::{Figure, Measured};
use crate::study::common::nominal::Baseline;

/// The nominal converter's solution in every case.
pub(super) fn summary(scenario: &Scenario, method: Method, baselines: &[Baseline]) -> Value {
    let nominal = scenario.nominal_converter();
    let each = baselines.iter().map(|b| {
        let (point, arrangement) = (&b.case.point, b.case.arrangement);
        let measured =
            Measured::new(&b.state, &nominal, point, arrangement, scenario.neutral_split);
        let value = |f: Figure| Some(measured.value(f)).filter(|x| !x.is_nan());
        let flying: Vec<f64> =
            (1..scenario.phases).filter_map(|k| value(Figure::FlyingVoltage(k - 1))).collect();
        json!({
            "operating_point": point.name,
            "arrangement": arrangement.name(),
            "drive": point.drive,
            "rectifier": point.rectifier,
            "configuration_chosen": b.choice.is_some(),
            "configuration_choice": b.choice.as_ref().map(choice::choice),
            "switching_frequency_Hz": b.state.switching_frequency,
            "output_current_A":
                b.state.phases.iter().map(|p| p.output_current).collect::<Vec<_>>(),
            "rms_tank_current_A": b.state.phases.iter().map(|p| p.rms_current).collect::<Vec<_>>(),
            "peak_tank_current_A":
                b.state.phases.iter().map(|p| p.peak_current).collect::<Vec<_>>(),
            "sharing_error": measured.sharing_error(scenario.limits.sharing),
            "flying_capacitor_voltage_V": flying,
            "blocking_voltage_V": value(Figure::WorstBlocking),
            "loss_W": value(Figure::Loss),
        })
    });
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "check",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "solver": method.name(),
        "results": each.collect::<Vec<_>>(),
    })
}
