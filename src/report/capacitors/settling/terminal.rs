//! Settling on the terminal.

use super::words;
use crate::report::format::numbers::{NONE, quantile};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::study::capacitors::settling::{PointSettling, SettlingStudy};

/// The answer alone.
pub(in crate::report::capacitors) fn first(study: &SettlingStudy) -> String {
    words::answer(study)
}

/// The answer, and a row an operating point.
pub(in crate::report::capacitors) fn text(scenario: &Scenario, study: &SettlingStudy) -> String {
    let findings = words::findings(scenario, study);
    let findings = findings.iter().fold(String::new(), |text, own| text + "- " + own + "\n");
    let headings = [
        "operating point",
        "decay per\nperiod, %",
        "periods\nto 1 %",
        "one swing,\nperiods",
        "samples\np50",
        "samples\np95",
    ];
    let mut table = table(&headings);
    for point in &study.points {
        table.add_row(row(point));
    }
    format!("{}\n{findings}\n{}", words::answer(study), trimmed(&table))
}

fn row(point: &PointSettling) -> [String; 6] {
    let name = point.operating_point.clone();
    let samples = point.samples.as_ref().and_then(|samples| samples.periods);
    let [p50, p95] = match samples {
        Some(own) => [quantile(own.p50, words::whole), quantile(own.p95, words::whole)],
        None => [NONE.to_owned(), NONE.to_owned()],
    };
    match &point.nominal {
        Some(nominal) => {
            let slowest = &nominal.settling.slowest;
            [
                name,
                words::decay(slowest),
                words::periods(slowest),
                words::oscillation(slowest),
                p50,
                p95,
            ]
        }
        None => {
            [name, words::unsettled(point).to_owned(), NONE.to_owned(), NONE.to_owned(), p50, p95]
        }
    }
}
