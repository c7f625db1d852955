//! The drift on the terminal.

use super::words;
use crate::report::format::numbers::{NONE, three};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::study::capacitors::drift::{DriftStudy, PointDrift};

/// The answer, and what follows from it first.
pub(in crate::report::capacitors) fn first(scenario: &Scenario, study: &DriftStudy) -> String {
    let first = words::findings(scenario, study).into_iter().next();
    [Some(words::answer(study)), first].into_iter().flatten().collect::<Vec<_>>().join("\n- ")
}

/// The answer, and a row a node.
pub(in crate::report::capacitors) fn text(scenario: &Scenario, study: &DriftStudy) -> String {
    let findings = words::findings(scenario, study);
    let findings = findings.iter().fold(String::new(), |text, own| text + "- " + own + "\n");
    let mut text = format!("{}\n{findings}", words::answer(study));
    if study.points.is_empty() {
        return text;
    }
    let headings =
        ["operating point", "node", "start,\nV", "leakage,\nV", "timing,\nV", "drift,\nV"];
    let mut table = table(&headings);
    for point in &study.points {
        for row in rows(point) {
            table.add_row(row);
        }
    }
    text.push('\n');
    text + &trimmed(&table)
}

fn rows(point: &PointDrift) -> Vec<[String; 6]> {
    let row = |node: usize| {
        let causes = point.causes.as_ref().map(|nodes| &nodes[node]);
        let cell = |value: Option<f64>| value.map_or_else(|| NONE.to_owned(), three);
        [
            if node == 0 { point.operating_point.clone() } else { String::new() },
            (node + 1).to_string(),
            cell(causes.map(|own| own.start.0)),
            cell(causes.map(|own| own.leakage.0)),
            cell(causes.map(|own| own.timing.0)),
            three(point.nodes[node].0),
        ]
    };
    (0..point.nodes.len()).map(row).collect()
}
