//! What `gain` found, on the terminal: the answer first.

use std::fmt::Write as _;

use super::words;
use crate::report::format::blocks::{Scale, Strip};
use crate::report::format::configuration::terminal as choice;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, count, decimals, given_percent, quantity};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, quick_look};
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::scenario::Scenario;
use crate::study::common::curve::Peak;
use crate::study::gain::{Coverage, Gain};

/// Characters of the scale of voltages, loads drawn, and operating points and gaps listed.
const SCALE: u32 = 40;
const LOADS: usize = 3;
const POINTS: usize = 8;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, gain: &Gain) -> Screen {
    let mut answer = format!("{}\n{}\n", words::reached(gain), words::voltages(gain));
    answer.extend(gain.coverage.iter().take(LOADS).map(|coverage| gaps(gain, coverage)));
    if let Some(sentences) = words::temperatures(scenario) {
        let _ = writeln!(answer, "{sentences}");
    }
    answer.push_str(&basis(scenario, gain));
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: quick_look(gain.method).to_owned(),
        answer,
        figure: covered(gain),
        notes: operating_points(gain),
    };
    let next = if gain.covers_all() {
        NextQuestion::verb("check", "what do the parts carry at these points?")
    } else {
        NextQuestion::verb(
            "gain",
            "do other nominal parts, or another frequency band, reach all points?",
        )
    };
    blocks.screen(&tables(scenario, gain), next)
}

fn basis(scenario: &Scenario, gain: &Gain) -> String {
    format!(
        "Nominal chain, {} solver, {} phases, constant output current;\n  {} in, {} to {}\n",
        names::method(gain.method).short,
        scenario.phases,
        quantity(gain.input_voltage),
        quantity(scenario.frequency.minimum),
        quantity(scenario.frequency.maximum),
    )
}

/// The output voltages that every configuration covers.
fn covered(gain: &Gain) -> String {
    let end = words::highest_shown(gain);
    let scale = Scale::new(0.0, end.0, SCALE);
    let asked = || gain.points.iter().map(|own| own.request.output_voltage.0);
    let numbers =
        asked().enumerate().take(POINTS).map(|(n, voltage)| (voltage, (n + 1).to_string()));
    let mut table = table(&["covers", "load", &Strip::label_lines(scale, numbers)]);
    left(&mut table, 2);
    right(&mut table, 1..2);
    for found in &gain.configurations {
        for (n, own) in found.curves.iter().take(LOADS).enumerate() {
            let strip = match own.curve.range() {
                None => "none".to_owned(),
                Some(range) if range.lowest > end => "beyond the scale".to_owned(),
                Some(range) => {
                    Strip::new(scale).fill('━', [range.lowest.0, range.highest.0]).text()
                }
            };
            let name = if n == 0 { found.configuration.name().clone() } else { String::new() };
            table.add_row([name, quantity(gain.current(own.load)), strip]);
        }
    }
    format!(
        "{}Scale: 0 V to {}; a bar that ends with it goes on. Numbers: operating points:\n",
        trimmed(&table),
        quantity(end)
    )
}

/// Every operating point with the configuration that it takes.
fn operating_points(gain: &Gain) -> String {
    let mut text = String::new();
    for (n, point) in gain.points.iter().take(POINTS).enumerate() {
        let asked = &point.request;
        let chosen = point.choice.chosen.and_then(|own| point.choice.candidates.get(own));
        let taken = chosen.map_or_else(
            || "NOT REACHED".to_owned(),
            |own| {
                let figures = own.nominal_figures();
                let at = figures.map_or_else(String::new, |own| quantity(own.switching_frequency));
                format!("{}, {at}", own.point.configuration().name())
            },
        );
        let voltage = quantity(asked.output_voltage);
        let current = quantity(asked.output_current);
        let _ = writeln!(text, "{}. {}: {voltage}, {current}: {taken}", n + 1, asked.name);
    }
    let more = gain.points.len().saturating_sub(POINTS);
    let more = if more > 0 { format!("{more} more: --tables.\n") } else { String::new() };
    text + &more + &unsolved(gain)
}

fn unsolved(gain: &Gain) -> String {
    gain.unsolved().fold(String::new(), |text, own| {
        let (points, why) = (count(own.frequencies as u64), own.why.reason());
        format!("{text}Not solved, {points} points of the curves: {why}.\n")
    })
}

/// Gaps, peaks and ranges, and all configurations of the operating points.
fn tables(scenario: &Scenario, gain: &Gain) -> String {
    let gaps: String = gain.coverage.iter().map(|coverage| gaps(gain, coverage)).collect();
    format!("{gaps}\n{}{}", ranges(gain), points(scenario, gain))
}

fn gaps(gain: &Gain, coverage: &Coverage) -> String {
    let gaps: Vec<String> = coverage.gaps.iter().map(words::range).collect();
    let what = if gaps.is_empty() { "no gap".into() } else { format!("GAP {}", gaps.join(", ")) };
    let current = quantity(gain.current(coverage.load));
    format!("  {current}, {}: {what}\n", words::range(&gain.span))
}

fn ranges(gain: &Gain) -> String {
    let mut table = table(&["load", "", "peak", "at", "gain", "covers, on the inductive side"]);
    for found in &gain.configurations {
        for c in &found.curves {
            let of_peak = |write: &dyn Fn(&Peak) -> String| {
                c.curve.peak.as_ref().map_or_else(|| NONE.into(), write)
            };
            table.add_row([
                format!(" {}", quantity(gain.current(c.load))),
                given_percent(gain.loads[c.load]),
                of_peak(&|p| quantity(p.voltage)),
                of_peak(&|p| quantity(p.frequency) + if p.at_end { "*" } else { "" }),
                of_peak(&|p| decimals(gain.gain_at(p.voltage), 3)),
                c.curve.range().map_or_else(|| NONE.into(), |r| words::range(&r)),
            ]);
        }
    }
    // Aligned as one table, but with the configuration on a line of its own above its loads.
    let mut text = String::new();
    for (n, line) in trimmed(&table).lines().enumerate() {
        if n > 0 && (n - 1) % gain.loads.len() == 0 {
            let found = &gain.configurations[(n - 1) / gain.loads.len()];
            let _ = writeln!(text, "{}", found.configuration.name());
        }
        let _ = writeln!(text, "{line}");
    }
    let mut curves = gain.configurations.iter().flat_map(|c| &c.curves);
    if curves.any(|c| c.curve.peak.is_some_and(|p| p.at_end)) {
        text.push_str("* at an end of the band\n");
    }
    text.push('\n');
    text
}

fn points(scenario: &Scenario, gain: &Gain) -> String {
    let prefer = choice::preference(scenario.prefer);
    let mut text = format!(
        "Operating points. Where one leaves the configuration open,\n{prefer} decides.\n{}",
        choice::HEADING
    );
    for point in &gain.points {
        let asked = &point.request;
        let _ = writeln!(
            text,
            "{}: {}, {}, gain {}",
            asked.name,
            quantity(asked.output_voltage),
            quantity(asked.output_current),
            decimals(point.gain, 3)
        );
        text.push_str(&choice::lines(&point.choice));
        if point.choice.chosen.is_none() {
            text.push_str(" NOT REACHED in any configuration that it may take\n");
        }
    }
    text + choice::REMARK
}
