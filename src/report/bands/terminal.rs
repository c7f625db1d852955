//! What the terminal shows of bands: the bands to specify first, 80 columns wide.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, Table};

use super::words::{
    assumptions, cheapest, confidence, critical, excluded, limits, margins, marks, names, numbers,
    orderable, specify,
};
use crate::converter::Arrangement;
use crate::report::format::names::{method, parameter, verdict_capitals};
use crate::report::format::numbers::{counted, samples, yield_interval, yield_percent};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::report::format::tolerance;
use crate::report::format::what_if::words;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::map::{CellVerdict, TradeMap};
use crate::study::bands::orderable::OrderableSet;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Proposal, Subject, WidestBand};

/// The result of a search for bands.
pub(super) fn text(scenario: &Scenario, bands: &Bands) -> String {
    let mut text = heading(scenario, bands);
    text.push_str(&specified(scenario, bands));
    for part in &bands.parts {
        text.push_str(&verdict(part, bands));
    }
    if let Some(found) = &bands.orderable {
        text.push_str(&next_steps(found, bands));
    }
    for part in bands.parts.iter().filter(|part| shows_table(part)) {
        text.push_str(&widest_bands(part, bands));
    }
    if let Some(found) = &bands.cheapest {
        text.push_str(&cheapest_set(found, bands));
    }
    if let Some(map) = &bands.map {
        text.push_str(&trade_off(map));
    }
    if let Some(found) = &bands.excluded_pair {
        let _ = writeln!(text, "\nTrade-off between two bands\n  {}", excluded::no_pair(found));
    }
    text.push_str(&what_if(bands));
    text.push_str(&methods(bands));
    text.push_str(CAUTION);
    folded(&text)
}

/// Title, how much was done, and what to know before anything else.
fn heading(scenario: &Scenario, bands: &Bands) -> String {
    let settings = &bands.settings;
    let mut text = format!(
        "{}\n{} phases, {} solver, seed {}\n{} of {}, {} of {}\n\n",
        scenario.title,
        scenario.phases,
        method(settings.method).long,
        settings.seed,
        counted(bands.trials, "run"),
        samples(settings.samples),
        counted(bands.verifications, "verification run"),
        samples(VERIFICATION_FACTOR * settings.samples),
    );
    if bands.is_partial() {
        let _ = writeln!(text, "{}\n", names::unfinished(bands));
    }
    if settings.method == Method::Averaged {
        text.push_str(
            "The averaged solver underestimates the sharing error. Confirm these bands with --solver \
             exact.\n\n",
        );
    }
    let tolerances = bands.present.iter().map(|(_, own)| own);
    if let Some(alone) = tolerance::measured_parts_alone(tolerances) {
        let _ = writeln!(text, "{alone}\n");
    }
    text
}

/// The bands to specify, with what to know about them.
fn specified(scenario: &Scenario, bands: &Bands) -> String {
    let proposal = bands.proposal();
    let mut text = format!("{}\n", specify::bands_to_specify(bands));
    if let Some(proposal) = &proposal {
        text.push_str(&set(bands, proposal));
        text.push_str("Specify the whole set: fresh samples confirmed it as a whole.\n");
    }
    if let Some(sentence) = assumptions::beside_set(bands) {
        let _ = writeln!(text, "{sentence}");
    }
    let notes = [
        proposal.as_ref().and_then(specify::exact_parts),
        orderable::not_found(bands),
        specify::pair(bands),
        specify::on_offer(bands).map(str::to_owned),
        specify::assumed_exact(scenario, bands),
    ];
    for note in notes.into_iter().flatten() {
        let _ = writeln!(text, "{note}");
    }
    text
}

/// The bands to specify beside the present ones; a set on offer is both.
fn set(bands: &Bands, proposal: &Proposal) -> String {
    let source = names::source(proposal.source);
    let both = |name: &str, present: String, specified: String| {
        let present = (!bands.on_offer).then_some(present);
        std::iter::once(name.to_owned()).chain(present).chain([specified]).collect::<Vec<_>>()
    };
    let names = both("part", "present".into(), source);
    let mut table = table(&names.iter().map(String::as_str).collect::<Vec<_>>());
    align(&mut table, &[1], CellAlignment::Right);
    for row in names::banded(bands, proposal) {
        let exact = || "exact".to_owned();
        let present = bands.present.get(row).map_or_else(exact, numbers::band_of);
        let specified = names::specified(bands, proposal, row).unwrap_or_else(exact);
        table.add_row(both(parameter(row).long, present, specified));
    }
    let present = bands.parts.first().map(|part| yield_percent(part.present.good.lower));
    let specified = yield_percent(proposal.verification.good.lower);
    table.add_row(both("yield at least", present.unwrap_or_default(), specified));
    trimmed(&table)
}

