//! The figures of `gain`.

use maud::{Markup, html};

use super::words;
use crate::converter::{Configuration, FrequencyBand};
use crate::report::format::figures::{self, Dot, Ends, GainLine, LoadBars, Mark, Name};
use crate::report::format::page::brief::both_widths;
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::study::common::curve::GainPoint;
use crate::study::gain::{ConfigurationGain, Gain, LoadCurve};
use crate::units::Volt;

/// Kinds of stroke that tell loads apart; further loads begin anew.
const STROKES: usize = 4;

/// Highest gain that a figure shows, of that at resonance, if no operating point lies above it:
/// without load a peak may be a hundred times as high.
const SHOWN: f64 = 2.0;
/// Room that a label takes, of the highest voltage asked for.
const LABEL_ROOM: f64 = 0.04;

fn stroke(load: usize) -> String {
    format!("load-{}", load % STROKES + 1)
}

/// The voltages that every configuration covers, load by load.
pub(super) fn ranges(gain: &Gain) -> Markup {
    html! {
        figure class="alone" {
            (covered(gain, "ranges", 420.0))
            figcaption {
                b { "Voltages covered on the inductive side." } " Configurations by drive, then \
                rectifier. Dotted: output voltages of the operating points, by number. Pale with an \
                outline: gaps, voltages between the lowest and the highest asked for that no \
                configuration reaches at that load. A bar that ends with the axis goes on beyond it; a \
                missing bar begins beyond it."
            }
        }
    }
}

/// The same for the brief, in both widths.
pub(super) fn brief_ranges(gain: &Gain) -> Markup {
    both_widths(&covered(gain, "brief-ranges", 640.0), &covered(gain, "brief-ranges-narrow", 330.0))
}

fn covered(gain: &Gain, id: &str, width: f64) -> Markup {
    let groups: Vec<LoadBars> = gain
        .coverage
        .iter()
        .map(|coverage| {
            let rows = coverage.ranges.iter().zip(&gain.configurations).map(|(range, found)| {
                let ends = range.map(|r| (r.lowest.0, r.highest.0));
                (names::configuration(found.configuration), ends)
            });
            LoadBars {
                label: format!(
                    "{} ({})",
                    numbers::quantity(gain.current(coverage.load)),
                    numbers::given_percent(gain.loads[coverage.load])
                ),
                rows: rows.collect(),
                gaps: coverage.gaps.iter().map(|h| (h.lowest.0, h.highest.0)).collect(),
            }
        })
        .collect();
    let name = Name {
        id: id.to_owned(),
        title: "Output voltages that every configuration covers".into(),
        description: "A bar for each configuration and load, from the band’s upper end to the \
                      peak. Lines mark the operating points’ voltages. The table that follows holds \
                      the numbers."
            .into(),
    };
    figures::bars(&name, &groups, &marks(gain), words::highest_shown(gain).0, width)
}

/// The output voltages asked for, with the numbers of their operating points; where they stand too
/// close for two labels, the lowest has them all.
fn marks(gain: &Gain) -> Vec<Mark> {
    let mut asked: Vec<(f64, usize)> =
        gain.points.iter().zip(1..).map(|(p, n)| (p.request.output_voltage.0, n)).collect();
    asked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let close = LABEL_ROOM * gain.span.highest.0;
    let mut marks: Vec<Mark> = Vec::new();
    let mut labelled = 0;
    for (value, number) in asked {
        let near = marks.get(labelled).is_some_and(|first: &Mark| value - first.value < close);
        if near {
            marks[labelled].label = format!("{}, {number}", marks[labelled].label);
        } else {
            labelled = marks.len();
        }
        if marks.last().is_none_or(|last| last.value < value) {
            let label = if near { String::new() } else { number.to_string() };
            marks.push(Mark { value, label });
        }
    }
    marks
}

/// A figure a configuration.
pub(super) fn curves(scenario: &Scenario, gain: &Gain) -> Markup {
    html! {
        div class="figures" {
            @for (n, found) in gain.configurations.iter().enumerate() {
                (figure(scenario, gain, n, found))
            }
        }
    }
}

