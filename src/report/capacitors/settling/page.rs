//! Settling on the page.

use maud::{Markup, html};

use super::{figures, words};
use crate::report::format::numbers::{
    NONE, counted, given_percent, quantile, quantity, without_needless_zeros,
};
use crate::report::format::page::brief::{Finding, sentences};
use crate::report::format::page::parts::{headings, number, table};
use crate::scenario::Scenario;
use crate::statistics::KeyFigures;
use crate::study::capacitors::settling::{NominalSettling, PointSettling, SettlingStudy};
use crate::study::common::settling_figures::SETTLED;
use crate::units::Second;

/// How fast the flying capacitors settle.
pub(in crate::report::capacitors) fn section(scenario: &Scenario, study: &SettlingStudy) -> Markup {
    html! {
        p class="lead" { b { (words::answer(study)) } }
        ul { @for finding in words::findings(scenario, study) { li { (finding) } } }
        div class="figures" {
            @for (n, point) in study.points.iter().enumerate() { (figures::track(n, point)) }
        }
        (at_points(study))
        (shapes(study))
        (over_load(study))
        @if study.points.iter().any(is_neutral) { (neutral(scenario)) }
    }
}

/// How soon, for the brief.
pub(in crate::report::capacitors) fn finding(
    scenario: &Scenario,
    study: &SettlingStudy,
) -> Finding {
    Finding {
        heading: words::heading(study),
        remark: Some(format!(
            "Settling, drift and start are those of the scenario’s {}.",
            without_needless_zeros(&quantity(scenario.flying_capacitance))
        )),
        inside: html! {
            (sentences(&words::findings(scenario, study)))
        },
    }
}

fn is_neutral(point: &PointSettling) -> bool {
    point.nominal.as_ref().is_some_and(|nominal| nominal.settling.neutral_modes > 0)
}

fn at_points(study: &SettlingStudy) -> Markup {
    let names = [
        "operating point",
        "decay per period, %",
        "periods to 1 %",
        "time to 1 %",
        "one swing, periods",
        "modes that never decay",
        "samples p50, periods",
        "samples p95, periods",
        "samples p95, time",
    ];
    let rows = html! {
        @for point in &study.points {
            tr {
                th scope="row" { (point.operating_point) }
                (nominal(point))
                (samples(point))
            }
        }
    };
    html! {
        (table("Slowest mode that decays, by operating point", &headings(1, &names), &rows))
        p class="remark" {
            "Nominal converter, then " (counted(study.samples, "sample")) ". The decay, 1 − |λ|, is the share \
             that the mode loses in one switching period. Samples that are out of range or not solved count \
             above all values."
        }
    }
}

fn nominal(point: &PointSettling) -> Markup {
    let Some(NominalSettling { settling, .. }) = &point.nominal else {
        return html! {
            (number(words::unsettled(point)))
            @for _ in 0..4 { (number(NONE)) }
        };
    };
    let slowest = &settling.slowest;
    let periods = slowest.periods_until(SETTLED);
    html! {
        (number(words::decay(slowest)))
        (number(words::periods(slowest)))
        (number(time(periods * settling.period.0)))
        (number(words::oscillation(slowest)))
        (number(settling.neutral_modes.to_string()))
    }
}

fn time(seconds: f64) -> String {
    if seconds.is_finite() { quantity(Second(seconds)) } else { NONE.to_owned() }
}

fn samples(point: &PointSettling) -> Markup {
    let own = point.samples.as_ref();
    let periods = own.and_then(|own| own.periods);
    let times = own.and_then(|own| own.time);
    let cell = |figures: Option<KeyFigures>, read: fn(&KeyFigures) -> Option<f64>, write| {
        figures.map_or_else(|| NONE.to_owned(), |own| quantile(read(&own), write))
    };
    html! {
        (number(cell(periods, |own| own.p50, words::whole)))
        (number(cell(periods, |own| own.p95, words::whole)))
        (number(cell(times, |own| own.p95, time)))
    }
}

/// By how much the slowest mode moves each node.
fn shapes(study: &SettlingStudy) -> Markup {
    let solved = || study.points.iter().filter_map(|point| Some((point, point.nominal.as_ref()?)));
    let nodes = solved().map(|(_, own)| own.settling.slowest.shape.len()).max().unwrap_or(0);
    if nodes < 2 {
        return html! {};
    }
    let names: Vec<String> = (1..=nodes).map(|node| format!("node {node}")).collect();
    let names: Vec<&str> =
        std::iter::once("operating point").chain(names.iter().map(String::as_str)).collect();
    let rows = html! {
        @for (point, own) in solved() {
            tr {
                th scope="row" { (point.operating_point) }
                @for share in &own.settling.slowest.shape { (number(words::share(share))) }
            }
        }
    };
    html! {
        (table("Shape of the slowest mode", &headings(1, &names), &rows))
        p class="remark" {
            "Voltage of each node over that of the node that moves most; ∠ how far ahead it is, 180° is \
             opposite. Of both legs the mean."
        }
    }
}

fn over_load(study: &SettlingStudy) -> Markup {
    let shares: Vec<f64> = study
        .points
        .first()
        .map_or_else(Vec::new, |own| own.over_load.iter().map(|l| l.share).collect());
    let names: Vec<String> = shares.iter().map(|share| given_percent(*share)).collect();
    let names: Vec<&str> =
        std::iter::once("operating point").chain(names.iter().map(String::as_str)).collect();
    let rows = html! {
        @for point in &study.points {
            tr {
                th scope="row" { (point.operating_point) }
                @for load in &point.over_load {
                    (number(load.settled.as_ref().map_or_else(|| NONE.to_owned(), |own| {
                        words::periods(&own.slowest)
                    })))
                }
            }
        }
    };
    html! { (table("Periods until the slowest mode is below 1 %, over the load", &headings(1, &names), &rows)) }
}

/// The modes that never decay.
fn neutral(scenario: &Scenario) -> Markup {
    let rows = html! {
        @for node in 1..scenario.phases {
            tr {
                th scope="row" { (node) }
                (number("+δ"))
                (number("−δ"))
                (number(format!("−δ in phase {node}, +δ in phase {}", node + 1)))
            }
        }
    };
    let names = ["node", "flying capacitor, driven leg", "return leg", "resonant capacitors"];
    html! {
        (table("Neutral modes of full-bridge drive: eigenvalue exactly 1", &headings(1, &names), &rows))
        p class="remark" {
            "Each can be shifted by any δ: no tank sees a change, so nothing brings it back. Blocking \
             voltages change all the same. The section on drift tells how far causes take them."
        }
    }
}

/// How settling is found.
pub(in crate::report::capacitors) fn methods() -> Markup {
    html! {
        dt { "Settling" }
        dd {
            "Eigenvalues λ of the map of the whole circuit over one switching period (a Floquet map). It is taken \
             about the exact steady state, with the shifts of the rectifier events. Decay per period: \
             1 − |λ|. Periods to 1 %: ln 0.01 / ln |λ|. It holds for small imbalances at a given \
             frequency, input and output voltage. Near resonance it is about 4 Lr/R as a time constant."
        }
    }
}
