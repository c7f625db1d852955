//! What the terminal shows of bands: the bands to specify first, 80 columns wide.

use std::fmt::Write as _;

use super::words::{
    assumptions, cheapest, confidence, critical, excluded, limits, margins, marks, names, numbers,
    orderable, specify,
};
use crate::converter::{Arrangement, Parameter};
use crate::report::format::blocks::{Scale, Strip, fitted};
use crate::report::format::names::{method, parameter};
use crate::report::format::numbers::{
    NONE, count, counted, samples, yield_interval, yield_percent,
};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, quick_look};
use crate::report::format::switching;
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::report::format::what_if::words;
use crate::report::format::{premises, tolerance};
use crate::scenario::Scenario;
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::map::{CellVerdict, TradeMap};
use crate::study::bands::orderable::OrderableSet;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Proposal, Subject, WidestBand};

/// Characters of the scale of bands, and its end in times the present band.
const SCALE: u32 = 22;
const MOST: f64 = 6.0;
/// Characters of a part's name in the figure.
const LABEL: usize = 22;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, bands: &Bands) -> Screen {
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: before(scenario, bands),
        answer: answer(scenario, bands),
        figure: figure(bands),
        notes: notes(scenario, bands),
    };
    blocks.screen(&tables(bands), next(scenario))
}

/// What one asks next: what the scenario has tables for.
fn next(scenario: &Scenario) -> NextQuestion {
    if scenario.grades.is_some() {
        NextQuestion::verb("grades", "which part grades are the cheapest?")
    } else if scenario.sensors.is_some() {
        NextQuestion::verb("sensors", "can the current sensors go?")
    } else {
        NextQuestion::verb("capacitors", "how large must the flying capacitors be?")
    }
}

/// What to know before anything else.
fn before(scenario: &Scenario, bands: &Bands) -> String {
    let unfinished = bands.is_partial().then(|| names::unfinished(bands) + "\n\n");
    let tolerances = bands.present.iter().map(|(_, own)| own);
    let alone = tolerance::measured_parts_alone(tolerances);
    let limits = premises::text(scenario, scenario.grades.as_ref());
    let quick = quick_look(bands.settings.method);
    unfinished.unwrap_or_default() + quick + &limits + &alone.unwrap_or_default()
}

/// The bands to specify, the verdicts, and how much was done.
fn answer(scenario: &Scenario, bands: &Bands) -> String {
    let mut text = format!("{}\n", specify::bands_to_specify(bands));
    if bands.proposal().is_some() {
        text.push_str("Specify the whole set: fresh samples confirmed it as a whole.\n");
    }
    text.push_str(&switching::shift_line(scenario, bands.sharing_shift.as_ref()));
    if let Some(sentence) = assumptions::beside_set(bands) {
        let _ = writeln!(text, "{sentence}");
    }
    for part in &bands.parts {
        text.push_str(&verdict(part, bands));
    }
    let settings = &bands.settings;
    let _ = writeln!(
        text,
        "{} of {}, {} on fresh samples ({})\nseed {}, {} solver, {} phases",
        counted(bands.trials, "run"),
        samples(settings.samples),
        counted(bands.verifications, "run"),
        count(VERIFICATION_FACTOR * settings.samples),
        settings.seed,
        method(settings.method).short,
        scenario.phases,
    );
    text
}

/// Every part's present band, the one to specify, and the widest alone.
fn figure(bands: &Bands) -> String {
    let proposal = bands.proposal();
    let chain = bands.part(Arrangement::Chain);
    let rows = names::banded(bands, proposal.as_ref());
    if rows.is_empty() {
        return String::new();
    }
    let specified = proposal.as_ref().map(|own| names::source(own.source));
    let axis = Strip::new(Scale::new(0.0, MOST, SCALE)).label(0.0, "0");
    let axis =
        [1, 2, 3, 4, 5, 6].iter().fold(axis, |axis, n| axis.label(f64::from(*n), &n.to_string()));
    let mut table = table(&[
        "part",
        "present",
        specified.as_deref().unwrap_or("to specify"),
        "widest\nalone",
        &format!("times the present band\n{}", axis.text()),
    ]);
    right(&mut table, 1..4);
    left(&mut table, 4);
    for own in rows {
        table.add_row(figure_row(bands, proposal.as_ref(), chain, own));
    }
    let mut all = "━ to specify, ─ widest alone, │ present\n".to_owned();
    // Marks beside the widest bands are told below the table.
    let table = trimmed(&table);
    for remark in chain.map_or_else(Vec::new, |part| marks::remarks(part, bands)) {
        let mark = remark.split_whitespace().next().filter(|word| marks::is_mark(word));
        if mark.is_some_and(|mark| table.contains(mark)) {
            let _ = writeln!(all, "{remark}");
        }
    }
    format!("{table}{all}{}", least_yields(bands, proposal.as_ref()))
}