/// The chain's always; the paralleled reference's unless no part alone meets the target.
fn shows_table(part: &ArrangementBands) -> bool {
    let mut alone = part.rows.iter().filter(|row| row.subject != Subject::Together).peekable();
    let always = part.arrangement == Arrangement::Chain && alone.peek().is_some();
    always || alone.any(|row| row.outcome() != BandOutcome::NoneMeets)
}

/// What the present bands of an arrangement come to.
fn verdict(part: &ArrangementBands, bands: &Bands) -> String {
    let arrangement = match part.arrangement {
        Arrangement::Chain => "With charge balancing",
        Arrangement::Paralleled => "Plain paralleled",
    };
    let mut text = format!(
        "\n{arrangement}, {}: {} (target {})\n  Yield: {}\n",
        names::starting_bands(bands),
        verdict_capitals(part.verdict),
        yield_percent(bands.rule.target),
        yield_interval(&part.present.good)
    );
    if let Some(binding) = &part.present.binding {
        let (limit, missed) = (limits::limit_and_point(binding), samples(binding.missed));
        let _ = writeln!(text, "  Missed most: {limit}, by {missed}.");
    }
    let none_alone =
        part.rows.iter().any(|row| row.subject != Subject::Together) && !shows_table(part);
    let sentences = [margins::margin(part, bands), critical::critical(part, bands)];
    let alone =
        none_alone.then(|| "No band of one part alone meets the target, not even 0 %.".to_owned());
    for sentence in sentences.into_iter().chain([alone]).flatten() {
        let _ = writeln!(text, "  {sentence}");
    }
    for violation in margins::violations(part) {
        let _ = writeln!(text, "  {violation}");
    }
    text
}

/// How wide every band can be.
fn widest_bands(part: &ArrangementBands, bands: &Bands) -> String {
    let mut text = format!(
        "\nHow wide each band can be while all others stay as they are ({})\n",
        part.arrangement.name()
    );
    let mut table = table(&["part", "present", "widest", "margin", "estimate", "limited by", "at"]);
    align(&mut table, &[1, 2, 3, 4], CellAlignment::Right);
    align(&mut table, &[5, 6], CellAlignment::Left);
    let (alone, together): (Vec<_>, Vec<_>) =
        part.rows.iter().partition(|row| row.subject != Subject::Together);
    for row in alone.into_iter().chain(together) {
        table.add_row(cells(part, row, bands));
    }
    text.push_str(&trimmed(&table));
    let _ = writeln!(text, "Margin: widest ÷ present. {}", limits::ESTIMATE);
    for remark in marks::remarks(part, bands) {
        let _ = writeln!(text, "{remark}");
    }
    if let Some(unlisted) = specify::unlisted(bands) {
        let _ = writeln!(text, "{unlisted}");
    }
    text
}

fn cells(part: &ArrangementBands, row: &WidestBand, bands: &Bands) -> [String; 7] {
    let dash = || "-".to_owned();
    let limit = limits::limit_cells(bands, row);
    let point = limit.as_ref().and_then(|cells| cells.operating_point);
    [
        names::varied(row.subject).into(),
        numbers::width(row, row.present),
        marks::widest(part, row),
        row.margin().map_or_else(dash, numbers::three_digits),
        limits::estimate(bands, row).unwrap_or_else(dash),
        limit.as_ref().map_or_else(dash, |cells| cells.limit.clone()),
        point.map_or_else(dash, str::to_owned),
    ]
}

fn align(table: &mut Table, columns: &[usize], alignment: CellAlignment) {
    for n in columns {
        if let Some(column) = table.column_mut(*n) {
            column.set_cell_alignment(alignment);
        }
    }
}

