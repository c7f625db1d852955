//! What terminal and page both say of the drift.

use super::super::undelivered::undelivered;
use crate::converter::{AssumedDrift, NodeDrift};
use crate::report::format::numbers::{down, quantity, three, without_needless_zeros};
use crate::scenario::Scenario;
use crate::study::capacitors::drift::{
    Balancing, DriftResistors, DriftStudy, PointDrift, SwitchMargin,
};
use crate::study::common::figures::Side;
use crate::units::{Ohm, Volt};

/// The operating point and switch that the drift loads most.
fn worst(study: &DriftStudy) -> Option<(&PointDrift, &SwitchMargin)> {
    let all = study.points.iter().filter_map(|point| Some((point, point.worst()?)));
    all.reduce(|a, b| if b.1.with_drift > a.1.with_drift { b } else { a })
}

/// The farthest that a voltage drifts at any operating point.
fn farthest(study: &DriftStudy) -> Volt {
    let nodes = study.points.iter().flat_map(|point| &point.nodes);
    Volt(nodes.map(|v| v.0).fold(0.0, f64::max))
}

/// The resistors of the operating point that asks for the smallest; of one that none holds, if there is one.
fn smallest_resistors(study: &DriftStudy) -> Option<&DriftResistors> {
    let ohms = |own: &&DriftResistors| own.equal.map_or(0.0, |equal| equal.resistance.0);
    let all = study.points.iter().filter_map(|point| point.balancing.resistors());
    all.min_by(|a, b| ohms(a).total_cmp(&ohms(b)))
}

/// Whether the scenario tells nothing of a drift.
fn is_untold(study: &DriftStudy) -> bool {
    matches!(study.assumed, AssumedDrift::Stated(drift) if drift.0 == 0.0)
}

/// How far, in a few words.
pub(super) fn heading(study: &DriftStudy) -> String {
    match worst(study) {
        Some(_) if is_untold(study) => "No drift of their voltages is stated".to_owned(),
        Some(_) => {
            let most = quantity(farthest(study));
            format!("Their voltages drift by up to {}", without_needless_zeros(&most))
        }
        None if !study.unsolved.is_empty() => {
            "How far their voltages drift is not known".to_owned()
        }
        None => "Their voltages do not drift".to_owned(),
    }
}

/// How far the voltages drift, and what that means.
pub(super) fn answer(study: &DriftStudy) -> String {
    let untold = undelivered(&study.unsolved);
    let Some((point, switch)) = worst(study) else {
        if let Some(untold) = untold {
            return format!("How far the flying-capacitor voltages drift is not known. {untold}");
        }
        return "No operating point is driven as full bridge: charge balance holds every \
                flying-capacitor voltage."
            .to_owned();
    };
    if is_untold(study) {
        return format!(
            "The scenario states no drift of the flying-capacitor voltages. Without any, {} blocks up to \
             {} at “{}”.",
            name(switch),
            quantity(switch.without_drift),
            point.operating_point
        );
    }
    let source = match study.assumed {
        AssumedDrift::Stated(_) => "as the scenario states",
        AssumedDrift::FromCauses(_) => "from its causes",
    };
    format!(
        "The flying-capacitor voltages drift by up to {}, {source}. Then {} blocks up to {} at “{}”, {}.",
        quantity(farthest(study)),
        name(switch),
        quantity(switch.with_drift),
        point.operating_point,
        if switch.with_drift > switch.without_drift {
            format!("without drift {}", quantity(switch.without_drift))
        } else {
            "as without drift".to_owned()
        }
    )
}

/// A switch: "high switch 2".
pub(super) fn name(own: &SwitchMargin) -> String {
    let side = match own.switch.side {
        Side::High => "high",
        Side::Low => "low",
    };
    format!("{side} switch {}", own.switch.phase + 1)
}

