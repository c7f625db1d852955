//! What every brief says of its scenario: operating points, limits, the nominal phase, the caution.

use itertools::Itertools;
use maud::{Markup, html};

use super::brief::Finding;
use super::parts::{headings, number};
use crate::converter::{Arrangement, AssumedDrift, Parameter, RatedPart, Rating, Stress};
use crate::report::format::blocks::fitted_in_the_middle;
use crate::report::format::names;
use crate::report::format::numbers::{counted, four, quantity, without_needless_zeros as trimmed};
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;

/// A number as typed, at most four digits.
pub(in crate::report) fn as_typed(value: f64) -> String {
    trimmed(&four(value))
}

/// By what was judged: the operating points, at most so many in a table. All limits stand at the foot.
pub(in crate::report) fn judged_at(scenario: &Scenario, most: usize) -> Finding {
    let heading = match scenario.operating_points.len() {
        1 => "Judged at one operating point".to_owned(),
        2 => "Judged at both operating points".to_owned(),
        points => format!("Judged at all {points} operating points"),
    };
    Finding { heading, remark: None, inside: operating_points(scenario, most) }
}

/// The name of an operating point in a table of a brief: a long one would need many lines.
pub(in crate::report) fn point_name(name: &str) -> String {
    const LETTERS: usize = 30;
    fitted_in_the_middle(name, LETTERS)
}

/// The operating points in a table, at most so many.
fn operating_points(scenario: &Scenario, most: usize) -> Markup {
    let all = &scenario.operating_points;
    html! {
        table class="points" {
            thead { (headings(1, &["point", "in, V", "out, V", "out, A"])) }
            tbody {
                @for point in all.iter().take(most) {
                    tr {
                        th scope="row" { (point_name(&point.name)) }
                        (number(as_typed(point.input_voltage.0)))
                        (number(as_typed(point.output_voltage.0)))
                        (number(as_typed(point.output_current.0)))
                    }
                }
            }
        }
        @if all.len() > most { p class="remark" { (counted((all.len() - most) as u64, "operating point")) " more." } }
    }
}

/// All limits in a line: those of the chain, then what differs in paralleled bridges.
pub(in crate::report) fn limits(scenario: &Scenario) -> Markup {
    let [chain, paralleled] = Arrangement::ALL.map(|own| {
        let demands = Demand::all(&scenario.limits, own);
        let told = demands.iter().filter_map(|own| short_limit(scenario, &demands, own));
        told.collect::<Vec<_>>()
    });
    let different: Vec<&String> = paralleled.iter().filter(|own| !chain.contains(own)).collect();
    let joined =
        |all: &[&String]| all.iter().map(|own| own.as_str()).collect::<Vec<_>>().join("; ");
    html! {
        b { "Limits: " }
        @if chain.is_empty() { "none" } @else { (joined(&chain.iter().collect::<Vec<_>>())) }
        "; "
        (frequencies(scenario))
        @if !different.is_empty() { ". Paralleled: " (joined(&different)) }
        ". Sharing error: " (names::sharing(scenario.limits.sharing)) "."
    }
}

/// A limit in few words: once where all flying capacitors have the same.
fn short_limit(scenario: &Scenario, all: &[Demand], own: &Demand) -> Option<String> {
    let value = names::limit_value(own)?;
    let alone = format!("{} {value}", names::limit(own).short);
    let Some((k, stress)) = of_flying(own) else { return Some(alone) };
    let values: Vec<_> = all
        .iter()
        .filter(|other| of_flying(other).is_some_and(|it| it.1 == stress))
        .map(names::limit_value)
        .collect();
    let flying = scenario.phases - 1;
    if flying < 2 || values.len() < flying || !values.iter().all_equal() {
        return Some(alone);
    }
    (k == 0).then(|| format!("flying capacitors: {} {value}", names::stress(stress).short))
}

/// The flying capacitor and the stress that are limited, if it is one.
fn of_flying(own: &Demand) -> Option<(usize, Stress)> {
    match own.figure {
        Some(Figure::Rating(Rating { part: RatedPart::FlyingCapacitor(k), stress })) => {
            Some((k, stress))
        }
        _ => None,
    }
}

/// The frequencies of the switches, where no other limit is asked for.
pub(in crate::report) fn frequency_band(scenario: &Scenario) -> Markup {
    html! { b { "Switching frequency: " } (frequencies(scenario)) "." }
}

fn frequencies(scenario: &Scenario) -> String {
    let ends = [scenario.frequency.minimum, scenario.frequency.maximum];
    ends.map(|end| trimmed(&quantity(end))).join(" to ")
}

/// The nominal values in one line.
pub(in crate::report) fn nominal_phase(scenario: &Scenario) -> Markup {
    let value = |parameter: Parameter| {
        format!(
            "{} {}",
            names::parameter(parameter).short,
            trimmed(&names::nominal(scenario, parameter))
        )
    };
    let mut told: Vec<String> =
        names::told(scenario).filter(|own| own.index_of_losses().is_none()).map(value).collect();
    told.push(format!("resonance {}", trimmed(&quantity(scenario.nominal.series_resonance()))));
    if let AssumedDrift::Stated(drift) = scenario.drift
        && (drift.0 > 0.0 || scenario.may_drift())
    {
        told.push(format!("assumed drift {}", trimmed(&quantity(drift))));
    }
    html! { b { "Nominal phase: " } (told.join(" · ")) }
}

/// What nobody may overlook; `further` links to what the page says of it.
pub(in crate::report) fn caution(further: &Markup) -> Markup {
    html! {
        b { "High voltage can kill; a wrong rating can burn." }
        " These are results of a model; standards, local codes and qualified engineers decide. " (further)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three phases without limits of parts; the data in it are invented.
    const SHELF: &str = include_str!("../../../../tests/data/shelf.toml");

    fn told(limits_of_parts: &str) -> String {
        let text = format!("{SHELF}\n{limits_of_parts}");
        let told = limits(&Scenario::parse("shelf.toml", &text).unwrap()).into_string();
        told.replace('\u{a0}', " ")
    }

    #[test]
    fn equal_limits_of_all_flying_capacitors_are_told_once() {
        let limit = |place: &str, ripple: &str| {
            format!(
                "[[limits.part]]\npart = \"flying_capacitor\"\n{place}ripple_voltage = \"{ripple}\"\n"
            )
        };
        let all = told(&limit("", "25 V"));
        assert!(all.contains("; flying capacitors: ripple 25.00 V;"), "{all}");
        let first = limit("after_phase = 1\n", "25 V");
        let one = told(&first);
        assert!(one.contains("; flying capacitor 1: ripple 25.00 V;"), "{one}");
        let each = told(&format!("{first}{}", limit("after_phase = 2\n", "30 V")));
        assert!(each.contains("1: ripple 25.00 V; flying capacitor 2: ripple 30.00 V;"), "{each}");
    }
}
