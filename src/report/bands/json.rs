//! The summary of a search for bands.

use serde_json::{Value, json};

use super::words;
use crate::converter::{Arrangement, Parameter};
use crate::report::format::json::{binding, limits, tolerances};
use crate::report::format::numbers::plain;
use crate::report::format::summary::SCHEMA;
use crate::scenario::{Scenario, Shape, Tolerance, Tolerances};
use crate::statistics::{Verdict, Yield};
use crate::study::bands::cheapest::{Cheapest, Ending, PricedSet};
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::map::TradeMap;
use crate::study::bands::verification::{SHRINK, VERIFICATION_FACTOR, VERIFICATIONS, Verification};
use crate::study::bands::{
    ArrangementBands, BandOutcome, Bands, ProposalSource, Subject, WidestBand,
};

/// The summary: every figure with its interval, and the seeds of search and proof.
pub(super) fn summary(scenario: &Scenario, bands: &Bands) -> Value {
    let parts = bands.parts.iter().map(|p| (p.arrangement.name().to_owned(), part(p, bands)));
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "bands",
        "partial": bands.is_partial(),
        "unfinished": bands.is_partial().then(|| plain(&words::unfinished(bands))),
        "scenario": scenario.source_name,
        "title": scenario.title,
        "seed": bands.settings.seed,
        "samples": bands.settings.samples,
        "look_samples": VERIFICATION_FACTOR * bands.settings.samples,
        "solver": bands.settings.method.name(),
        "trials": bands.trials,
        "looks": bands.verifications,
        "stands_on": words::start(bands),
        "limits": limits(scenario),
        "tolerances": tolerances(scenario),
        "method": {
            "search_seed": bands.settings.seed,
            "search_confidence": bands.rule.shared,
            "resolution": RESOLUTION,
            "widest": scenario.bands.widest,
            "looks_at_most": VERIFICATIONS,
            "look_confidence": bands.rule.shared,
            "shrink": SHRINK,
        },
        "decision": decision(bands),
        "confidence": {
            "error_of_each_statement": bands.error_each(),
            "statements": bands.statements(),
            "all_together": bands.confidence_together(),
        },
        "arrangements": Value::Object(parts.collect()),
        "cheapest": bands.cheapest.as_ref().map(|own| cheapest(own, bands.rule.target)),
        "trade": bands.map.as_ref().map(|m| trade(m, bands)),
    })
}

/// What the drawing may say, the proposed set first.
fn decision(bands: &Bands) -> Value {
    let chain = bands.part(Arrangement::Chain);
    let set = bands.proposal().map(|own| {
        let (source, factor) = match own.source {
            ProposalSource::Cheapest => ("cheapest set", None),
            ProposalSource::Factor(factor) => ("common factor", Some(factor)),
            ProposalSource::Only(_) => ("only band", None),
        };
        let clipped = factor.map(|at| bands.clipped(at)).unwrap_or_default();
        json!({
            "source": source,
            "factor": factor,
            "clipped": clipped.into_iter().map(Parameter::key).collect::<Vec<_>>(),
            "tolerances": set(&own.tolerances),
            "seed": own.verification.seed,
            "yield": own.verification.good,
        })
    });
    let critical = chain.and_then(ArrangementBands::critical).map(|row| {
        json!({
            "parameter": name(row.subject),
            "margin": row.margin(),
            "room_in_the_search": row.room(),
            "passing_at_present": row.passing_at_present(),
            "passing_if_exact": row.exact.successes,
            "binding": row.binding().map(binding),
        })
    });
    let together = chain.and_then(|part| part.row(Subject::Together));
    json!({
        "verdict": chain.map(|part| part.verdict),
        "margin": together.and_then(WidestBand::margin),
        "binding": together.and_then(WidestBand::binding).map(binding),
        "set": set,
        "pair": pair(bands),
        "critical": critical,
    })
}

/// The widest pair of the map where present bands were not shown to pass.
fn pair(bands: &Bands) -> Value {
    let chain = bands.part(Arrangement::Chain).filter(|part| part.verdict != Verdict::Pass);
    let map = bands.map.as_ref().filter(|_| chain.is_some());
    let pair = map.and_then(|map| Some((map, map.widest_pair()?)));
    pair.map_or(
        Value::Null,
        |(map, bands)| json!({ "parameters": map.pair.map(Parameter::key), "bands": bands }),
    )
}

fn set(all: &Tolerances) -> Value {
    let each = all.iter().map(|(p, own)| (p.key().to_owned(), tolerance(&own)));
    Value::Object(each.collect())
}

fn tolerance(own: &Tolerance) -> Value {
    let sigmas = match own.shape {
        Shape::Normal { sigmas } => Some(sigmas),
        _ => None,
    };
    json!({
        "shape": own.shape.name(), "sigmas": sigmas, "band": own.band, "lot_share": own.lot_share,
    })
}