fn figure(scenario: &Scenario, gain: &Gain, index: usize, found: &ConfigurationGain) -> Markup {
    let m = |v: Volt| gain.gain_at(v);
    let lines: Vec<GainLine> = found.curves.iter().map(|c| line(gain, c)).collect();
    let dots = dots(gain, index);
    let peaks = found.curves.iter().filter_map(|c| Some(m(c.curve.peak?.voltage)));
    let peak = peaks.fold(0.0, f64::max);
    let shown = peak.min(SHOWN * at_resonance(found.configuration));
    let highest = dots.iter().map(|d| d.at.1).fold(shown, f64::max);
    let configuration = names::configuration(found.configuration);
    let name = Name {
        id: format!("gain-{}", index + 1),
        title: format!("Voltage gain over frequency: {configuration}"),
        description: "A curve a load with its name, and the operating points that work in this configuration."
            .into(),
    };
    let FrequencyBand { minimum, maximum } = scenario.frequency;
    let band = Ends { from: minimum.0 / 1e3, to: maximum.0 / 1e3 };
    html! {
        figure {
            (figures::gains(&name, band, if highest > 0.0 { highest } else { 1.0 }, &lines, &dots))
            figcaption {
                b { (names::capital(names::drive(found.configuration.drive).long)) " drive, "
                    (names::rectifier(found.configuration.rectifier).long) " rectifier." }
                @for sentence in marks_told(&lines, &dots) { " " (sentence) }
                @if peak > highest {
                    " Cut off: the highest peak has a gain of " (numbers::three(peak)) "."
                }
            }
        }
    }
}

/// What is not named beside itself: strokes and marks of two kinds.
fn marks_told(lines: &[GainLine], dots: &[Dot]) -> Vec<&'static str> {
    let [taken, open] = [true, false].map(|taken| dots.iter().any(|dot| dot.taken == taken));
    let mut told = vec![match [taken, open] {
        [true, true] => {
            "Dots: operating points, by number, that take this configuration. Rings: those that could."
        }
        [true, false] => "Dots: operating points, by number, that take this configuration.",
        [false, true] => "Rings: operating points, by number, that could take this configuration.",
        [false, false] => "No operating point works here.",
    }];
    if lines.iter().any(|line| !line.beyond.is_empty()) {
        told.push("Thin: beyond the peak.");
    }
    told
}

/// A curve in unbroken pieces, on either side of the peak, which belongs to both.
fn line(gain: &Gain, own: &LoadCurve) -> GainLine {
    let LoadCurve { load, curve } = own;
    let at = |volt: Volt| gain.gain_at(volt);
    let peak = curve.peak.map(|p| (p.frequency.0 / 1e3, at(p.voltage)));
    let pieces = |beyond: bool| -> Vec<Vec<(f64, f64)>> {
        let points: Vec<&GainPoint> =
            curve.points.iter().filter(|p| curve.beyond_peak(p.frequency) == beyond).collect();
        let solved =
            points.chunk_by(|a, b| a.reached.voltage().is_some() == b.reached.voltage().is_some());
        let pieces = solved.map(|run| {
            let place = |p: &&GainPoint| Some((p.frequency.0 / 1e3, at(p.reached.voltage()?)));
            run.iter().filter_map(place).collect::<Vec<_>>()
        });
        pieces.filter(|piece| !piece.is_empty()).collect()
    };
    let (mut inductive, mut beyond) = (pieces(false), pieces(true));
    if let (Some(peak), Some(first)) = (peak, inductive.first_mut()) {
        first.insert(0, peak);
    }
    if let (Some(peak), Some(last)) = (peak, beyond.last_mut()) {
        last.push(peak);
    }
    let name = format!(
        "{}, {}",
        numbers::quantity(gain.current(*load)),
        numbers::given_percent(gain.loads[*load])
    );
    GainLine { class: stroke(*load), name, inductive, beyond }
}

/// Gain of a configuration at series resonance, loss and diode drop apart.
fn at_resonance(configuration: Configuration) -> f64 {
    let winding = configuration.rectifier.clamp_voltage(1.0, Volt(1.0), Volt(0.0));
    configuration.drive.amplitude() / winding
}

/// The operating points that work in a configuration.
fn dots(gain: &Gain, configuration: usize) -> Vec<Dot> {
    let dot = |(n, point): (usize, &crate::study::gain::PointGain)| {
        let figures = point.choice.candidates[configuration].nominal_figures()?;
        Some(Dot {
            at: (figures.switching_frequency.0 / 1e3, point.gain),
            label: (n + 1).to_string(),
            taken: point.choice.chosen == Some(configuration),
        })
    };
    gain.points.iter().enumerate().filter_map(dot).collect()
}
