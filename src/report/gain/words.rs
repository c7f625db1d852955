//! What terminal and page both say of the voltage gain.

use crate::report::format::conditions;
use crate::report::format::numbers::{count, counted, quantity};
use crate::scenario::{NominalLosses, Scenario};
use crate::study::common::curve::VoltageRange;
use crate::study::gain::{Gain, PointGain};
use crate::units::Volt;

/// How far the scale of the voltages covered goes, over the highest voltage asked for.
const BEYOND: f64 = 1.5;

/// Whether the operating points are reached.
pub(super) fn reached(gain: &Gain) -> String {
    let missed: Vec<&PointGain> =
        gain.points.iter().filter(|point| point.choice.chosen.is_none()).collect();
    if missed.is_empty() {
        "Every operating point is reached in a configuration that it may take.".to_owned()
    } else {
        let names: Vec<String> = missed.iter().map(|point| with_age(point)).collect();
        let (missed, all) = (missed.len() as u64, gain.points.len() as u64);
        let (are, they) = if missed == 1 { ("is", "it") } else { ("are", "they") };
        format!(
            "{} of {} {are} not reached in any configuration that {they} may take: {}.",
            count(missed),
            counted(all, "operating point"),
            names.join(", ")
        )
    }
}

/// An operating point that is not reached, and whether that is so at the end of life alone.
fn with_age(point: &PointGain) -> String {
    let candidates = &point.choice.candidates;
    let is_aged = candidates.iter().any(|own| own.allowed && own.fails_with_age());
    let age = if is_aged { " (at the end of life)" } else { "" };
    format!("{}{age}", point.request.name)
}

/// At how many loads the output voltages asked for are reached.
pub(super) fn voltages(gain: &Gain) -> String {
    let without_gap = gain.coverage.iter().filter(|coverage| coverage.gaps.is_empty()).count();
    let loads = format!("at {without_gap} of {}", counted(gain.loads.len() as u64, "load"));
    if gain.span.is_single() {
        format!("Some configuration reaches {} {loads}.", quantity(gain.span.lowest))
    } else {
        format!("The configurations together reach all of {} {loads}.", range(&gain.span))
    }
}

/// At which temperatures the curves hold; none where temperatures change nothing.
pub(super) fn temperatures(scenario: &Scenario) -> Option<String> {
    let is_heated = |own: &NominalLosses| own.heat_switches() || own.heat_rectifiers();
    let warmed = match scenario.losses.filter(is_heated) {
        Some(_) => {
            ", warmed by their losses. Near a peak a warm converter may miss what its curve reaches."
        }
        None => ".",
    };
    let ages = if scenario.service_life.is_some() { ", new and at the end of life" } else { "" };
    conditions::is_stated(scenario).then(|| {
        format!(
            "Curves hold for parts that are new, at {}. Operating points are solved at the temperatures \
             of their parts{ages}{warmed}",
            quantity(scenario.reference_temperature)
        )
    })
}

/// A range with its unit.
pub(super) fn range(range: &VoltageRange) -> String {
    if range.is_single() {
        return quantity(range.lowest);
    }
    format!("{} to {}", quantity(range.lowest), quantity(range.highest))
}

/// Where the scale of the voltages covered ends: without load a peak may be a hundred times as high as what
/// is asked for.
pub(super) fn highest_shown(gain: &Gain) -> Volt {
    let curves = gain.configurations.iter().flat_map(|own| &own.curves);
    let ends = curves.filter_map(|own| Some(own.curve.range()?.highest.0));
    let asked = gain.span.highest.0;
    Volt(ends.fold(asked, f64::max).min(BEYOND * asked))
}
