//! What the terminal shows of bands: the answer first, 80 columns wide.

use std::fmt::Write as _;

use super::words::{self, level};
use crate::converter::Arrangement;
use crate::report::format::numbers::{grouped, interval, verdict_word, yield_percent};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::Yield;
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::map::{CellVerdict, TradeMap};
use crate::study::bands::verification::{VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Proposal, Subject, WidestBand};

/// The result of a search for bands.
pub(super) fn text(scenario: &Scenario, bands: &Bands) -> String {
    let mut text = format!("{}\n", scenario.title);
    if bands.is_partial() {
        let _ = writeln!(text, "{}", words::unfinished(bands));
    }
    let settings = &bands.settings;
    let _ = writeln!(
        text,
        "{} trials of {} samples, {} looks of {}, seed {}, {} solver, {} phases\n",
        grouped(bands.trials),
        grouped(settings.samples),
        grouped(bands.verifications),
        grouped(VERIFICATION_FACTOR * settings.samples),
        settings.seed,
        settings.method.name(),
        scenario.phases,
    );
    if settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take bands from --solver exact.\n\n",
        );
    }
    for part in &bands.parts {
        text.push_str(&verdict(part, bands));
    }
    text.push_str(&drawing(bands));
    for part in bands.parts.iter().filter(|part| shows_table(part)) {
        text.push_str(&rows(part, bands));
    }
    if let Some(found) = &bands.cheapest {
        text.push_str(&cheapest(found));
    }
    if let Some(map) = &bands.map {
        text.push_str(&trade(map));
    }
    text.push_str(&basis(bands));
    text.push_str(CAUTION);
    folded(&text)
}

/// The chain's always; the paralleled reference's unless every part alone misses the target.
fn shows_table(part: &ArrangementBands) -> bool {
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let meets = alone.clone().any(|row| row.outcome() != BandOutcome::NoneMeets);
    alone.count() > 0 && (meets || part.arrangement == Arrangement::Chain)
}

fn verdict(part: &ArrangementBands, bands: &Bands) -> String {
    let which = match part.arrangement {
        Arrangement::Chain => "With charge balancing",
        Arrangement::Paralleled => "Plain paralleled",
    };
    let mut text = format!(
        "{which}, {}: {} (target {})\n  good: {}\n",
        words::start(bands),
        verdict_word(part.verdict),
        yield_percent(bands.rule.target),
        interval(&part.present.good)
    );
    if let Some(binding) = &part.present.binding {
        let (limit, point) = (words::limit(binding), &binding.operating_point);
        let missed = grouped(binding.missed);
        let _ = writeln!(text, "  missed most: {limit} at “{point}”, by {missed} samples");
    }
    if let Some(together) = words::together(part, bands) {
        let _ = writeln!(text, "  {together}");
    }
    if let Some(critical) = words::critical(part) {
        let _ = writeln!(text, "  {critical}");
    }
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    if !shows_table(part) && alone.count() > 0 {
        text.push_str("  No band of one part alone meets the target, however narrow.\n");
    }
    for violation in words::violations(part) {
        let _ = writeln!(text, "{violation}");
    }
    text
}

/// The set of bands that is proposed.
fn drawing(bands: &Bands) -> String {
    let proposal = bands.proposal();
    let before = if bands.parts.is_empty() { "" } else { "\n" };
    let mut text = format!("{before}{}\n", words::proposal(bands));
    if let Some(own) = &proposal {
        text.push_str(&set(bands, own));
        text.push_str("Take it as a whole: it was tried as it stands, on fresh samples.\n");
    }
    let notes = [
        proposal.as_ref().and_then(words::exact_parts),
        words::pair(bands),
        Some(words::sureness(bands)),
        words::on_offer(bands),
        words::unlisted(bands).map(str::to_owned),
        words::exact(bands),
    ];
    for note in notes.into_iter().flatten() {
        let _ = writeln!(text, "{note}");
    }
    text
}

