//! How costs are counted, methods, validity, and the command that makes the page again.

use maud::{Markup, html};

use super::View;
use crate::converter::{Drive, Parameter};
use crate::report::format::command;
use crate::report::format::page::prose;
use crate::report::format::words;
use crate::report::grades::words::money;
use crate::scenario::Failed;

/// The formulas, with the scenario's numbers.
pub(super) fn costs(view: View) -> Markup {
    let grades = view.grades;
    let currency = &grades.currency;
    html! {
        p {
            "Wanted: " (words::count(grades.quantity)) " good converters. A failed one is "
            @match grades.failed {
                Failed::Scrapped => { "scrapped, and another one is built" }
                Failed::Reworked => { "reworked until it is good" }
            }
            "; that costs " (money(grades.failure_cost)) " " (currency) " each. Everything that is \
             not on offer costs " (money(grades.other_cost)) " " (currency) " a built converter."
        }
        pre { code {
            @match grades.failed {
                Failed::Scrapped => {
                    "built B = wanted / yield\n"
                    "cost of a good converter = (Σ price × max(parts × B, least order)\n"
                    "                            + B × other + B (1 − yield) × failure) / wanted\n"
                    "without least orders: (parts + other + (1 − yield) × failure) / yield"
                }
                Failed::Reworked => {
                    "built B = wanted\n"
                    "cost of a good converter = (Σ price × max(parts × B, least order)\n"
                    "                            + B × other + B (1 − yield) × failure) / wanted\n"
                    "without least orders: parts + other + (1 − yield) × failure"
                }
            }
        } }
        p {
            "Common practice, no source. Parts bought beyond the need count as worth nothing; B is \
             the expected number, not rounded. The lead time of a set is that of its slowest part. \
             The prices are those of the scenario, as good or bad as they are there."
        }
    }
}

/// How the numbers were obtained.
pub(super) fn methods(view: View) -> Markup {
    let confidence = words::given_percent(view.scenario.limits.confidence);
    html! {
        dl {
            dt { "Samples" }
            dd {
                "A sample is a converter with all its parts drawn, solved in the chain and \
                 paralleled at every operating point. Sample k draws the same probabilities with every set of grades: \
                 sets differ by their parts, not by the luck of the draw."
            }
            dt { "Recommendation" }
            dd {
                "Sets go by their standing to the yield target on the first samples, then by cost; \
                 the first four are tried again on fresh samples, and as long as none surely meets \
                 the target there, four more, up to twelve. The recommended set is the cheapest of \
                 them that surely meets it, at a level that allows for the longest list; where none \
                 does, the verdict says so. The best without charge balancing is found in the same \
                 way and tried with them; single steps are tried on the same fresh samples, at the \
                 same level. Grades go by rising price: a dearer one need not be the narrower."
            }
            dt { "Intervals" }
            dd {
                "Yields: the two-sided " (confidence) " interval of Clopper and Pearson (Biometrika \
                 26, 1934, 404–413); the bounds of a cost are the costs at the bounds of its yield. \
                 Differences of yields: R. G. Newcombe’s method 10 for paired samples (Statistics \
                 in Medicine 17, 1998, 2635–2650). Differences of costs: the same rule on the \
                 costs at Wilson’s bounds (G. Y. Zou and A. Donner, Statistics in Medicine 27, \
                 2008, 1693–1702). With m comparisons each has the level 1 − (1 − "
                (confidence) ")/m. Where the interval of a difference of costs holds zero, the \
                 sets tie."
            }
        }
    }
}

/// What the results rest on.
pub(super) fn validity(view: View, drives: &[Drive]) -> Markup {
    let scenario = view.scenario;
    let offered = |p: Parameter| view.grades.offers.iter().any(|offer| offer.parameter == p);
    let fixed: Vec<String> = scenario
        .tolerances
        .iter()
        .filter(|(p, _)| !offered(*p))
        .map(|(p, _)| words::parameter(p))
        .collect();
    html! {
        (prose::model(scenario, drives))
        p {
            @if fixed.is_empty() { "No other part scatters." } @else {
                "Beside the grades on offer these scatter as the scenario has it: "
                (fixed.join(", ")) "."
            }
            " An interval says what sampling leaves open. It does not say whether the parts that \
             will be delivered scatter as their grades promise, nor whether prices and lead times \
             hold."
        }
    }
}

/// Everything that it takes to make this page again.
pub(super) fn reproduce(view: View) -> Markup {
    html! {
        p {
            "The same scenario, seed and version give the same bytes, for any number of threads. \
             In the folder of the scenario:"
        }
        pre { code { (command::grades(view.scenario, view.ranking.settings, view.stocked.map(|s| &s.stock))) } }
        p {
            "Beside this page stand " code { "summary.json" } " (every figure with its interval) \
             and " code { "grades.csv" } " (a row a set and arrangement)"
            @if view.stocked.is_some() { ", and " code { "build_list.csv" } " (a row a phase)" }
            "."
        }
    }
}
