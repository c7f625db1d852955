//! `summary.json` of the case for or against current sensors.

use serde_json::{Value, json};

use super::words;
use crate::report::format::json::{binding, limits, tolerances};
use crate::report::format::numbers::plain;
use crate::report::format::summary::SCHEMA;
use crate::scenario::{PerPart, Scenario, SensorRequest, Shape, Tolerance};
use crate::study::sensors::{SensorStudy, TargetQuantile, Variant, VariantResult};

/// The summary.
pub(super) fn summary(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Value {
    let found = words::sensitivity(scenario, study);
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "sensors",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "seed": study.settings.seed,
        "samples": study.samples,
        "samples_asked_for": study.settings.samples,
        "solver": study.settings.method.name(),
        "complete": study.unfinished.is_none(),
        "unfinished": study.unfinished,
        "limits": limits(scenario),
        "tolerances": tolerances(scenario),
        "sensors": sensors(request),
        "verdict": study.verdict(),
        "decision": decision(scenario, study),
        "headline": plain(&words::answer(scenario, study)),
        "notices": plain_all(&words::warnings(scenario, request, study)),
        "carried_by": plain_all(&words::findings(scenario, study)),
        "would_turn_over": plain_all(&found.would),
        "would_not_turn_over": found.would_not.as_deref().map(plain),
        "comparisons": comparisons(study),
        "variants": study.variants.iter().map(|v| variant(study, v)).collect::<Vec<_>>(),
        "good_in_one_alone": apart(study),
        "turns": study.sensitivities,
        "stream": study.verification.stream,
    })
}

/// Sentences with ordinary blanks.
fn plain_all(sentences: &[String]) -> Vec<String> {
    sentences.iter().map(|text| plain(text)).collect()
}

fn tolerance(t: Option<Tolerance>) -> Value {
    let sigmas = |t: Tolerance| match t.shape {
        Shape::Normal { sigmas } => Some(sigmas),
        _ => None,
    };
    t.map_or(Value::Null, |t| {
        json!({
            "shape": t.shape.name(), "sigmas": sigmas(t), "band": t.band,
            "lot_share": t.lot_share,
        })
    })
}

fn per_part(each: &PerPart) -> Value {
    json!({
        "converter": each.converter,
        "flying_capacitor": each.flying_capacitor,
        "sensor": each.sensor,
        "trim_element": each.trim_element,
    })
}

fn sensors(request: &SensorRequest) -> Value {
    json!({
        "measured": request.measured,
        "gain_error": tolerance(request.gain_error),
        "drift": tolerance(request.drift),
        "offset_A": tolerance(request.offset),
        "trim": request.trim,
        "trim_range": request.trim_range,
        "added_resistance_ohm": request.added_resistance,
        "standing_loss_W": request.standing_loss,
        "price": per_part(&request.price),
        "failure_rate_FIT": per_part(&request.failure_rate),
        "agreement": crate::solver::trim::AGREEMENT,
    })
}

fn variant(study: &SensorStudy, result: &VariantResult) -> Value {
    let [solved, out_of_range, not_solved] = result.counts;
    let [rms, peak] = result.oversize();
    json!({
        "variant": result.variant,
        "letter": result.variant.letter(),
        "yield": result.good,
        "verdict": result.verdict,
        "samples_to_decide": result.samples_to_decide,
        "binding": result.binding.as_ref().map(binding),
        "counts": { "solved": solved, "out_of_range": out_of_range, "not_solved": not_solved },
        "sharing_error": result.sharing,
        "switch_rms_current_A": result.rms,
        "switch_peak_current_A": result.peak,
        "nominal_switch_rms_current_A": result.nominal[0],
        "nominal_switch_peak_current_A": result.nominal[1],
        "required_rms_rating_A": rating(result.ratings[0]),
        "required_peak_rating_A": rating(result.ratings[1]),
        "rms_current_at_target_A": result.currents[0],
        "peak_current_at_target_A": result.currents[1],
        "blocking_voltage_at_target_V": result.blocking,
        "rms_current_over_nominal": rms,
        "peak_current_over_nominal": peak,
        "nominal_misses": result.nominal_miss.as_ref().map(|m| json!({
            "operating_point": m.operating_point, "demand": m.demand.name(),
            "limit": m.demand.limit, "value": m.value,
        })),
        "loss_W": { "operating_point": study.loss_point, "loss": result.loss },
        "parts": result.bill,
        "failing_within_a_year": result.bill.failing_within_a_year(),
        "parts_added": result.bill.added(),
        "price_per_good_converter": result.price_per_good(),
        "loops": result.loops,
        "break_even_price_a_phase": result.break_even.map(|p| json!({
            "estimate": p.estimate, "interval": p.interval, "today": p.today,
            "crossed": p.is_met_today(),
        })),
    })
}

/// What to build; letters of variants.
fn decision(scenario: &Scenario, study: &SensorStudy) -> Value {
    let decision = study.decision();
    let cheapest = decision.cheapest;
    json!({
        "sensors_can_go": decision.chain,
        "cheapest_that_surely_meets": cheapest.map(Variant::letter),
        "price_per_good_converter": cheapest.and_then(|v| study.variant(v).price_per_good()),
        "yield_target": scenario.limits.yield_target,
    })
}

/// A rating; `surely` is the one to take.
fn rating(rating: Option<TargetQuantile>) -> Value {
    rating.map_or(
        Value::Null,
        |r| json!({ "value": r.value, "interval": r.interval, "required": r.required_rating() }),
    )
}

/// The first less the second; shares are fractions.
fn comparisons(study: &SensorStudy) -> Value {
    let pairs = [
        (Variant::ChainWithSensors, Variant::Chain),
        (Variant::ParalleledWithSensors, Variant::Chain),
        (Variant::ParalleledWithSensors, Variant::Paralleled),
        (Variant::Chain, Variant::Paralleled),
    ];
    let each = pairs.into_iter().filter_map(|(one, other)| {
        let change = study.difference(one, other).ok()?;
        let same = one.arrangement() == other.arrangement();
        let smaller = if same { study.current_reduction(one, other) } else { None };
        Some(json!({
            "first": one.letter(),
            "second": other.letter(),
            "samples": change.counts,
            "yield": change.good,
            "chance_of_equal_yields": change.p_value,
            "yields_differ": change.is_significant(),
            "price_per_good_converter": change.price_per_good,
            "relative_price_per_good_converter": change.relative_price,
            "failure_rate_FIT": change.failure_rate,
            "switch_smaller_by": smaller,
        }))
    });
    let chain = study.variant(Variant::Chain).currents[0].map(|r| r.value);
    json!({
        "pairs": each.collect::<Vec<_>>(),
        "chain_sharing_as_unevenly_as_a": {
            "rms_current_A": study.chain_current_if_uneven(),
            "switch_smaller_by": chain.zip(study.chain_current_if_uneven()).map(|(b, a)| 1.0 - b / a),
        },
    })
}

/// `x not y`: samples good in x and not in y.
fn apart(study: &SensorStudy) -> Value {
    let pairs = Variant::ALL.iter().flat_map(|v| Variant::ALL.iter().map(move |w| (*v, *w)));
    let each = pairs.filter(|(v, w)| v != w).map(|(v, w)| {
        let key = format!("{} not {}", v.letter(), w.letter());
        (key, Value::from(study.good_in_one_alone(v, w)))
    });
    Value::Object(each.collect())
}
