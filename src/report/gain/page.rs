//! The page of `gain`.

use maud::{Markup, html};

use super::curves;
use crate::converter::{Drive, voltage_gain};
use crate::report::format::command;
use crate::report::format::configuration::page as choice;
use crate::report::format::configuration::terminal::preference;
use crate::report::format::page::parts::{headings, number, remarked, section, table};
use crate::report::format::page::prose;
use crate::report::format::page::{document, generator};
use crate::report::format::words;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::curve::{POINTS, VoltageRange};
use crate::study::gain::{Coverage, Gain, LoadCurve, PointGain};
use crate::units::Volt;

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
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("curves’ input", words::quantity(gain.input_voltage)),
        ("100 % load", words::quantity(gain.rated_current)),
        ("solver", words::method(gain.method).to_owned()),
    ];
    let inside = html! {
        nav aria-label="Contents" {
            ol { @for (id, heading) in SECTIONS { li { a href=(format!("#{id}")) { (heading) } } } }
        }
        main {
            @for (id, heading) in SECTIONS { (section(id, heading, &inside(id, scenario, gain))) }
        }
    };
    document("Voltage gain", &scenario.title, &fields, &inside)
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
        @if gain.method == Method::Averaged {
            p class="notice" {
                "A quick look: at light load and far from resonance the averaged solver is off. \
                 Take decisions from the exact one."
            }
        }
        (curves::ranges(gain))
        (range_table(scenario, gain))
        (hole_table(gain))
    }
}

/// What it comes to, in a sentence or two.
fn answer(gain: &Gain) -> Markup {
    let missed: Vec<&PointGain> =
        gain.points.iter().filter(|p| p.choice.chosen.is_none()).collect();
    let holes = gain.coverage.iter().filter(|c| !c.holes.is_empty()).count();
    html! {
        p class="lead" {
            @if missed.is_empty() {
                b { "Every operating point is reached" } " in a configuration that it may take. "
            } @else {
                b { (missed.len()) " of " (gain.points.len()) " operating points not reached" }
                " in any configuration that they may take: "
                (missed.iter().map(|p| p.request.name.as_str()).collect::<Vec<_>>().join(", "))
                ". "
            }
            @if gain.span.is_single() {
                "The output voltage asked for, " (words::quantity(gain.span.lowest)) ", is reached \
                 by some configuration at " (gain.loads.len() - holes)
            } @else {
                "All voltages between the lowest and the highest asked for, "
                (words::quantity(gain.span.lowest)) " and "
                (words::quantity(gain.span.highest))
                ", are reached by some configuration at " (gain.loads.len() - holes)
            }
            " of " (gain.loads.len()) " loads."
        }
    }
}

/// A range with its unit.
fn range(range: &VoltageRange) -> String {
    if range.is_single() {
        return words::quantity(range.lowest);
    }
    format!("{} to {}", words::quantity(range.lowest), words::quantity(range.highest))
}

fn range_table(scenario: &Scenario, gain: &Gain) -> Markup {
    let names =
        ["drive", "rectifier", "load", "covers, inductive side", "peak", "gain M", "at, kHz"];
    let rows = html! {
        @for found in &gain.configurations {
            @for (n, c) in found.curves.iter().enumerate() {
                tr {
                    @if n == 0 {
                        @let rows = found.curves.len();
                        th scope="rowgroup" rowspan=(rows) {
                            (found.configuration.drive.name().replace('-', " "))
                        }
                        th scope="rowgroup" rowspan=(rows) {
                            (words::rectifier(found.configuration.rectifier))
                        }
                    }
                    (remarked(
                        &words::quantity(gain.current(c.load)),
                        &words::given_percent(gain.loads[c.load]),
                    ))
                    (range_cells(scenario, gain, c))
                }
            }
        }
    };
    let caption = "Voltages between the band’s upper end and the peak of every curve, and the peak";
    table(caption, &headings(2, &names), &rows)
}

