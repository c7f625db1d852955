//! The summary of a run.

use serde_json::{Map, Value, json};

use crate::converter::{Measure, Parameter, Shared, Sharing};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::json::{binding, limits, tolerances};
use crate::report::format::summary::SCHEMA;
use crate::scenario::Scenario;
use crate::statistics::KeyFigures;
use crate::study::common::figures::Figure;
use crate::study::run::{CaseResult, Joint, Run, SolverComparison, Worst};

/// The summary of a run.
pub(super) fn summary(scenario: &Scenario, run: &Run) -> Value {
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "run",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "seed": run.settings.seed,
        "samples": run.settings.samples,
        "solver": run.settings.method.name(),
        "limits": limits(scenario),
        "tolerances": tolerances(scenario),
        "joint": joints(run),
        "results": (0..run.cases.len()).map(|n| case(scenario, run, n)).collect::<Vec<_>>(),
        "solver_comparison": comparison(run),
    })
}

fn joints(run: &Run) -> Value {
    let each = run.joint.iter().map(|j| (j.arrangement.name().to_owned(), joint(j)));
    Value::Object(each.collect())
}

fn joint(joint: &Joint) -> Value {
    json!({
        "yield": joint.good,
        "verdict": joint.verdict,
        "samples_to_decide": joint.samples_to_decide,
        "binding": joint.binding.as_ref().map(binding),
    })
}

fn case(scenario: &Scenario, run: &Run, n: usize) -> Value {
    let result = &run.cases[n];
    let point = &result.baseline.case.point;
    let figure = |f: Figure| run.key_figures(n, f);
    let [solved, out_of_range, not_solved] = result.counts;
    json!({
        "operating_point": point.name,
        "arrangement": result.arrangement().name(),
        "drive": point.drive,
        "rectifier": point.rectifier,
        "configuration_chosen": result.baseline.choice.is_some(),
        "configuration_choice": result.baseline.choice.as_ref().map(ConfigurationChoiceEntry::new),
        "input_voltage_V": point.input_voltage,
        "output_voltage_V": point.output_voltage,
        "output_current_A": point.output_current,
        "nominal_switching_frequency_Hz": result.baseline.state.switching_frequency,
        "counts": {
            "solved": solved, "out_of_range": out_of_range, "not_solved": not_solved,
        },
        "yield": result.good,
        "missed": missed(result),
        "sharing_error": figure(Figure::SharingError(scenario.limits.sharing)),
        "sharing_errors": sharing_errors(run, n),
        "switching_frequency_Hz": figure(Figure::SwitchingFrequency),
        "switch_rms_current_A": figure(Figure::WorstSwitchRms),
        "switch_peak_current_A": figure(Figure::WorstSwitchPeak),
        "blocking_voltage_V": figure(Figure::WorstBlocking),
        "switch_stress_VA": figure(Figure::Stress),
        "switch_stress_at_equal_current_VA": figure(Figure::StressAtEqualCurrent),
        "loss_W": figure(Figure::Loss),
        "figures": details(run, n),
        "histogram": result.histogram.as_ref().map(|h| json!({
            "edges": h.edges.values(), "counts": h.counts, "below": h.below, "above": h.above,
        })),
        "yield_curve": curve(result),
        "worst": result.worst.as_ref().map(worst),
    })
}

fn missed(result: &CaseResult) -> Value {
    let each = result.misses.iter().map(|(demand, n)| (demand.name(), Value::from(*n)));
    Value::Object(each.collect())
}

fn sharing_errors(run: &Run, n: usize) -> Value {
    let all = Shared::ALL.iter().flat_map(|s| Measure::ALL.iter().map(move |m| (*s, *m)));
    let each = all.map(|(share, measure)| {
        let summary = run.key_figures(n, Figure::SharingError(Sharing { share, measure }));
        (format!("{} {}", share.name(), measure.name()), json!(summary))
    });
    Value::Object(each.collect())
}

/// Figures a phase, a switch, a flying capacitor, by their names.
fn details(run: &Run, n: usize) -> Value {
    let detail = |f: &&Figure| {
        matches!(
            f,
            Figure::OutputCurrent(_)
                | Figure::RmsCurrent(_)
                | Figure::PeakCurrent(_)
                | Figure::MeanCurrent(_)
                | Figure::SwitchRms(_)
                | Figure::SwitchPeak(_)
                | Figure::FlyingVoltage(_)
        )
    };
    let each = run.figures.iter().filter(detail).filter_map(|f| {
        let summary: &KeyFigures = run.key_figures(n, *f)?;
        Some((f.name(), json!(summary)))
    });
    Value::Object(each.collect::<Map<_, _>>())
}

fn curve(result: &CaseResult) -> Value {
    let each = result.curve.iter().map(|p| {
        json!({
            "sharing_error_limit": p.limit,
            "estimate": p.good.estimate, "lower": p.good.lower, "upper": p.good.upper,
        })
    });
    Value::Array(each.collect())
}

fn worst(worst: &Worst) -> Value {
    let parts = worst.converter.tanks.iter().map(|t| -> Value {
        Parameter::of_tank()
            .map(|p| (format!("{}{}", p.key(), p.unit_suffix()), json!(t.value(p))))
            .collect()
    });
    json!({
        "sample": worst.sample,
        "sharing_error": worst.sharing_error,
        "switching_frequency_Hz": worst.state.switching_frequency,
        "output_current_A": worst.state.phases.iter().map(|p| p.output_current).collect::<Vec<_>>(),
        "parts": parts.collect::<Vec<_>>(),
        "flying_capacitance_F": worst.converter.flying.as_slice(),
        "flying_capacitance_return_leg_F": worst.converter.flying_return.as_slice(),
    })
}

fn comparison(run: &Run) -> Value {
    let pair = |p: Option<(f64, f64)>| {
        p.map(|(exact, averaged)| json!({ "exact": exact, "averaged": averaged }))
    };
    let each = run.cases.iter().zip(&run.comparison).map(|(case, c): (_, &SolverComparison)| {
        json!({
            "operating_point": case.operating_point(),
            "arrangement": case.arrangement().name(),
            "both_solved": c.both_solved,
            "sharing_error_p50": pair(c.median),
            "sharing_error_p95": pair(c.p95),
            "largest_relative_frequency_difference": c.frequency,
        })
    });
    json!({ "samples": run.compared, "cases": each.collect::<Vec<_>>() })
}