/// What follows the answer.
pub(super) fn findings(scenario: &Scenario, study: &DriftStudy) -> Vec<String> {
    let mut findings = Vec::new();
    let Some((_, switch)) = worst(study) else { return findings };
    findings.extend(undelivered(&study.unsolved));
    let limit = scenario.limits.chain.blocking_voltage;
    if let Some(limit) = limit.filter(|own| study.unsolved.is_empty() || switch.with_drift > *own) {
        let verb = if switch.with_drift > limit { "exceeds" } else { "keeps" };
        findings
            .push(format!("That {verb} the limit on the blocking voltage, {}.", quantity(limit)));
    }
    let causes = study.points.iter().find_map(|point| point.causes.as_ref());
    match causes {
        None if is_untold(study) => findings
            .push("A table [converter.chain.drift] derives the drift from its causes.".to_owned()),
        None => findings.push(
            "One stated voltage stands for all causes. A table [converter.chain.drift] derives it."
                .to_owned(),
        ),
        Some(_) => {
            findings.extend(largest_cause(study));
            findings.extend(corner(study));
        }
    }
    let currents = study.points.iter().filter_map(|own| own.timing_current);
    let largest = currents.reduce(|a, b| if b.0 > a.0 { b } else { a });
    if let Some(current) = largest.filter(|own| own.0 > 0.0) {
        findings.push(format!(
            "Gates that turn off apart act as a current of up to {} into a node, with the turn-off currents of \
             the nominal converter. Only resistors that carry as much hold that: keep the skew small, or measure \
             and trim it.",
            quantity(current)
        ));
    }
    findings.extend(balancing(study));
    findings
}

/// What the nodes of all operating points drift by.
fn nodes(study: &DriftStudy) -> impl Iterator<Item = &NodeDrift> {
    study.points.iter().flat_map(|point| point.causes.iter().flatten())
}

fn largest_cause(study: &DriftStudy) -> Option<String> {
    let sum = |of: fn(&NodeDrift) -> f64| nodes(study).map(of).fold(0.0, f64::max);
    let causes = [
        ("the start of the chain", sum(|own| own.start.0)),
        ("leakage", sum(|own| own.leakage.0)),
        ("the timing of the gates", sum(|own| own.timing.0)),
    ];
    let (cause, drift) = causes.into_iter().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    (drift > 0.0).then(|| {
        format!("The largest part comes from {cause}: up to {} V at one node.", three(drift))
    })
}

/// The most nodes of an operating point that end where diodes stop them.
fn corner(study: &DriftStudy) -> Option<String> {
    let at_corner = |own: &&NodeDrift| own.total() >= own.corner;
    let count = |point: &PointDrift| point.causes.iter().flatten().filter(at_corner).count();
    let (count, point) =
        study.points.iter().map(|own| (count(own), own)).max_by_key(|own| own.0)?;
    (count > 0).then(|| {
        format!(
            "{count} of {} nodes drift until body diodes stop them: neighbouring nodes then differ by \
             Vin/N, and a low switch blocks twice its normal voltage.",
            point.nodes.len()
        )
    })
}

/// What holds the drift: of the operating point that is hardest to hold.
fn balancing(study: &DriftStudy) -> Option<String> {
    let missed = study.points.iter().find(|own| matches!(own.balancing, Balancing::Missed));
    if let Some(point) = missed {
        return Some(format!(
            "At “{}” a switch misses the limit on the blocking voltage without any drift: no balancing resistor helps.",
            point.operating_point
        ));
    }
    let not_needed = || {
        let mut points = study.points.iter();
        points.any(|own| matches!(own.balancing, Balancing::NotNeeded)).then(|| {
            "The limit on the blocking voltage asks for no balancing resistors: without any, no switch exceeds it."
                .to_owned()
        })
    };
    smallest_resistors(study).map(resistors).or_else(not_needed)
}

/// What resistors do.
fn resistors(own: &DriftResistors) -> String {
    let highest = quantity(own.highest);
    let (drift, origin, reason) = if own.by_blocking_limit {
        let reason =
            "the start of the chain and the resistors’ own tolerance move some node farther";
        ("the drift by all causes", " (what the blocking limit leaves nominal parts)", reason)
    } else {
        ("the drift by leakage", "", "their own tolerance moves some node farther")
    };
    match own.equal {
        Some(equal) if equal.resistance.0.is_infinite() => {
            format!(
                "With any balancing resistors, and without, {drift} keeps below {highest}{origin}."
            )
        }
        Some(equal) => format!(
            "Balancing resistors of {} across every flying capacitor hold {drift} below {highest}{origin}. \
             Together they dissipate {}.",
            quantity(Ohm(down(equal.resistance.0, 4))),
            quantity(equal.dissipation)
        ),
        None => format!("No balancing resistors hold {drift} below {highest}{origin}: {reason}."),
    }
}
