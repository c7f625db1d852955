//! The summary of a search for bands.

use serde_json::{Value, json};

use super::words;
use crate::converter::Parameter;
use crate::report::json::{SCHEMA, binding, limits, tolerances};
use crate::scenario::Scenario;
use crate::statistics::Yield;
use crate::study::bands::cheapest::{Cheapest, Ending};
use crate::study::bands::edge::RESOLUTION;
use crate::study::bands::looks::{LOOKS, Look, SHRINK};
use crate::study::bands::map::Map;
use crate::study::bands::{Bands, Part, Row, Subject};

/// The summary: every figure with its interval, and the seeds of search and proof.
pub fn summary(scenario: &Scenario, bands: &Bands) -> Value {
    let parts = bands.parts.iter().map(|p| (p.arrangement.name().to_owned(), part(p, bands)));
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "bands",
        "partial": bands.is_partial(),
        "unfinished": bands.is_partial().then(|| words::unfinished(bands)),
        "scenario": scenario.source_name,
        "title": scenario.title,
        "seed": bands.settings.seed,
        "samples": bands.settings.samples,
        "solver": bands.settings.method.name(),
        "trials": bands.trials,
        "limits": limits(scenario),
        "tolerances": tolerances(scenario),
        "method": {
            "search_seed": bands.settings.seed,
            "search_confidence": bands.rule.shared,
            "resolution": RESOLUTION,
            "widest": scenario.bands.widest,
            "looks_at_most": LOOKS,
            "look_confidence": bands.rule.shared,
            "shrink": SHRINK,
        },
        "arrangements": Value::Object(parts.collect()),
        "cheapest": bands.cheapest.as_ref().map(cheapest),
        "trade": bands.map.as_ref().map(|m| trade(m, bands)),
    })
}

fn part(part: &Part, bands: &Bands) -> Value {
    json!({
        "present": {
            "yield": part.present,
            "verdict": part.verdict,
            "binding": part.binding.as_ref().map(binding),
        },
        "widest": part.rows.iter().map(|r| row(r, bands)).collect::<Vec<_>>(),
    })
}

fn row(row: &Row, bands: &Bands) -> Value {
    let parameter = match row.subject {
        Subject::Together => None,
        Subject::Alone(parameter) => Some(parameter.key()),
    };
    let outcome = match (row.edge.widest(), row.edge.failing()) {
        (None, _) => "even a band of zero fails",
        (Some(_), None) => "the widest band allowed passes",
        (Some(_), Some(_)) => "found",
    };
    let violations = row.edge.violations().into_iter();
    let points = row.edge.points.iter().map(|p| {
        json!({
            "at": p.at,
            "yield": bands.rule.interval(&p.judged).ok(),
            "meets": p.meets,
            "binding": p.judged.binding.as_ref().map(binding),
        })
    });
    json!({
        "subject": parameter.unwrap_or("together"),
        "unit": if parameter.is_some() { "band" } else { "factor" },
        "present": row.present,
        "outcome": outcome,
        "found": row.edge.widest().map(|p| p.at),
        "fails_from": row.edge.failing().map(|p| p.at),
        "widest_allowed": row.edge.top,
        "proven": row.proven().map(|look| look.at),
        "margin": row.margin(),
        "binding": row.binding().map(binding),
        "looks": looks(&row.looks, "at"),
        "points": points.collect::<Vec<_>>(),
        "trend_violations": violations.map(|(a, b)| [a, b]).collect::<Vec<_>>(),
    })
}

fn looks(looks: &[Look], place: &str) -> Value {
    let each = looks.iter().map(|look| {
        json!({
            place: look.at,
            "seed": look.seed,
            "yield": look.good,
            "meets": look.meets,
            "binding": look.binding.as_ref().map(binding),
        })
    });
    each.collect()
}

fn cheapest(found: &Cheapest) -> Value {
    let ending = match found.ending {
        Ending::Proven => "proven",
        Ending::NoneMeets => "even the narrowest bands fail",
        Ending::NotProven => "not proven",
        Ending::TooManyTrials => "too many trials",
    };
    let chosen = |n: usize| found.choice.as_ref().map(|choice| choice.bands[n]);
    let parts = found.priced.iter().enumerate().map(|(n, part)| {
        let offers = part.offers.iter().map(|o| json!({ "band": o.band, "price": o.price }));
        json!({
            "parameter": part.parameter.key(),
            "parts_a_converter": part.count,
            "offers": offers.collect::<Vec<_>>(),
            "band": chosen(n),
        })
    });
    json!({
        "ending": ending,
        "parts": parts.collect::<Vec<_>>(),
        "price_a_converter": found.choice.as_ref().map(|choice| choice.price),
        "looks": looks(&found.looks, "price"),
        "sets": found.sets,
        "trials": found.trials,
        "trend_violations": found.violations,
    })
}

fn trade(map: &Map, bands: &Bands) -> Value {
    let yields = |value: fn(&Yield) -> f64| -> Value {
        let rows = map.cells.chunks(map.axes[0].len());
        rows.map(|row| row.iter().map(|cell| value(&cell.good)).collect::<Vec<_>>()).collect()
    };
    json!({
        "parameters": map.pair.map(Parameter::key),
        "present": map.present,
        "bands": map.axes,
        "rows": "one a band of the second parameter; within it one number a band of the first",
        "seed": bands.settings.seed,
        "confidence": bands.rule.shared,
        "estimate": yields(|y| y.estimate),
        "lower": yields(|y| y.lower),
        "upper": yields(|y| y.upper),
        "boundary": map.boundary,
        "trend_violations": map.violations,
    })
}
