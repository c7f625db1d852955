//! A comparison on the terminal.

use std::fmt::Write as _;

use super::words;
use crate::report::format::numbers::count;
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::study::compare::{Compared, Comparison};

/// Changes of the scenario, and other numbers, that are listed: the page has all.
const LISTED: usize = 10;

/// The answer, then what changed and what it changed.
pub(super) fn text(found: &Comparison) -> String {
    let mut text = format!("Results of `{}` side by side\n", found.first.verb);
    let others = found.others.iter().map(|own| &own.other);
    for (n, read) in std::iter::once(&found.first).chain(others).enumerate() {
        let _ = writeln!(
            text,
            "{}: {} ({}; {})",
            words::letter(n),
            words::path(read),
            read.title,
            words::made_of(read)
        );
    }
    text.push('\n');
    for (n, own) in found.others.iter().enumerate() {
        let _ = writeln!(text, "{}", words::answer(n, own));
    }
    for warning in words::warnings(found) {
        let _ = writeln!(text, "{warning}");
    }
    for (n, own) in found.others.iter().enumerate() {
        text.push_str(&compared(n, own));
    }
    for sentence in words::method(found) {
        let _ = writeln!(text, "{sentence}");
    }
    let _ = write!(text, "\n{CAUTION}");
    folded(&text)
}

fn compared(place: usize, own: &Compared) -> String {
    let letter = words::letter(place + 1);
    format!(
        "\n{letter} against A\n{}{}{}\n",
        basis(own, &letter),
        yields(own, &letter),
        values(own, &letter)
    )
}

fn basis(own: &Compared, letter: &str) -> String {
    if own.basis.is_empty() {
        return "No value of the scenario differs.\n".to_owned();
    }
    let mut rows = table(&["changed in the scenario", "A", letter]);
    for change in own.basis.iter().take(LISTED) {
        let told = |value: &Option<String>| value.clone().unwrap_or_else(|| "not told".to_owned());
        rows.add_row([change.place.clone(), told(&change.first), told(&change.other)]);
    }
    format!("{}{}", trimmed(&rows), more(own.basis.len(), "change"))
}

fn yields(own: &Compared, letter: &str) -> String {
    if own.yields.is_empty() {
        return String::new();
    }
    let mut rows = table(&["yield", "A", letter, "points", "interval", "shown"]);
    for change in own.yields.iter().take(2 * LISTED) {
        rows.add_row([
            words::subject(&change.first),
            words::share(&change.first),
            words::share(&change.other),
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
