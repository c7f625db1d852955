//! The sizes on the terminal.

use super::purchase;
use super::words::{self, cell, change, mark};
use crate::report::format::blocks::{Scale, Strip};
use crate::report::format::numbers::{
    NONE, given_percent, in_percent, percent, plain, three, yield_percent,
};
use crate::report::format::screen::first_lines;
use crate::report::format::terminal::{left, table, trimmed};
use crate::scenario::Scenario;
use crate::study::capacitors::size::{SizeResult, SizeStudy};

/// Sizes drawn, those below the one that is chosen, and characters of the scale.
const SIZES: usize = 9;
const BELOW: usize = 4;
const SCALE: u32 = 28;
/// Findings in the screenful.
const FINDINGS: usize = 3;

/// The answer, and what follows from it first: how much to order, which the size alone does not tell.
pub(in crate::report::capacitors) fn answer(scenario: &Scenario, study: &SizeStudy) -> String {
    let mut all: Vec<String> = purchase::amounts_in_short(scenario, study).into_iter().collect();
    all.extend(words::findings(study));
    all.extend(purchase::costs(scenario, study));
    format!("{}\n{}", words::answer(scenario, study), first_lines(&all, FINDINGS))
}

/// The sharing error over the size, about the one that is chosen.
pub(in crate::report::capacitors) fn figure(scenario: &Scenario, study: &SizeStudy) -> String {
    let shown = about_chosen(study);
    let limit = scenario.limits.sharing_error;
    let errors = shown.iter().filter_map(|own| own.sharing_error_p95());
    let scale = Scale::holding(errors.chain(limit).chain([0.0]), SCALE);
    let axis = limit.map_or_else(String::new, |limit| {
        let text = format!("limit {}", plain(&given_percent(limit)));
        Strip::new(scale).label(limit, &text).text()
    });
    let headings =
        ["", "size", "yield", "ripple,\nV", "sharing\np95", &format!("sharing error\n{axis}")];
    let mut table = table(&headings);
    left(&mut table, 1);
    left(&mut table, 5);
    // Of the marks that the rows hold.
    let meanings = [(">", "> confirmed on fresh samples"), ("*", "* of the scenario")];
    let is_held = |wanted: &str| shown.iter().any(|own| mark(study, own) == wanted);
    let legend = meanings.iter().filter(|(mark, _)| is_held(mark)).map(|(_, text)| *text);
    let legend = legend.collect::<Vec<_>>().join("   ");
    for own in shown {
        let error = own.sharing_error_p95();
        let bar = Strip::new(scale).fill('━', [0.0, error.unwrap_or(f64::NAN)]);
        table.add_row([
            mark(study, own).to_owned(),
            words::size(own.capacitance),
            own.good.map_or_else(|| NONE.to_owned(), |good| yield_percent(good.estimate)),
            cell(own.ripple().map(|v| v.0), three),
            error.map_or_else(|| NONE.to_owned(), percent),
            bar.mark('│', limit.unwrap_or(f64::NAN)).text(),
        ]);
    }
    let legend = if legend.is_empty() { legend } else { legend + "\n" };
    trimmed(&table) + &legend
}

/// Some of the sizes, about the one that is confirmed or of the scenario.
fn about_chosen(study: &SizeStudy) -> Vec<&SizeResult> {
    let own = study.confirmed().or_else(|| study.present());
    let is_own = |size: &SizeResult| own.is_some_and(|own| own.capacitance == size.capacitance);
    let first = study.sizes.iter().position(is_own).unwrap_or(0).saturating_sub(BELOW);
    let first = first.min(study.sizes.len().saturating_sub(SIZES));
    study.sizes.iter().skip(first).take(SIZES).collect()
}

/// The answer, and a row a size.
pub(in crate::report::capacitors) fn text(scenario: &Scenario, study: &SizeStudy) -> String {
    let mut findings = words::findings(study);
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
