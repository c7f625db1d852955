//! `summary.json` of a comparison of grades.

use serde_json::{Map, Value, json};

use super::words;
use crate::report::json::SCHEMA;
use crate::scenario::{Grade, Grades, Scenario};
use crate::study::grades::{Comparison, Ranking, Role, SetResult, Verified, parts_in_converter};
use crate::study::pairing::{Build, REPEATS, Stocked};

/// The summary of a comparison of grades; amounts of money are in `currency`, differences are those
/// of a set less the recommended one.
pub fn grades_summary(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&Stocked>,
) -> Value {
    let size = (scenario.phases, ranking.legs);
    let sets = ranking.sets.iter().enumerate();
    let target = scenario.limits.yield_target;
    let verdict = ranking.verdict(target);
    let overturned = ranking.overturned_by(target);
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "grades",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "partial": ranking.partial || stocked.is_some_and(Stocked::is_partial),
        "seed": ranking.settings.seed,
        "fresh_seed": ranking.fresh_seed,
        "samples": ranking.settings.samples,
        "solver": ranking.settings.method.name(),
        "yield_target": scenario.limits.yield_target,
        "confidence": scenario.limits.confidence,
        "currency": grades.currency,
        "quantity": grades.quantity,
        "failed_converter": grades.failed.name(),
        "failure_cost": grades.failure_cost,
        "other_cost": grades.other_cost,
        "offers": offers(grades, size),
        "verdict": verdict,
        "all_sets_miss_the_target": ranking.all_miss,
        "recommended": set(grades, ranking.recommended()),
        "recommended_on_fresh_samples": !ranking.verified.is_empty(),
        "surely_cheaper_on_fresh_samples":
            overturned.iter().map(|s| words::set(grades, &s.set)).collect::<Vec<_>>(),
        "paralleled_yield": ranking.paralleled,
        "results": sets.map(|(n, s)| numbered(n, set(grades, s))).collect::<Vec<_>>(),
        "verified": ranking.verified.iter().map(|v| verified(grades, v)).collect::<Vec<_>>(),
        "pairing": stocked.map(pairing),
    })
}

fn numbered(n: usize, mut set: Value) -> Value {
    if let Value::Object(fields) = &mut set {
        fields.insert("set".into(), json!(n + 1));
    }
    set
}

fn offers(grades: &Grades, (phases, legs): (usize, usize)) -> Value {
    let each = grades.offers.iter().map(|offer| {
        json!({
            "parameter": offer.parameter.key(),
            "parts_in_a_converter": parts_in_converter(offer.parameter, phases, legs),
            "grades": offer.grades.iter().map(grade).collect::<Vec<_>>(),
        })
    });
    Value::Array(each.collect())
}

fn grade(grade: &Grade) -> Value {
    json!({
        "name": grade.name,
        "shape": grade.tolerance.shape.name(),
        "band": grade.tolerance.band,
        "lot_share": grade.tolerance.lot_share,
        "price": grade.price,
        "lead_time_weeks": grade.lead_time,
        "minimum_quantity": grade.minimum_quantity,
    })
}

fn set(grades: &Grades, set: &SetResult) -> Value {
    let chosen = grades.offers.iter().zip(&set.set).map(|(offer, choice)| {
        (offer.parameter.key().to_owned(), json!(offer.grades[*choice].name))
    });
    let binding = set.binding.as_ref().map(|b| {
        json!({
            "operating_point": b.operating_point, "demand": b.demand.name(), "missed": b.missed,
        })
    });
    json!({
        "grades": chosen.collect::<Map<_, _>>(),
        "words": words::set(grades, &set.set),
        "yield": set.good,
        "binding": binding,
        "parts_cost": set.parts,
        "surplus_cost": set.surplus,
        "cost_per_good_converter": {
            "estimate": set.cost.estimate, "lower": set.cost.lower, "upper": set.cost.upper,
        },
        "lead_time_weeks": set.lead_time,
        "on_front": set.on_front,
        "against_recommended": set.against.as_ref().map(comparison),
    })
}

fn comparison(comparison: &Comparison) -> Value {
    json!({
        "yield_difference": comparison.good,
        "cost_difference": comparison.cost,
        "tie": comparison.is_tie(),
    })
}

fn verified(grades: &Grades, verified: &Verified) -> Value {
    let role = |role: &Role| match role {
        Role::Recommended => json!("recommended"),
        Role::Rival => json!("rival"),
        Role::CheapestOfAll => json!("cheapest of all, misses the target"),
        Role::Step(step) => json!({
            "step": if step.up { "dearer" } else { "cheaper" },
            "parameter": grades.offers[step.offer].parameter.key(),
            "grade": grades.offers[step.offer].grades[step.grade].name,
        }),
    };
    let mut value = set(grades, &verified.result);
    if let Value::Object(fields) = &mut value {
        fields.remove("on_front");
        fields.insert("roles".into(), verified.roles.iter().map(role).collect());
    }
    value
}

fn pairing(Stocked { stock, pairing }: &Stocked) -> Value {
    let build = |(n, build): (usize, &Build)| {
        let serials = build.tanks.iter().map(|t| stock.tanks[*t].serial.as_str());
        let capacitors = build.capacitors.iter().map(|c| stock.capacitors[*c].serial.as_str());
        json!({
            "converter": n + 1,
            "tanks": serials.collect::<Vec<_>>(),
            "flying_capacitors": capacitors.collect::<Vec<_>>(),
            "pass": build.judged.passes,
            "sharing_error": build.judged.sharing_error,
            "missed": build.judged.missed.as_ref().map(|(point, demand)| {
                json!({ "operating_point": point, "demand": demand.name() })
            }),
        })
    };
    json!({
        "tanks_file": stock.tanks_file,
        "capacitors_file": stock.capacitors_file,
        "tanks": stock.tanks.len(),
        "flying_capacitors": stock.capacitors.len(),
        "result": pairing.as_ref().map(|p| json!({
            "converters": p.converters,
            "partial": p.partial,
            "passing_allotted": p.allotted,
            "passing_sorted_by_resonance": p.sorted,
            "passing_as_they_come": {
                "mean": p.as_they_come.mean, "least": p.as_they_come.least,
                "most": p.as_they_come.most, "repeats": REPEATS,
            },
            "spare_tanks":
                p.spare_tanks.iter().map(|n| &stock.tanks[*n].serial).collect::<Vec<_>>(),
            "spare_flying_capacitors":
                p.spare_capacitors.iter().map(|n| &stock.capacitors[*n].serial).collect::<Vec<_>>(),
            "list": p.list.iter().enumerate().map(build).collect::<Vec<_>>(),
        })),
    })
}
