//! What drives the failures: bars and a table of what exact parameters save.

use itertools::Itertools;
use maud::{Markup, html};

use super::explained_run::ExplainedRun;
use crate::converter::Property;
use crate::report::format::figures::{self, Ends, Name, ValueBar, ValueRow};
use crate::report::format::names::{self, arrangement_heading, property};
use crate::report::format::numbers::{count, samples, yield_percent};
use crate::report::format::page::parts::{arrangement, folded_table, headings, number, remarked};
use crate::statistics::Yield;
use crate::study::common::what_if::Change;
use crate::study::explanation::{ExactPart, FailureDrivers};

/// What each parameter does to the failures, in both arrangements.
pub(super) fn failures(shown: &ExplainedRun) -> Markup {
    let found = &shown.explanation.failure_drivers;
    html! {
        @if found.is_empty() {
            p { "Nothing to show: no sample fails, nothing scatters, or the samples are too few." }
        } @else {
            p {
                "How many failing converters would one exact parameter save? Each parameter in turn is nominal, \
                 all else is as before, on the same samples. " em { "Saved" } ": of the samples that fail, \
                 the share that would pass. " em { "Lost" } ": samples that pass and would fail. Far fewer of \
                 these are tried, so the yield then is told as an interval."
            }
            div class="figures" { @for drivers in found { (chart(drivers)) } }
            (saved_table(found, "exact parameter", "What one exact parameter changes, over all operating points and limits"))
            @for drivers in found { (basis(drivers)) }
            (lots(&shown.explanation.lot_failure_drivers))
        }
    }
}

/// What the lots do to the failures; nothing where no parameter shares one.
fn lots(found: &[FailureDrivers]) -> Markup {
    html! {
        @if !found.is_empty() {
            p {
                "How many converters would lots save that are all alike? What the parts of one converter \
                 have in common is then in the middle of its scatter. What each part has by itself stays."
            }
            (saved_table(found, "lots of", "What equal lots of one parameter change, over all operating points and limits"))
            @for drivers in found { (basis(drivers)) }
        }
    }
}

/// What each parameter saves in one arrangement.
fn chart(drivers: &FailureDrivers) -> Markup {
    let class = drivers.arrangement.name();
    let row = |part: &ExactPart| {
        let Yield { estimate, lower, upper, .. } = part.saved_of_failing;
        let interval = Ends { from: lower, to: upper };
        let bar = ValueBar { class, value: estimate, interval, part: None };
        ValueRow { label: property(part.property), bars: vec![bar] }
    };
    let rows: Vec<ValueRow> = drivers.by_saved().into_iter().map(row).collect();
    let name = Name {
        id: format!("failures-saved-{class}"),
        title: format!("Failing converters saved by one exact parameter, {class}"),
        description:
            "A bar a parameter with its interval; the table that follows holds the numbers."
                .to_owned(),
    };
    let drawing = figures::value_bars(&name, "saved of those that fail", &rows, &[]);
    let caption = html! {
        figcaption {
            b { "Failing converters saved by one exact parameter, " (names::arrangement(drivers.arrangement).long) "," }
            " over all operating points and limits. \
             The line across a bar’s end is its confidence interval."
        }
    };
    html! { figure { (drawing) (caption) } }
}

/// The parameters of all arrangements, the one that saves most in the first arrangement first.
fn properties(found: &[FailureDrivers]) -> Vec<Property> {
    let sorted = found.iter().flat_map(|drivers| drivers.by_saved()).map(|part| part.property);
    let mut all: Vec<Property> = Vec::new();
    sorted.for_each(|property| {
        if !all.contains(&property) {
            all.push(property);
        }
    });
    all
}

fn saved_table(found: &[FailureDrivers], subject: &str, caption: &str) -> Markup {
    let names = [
        subject,
        "arrangement",
        "saved",
        "saved, of those that fail",
        "lost, among the first samples",
        "yield then",
    ];
    let head = headings(2, &names);
    let rows = html! {
        @for own in properties(found) {
            @let of_property = found.iter().filter_map(|drivers| {
                let part = drivers.parts.iter().find(|part| part.property == own)?;
                Some((drivers.arrangement, part))
            }).collect_vec();
            @for (n, (which, part)) in of_property.iter().enumerate() {
                tr {
                    @if n == 0 {
                        th scope="rowgroup" rowspan=(of_property.len()) {
                            (property(own))
                        }
                    }
                    (arrangement(*which))
                    (cells(part))
                }
            }
        }
    };
    folded_table(caption, &head, &rows)
}

fn cells(part: &ExactPart) -> Markup {
    let Change { outcomes, now, .. } = &part.change.joint;
    let saved = &part.saved_of_failing;
    let ends = |from: f64, to: f64| format!("{} to {}", yield_percent(from), yield_percent(to));
    let of = |part: u64, all: u64| format!("{} of {}", count(part), count(all));
    html! {
        (remarked(&yield_percent(saved.estimate), &ends(saved.lower, saved.upper)))
        (number(of(saved.successes, saved.trials)))
        (number(of(outcomes.lost, outcomes.passing_among)))
        (number(ends(now.lower, now.upper)))
    }
}

/// Which samples were tried again.
fn basis(drivers: &FailureDrivers) -> Markup {
    let retried = &drivers.samples;
    html! {
        p class="remark" {
            (arrangement_heading(drivers.arrangement))
            ": all failing ones of the first " (samples(retried.failing_among))
            " were tried again, and all passing ones of the first "
            (samples(retried.passing_among)) "."
        }
    }
}
