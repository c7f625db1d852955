//! Starts on the terminal.

use super::{integrated, words};
use crate::report::format::terminal::{table, trimmed};
use crate::study::capacitors::drift::DriftStudy;
use crate::study::capacitors::start_up::{PointStart, SequenceResult, StartMethod, StartUpStudy};

/// The answer, and its warnings.
pub(in crate::report::capacitors) fn first(study: &StartUpStudy, drift: &DriftStudy) -> String {
    let mut told = vec![words::answer(study)];
    told.extend(words::warnings(study, drift));
    told.join("\n- ")
}

/// The answer, and a row a sequence of the operating point with the highest voltage.
pub(in crate::report::capacitors) fn text(study: &StartUpStudy, drift: &DriftStudy) -> String {
    let findings = words::findings(study, drift);
    let findings = findings.iter().fold(String::new(), |text, own| text + "- " + own + "\n");
    let text = format!("{}\n{findings}", words::answer(study));
    let highest =
        study.points.iter().reduce(|a, b| if b.phase_voltage > a.phase_voltage { b } else { a });
    if let Some(point) = highest {
        let integrated = match study.method {
            StartMethod::Integrated => integrated::text(point),
            StartMethod::Laws => String::new(),
        };
        let name = &point.operating_point;
        return format!("{text}\nStarts at “{name}”:\n{}{integrated}", sequences(point));
    }
    text
}

fn sequences(point: &PointStart) -> String {
    let headings = ["start", "factor", "highest,\nV", "peak,\nA", "ramp\nneeded", "blocking"];
    let mut table = table(&headings);
    for own in &point.sequences {
        table.add_row(row(own));
    }
    trimmed(&table)
}

fn row(own: &SequenceResult) -> [String; 6] {
    [
        words::short(own.sequence).to_owned(),
        words::cell(own.factor),
        words::cell(own.highest.map(|v| v.0)),
        words::cell(own.peak_current.map(|i| i.0)),
        words::needed_ramp(own),
        words::outcome(own).to_owned(),
    ]
}
