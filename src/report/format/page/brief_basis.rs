//! What every brief says of its scenario: operating points, limits, the nominal phase, the caution.

use maud::{Markup, html};

use super::brief::Finding;
use super::parts::{headings, number};
use crate::converter::{Arrangement, AssumedDrift, Parameter};
use crate::report::format::blocks::fitted_in_the_middle;
use crate::report::format::names;
use crate::report::format::numbers::{counted, four, quantity, without_needless_zeros as trimmed};
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;

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
        demands
            .iter()
            .filter_map(|d| Some(format!("{} {}", names::limit(d).short, names::limit_value(d)?)))
            .collect::<Vec<_>>()
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