fn range_cells(scenario: &Scenario, gain: &Gain, c: &LoadCurve) -> Markup {
    let m = |v: Volt| {
        voltage_gain(scenario.nominal.turns_ratio, v, gain.input_voltage, scenario.phases)
    };
    html! {
        @match c.curve.range() {
            Some(r) => (number(range(&r))),
            None => (number(words::NONE)),
        }
        @match c.curve.peak {
            Some(peak) => {
                (number(words::quantity(peak.voltage)))
                (number(words::three(m(peak.voltage))))
                @if peak.at_end {
                    (remarked(&words::kilo(peak.frequency.0), "end of the band"))
                } @else { (number(words::kilo(peak.frequency.0))) }
            }
            None => { @for _ in 0..3 { (number(words::NONE)) } }
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
        let name = |n: usize| words::configuration(gain.configurations[n].configuration);
        let of = |(a, b, common): &(usize, usize, VoltageRange)| {
            format!("{} and {}: {}", name(*a), name(*b), range(common))
        };
        c.overlaps.iter().map(of).collect()
    };
    let rows = html! {
        @for c in &gain.coverage {
            tr {
                th scope="row" {
                    (words::quantity(gain.current(c.load))) br;
                    small { (words::given_percent(gain.loads[c.load])) }
                }
                (list(c.holes.iter().map(range).collect()))
                (list(overlaps(c)))
            }
        }
    };
    let caption = format!("Holes in {}, and where two configurations overlap", range(&gain.span));
    table(&caption, &headings(3, &["load", "holes", "overlaps"]), &rows)
}

fn points(scenario: &Scenario, gain: &Gain) -> Markup {
    let rows = html! {
        @for (number, point) in gain.points.iter().enumerate() { (point_rows(number, point)) }
    };
    html! {
        (table("Every operating point in every configuration", &headings(4, &choice::COLUMNS), &rows))
        p class="remark" {
            "Each operating point at its own input voltage, solved in both arrangements: a \
             configuration works where both reach it. Where the configuration is left open, "
            (preference(scenario.prefer)) " decides. Out of range: no frequency in the band \
             delivers the output. Figures are those of the nominal chain."
        }
    }
}

fn point_rows(place: usize, point: &PointGain) -> Markup {
    let (asked, found) = (&point.request, &point.choice);
    html! {
        @for (n, candidate) in found.candidates.iter().enumerate() {
            tr class=[(found.chosen == Some(n)).then_some("limited")] {
                @if n == 0 {
                    th scope="rowgroup" class="wraps" rowspan=(found.candidates.len()) {
                        (place + 1) ". " (asked.name) br;
                        small {
                            (words::quantity(asked.input_voltage)) " to "
                            (words::quantity(asked.output_voltage)) ", "
                            (words::quantity(asked.output_current)) br;
                            "gain " (words::three(point.gain))
                            @if found.chosen.is_none() { br; b { "not covered" } }
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
    let per_unit = gain.input_voltage.0 / (scenario.phases as f64 * scenario.nominal.turns_ratio);
    html! {
        dl {
            dt { "Converter" }
            dd {
                "The nominal parts in the balanced chain, flying capacitors included; nothing is \
                 sampled. Parts with tolerances reach less and lie elsewhere: " code { "run" }
                " counts those that miss an operating point."
            }
            dt { "Gain" }
            dd {
                "Turns ratio × output voltage over the phase’s share of the input: a full bridge \
                 with a full-bridge rectifier stands at 1 at series resonance, loss and diode drop \
                 apart. On the curves’ input a gain of 1 is "
                (words::quantity(Volt(per_unit))) "."
            }
            dt { "Load" }
            dd {
                "A curve holds the output current constant, as a share of the largest one that the \
                 operating points ask for: an operating point of that current lies on it. Zero volt \
                 at the lower end of a range means that the tanks do not let that current through \
                 at the highest frequency, not even into a shorted output."
            }
            dt { "Resolution" }
            dd {
                (POINTS) " frequencies in equal ratios from "
                (words::quantity(scenario.frequency.minimum)) " to "
                (words::quantity(scenario.frequency.maximum)) "; the peak is narrowed down between \
                 its neighbours, operating points are solved by themselves. The voltages at each \
                 frequency hold to a millionth of the current; "
                (words::count(gain.not_solved() as u64)) " points were not solved."
            }
            dt { "Beyond the peak" }
            dd {
                "Below the peak’s frequency the voltage falls as the frequency falls and the \
                 switches may turn on hard. The tool regulates at the highest frequency that \
                 delivers the output, never there; such points are drawn thin and marked in "
                code { "gain.csv" } ". A high peak at light load is bounded by what the model leaves \
                 out, magnetic saturation first of all: take it as high, not as a figure."
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
            "Beside this page stand " code { "summary.json" } " (every figure) and "
            code { "gain.csv" } " (a row a configuration, load and frequency)."
        }
    }
}
