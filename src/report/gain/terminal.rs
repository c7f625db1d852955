//! What `gain` found.

use std::fmt::Write as _;

use crate::converter::voltage_gain;
use crate::report::format::configuration::terminal as choice;
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::curve::{Peak, VoltageRange};
use crate::study::gain::{Coverage, Gain};

/// Peaks and ranges, holes, operating points.
pub(super) fn text(scenario: &Scenario, gain: &Gain) -> String {
    let mut text = format!(
        "{}\nVoltage gain of the nominal chain, {} solver\ncurves for {} in, at constant output \
         current, {} to {}\n\n",
        scenario.title,
        gain.method.name(),
        gain.input_voltage,
        scenario.frequency.minimum,
        scenario.frequency.maximum,
    );
    if gain.method == Method::Averaged {
        text.push_str(
            "A quick look: at light load and far from resonance the averaged solver is off.\n\n",
        );
    }
    text.push_str(&ranges(scenario, gain));
    for coverage in &gain.coverage {
        text.push_str(&holes(gain, coverage));
    }
    text.push('\n');
    text.push_str(&points(scenario, gain));
    let not_solved = gain.not_solved();
    if not_solved > 0 {
        let _ = writeln!(text, "{not_solved} points of the curves were not solved; see gain.csv\n");
    }
    text.push_str(CAUTION);
    folded(&text)
}

/// `18.2 V to 40.1 V`.
fn range_text(range: &VoltageRange) -> String {
    if range.is_single() {
        return range.lowest.to_string();
    }
    format!("{} to {}", range.lowest, range.highest)
}

fn ranges(scenario: &Scenario, gain: &Gain) -> String {
    let mut table = table(&["load", "", "peak", "at", "gain", "covers, on the inductive side"]);
    let m = |peak: &Peak| {
        let (n, phases) = (scenario.nominal.turns_ratio, scenario.phases);
        voltage_gain(n, peak.voltage, gain.input_voltage, phases)
    };
    let mut text = String::new();
    for found in &gain.configurations {
        for c in &found.curves {
            let peak = c.curve.peak;
            let of = |f: &dyn Fn(&Peak) -> String| peak.as_ref().map_or("-".into(), f);
            table.add_row([
                format!(" {}", gain.current(c.load)),
                terminal_percent(gain.loads[c.load]),
                of(&|p| p.voltage.to_string()),
                of(&|p| format!("{}{}", p.frequency, if p.at_end { "*" } else { "" })),
                of(&|p| format!("{:.3}", m(p))),
                c.curve.range().map_or("-".into(), |r| range_text(&r)),
            ]);
        }
    }
    // Aligned as one table, but with the configuration on a line of its own above its loads.
    let lines = trimmed(&table);
    for (n, line) in lines.lines().enumerate() {
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

/// A load as a share.
fn terminal_percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn holes(gain: &Gain, coverage: &Coverage) -> String {
    let each: Vec<String> = coverage.holes.iter().map(range_text).collect();
    let what = if each.is_empty() { "no hole".into() } else { format!("HOLE {}", each.join(", ")) };
    format!("At {}, {}: {what}\n", gain.current(coverage.load), range_text(&gain.span))
}

fn points(scenario: &Scenario, gain: &Gain) -> String {
    let prefer = choice::preference(scenario.prefer);
    let mut text = format!(
        "Operating points; where they leave the configuration open,\n{prefer} decides\n{}",
        choice::HEADING
    );
    for point in &gain.points {
        let asked = &point.request;
        let (name, m) = (&asked.name, point.gain);
        let _ = writeln!(
            text,
            "{name}: {}, {}, gain {m:.3}",
            asked.output_voltage, asked.output_current
        );
        text.push_str(&choice::lines(&point.choice));
        if point.choice.chosen.is_none() {
            text.push_str(" NOT COVERED by any configuration that it may take\n");
        }
    }
    text + choice::REMARK
}
