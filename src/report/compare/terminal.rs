//! A comparison on the terminal.

use std::fmt::Write as _;

use super::{values as scenario, words};
use crate::report::format::blocks::{Scale, Strip, fitted_apart};
use crate::report::format::numbers::{count, counted};
use crate::report::format::screen::{Blocks, CommandWord, NextQuestion, Screen};
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::study::compare::{Compared, Comparison, ReadResult, YieldChange};

/// Changes of the scenario, and other numbers, that are listed: the page has all.
const LISTED: usize = 10;

/// Results, and of each its yields, changes and numbers, in the screenful.
const RESULTS: usize = 3;
const SHOWN: usize = 4;
/// Characters of the scale of differences, and of the name of a yield.
const SCALE: u32 = 14;
const LABEL: usize = 28;

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(found: &Comparison) -> Screen {
    let blocks = Blocks {
        title: format!("Results of `{}` side by side", found.first.verb),
        before: String::new(),
        answer: results(found, RESULTS) + "\n" + &answer(found),
        figure: found
            .others
            .iter()
            .take(RESULTS)
            .enumerate()
            .map(|(n, own)| figure(n, own))
            .collect(),
        notes: notes(found),
    };
    blocks.screen(&tables(found), next())
}

/// What one asks next.
fn next() -> NextQuestion {
    NextQuestion::verb("compare", "which figures and tables go into the review?")
        .with([CommandWord::Plain("--figures".to_owned())])
}

/// The results that are compared, so many beside the first.
fn results(found: &Comparison, most: usize) -> String {
    let others = found.others.iter().map(|own| &own.other);
    let mut text = String::new();
    for (n, read) in std::iter::once(&found.first).chain(others).enumerate().take(most + 1) {
        let _ = writeln!(
            text,
            "{}: {} ({}; {})",
            words::letter(n),
            words::path(read),
            read.title,
            words::made_of(read)
        );
    }
    text
}

/// What differs, and what must be known before.
fn answer(found: &Comparison) -> String {
    let others = found.others.iter().enumerate();
    let answers: Vec<String> = others.map(|(n, own)| words::answer(n, &found.first, own)).collect();
    let shown = answers.iter().take(RESULTS + 1).cloned();
    let more = answers.len().saturating_sub(RESULTS + 1);
    let more = (more > 0).then(|| format!("{more} more results: --tables."));
    let lines = shown.chain(more).chain(words::warnings(found));
    lines.fold(String::new(), |text, line| text + &line + "\n")
}

/// The yields of a result against those of the first, with the intervals of their differences.
fn figure(place: usize, own: &Compared) -> String {
    if own.yields.is_empty() {
        return String::new();
    }
    let letter = words::letter(place + 1);
    let drawn = words::to_draw(&own.yields.iter().collect::<Vec<_>>(), SHOWN);
    let ends = drawn.iter().flat_map(|own| [own.difference.lower, own.difference.upper]);
    let scale = Scale::holding(ends.chain([0.0]), SCALE);
    let axis = Strip::new(scale).label(0.0, "0").text();
    let mut table = table(&["yield", "A", &letter, "points", &axis, "shown"]);
    left(&mut table, 4);
    left(&mut table, 5);
    right(&mut table, 1..4);
    let subject = |change: &YieldChange| words::subject(&change.first).replace(" together", "");
    let subjects: Vec<String> = drawn.iter().map(|own| subject(own)).collect();
    for (change, label) in drawn.iter().zip(fitted_apart(&subjects, LABEL)) {
        let difference = &change.difference;
        let strip = Strip::new(scale).mark('│', 0.0);
        let [first, other] = words::shares(change);
        table.add_row([
            label,
            first,
            other,
            words::points(difference.estimate),
            strip.interval([difference.lower, difference.upper], difference.estimate).text(),
            words::shown(change).to_owned(),
        ]);
    }
    trimmed(&table)
}

