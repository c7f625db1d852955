//! Switch currents, voltages, stress, loss and frequency of an operating point.

use maud::{Markup, html};

use super::parts::Point;
use super::sharing::{beyond, ranges};
use crate::converter::{AssumedDrift, Drive, Leg};
use crate::report::format::figures::{self, Mark, Name, RangeRow};
use crate::report::format::page::parts::{
    Read, arrangement, arrangement_names, cells, figure, folded_table, headings, number,
};
use crate::report::format::{names, numbers, part_loads};
use crate::scenario::Scenario;
use crate::study::common::figures::{Figure, Side, Switch, switches};
use crate::study::run::Run;

const UPPER: [Read; 3] = [|s| s.p50, |s| s.p99, |s| Some(s.max)];
pub(super) const SPREAD: [Read; 5] =
    [|s| Some(s.min), |s| s.p05, |s| s.p50, |s| s.p95, |s| Some(s.max)];

fn legs(point: &Point) -> usize {
    point.chain().baseline.case.point.drive.legs()
}

/// RMS currents of the driven leg's switches as ranges. The return leg of a full bridge mirrors it;
/// that of a half bridge holds its low sides on, and these are shown too.
pub(super) fn currents(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let legs = legs(point);
    let rows: Vec<RangeRow> = switches(scenario.phases, legs)
        .filter(|switch| switch.leg == Leg::Driven || legs == 1)
        .map(|switch| RangeRow {
            label: names::switch(switch, 1),
            ranges: ranges(run, point, Figure::SwitchRms(switch)),
        })
        .collect();
    let name = Name {
        id: format!("{}-switches", point.id()),
        title: format!("RMS current of the switches at {}", point.name()),
        description: "Range over the samples for every switch shown, in both arrangements; the table that follows holds the numbers of all legs."
            .into(),
    };
    let limit = scenario
        .limits
        .chain
        .rms_current
        .map(|limit| Mark { value: limit.0, label: format!("chain limit {}\u{a0}A", limit.0) });
    let drawing = figures::ranges(
        &name,
        "RMS current of a switch, A",
        &rows,
        &arrangement_names(),
        limit.as_ref(),
    );
    let caption = html! {
        @if legs > 1 {
            b { "RMS current of the switches, driven leg." } " The return leg mirrors it."
        } @else {
            b { "RMS current of the switches." }
            " The return leg holds its low sides on all the time."
        }
        " Paralleled: rescaled tanks on the whole input voltage, so 1/" (scenario.phases)
        " of the tank current."
        (beyond(point))
    };
    figure(&drawing, &caption)
}

/// What the switch currents show, in words.
pub(super) fn remark(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let low = |phase| {
        let switch = Switch { phase, leg: Leg::Driven, side: Side::Low };
        run.key_figures(point.cases[0].0, Figure::SwitchRms(switch))
    };
    let last = scenario.phases - 1;
    let median = |phase| low(phase).and_then(|s| s.p50);
    let inner = (0..last).map(median).reduce(|a, b| Some(a?.max(b?))).flatten();
    html! {
        @if let (Some(inner), Some(outer)) = (inner, median(last)) {
            p {
                "In the chain, a low switch other than the last carries the difference of two \
                 neighbouring phases: almost nothing while they are equal. "
                @if part_loads::is_falling_first(scenario) {
                    "With falling phases first it also carries its whole tank current in the dead times. "
                }
                "Its median is at most " (numbers::three(inner)) "\u{a0}A RMS here. The last low \
                 switch carries its phase alone: " (numbers::three(outer)) "\u{a0}A."
            }
        }
    }
}

/// Currents of every switch as numbers.
pub(super) fn current_table(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let head = html! {
        tr {
            th scope="col" rowspan="3" class="text" { "switch" }
            th scope="colgroup" colspan="6" { "balanced chain" }
            th scope="colgroup" colspan="6" { "paralleled, rescaled" }
        }
        tr { @for _ in 0..2 { @for kind in ["RMS", "peak"] {
            th scope="colgroup" colspan="3" { (kind) }
        } } }
        (headings(0, &["p50", "p99", "max"].repeat(4)))
    };
    let rows = html! {
        @for switch in switches(scenario.phases, legs(point)) {
            tr {
                th scope="row" { (names::switch(switch, legs(point))) }
                @for (n, _) in point.cases {
                    (cells(run.key_figures(n, Figure::SwitchRms(switch)), &UPPER, numbers::three))
                    (cells(run.key_figures(n, Figure::SwitchPeak(switch)), &UPPER, numbers::three))
                }
            }
        }
        tr class="limited" {
            th scope="row" { "worst switch" }
            @for (n, _) in point.cases {
                (cells(run.key_figures(n, Figure::WorstSwitchRms), &UPPER, numbers::three))
                (cells(run.key_figures(n, Figure::WorstSwitchPeak), &UPPER, numbers::three))
            }
        }
    };
    folded_table("Switch currents in ampere, numbered by phase", &head, &rows)
}

