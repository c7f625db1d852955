//! The brief of a comparison.

use maud::{Markup, html};

use super::{values as basis, words};
use crate::report::format::figures::{DifferenceRow, Name, differences};
use crate::report::format::numbers::level;
use crate::report::format::page::brief::{
    Brief, Finding, both_widths, brief, sentences, short_brief,
};
use crate::report::format::page::brief_basis::caution;
use crate::report::format::page::parts::{headings, number};
use crate::study::compare::{Compared, Comparison, ReadResult, YieldChange};

/// Rows of the figure and of tables: more would not fit the sheet.
const ROWS: usize = 12;
const CHANGES: usize = 12;
const VALUES: usize = 6;
/// So few yields leave paper empty.
const SHORT: usize = 4;

/// The first sheet.
pub(super) fn sheet(found: &Comparison) -> Markup {
    let warnings = words::warnings(found);
    let answers: Vec<String> = found
        .others
        .iter()
        .enumerate()
        .map(|(n, own)| words::answer(n, &found.first, own))
        .collect();
    let second = found.others.first().map(|own| scenario_changes(&found.first, own));
    let third = found.others.first().and_then(values);
    let rows: usize = found.others.iter().map(|own| own.yields.len()).sum();
    let drawn = if rows <= SHORT { short_brief } else { brief };
    drawn(&Brief {
        question: question(found),
        answer: answers.join(" "),
        verdicts: Vec::new(),
        measure: format!("intervals {}", level(found.confidence)),
        notice: (!warnings.is_empty()).then(|| html! { @for own in warnings { p { (own) } } }),
        columns: [vec![yields(found)], second.into_iter().collect(), third.into_iter().collect()],
        last: [
            Finding {
                heading: "How sure".to_owned(),
                remark: None,
                inside: sentences(&words::method(found)),
            },
            Finding {
                heading: "What is compared".to_owned(),
                remark: None,
                inside: sentences(&compared(found)),
            },
        ],
        foot: foot(found),
    })
}

/// What all results share of points, limits and nominal phase, and the caution.
fn foot(found: &Comparison) -> Vec<Markup> {
    let whose = if found.others.len() == 1 { "both" } else { "all" };
    let shared = basis::shared(found).into_iter();
    let lines = shared.map(|(name, text)| html! { b { (name) " of " (whose) ": " } (text) "." });
    lines.chain([caution(&html! { a href="#cautions" { "Cautions" } " apply." })]).collect()
}

fn question(found: &Comparison) -> String {
    let verb = &found.first.verb;
    match found.others.len() {
        1 => format!("What differs between these two results of {verb}?"),
        n => format!("What differs between these {} results of {verb}?", n + 1),
    }
}

/// What each result is.
fn compared(found: &Comparison) -> Vec<String> {
    let others = found.others.iter().map(|own| &own.other);
    let all = std::iter::once(&found.first).chain(others).enumerate();
    let told = all.map(|(n, read)| {
        format!(
            "{}: {} ({}; {})",
            words::letter(n),
            words::path(read),
            read.title,
            words::made_of(read)
        )
    });
    told.collect()
}