fn name(subject: Subject) -> &'static str {
    match subject {
        Subject::Together => "together",
        Subject::Alone(parameter) => parameter.key(),
    }
}

fn part(part: &ArrangementBands, bands: &Bands) -> Value {
    json!({
        "present": {
            "seed": part.present.seed,
            "yield": part.present.good,
            "verdict": part.verdict,
            "binding": part.present.binding.as_ref().map(binding),
        },
        "widest": part.rows.iter().map(|r| row(r, bands)).collect::<Vec<_>>(),
    })
}

fn row(row: &WidestBand, bands: &Bands) -> Value {
    let outcome = match row.outcome() {
        BandOutcome::NoneMeets => "even a band of zero misses",
        BandOutcome::Open(_) => "open",
        BandOutcome::AllMeet(_) => "the widest band allowed passes",
        BandOutcome::Confirmed(_) => "found",
    };
    let violations = row.search.violations().into_iter();
    let points = row.search.points.iter().map(|p| {
        json!({
            "at": p.at,
            "yield": bands.rule.interval(&p.trial).ok(),
            "meets": p.meets,
            "binding": p.trial.binding.as_ref().map(binding),
        })
    });
    json!({
        "subject": name(row.subject),
        "unit": if row.subject == Subject::Together { "factor" } else { "band" },
        "present": row.present,
        "outcome": outcome,
        "found": row.search.widest().map(|p| p.at),
        "fails_from": row.search.failing().map(|p| p.at),
        "widest_allowed": row.search.top,
        "proven": row.confirmed().map(|verification| verification.at),
        "margin": row.margin(),
        "binding": row.binding().map(binding),
        "looks": verifications(&row.verifications, "at", bands.rule.target),
        "points": points.collect::<Vec<_>>(),
        "trend_violations": violations.map(|(a, b)| [a, b]).collect::<Vec<_>>(),
    })
}

fn verifications(verifications: &[Verification], place: &str, target: f64) -> Value {
    let each = verifications.iter().map(|verification| {
        json!({
            place: verification.at,
            "seed": verification.seed,
            "yield": verification.good,
            "meets": verification.meets,
            "result": words::outcome(verification.good.verdict(target)),
            "binding": verification.binding.as_ref().map(binding),
        })
    });
    each.collect()
}

fn cheapest(found: &Cheapest, target: f64) -> Value {
    let ending = match found.ending {
        Ending::Confirmed => "proven",
        Ending::NoneMeets if found.open == 0 => "every set misses the target",
        Ending::NoneMeets | Ending::NotConfirmed => "open",
        Ending::TooManyTrials => "too many trials",
    };
    let parts = found.catalogue.priced.iter().map(|part| {
        let offers = part.offers.iter().map(
            |o| json!({ "name": o.name, "tolerance": tolerance(&o.tolerance), "price": o.price }),
        );
        let chosen = found.chosen(part.parameter);
        json!({
            "parameter": part.parameter.key(),
            "parts_a_converter": part.count,
            "offers": offers.collect::<Vec<_>>(),
            "band": chosen.map(|offered| offered.tolerance.band),
            "name": chosen.and_then(|offered| offered.name.clone()),
        })
    });
    json!({
        "ending": ending,
        "parts": parts.collect::<Vec<_>>(),
        "price_a_converter": found.choice.as_ref().map(|choice| choice.price),
        "looks": verifications(&found.verifications, "price", target),
        "sets": found.catalogue.sets.len(),
        "left_open": found.open,
        "passed_over": found.passed_over.iter().map(choice).collect::<Vec<_>>(),
        "best": found.best.as_ref().map(|best| json!({
            "set": choice(&best.choice),
            "yield": best.good,
            "binding": best.binding.as_ref().map(binding),
        })),
        "trials": found.trials,
        "trend_violations": found.violations,
    })
}

fn choice(own: &PricedSet) -> Value {
    json!({ "price_a_converter": own.price, "tolerances": set(&own.tolerances) })
}

fn trade(map: &TradeMap, bands: &Bands) -> Value {
    let across = map.axes[0].len();
    let fates = map
        .cells
        .chunks(across)
        .map(|row| row.iter().map(|cell| words::point(cell.verdict)).collect::<Vec<_>>());
    let yields = |value: fn(&Yield) -> f64| -> Value {
        let rows = map.cells.chunks(across);
        rows.map(|row| row.iter().map(|cell| value(&cell.good)).collect::<Vec<_>>()).collect()
    };
    json!({
        "parameters": map.pair.map(Parameter::key),
        "present": map.present,
        "bands": map.axes,
        "rows": "one a band of the second parameter; within it one number a band of the first",
        "seed": map.seed,
        "confidence": bands.rule.map,
        "result": fates.collect::<Vec<_>>(),
        "estimate": yields(|y| y.estimate),
        "lower": yields(|y| y.lower),
        "upper": yields(|y| y.upper),
        "inner_boundary": map.inner,
        "outer_boundary": map.outer,
        "trend_violations": map.violations,
    })
}