/// What keeps each band to order from its next step.
fn next_steps(found: &OrderableSet, bands: &Bands) -> String {
    if found.bands.is_empty() {
        return String::new();
    }
    let mut text = "\nBands to order, each one step wider\n".to_owned();
    let mut table =
        table(&["part", "to order", "next step", "yield there", "interval", "limited by", "at"]);
    align(&mut table, &[1, 2, 3, 4], CellAlignment::Right);
    align(&mut table, &[5, 6], CellAlignment::Left);
    for own in &found.bands {
        let next = orderable::next_step(bands, own);
        let dash = || "-".to_owned();
        table.add_row([
            parameter(own.parameter).long.to_owned(),
            orderable::ordered(bands, own.parameter, own.band),
            next.band.unwrap_or_else(dash),
            next.searched_yield.unwrap_or_else(dash),
            next.interval.unwrap_or_else(dash),
            next.limit,
            next.operating_point.unwrap_or_else(dash),
        ]);
    }
    text.push_str(&trimmed(&table));
    let letters = orderable::letters(bands, found).map(str::to_owned);
    let notes = letters.into_iter().chain([orderable::next_steps(bands)]);
    for remark in notes.chain(orderable::remarks(bands, found)) {
        let _ = writeln!(text, "{remark}");
    }
    text
}

fn cheapest_set(found: &Cheapest, bands: &Bands) -> String {
    let mut text = format!("\nCheapest set\n  {}\n", cheapest::ending(found));
    if let Some(run) = found.verifications.last() {
        let _ = writeln!(
            text,
            "  Verification run {} of at most {VERIFICATIONS} ({}): yield at least {}",
            found.verifications.len(),
            run.source,
            yield_percent(run.good.lower),
        );
    }
    for sentence in cheapest::other_sets(found, bands) {
        let _ = writeln!(text, "  {sentence}");
    }
    let sets = counted(found.catalogue.sets.len() as u64, "set");
    let _ = writeln!(text, "  {sets} on offer, {}", counted(found.trials, "run"));
    if found.violations > 0 {
        let sets = counted(found.violations as u64, "set");
        let _ = writeln!(text, "  The trend is violated: {sets} one step narrower failed.");
    }
    text
}

fn trade_off(map: &TradeMap) -> String {
    let [first, second] = map.pair.map(|p| parameter(p).long);
    let [meet, miss, open] = [CellVerdict::Meets, CellVerdict::Misses, CellVerdict::Open]
        .map(|verdict| map.count(verdict));
    format!(
        "\nTrade-off between {first} and {second}\n  Of {} pairs of bands {meet} meet the target, \
         {miss} miss it and {open} are open ({}).\n  The report shows the map.\n",
        map.cells.len(),
        map.source,
    )
}

/// The recommended set under other assumptions.
fn what_if(bands: &Bands) -> String {
    let Some(found) = &bands.other_assumptions else {
        return assumptions::nothing(bands).map_or_else(String::new, |why| format!("\n{why}\n"));
    };
    let mut text = format!("\n{}\n", assumptions::heading(bands));
    let mut table = table(&["if instead", "yield then", "change", "interval", "verdict"]);
    align(&mut table, &[1], CellAlignment::Right);
    align(&mut table, &[4], CellAlignment::Left);
    for outcome in &found.what_if.outcomes {
        let difference = &outcome.change.difference;
        table.add_row([
            words::assumption(outcome.assumption),
            yield_percent(outcome.change.now.estimate),
            words::yield_change(difference.estimate),
            words::yield_change_ends(difference),
            words::change(&found.what_if, outcome),
        ]);
    }
    text.push_str(&trimmed(&table));
    let _ = writeln!(text, "{}", assumptions::method(bands, found));
    text
}

/// How the answers were found, and how sure they are.
fn methods(bands: &Bands) -> String {
    let methods = [orderable::method(bands), critical::method(bands)];
    let methods: Vec<&str> = methods.into_iter().flatten().flat_map(|text| [text, "\n"]).collect();
    format!(
        "\nMethods\n{}\n{}\n{}\n{}{}\nThe search resolves bands to {}.\n\n",
        confidence::outcomes(bands),
        confidence::confirmed(bands),
        confidence::single_rows(bands),
        methods.concat(),
        confidence::statements(bands),
        numbers::short_percent(RESOLUTION),
    )
}