/// The proposed bands beside the present ones; a set on offer is both.
fn set(bands: &Bands, own: &Proposal) -> String {
    let source = words::source(own.source);
    let both = |name: String, present: String, proposed: String| {
        let present = (!bands.on_offer).then_some(present);
        std::iter::once(name).chain(present).chain([proposed]).collect::<Vec<_>>()
    };
    let names = both("part".into(), "present".into(), source);
    let mut table = table(&names.iter().map(String::as_str).collect::<Vec<_>>());
    if let Some(column) = table.column_mut(1) {
        column.set_cell_alignment(comfy_table::CellAlignment::Right);
    }
    for parameter in words::banded(bands, own) {
        let exact = || "exact".to_owned();
        let present = bands.present.get(parameter).map_or_else(exact, |own| words::band(own.band));
        let proposed = words::proposed(bands, own, parameter).unwrap_or_else(exact);
        table.add_row(both(words::subject(Subject::Alone(parameter)), present, proposed));
    }
    let at_least = |good: &Yield| yield_percent(good.lower);
    let present = bands.parts.first().map_or_else(String::new, |part| at_least(&part.present.good));
    table.add_row(both("yield at least".into(), present, at_least(&own.verification.good)));
    trimmed(&table)
}

fn rows(part: &ArrangementBands, bands: &Bands) -> String {
    let mut text = format!(
        "\nHow wide each band may be while all others stay as they are ({})\n",
        part.arrangement.name()
    );
    let mut table = table(&["part", "present", "widest", "times", "yield ≥", "stopped by", "at"]);
    for n in [1, 2, 3, 4] {
        if let Some(column) = table.column_mut(n) {
            column.set_cell_alignment(comfy_table::CellAlignment::Right);
        }
    }
    for n in [5, 6] {
        if let Some(column) = table.column_mut(n) {
            column.set_cell_alignment(comfy_table::CellAlignment::Left);
        }
    }
    for row in part.rows.iter().filter(|row| row.subject != Subject::Together) {
        table.add_row(cells(part, row));
    }
    if let Some(row) = part.row(Subject::Together) {
        table.add_row(cells(part, row));
    }
    text.push_str(&trimmed(&table));
    for remark in words::remarks(part, bands) {
        let _ = writeln!(text, "{remark}");
    }
    text
}

fn cells(part: &ArrangementBands, row: &WidestBand) -> [String; 7] {
    let dash = || "-".to_owned();
    let binding = row.binding();
    [
        words::subject(row.subject),
        words::place(row, row.present),
        words::widest(part, row),
        row.margin().map_or_else(dash, words::times),
        row.confirmed().map_or_else(dash, |verification| yield_percent(verification.good.lower)),
        binding.map_or_else(dash, words::limit),
        binding.map_or_else(dash, |b| b.operating_point.clone()),
    ]
}

fn cheapest(found: &Cheapest) -> String {
    let mut text = format!("\nCheapest set: {}\n", words::ending(found));
    if let Some(verification) = found.verifications.last() {
        let at_least = yield_percent(verification.good.lower);
        let _ = writeln!(
            text,
            "  fresh seed {}, look {} of at most {VERIFICATIONS}: yield at least {at_least}",
            verification.seed,
            found.verifications.len()
        );
    }
    for other in words::others(found) {
        let _ = writeln!(text, "  {other}");
    }
    let (sets, trials) = (grouped(found.catalogue.sets.len() as u64), grouped(found.trials));
    let _ = writeln!(text, "  {sets} sets on offer, {trials} trials");
    if found.violations > 0 {
        let n = found.violations;
        let _ = writeln!(text, "  The trend is violated: {n} sets one step narrower fail.");
    }
    text
}

fn trade(map: &TradeMap) -> String {
    let [first, second] = map.pair.map(|p| p.key().replace('_', " "));
    let count = |verdict| map.cells.iter().filter(|cell| cell.verdict == verdict).count();
    format!(
        "\nTrade between {first} and {second}, on fresh seed {}: of {} pairs of bands {} meet the \
         target, {} miss it, {} are open; the map stands in the report.\n",
        map.seed,
        map.cells.len(),
        count(CellVerdict::Meets),
        count(CellVerdict::Misses),
        count(CellVerdict::Open),
    )
}

/// What the figures stand on.
fn basis(bands: &Bands) -> String {
    let rule = &bands.rule;
    format!(
        "\nProven means: on {} fresh samples, which the search did not use, the lower end of the \
         yield's {} interval meets the target. A band gets up to {VERIFICATIONS} such looks, which together \
         keep the {} of the scenario; bands are closed in to {}. Each line is a claim by itself: \
         for two bands widened at once take a whole set, or a pair from the map.\n\n",
        grouped(VERIFICATION_FACTOR * bands.settings.samples),
        level(rule.shared.get()),
        level(rule.plain.get()),
        level(RESOLUTION),
    )
}
