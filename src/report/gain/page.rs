//! The page of `gain`.

use maud::{Markup, html};

use super::brief;
use super::curves;
use super::words::{self, range};
use crate::converter::Drive;
use crate::report::format::command;
use crate::report::format::configuration::page as choice;
use crate::report::format::configuration::terminal::preference;
use crate::report::format::page::parts::{folded_table, headings, number, remarked, section};
use crate::report::format::page::prose;
use crate::report::format::page::{briefed_document, generator};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::study::common::curve::POINTS;
use crate::study::gain::{Coverage, Gain, LoadCurve, PointGain};

const SECTIONS: [(&str, &str); 6] = [
    ("coverage", "Coverage"),
    ("points", "Operating points"),
    ("curves", "Gain over frequency"),
    ("validity", "Assumptions and limits of validity"),
    ("cautions", "Cautions"),
    ("reproduce", "Making it again"),
];

/// The whole page: coverage, operating points, curves.
pub(super) fn page(scenario: &Scenario, gain: &Gain) -> String {
    let fields = [
        scenario.source_name.clone(),
        generator(),
        format!("{} phases", scenario.phases),
        format!("{} solver", names::method(gain.method).long),
    ];
    let inside = html! {
        @for (id, heading) in SECTIONS { (section(id, heading, &inside(id, scenario, gain))) }
    };
    briefed_document(
        "Voltage gain",
        &scenario.title,
        &fields,
        &brief::sheet(scenario, gain),
        inside,
    )
}

fn inside(id: &str, scenario: &Scenario, gain: &Gain) -> Markup {
    match id {
        "coverage" => coverage(scenario, gain),
        "points" => points(scenario, gain),
        "curves" => curves::curves(scenario, gain),
        "validity" => validity(scenario, gain),
        "cautions" => prose::cautions(),
        _ => reproduce(scenario, gain),
    }
}

fn coverage(scenario: &Scenario, gain: &Gain) -> Markup {
    html! {
        (answer(gain))
        @if let Some(sentences) = words::temperatures(scenario) { p { (sentences) } }
        (curves::ranges(gain))
        (range_table(gain))
        (hole_table(gain))
    }
}

/// Whether the operating points and the voltages between them are reached.
fn answer(gain: &Gain) -> Markup {
    html! { p class="lead" { b { (words::reached(gain)) } " " (words::voltages(gain)) } }
}

fn range_table(gain: &Gain) -> Markup {
    let names =
        ["drive", "rectifier", "load", "covers, inductive side", "peak", "gain M", "at, kHz"];
    let rows = html! {
        @for found in &gain.configurations {
            @for (n, c) in found.curves.iter().enumerate() {
                tr {
                    @if n == 0 {
                        @let rows = found.curves.len();
                        th scope="rowgroup" rowspan=(rows) {
                            (names::drive(found.configuration.drive).long)
                        }
                        th scope="rowgroup" rowspan=(rows) {
                            (names::rectifier(found.configuration.rectifier).long)
                        }
                    }
                    (remarked(
                        &numbers::quantity(gain.current(c.load)),
                        &numbers::given_percent(gain.loads[c.load]),
                    ))
                    (range_cells(gain, c))
                }
            }
        }
    };
    let caption = "Voltages from the upper end of the frequency band to the peak of every curve, and the peak";
    folded_table(caption, &headings(2, &names), &rows)
}

fn range_cells(gain: &Gain, c: &LoadCurve) -> Markup {
    html! {
        @match c.curve.range() {
            Some(r) => (number(range(&r))),
            None => (number(numbers::NONE)),
        }
        @match c.curve.peak {
            Some(peak) => {
                (number(numbers::quantity(peak.voltage)))
                (number(numbers::three(gain.gain_at(peak.voltage))))
                @if peak.at_end {
                    (remarked(&numbers::kilo(peak.frequency.0), "end of the band"))
                } @else { (number(numbers::kilo(peak.frequency.0))) }
            }
            None => { @for _ in 0..3 { (number(numbers::NONE)) } }
        }
    }
}

fn hole_table(gain: &Gain) -> Markup {
    let list = |texts: Vec<String>| {
        html! {
            td {
                @if texts.is_empty() { "none" }
                @for (n, text) in texts.iter().enumerate() { @if n > 0 { br; } (text) }
            }
        }
    };
    let overlaps = |c: &Coverage| -> Vec<String> {
        let name = |n: usize| names::configuration(gain.configurations[n].configuration);
        let overlaps = c.overlaps.iter().map(|overlap| {
            let [first, second] = overlap.configurations.map(name);
            format!("{first} and {second}: {}", range(&overlap.voltages))
        });
        overlaps.collect()
    };
    let rows = html! {
        @for c in &gain.coverage {
            tr {
                th scope="row" {
                    (numbers::quantity(gain.current(c.load))) br;
                    small { (numbers::given_percent(gain.loads[c.load])) }
                }
                (list(c.gaps.iter().map(range).collect()))
                (list(overlaps(c)))
            }
        }
    };
    let caption = format!("Gaps in {}, and where two configurations overlap", range(&gain.span));
    folded_table(&caption, &headings(3, &["load", "gaps", "overlaps"]), &rows)
}

