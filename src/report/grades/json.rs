//! `summary.json` of a comparison of grades.

use serde_json::{Map, Value, json};

use super::words;
use crate::converter::{Arrangement, ConverterSize};
use crate::report::format::json::binding;
use crate::report::format::summary::SCHEMA;
use crate::scenario::{Grade, Grades, Scenario};
use crate::study::allocation::{PlannedConverter, REPEATS, StockAllocation};
use crate::study::grades::{Ranking, SetComparison, SetResult, Stage, SteppedSet};

/// The summary of a comparison of grades; amounts of money are in `currency`, differences are those
/// of a set less the recommended one.
pub(super) fn summary(
    scenario: &Scenario,
    grades: &Grades,
    ranking: &Ranking,
    stocked: Option<&StockAllocation>,
) -> Value {
    let size = ranking.size;
    let target = scenario.limits.yield_target;
    let verdict = ranking.verdict(target);
    let sets = |sets: &[SetResult]| sets.iter().map(|s| set(grades, s)).collect::<Vec<_>>();
    let standing = |set: &SetResult| {
        json!({
            "words": words::set(grades, set),
            "stream": set.source.stream,
            "verdict": set.good.verdict(target),
        })
    };
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "verb": "grades",
        "scenario": scenario.source_name,
        "title": scenario.title,
        "partial": ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial),
        "seed": ranking.settings.seed,
        "stream": ranking.verification.stream,
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
        "all_sets_miss_the_target": ranking.all_miss(target),
        "charge_balancing": ranking.balancing(target).map(|(worth, _)| worth),
        "interrupted_at": ranking.interrupted.map(Stage::name),
        "recommended": set(grades, ranking.recommended()),
        "recommended_on_fresh_samples": !ranking.shortlist.is_empty(),
        "ties": ranking.ties().into_iter().map(standing).collect::<Vec<_>>(),
        "cheaper_but_passed_over":
            ranking.passed_over().into_iter().map(standing).collect::<Vec<_>>(),
        "results": sets(&ranking.sets),
        "results_without_balancing": sets(&ranking.paralleled),
        "short_list": sets(&ranking.shortlist),
        "without_balancing": ranking.without_balancing.as_ref().map(|s| set(grades, s)),
        "steps": ranking.steps.iter().map(|s| step(grades, s)).collect::<Vec<_>>(),
        "pairing": stocked.map(allocation),
    })
}

fn offers(grades: &Grades, size: ConverterSize) -> Value {
    let each = grades.offers.iter().map(|offer| {
        json!({
            "parameter": offer.parameter.key(),
            "parts_in_a_converter": offer.parameter.parts(size, Arrangement::Chain),
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
    let chosen = set.candidate.chosen(grades);
    let chosen = chosen.map(|(offer, grade)| (offer.parameter.key().into(), json!(grade.name)));
    json!({
        "grades": chosen.collect::<Map<_, _>>(),
        "words": words::set(grades, set),
        "arrangement": set.candidate.arrangement.name(),
        "stream": set.source.stream,
        "yield": set.good,
        "binding": set.binding.as_ref().map(binding),
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

fn comparison(comparison: &SetComparison) -> Value {
    json!({
        "yield_difference": comparison.good,
        "cost_difference": comparison.cost,
        "tie": comparison.is_tie(),
    })
}

fn step(grades: &Grades, stepped: &SteppedSet) -> Value {
    let SteppedSet { step, result, stated } = stepped;
    json!({
        "parameter": grades.offers[step.offer].parameter.key(),
        "grade": grades.offers[step.offer].grades[step.grade].name,
        "among_the_combinations": stated,
        "step": if step.dearer { "dearer" } else { "cheaper" },
        "result": set(grades, result),
    })
}

fn allocation(StockAllocation { stock, allocation }: &StockAllocation) -> Value {
    let build = |(n, build): (usize, &PlannedConverter)| {
        let serials = build.tanks.iter().map(|t| stock.tanks[*t].serial.as_str());
        let capacitors = build.capacitors.iter().map(|c| stock.capacitors[*c].serial.as_str());
        json!({
            "converter": n + 1,
            "tanks": serials.collect::<Vec<_>>(),
            "flying_capacitors": capacitors.collect::<Vec<_>>(),
            "pass": build.evaluation.passes,
            "sharing_error": build.evaluation.sharing_error,
            "missed": build.evaluation.missed.as_ref().map(|missed| {
                json!({ "operating_point": missed.operating_point, "demand": missed.demand.name() })
            }),
        })
    };
    json!({
        "tanks_file": stock.tanks_file,
        "capacitors_file": stock.capacitors_file,
        "tanks": stock.tanks.len(),
        "flying_capacitors": stock.capacitors.len(),
        "result": allocation.as_ref().map(|p| json!({
            "converters": p.converters,
            "partial": p.partial,
            "passing_allotted": p.allocated,
            "allotted_is_proven_most": p.proven,
            "passing_sorted_by_resonance": p.sorted,
            "passing_at_random": {
                "mean": p.at_random.mean, "least": p.at_random.least,
                "most": p.at_random.most, "repeats": REPEATS,
            },
            "spare_tanks":
                p.spare_tanks.iter().map(|n| &stock.tanks[*n].serial).collect::<Vec<_>>(),
            "spare_flying_capacitors":
                p.spare_capacitors.iter().map(|n| &stock.capacitors[*n].serial).collect::<Vec<_>>(),
            "list": p.build_list.iter().enumerate().map(build).collect::<Vec<_>>(),
        })),
    })
}
