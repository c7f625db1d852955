//! What `gain` found, on the terminal: the answer first.

use std::fmt::Write as _;

use super::words;
use crate::report::format::configuration::terminal as choice;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, count, decimals, given_percent, quantity};
use crate::report::format::terminal::{CAUTION, QUICK_LOOK, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::curve::Peak;
use crate::study::gain::{Coverage, Gain};

/// Whether all is reached, gaps, peaks and ranges, operating points.
pub(super) fn text(scenario: &Scenario, gain: &Gain) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    if gain.method == Method::Averaged {
        text.push_str(QUICK_LOOK);
    }
    let _ = writeln!(text, "{}\n{}", words::reached(gain), words::voltages(gain));
    for coverage in &gain.coverage {
        text.push_str(&gaps(gain, coverage));
    }
    if let Some(sentences) = words::temperatures(scenario) {
        let _ = writeln!(text, "{sentences}");
    }
    let _ = writeln!(
        text,
        "Nominal chain, {} solver. Curves at constant output current:\n  {} in, {} to {}\n",
        names::method(gain.method).short,
        quantity(gain.input_voltage),
        quantity(scenario.frequency.minimum),
        quantity(scenario.frequency.maximum),
    );
    text.push_str(&ranges(gain));
    text.push_str(&points(scenario, gain));
    for unsolved in gain.unsolved() {
        let (points, why) = (count(unsolved.frequencies as u64), unsolved.why.reason());
        let _ = writeln!(text, "Not solved, {points} points of the curves: {why}.\n");
    }
    text.push_str(CAUTION);
    folded(&text)
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