fn points(scenario: &Scenario, gain: &Gain) -> Markup {
    let rows = html! {
        @for (number, point) in gain.points.iter().enumerate() { (point_rows(number, point)) }
    };
    html! {
        (folded_table("Every operating point in every configuration", &headings(4, &choice::COLUMNS), &rows))
        p class="remark" {
            "Each operating point is solved at its own input voltage, in both arrangements"
            @if scenario.service_life.is_some() { ", new and at the end of life" }
            ": a configuration works where all of these reach it. Where the configuration is left open, "
            (preference(scenario.prefer)) " decides. Out of range: no frequency in the band \
             delivers the output. Figures are those of the nominal chain."
        }
    }
}

fn point_rows(index: usize, point: &PointGain) -> Markup {
    let (asked, found) = (&point.request, &point.choice);
    html! {
        @for (n, candidate) in found.candidates.iter().enumerate() {
            tr class=[(found.chosen == Some(n)).then_some("limited")] {
                @if n == 0 {
                    th scope="rowgroup" class="wraps" rowspan=(found.candidates.len()) data-point=(asked.name) {
                        (index + 1) ". " (asked.name) br;
                        small {
                            (numbers::quantity(asked.input_voltage)) " to "
                            (numbers::quantity(asked.output_voltage)) ", "
                            (numbers::quantity(asked.output_current)) br;
                            "gain " (numbers::three(point.gain))
                            @if found.chosen.is_none() { br; b { "not reached" } }
                        }
                    }
                }
                (choice::configuration(candidate))
                td { (choice::result(found, n)) }
                (choice::figures(candidate))
            }
        }
    }
}

fn validity(scenario: &Scenario, gain: &Gain) -> Markup {
    let drives: Vec<Drive> = gain.configurations.iter().map(|c| c.configuration.drive).collect();
    html! {
        dl {
            dt { "Converter" }
            dd {
                "The nominal parts in the balanced chain, flying capacitors included; nothing is sampled. "
                "With tolerances the ranges shift: " code { "run" } " counts the samples \
                 that miss an operating point."
            }
            dt { "Gain" }
            dd {
                "Turns ratio × output voltage over the phase’s share of the input voltage. A full \
                 bridge with a full-bridge rectifier has a gain of 1 at series resonance, loss and \
                 diode drop left aside. On the curves’ input a gain of 1 is "
                (numbers::quantity(gain.voltage_at_unit_gain())) "."
            }
            dt { "Load" }
            dd {
                "A curve holds the output current constant, as a share of the largest one that the \
                 operating points ask for. An operating point of that current lies on it. A \
                 range that begins at zero volt: at the highest frequency the tanks do not carry \
                 that current. Not even a shorted output draws it."
            }
            dt { "Resolution" }
            dd {
                (POINTS) " frequencies in equal ratios from "
                (numbers::quantity(scenario.frequency.minimum)) " to "
                (numbers::quantity(scenario.frequency.maximum)) ". The peak is searched between its \
                 neighbours; operating points are solved by themselves. The voltage at each \
                 frequency delivers the current to one part in a million. "
                (numbers::count(gain.not_solved() as u64)) " points were not solved."
                @for unsolved in gain.unsolved() {
                    " " (numbers::count(unsolved.frequencies as u64)) " of them: "
                    (unsolved.why.reason()) "."
                }
            }
            dt { "Beyond the peak" }
            dd {
                "Below the peak’s frequency the voltage falls with the frequency, and the switches \
                 may turn on hard. The tool takes the highest frequency that delivers the output, \
                 so it never works there. Such points are drawn thin and marked in "
                code { "gain.csv" } ". Effects that the model leaves out, magnetic saturation first, \
                 limit a high peak at light load: do not use its value."
            }
        }
        (prose::model(scenario, &drives))
    }
}

fn reproduce(scenario: &Scenario, gain: &Gain) -> Markup {
    html! {
        p { "In the folder of the scenario:" }
        pre { code { (command::gain(scenario, gain.method)) } }
        p {
            "Files beside this page: " code { "summary.json" } " (every figure) and "
            code { "gain.csv" } " (one row per configuration, load and frequency)."
        }
    }
}