fn figure_row(
    bands: &Bands,
    proposal: Option<&Proposal>,
    chain: Option<&ArrangementBands>,
    own: Parameter,
) -> [String; 5] {
    let exact = || "exact".to_owned();
    let none = || NONE.to_owned();
    let present = bands.present.get(own);
    let set = proposal.map(|set| names::specified(bands, set, own).unwrap_or_else(exact));
    let row = chain.and_then(|part| Some((part, part.row(Subject::Alone(own))?)));
    let times = |band: f64| present.map_or(f64::NAN, |now| band / now.band);
    let specified = proposal.and_then(|set| set.tolerances.get(own));
    let widest = row.and_then(|(_, row)| Some(row.confirmed()?.at));
    let strip = Strip::new(Scale::new(0.0, MOST, SCALE))
        .fill('─', [0.0, times(widest.unwrap_or(f64::NAN))])
        .fill('━', [0.0, times(specified.map_or(f64::NAN, |own| own.band))]);
    [
        fitted(parameter(own).long, LABEL),
        present.map_or_else(exact, |band| in_two_lines(&numbers::band_of(band))),
        set.map_or_else(none, |set| in_two_lines(&fitted(&set, LABEL))),
        row.map_or_else(none, |(part, row)| marks::widest(part, row)),
        strip.mark('│', times(present.map_or(f64::NAN, |own| own.band))).text(),
    ]
}

/// A band of two ends in a line each, which leaves room for the figure.
fn in_two_lines(band: &str) -> String {
    band.replacen(" to ", " to\n", 1)
}

/// What the present bands and the set were shown to yield.
fn least_yields(bands: &Bands, proposal: Option<&Proposal>) -> String {
    let present = bands.parts.first().map(|part| part.present.good.lower);
    let present = present.map(|own| format!("present {}", yield_percent(own)));
    let set =
        proposal.map(|set| format!("specified {}", yield_percent(set.verification.good.lower)));
    let told: Vec<String> = present.into_iter().chain(set).collect();
    if told.is_empty() { String::new() } else { format!("Yield at least: {}.\n", told.join(", ")) }
}

/// What limits the chain's bands, and what the answer takes for granted.
fn notes(scenario: &Scenario, bands: &Bands) -> String {
    let proposal = bands.proposal();
    let chain = bands.part(Arrangement::Chain);
    let told = [
        chain.and_then(|part| margins::margin(part, bands)),
        chain.and_then(|part| critical::critical(part, bands)),
        proposal.as_ref().and_then(specify::exact_parts),
        orderable::not_found(bands),
        specify::pair(bands),
        specify::on_offer(bands).map(str::to_owned),
        specify::assumed_exact(scenario, bands),
    ];
    let violations = bands.parts.iter().flat_map(margins::violations);
    told.into_iter().flatten().chain(violations).fold(String::new(), |text, own| text + &own + "\n")
}

/// All that the screenful has no room for.
fn tables(bands: &Bands) -> String {
    let mut text = String::new();
    let others = bands.parts.iter().filter(|part| part.arrangement != Arrangement::Chain);
    for part in others {
        text.push_str(&margins_of_reference(part, bands));
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
    text + &methods(bands)
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
        "{arrangement}, {}: {} (target {})\n  Yield: {}\n",
        names::starting_bands(bands),
        names::verdict_word(part).to_uppercase(),
        yield_percent(bands.rule.target),
        yield_interval(&part.present.good)
    );
    if let Some(binding) = &part.present.binding {
        let (limit, missed) = (limits::limit_and_point(binding), samples(binding.missed));
        let _ = writeln!(text, "  Missed most: {limit}, by {missed}.");
    }
    text
}

/// The margin of the reference, and its most critical band.
fn margins_of_reference(part: &ArrangementBands, bands: &Bands) -> String {
    let none_alone =
        part.rows.iter().any(|row| row.subject != Subject::Together) && !shows_table(part);
    let alone =
        none_alone.then(|| "No band of one part alone meets the target, not even 0 %.".to_owned());
    let sentences = [margins::margin(part, bands), critical::critical(part, bands), alone];
    let sentences = sentences.into_iter().flatten();
    sentences.fold("Plain paralleled\n".to_owned(), |text, own| format!("{text}  {own}\n"))
}

/// How wide every band can be.
fn widest_bands(part: &ArrangementBands, bands: &Bands) -> String {
    let mut text = format!(
        "\nHow wide each band can be while all others stay as they are ({})\n",
        part.arrangement.name()
    );
    let mut table = table(&["part", "present", "widest", "margin", "estimate", "limited by", "at"]);
    right(&mut table, 1..5);
    left(&mut table, 5);
    left(&mut table, 6);
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

/// What keeps each band to order from its next step.
fn next_steps(found: &OrderableSet, bands: &Bands) -> String {
    if found.bands.is_empty() {
        return String::new();
    }
    let mut text = "\nBands to order, each one step wider\n".to_owned();
    let mut table =
        table(&["part", "to order", "next step", "yield there", "interval", "limited by", "at"]);
    right(&mut table, 1..5);
    left(&mut table, 5);
    left(&mut table, 6);
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
         {miss} miss it and {open} are not decided ({}).\n  The report shows the map.\n",
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
    let mut table =
        table(&["if instead", "yield then", "change,\n% of all", "interval", "verdict"]);
    right(&mut table, 1..2);
    left(&mut table, 4);
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