/// What changed in the scenario and in the other numbers, those that changed most, and how sure it is.
fn notes(found: &Comparison) -> String {
    let mut text = String::new();
    for (n, own) in found.others.iter().take(RESULTS).enumerate() {
        let letter = words::letter(n + 1);
        let changes = scenario::changes(&found.first, own);
        let values = match changes.len() {
            0 => "no value".to_owned(),
            n => counted(n as u64, "value"),
        };
        let numbers = words::by_change(own);
        let differs = if changes.len() > 1 { "differ" } else { "differs" };
        let others = words::others_that_differ(own, numbers.len());
        let _ = writeln!(text, "{letter} against A: {values} of the scenario {differs}. {others}");
        let all = changes.len();
        for change in changes.into_iter().take(SHOWN) {
            let [first, other] = change.values;
            let _ = writeln!(text, "  {}: {first}, then {other}", change.name);
        }
        text += &beyond(all, SHOWN, "value");
        let all = numbers.len();
        for change in numbers.into_iter().take(SHOWN - 1) {
            let (first, other) = (words::value(&change.first), words::value(&change.other));
            let name = words::measured(&change.first);
            let _ = writeln!(text, "  {name}: {first}, then {other} ({})", words::relative(change));
        }
        text += &beyond(all, SHOWN - 1, "other number");
    }
    words::method(found).iter().fold(text, |text, sentence| text + sentence + "\n")
}

/// How many more there are than those that are shown.
fn beyond(all: usize, shown: usize, thing: &str) -> String {
    match all.saturating_sub(shown) as u64 {
        0 => String::new(),
        more => format!("  {} more: --tables.\n", counted(more, thing)),
    }
}

/// Everything that changed, and what it changed.
fn tables(found: &Comparison) -> String {
    let mut text = results(found, usize::MAX - 1);
    let others = || found.others.iter().enumerate();
    text.extend(others().map(|(n, own)| words::answer(n, &found.first, own) + "\n"));
    text.extend(others().map(|(n, own)| compared(&found.first, n, own)));
    text
}

fn compared(first: &ReadResult, place: usize, own: &Compared) -> String {
    let letter = words::letter(place + 1);
    format!(
        "\n{letter} against A\n{}{}{}\n",
        basis(first, own, &letter),
        yields(own, &letter),
        values(own, &letter)
    )
}

fn basis(first: &ReadResult, own: &Compared, letter: &str) -> String {
    if own.basis.is_empty() {
        return words::no_change(first, &own.other) + "\n";
    }
    let mut rows = table(&["changed in the scenario", "A", letter]);
    let changes = scenario::changes(first, own);
    let all = changes.len();
    for change in changes.into_iter().take(LISTED) {
        let [first, other] = change.values;
        rows.add_row([change.name, first, other]);
    }
    format!("{}{}", trimmed(&rows), more(all, "change"))
}

fn yields(own: &Compared, letter: &str) -> String {
    if own.yields.is_empty() {
        return String::new();
    }
    let mut rows = table(&["yield", "A", letter, "points", "interval", "shown"]);
    for change in own.yields.iter().take(2 * LISTED) {
        let [first, other] = words::shares(change);
        rows.add_row([
            words::subject(&change.first),
            first,
            other,
            words::points(change.difference.estimate),
            words::ends(change),
            words::shown(change).to_owned(),
        ]);
    }
    let left = own.yields.len().saturating_sub(LISTED);
    format!("\n{}{}", trimmed(&rows), more(left, "yield"))
}

fn values(own: &Compared, letter: &str) -> String {
    let changed = words::by_change(own);
    if changed.is_empty() {
        return String::new();
    }
    let mut rows = table(&["other numbers, by change", "A", letter, "change", ""]);
    for change in changed.iter().take(LISTED) {
        rows.add_row([
            words::measured(&change.first),
            words::value(&change.first),
            words::value(&change.other),
            words::relative(change),
            words::apart(change).to_owned(),
        ]);
    }
    format!("\n{}{}", trimmed(&rows), more(changed.len(), "number"))
}

/// How many more the page lists.
fn more(all: usize, thing: &str) -> String {
    match all.saturating_sub(LISTED) {
        0 => String::new(),
        1 => format!("1 more {thing} on the page.\n"),
        n => format!("{} more {thing}s on the page.\n", count(n as u64)),
    }
}
