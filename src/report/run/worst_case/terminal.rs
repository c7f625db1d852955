//! The worst cases on the terminal: of the chain alone, in a few lines.

use super::words;
use crate::converter::Arrangement;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, given_percent, unbroken};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::explanation::worst_case::WorstCase;
use crate::study::run::Run;

/// The worst cases, each at the operating point where it lies highest; nothing where there are none.
pub(in crate::report::run) fn text(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> String {
    let worst_cases = words::worst_cases(explanation).unwrap_or_default();
    let highest = words::highest(run, worst_cases, Arrangement::Chain);
    if highest.is_empty() {
        return String::new();
    }
    let kept_to = format!("{}\nkeep to", unbroken(&given_percent(scenario.limits.yield_target)));
    let headings = [
        "worst case",
        "extreme\nhighest at",
        "limit",
        "root-sum-\nsquare",
        &kept_to,
        "largest\nsample",
        "extreme\nvalue",
    ];
    let mut rows = table(&headings);
    for worst in highest {
        let write = |value: f64| words::with_unit(worst.figure, value);
        let optional = |value: Option<f64>| value.map_or_else(|| NONE.to_owned(), write);
        rows.add_row([
            words::name(worst).short,
            run.cases[worst.case].operating_point().to_owned(),
            limit(worst),
            optional(worst.root_sum_square),
            words::tolerance_limit(worst, write),
            optional(worst.largest_sample.map(|largest| largest.value)),
            optional(worst.extreme.as_ref().map(|extreme| extreme.value)),
        ]);
    }
    let unsolved = explanation.and_then(|explanation| words::unsolved(run, explanation));
    let unsolved = unsolved.map_or_else(String::new, |text| text + "\n");
    format!("{}Chain. {}\n{unsolved}\n", trimmed(&rows), words::EXTREME)
}

fn limit(worst: &WorstCase) -> String {
    if words::is_better_high(worst.figure) {
        return words::with_unit(worst.figure, worst.demand.limit);
    }
    names::limit_value(&worst.demand).unwrap_or_default()
}
