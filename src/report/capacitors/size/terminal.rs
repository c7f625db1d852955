//! The sizes on the terminal.

use super::purchase;
use super::words::{self, cell, change, mark};
use crate::report::format::numbers::{NONE, in_percent, three, yield_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::study::capacitors::size::{SizeResult, SizeStudy};

/// The answer, and a row a size.
pub(in crate::report::capacitors) fn text(scenario: &Scenario, study: &SizeStudy) -> String {
    let mut findings = words::findings(scenario, study);
    findings.extend(purchase::findings(scenario, study));
    let findings = findings.iter().fold(String::new(), |text, own| text + "- " + own + "\n");
    format!("{}\n{findings}\n{}", words::answer(scenario, study), sizes(study))
}

fn sizes(study: &SizeStudy) -> String {
    let headings = [
        "",
        "size",
        "ripple,\nV",
        "RMS,\nA",
        "blocks,\nV",
        "settles,\nperiods",
        "sharing\np95, %",
        "added,\n%",
        "freq.,\n%",
        "yield,\n%",
        "limited by",
    ];
    let mut table = table(&headings);
    if let Some(last) = table.column_mut(headings.len() - 1) {
        last.set_cell_alignment(comfy_table::CellAlignment::Left);
    }
    for own in &study.sizes {
        table.add_row(row(study, own));
    }
    format!(
        "{}> confirmed on fresh samples   * of the scenario\n\
         Nominal: ripple, RMS, blocks, settles (until 1 % is left) and freq. Added and\n\
         freq.: against very large ones.\n",
        trimmed(&table)
    )
}

fn row(study: &SizeStudy, own: &SizeResult) -> [String; 11] {
    [
        mark(study, own).to_owned(),
        words::size(own.capacitance),
        cell(own.ripple().map(|v| v.0), three),
        cell(own.rms_current().map(|i| i.0), three),
        cell(own.blocking_voltage().map(|v| v.0), three),
        words::periods(own),
        cell(own.sharing_error_p95(), in_percent),
        change(study.added_sharing_error(own)),
        change(study.frequency_shift(own)),
        own.good.map_or_else(|| NONE.to_owned(), |good| in_yield_percent(good.estimate)),
        words::limit_cell(own),
    ]
}

/// A yield in percent without the sign.
fn in_yield_percent(share: f64) -> String {
    yield_percent(share).replace("\u{a0}%", "")
}
