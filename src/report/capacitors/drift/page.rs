//! The drift on the page.

use maud::{Markup, html};

use super::words;
use crate::converter::{BalancingResistor, NodeDrift, NodeValues};
use crate::report::format::figures::{BarPart, Name, StackedBar, stacked};
use crate::report::format::numbers::{NONE, quantity, three};
use crate::report::format::page::brief::{Finding, sentences};
use crate::report::format::page::parts::{headings, number, table};
use crate::scenario::Scenario;
use crate::study::capacitors::drift::{DriftStudy, PointDrift, SwitchMargin};
use crate::units::Volt;

/// How far the flying-capacitor voltages drift.
pub(in crate::report::capacitors) fn section(scenario: &Scenario, study: &DriftStudy) -> Markup {
    html! {
        p class="lead" { b { (words::answer(study)) } }
        ul { @for finding in words::findings(scenario, study) { li { (finding) } } }
        @if study.points.iter().any(|point| point.causes.is_some()) {
            div class="figures" {
                @for (n, point) in study.points.iter().enumerate() { (causes(n, point)) }
            }
        }
        @for point in study.points.iter().filter(|own| tells_more_than_one(own)) { (nodes(point)) }
        @if let Some(point) = worst(study) { (switches(point)) }
        @if !study.points.is_empty() {
            p class="caution" {
                "A switch that drift loads beyond its rating fails short, and the chain with it. Choose \
                 ratings for the drift, or hold it; measure it on hardware."
            }
        }
    }
}

/// How far, for the brief.
pub(in crate::report::capacitors) fn finding(scenario: &Scenario, study: &DriftStudy) -> Finding {
    let mut told = vec![words::answer(study)];
    told.extend(words::findings(scenario, study));
    Finding { heading: words::heading(study), remark: None, inside: sentences(&told) }
}

/// Whether the nodes of an operating point have more to tell than the one voltage that the scenario states.
fn tells_more_than_one(point: &PointDrift) -> bool {
    let has_resistors =
        point.balancing.resistors().is_some_and(|own| own.nodes.iter().any(Option::is_some));
    point.causes.is_some() || has_resistors
}

/// The operating point with the switch that blocks most.
fn worst(study: &DriftStudy) -> Option<&PointDrift> {
    let highest = |point: &PointDrift| point.worst().map_or(0.0, |own| own.with_drift.0);
    study.points.iter().reduce(|a, b| if highest(b) > highest(a) { b } else { a })
}

fn causes(n: usize, point: &PointDrift) -> Markup {
    let Some(nodes) = &point.causes else { return html! {} };
    let part =
        |name: &'static str, volt: Volt| BarPart { name, value: volt.0, text: quantity(volt) };
    let bar = |(node, own): (usize, &NodeDrift)| StackedBar {
        label: format!("node {}", node + 1),
        parts: vec![
            part("start", own.start),
            part("leakage", own.leakage),
            part("timing", own.timing),
        ],
        most: own.corner.0,
    };
    let bars: Vec<StackedBar> = nodes.iter().enumerate().map(bar).collect();
    let name = Name {
        id: format!("drift-{n}"),
        title: format!("Drift of each node by cause, {}", point.operating_point),
        description:
            "What start, leakage and timing add to the drift of each node, up to where body \
                      diodes stop it."
                .into(),
    };
    html! {
        figure {
            (stacked(&name, "drift, V", &bars))
            figcaption {
                b { (point.operating_point) "." } " Drift of each node by cause, at worst. Tick: where body \
                 diodes stop it."
            }
        }
    }
}

fn nodes(point: &PointDrift) -> Markup {
    let of_all = point.balancing.resistors().is_some_and(|own| own.by_blocking_limit);
    let names = [
        "node",
        "start, V",
        "leakage, V",
        "timing, V",
        "diodes stop it at, V",
        "drift, V",
        if of_all { "resistor that holds all" } else { "resistor that holds leakage" },
        "it dissipates",
        "decays within, R·C",
    ];
    let resistor = |node: usize| point.balancing.resistors().and_then(|own| own.nodes[node]);
    let rows = html! {
        @for (node, drift) in point.nodes.iter().enumerate() {
            tr {
                th scope="row" { (node + 1) }
                (of_causes(point.causes.as_ref(), node))
                (number(three(drift.0)))
                (of_resistor(resistor(node)))
            }
        }
    };
    let caption = format!("Drift of each node: {}", point.operating_point);
    table(&caption, &headings(1, &names), &rows)
}

fn of_causes(causes: Option<&NodeValues<NodeDrift>>, node: usize) -> Markup {
    let own = causes.map(|nodes| nodes[node]);
    let cell = |of: fn(&NodeDrift) -> f64| {
        number(own.as_ref().map_or_else(|| NONE.to_owned(), |own| three(of(own))))
    };
    html! {
        (cell(|own| own.start.0))
        (cell(|own| own.leakage.0))
        (cell(|own| own.timing.0))
        (cell(|own| own.corner.0))
    }
}

fn of_resistor(own: Option<BalancingResistor>) -> Markup {
    let own = own.filter(|own| own.resistance.0.is_finite());
    let cell = |of: fn(&BalancingResistor) -> String| {
        number(own.as_ref().map_or_else(|| NONE.to_owned(), of))
    };
    html! {
        (cell(|own| quantity(own.resistance)))
        (cell(|own| quantity(own.dissipation)))
        (cell(|own| quantity(own.time_constant)))
    }
}

fn switches(point: &PointDrift) -> Markup {
    let names = ["switch", "ideal, V", "without drift, V", "with drift, V", "over ideal"];
    let worst = point.worst().map(|own| own.switch);
    let row = |own: &SwitchMargin| {
        html! {
            tr class=[(Some(own.switch) == worst).then_some("limited")] {
                th scope="row" { (words::name(own)) }
                (number(three(own.normal.0)))
                (number(three(own.without_drift.0)))
                (number(three(own.with_drift.0)))
                (number(three(own.with_drift.0 / own.normal.0)))
            }
        }
    };
    let rows = html! { @for own in &point.switches { (row(own)) } };
    let caption = format!("What the switches of either leg block: {}", point.operating_point);
    table(&caption, &headings(1, &names), &rows)
}

/// How the drift is found.
pub(in crate::report::capacitors) fn methods() -> Markup {
    html! {
        dt { "Drift" }
        dd {
            "Each node k moves by itself: (C + C′) dδ/dt is what leaves its capacitors besides the charge \
             of the phases. Start: U(k) times half of the relative difference of what charges. Leakage: \
             where it balances, or how far it comes within the operating time. The leakiest part is in one \
             leg, the tightest in the other. Timing: f ioff Δ per node, of one phase, and up to twice that \
             at the last one; skews of several phases add. The sum is a worst case. Body \
             diodes stop it where neighbouring nodes differ by Vin/N. Dead time with switch capacitance can \
             add or remove a restoring force: that is unknown here."
        }
    }
}