/// Flying-capacitor and blocking voltages.
pub(super) fn voltages(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let asked = &point.chain().baseline.case.point;
    let (input, phases) = (asked.input_voltage.0, scenario.phases);
    let head = headings(1, &["voltage", "ideal", "min", "p05", "p50", "p95", "max"]);
    let ideal = |share: f64| number(numbers::four(input * share / phases as f64));
    let rows = html! {
        @for k in 0..phases - 1 {
            tr {
                th scope="row" { "flying capacitor " (k + 1) }
                (ideal((phases - 1 - k) as f64))
                (cells(run.key_figures(point.cases[0].0, Figure::FlyingVoltage(k)), &SPREAD, numbers::four))
            }
        }
        tr {
            th scope="row" { "worst blocking, balanced chain" }
            (ideal(if phases > 2 { 2.0 } else { (phases - 1) as f64 }))
            (cells(run.key_figures(point.cases[0].0, Figure::WorstBlocking), &SPREAD, numbers::four))
        }
        tr {
            th scope="row" { "worst blocking, paralleled" }
            (ideal(phases as f64))
            (cells(run.key_figures(point.cases[1].0, Figure::WorstBlocking), &SPREAD, numbers::four))
        }
    };
    html! {
        (folded_table("Voltages in volt; flying capacitors half-way through their ripple", &head, &rows))
        p class="remark" { (split(scenario, asked.drive)) }
    }
}

fn split(scenario: &Scenario, drive: Drive) -> Markup {
    html! {
        "The chain’s blocking voltage includes the ripple"
        @match drive {
            Drive::HalfBridge => {
                ". In half-bridge drive charge balance holds every capacitor voltage: no drift is \
                 added."
            }
            Drive::FullBridge => {
                " and the drift of each flying-capacitor voltage, "
                @match scenario.drift {
                    AssumedDrift::Stated(drift) => { "assumed as " (numbers::quantity(drift)) }
                    AssumedDrift::FromCauses(_) => { "from its causes" }
                }
                ", in the worst combination (" a href="#validity" { "why" } ")."
            }
        }
    }
}

/// Stress, loss and frequency of both arrangements.
pub(super) fn totals(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    type Write = fn(f64) -> String;
    let loss = format!("loss {}, W", names::loss(scenario));
    let rows: [(&str, Figure, Write); 4] = [
        ("switch stress Σ V·I, rescaled basis, kVA", Figure::Stress, numbers::kilo),
        (
            "switch stress Σ V·I, equal phase current, kVA",
            Figure::StressAtEqualCurrent,
            numbers::kilo,
        ),
        (&loss, Figure::Loss, numbers::four),
        ("switching frequency, kHz", Figure::SwitchingFrequency, numbers::kilo),
    ];
    let head = html! {
        tr {
            th scope="col" rowspan="2" class="text" { "figure" }
            th scope="col" rowspan="2" class="text" { "arrangement" }
            th scope="colgroup" colspan="5" { "over the samples" }
            th scope="col" rowspan="2" { "chain to paralleled" br; small { "of the medians" } }
        }
        (headings(0, &["min", "p05", "p50", "p95", "max"]))
    };
    let body = html! {
        @for (name, figure, write) in rows {
            @let [(chain, _), (paralleled, _)] = point.cases;
            @let ratio = run.chain_over_paralleled(chain, paralleled, figure);
            @for (place, (n, case)) in point.cases.iter().enumerate() {
                tr {
                    @if place == 0 { th scope="rowgroup" rowspan="2" class="wraps" { (name) } }
                    (arrangement(case.arrangement()))
                    (cells(run.key_figures(*n, figure), &SPREAD, write))
                    @if place == 0 {
                        td class="n" rowspan="2" { (ratio.map_or_else(|| numbers::NONE.into(), numbers::three)) }
                    }
                }
            }
        }
    };
    html! {
        (folded_table("Stress, loss and frequency", &head, &body))
        p class="remark" {
            "Switch stress is the sum over all switches of blocking voltage times peak current, \
             without the assumed drift. On the rescaled basis the paralleled reference carries a \
             fraction of the current at the whole input voltage. At equal phase current its \
             switches carry the currents of the chain’s tanks at the whole input voltage."
        }
    }
}