/// The differences of the yields.
fn yields(found: &Comparison) -> Finding {
    let all = || {
        found
            .others
            .iter()
            .enumerate()
            .flat_map(|(n, own)| own.yields.iter().map(move |change| (n, change)))
    };
    let rows: Vec<DifferenceRow> = match found.others.as_slice() {
        [only] => {
            let drawn = words::to_draw(&only.yields.iter().collect::<Vec<_>>(), ROWS);
            drawn.into_iter().map(|own| row(None, own)).collect()
        }
        _ => all()
            .filter(|(_, own)| own.first.subject == "all")
            .take(ROWS)
            .map(|(n, own)| row(Some(&words::letter(n + 1)), own))
            .collect(),
    };
    let shown = all().filter(|(_, own)| own.is_shown()).count();
    let title = "Differences of the yields with their intervals";
    let text = "A row a yield: a dot at the difference in points, a line over its interval, and zero as a line.";
    let drawn = |id: &str, is_wide: bool| {
        let name = Name {
            id: format!("brief-{id}"),
            title: title.to_owned(),
            description: text.to_owned(),
        };
        differences(&name, &rows, "difference from A, percentage points", is_wide)
    };
    Finding {
        heading: match (all().count(), shown) {
            (0, _) => "No yield is told by all results".to_owned(),
            (_, 0) => "No yield differs as far as the samples show".to_owned(),
            (of, n) => format!("{n} of {of} yields differ as far as the samples show"),
        },
        remark: Some(remark(found)),
        inside: html! {
            @if !rows.is_empty() {
                (both_widths(&drawn("yields", true), &drawn("yields-narrow", false)))
            }
        },
    }
}

/// How the differences are read, and how many yields are equal.
fn remark(found: &Comparison) -> String {
    let how = "Right: higher than in A. A filled dot: the difference is shown.";
    let all = || found.others.iter().flat_map(|own| &own.yields);
    match all().filter(|own| own.first.passes == own.other.passes).count() as u64 {
        0 => how.to_owned(),
        1 => format!("{how} One yield is the same as in A."),
        equal => format!("{how} {equal} yields are the same as in A."),
    }
}

fn row(letter: Option<&str>, own: &YieldChange) -> DifferenceRow {
    let subject = words::subject(&own.first);
    let [first, other] = words::shares(own);
    DifferenceRow {
        label: letter.map_or_else(|| subject.clone(), |letter| format!("{letter}, {subject}")),
        text: format!("{other} instead of {first}"),
        change: words::points(own.difference.estimate),
        estimate: 100.0 * own.difference.estimate,
        interval: [100.0 * own.difference.lower, 100.0 * own.difference.upper],
        is_shown: own.is_shown(),
    }
}

/// A longer value may take several lines; a number never does.
const LONG: usize = 12;

/// What the scenario changed.
fn scenario_changes(first: &ReadResult, own: &Compared) -> Finding {
    let changes = basis::changes(first, own);
    let more = changes.len().saturating_sub(CHANGES);
    Finding {
        heading: match changes.len() {
            0 => "No value of the scenario differs".to_owned(),
            1 => "One value of the scenario differs".to_owned(),
            n => format!("{n} values of the scenario differ"),
        },
        remark: words::not_held(first, &own.other).map(str::to_owned),
        inside: html! {
            @if !own.basis.is_empty() {
                table {
                    thead { (headings(3, &["value", "A", "B"])) }
                    tbody {
                        @for change in changes.iter().take(CHANGES) {
                            tr {
                                th scope="row" class="wraps" { (change.name) }
                                @for value in &change.values {
                                    td class=[(value.chars().count() > LONG).then_some("wraps")] { (value) }
                                }
                            }
                        }
                    }
                }
            }
            @if more > 0 { p class="remark" { (more) " more: " a href="#result-b" { "all changes" } "." } }
        },
    }
}

/// Other numbers that changed most.
fn values(own: &Compared) -> Option<Finding> {
    let changed = words::by_change(own);
    let most = changed.first()?;
    Some(Finding {
        heading: if most.first.value.is_some() && most.other.value.is_some() {
            format!("Changed most: {} ({})", words::measured(&most.first), words::relative(most))
        } else {
            "Other numbers are told by one result alone".to_owned()
        },
        remark: None,
        inside: html! {
            table {
                thead { (headings(1, &["number", "A", "B", "change"])) }
                tbody {
                    @for change in changed.iter().take(VALUES) {
                        tr {
                            th scope="row" class="wraps" { (words::measured(&change.first)) }
                            (number(words::value(&change.first)))
                            (number(words::value(&change.other)))
                            (number(words::relative(change)))
                        }
                    }
                }
            }
        },
    })
}
