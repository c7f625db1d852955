//! How costs are counted, methods, validity, and the command that makes the page again.

use maud::{Markup, html};

use crate::converter::{Drive, Parameter};
use crate::report::format::names::parameter_and_symbol;
use crate::report::format::numbers::{count, counted, given_percent, money, samples};
use crate::report::format::page::prose;
use crate::report::format::{command, conditions};
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words;
use crate::scenario::Failed;
use crate::study::grades::{SeriesLots, SeriesOrder};

/// The formulas, with the scenario's numbers.
pub(super) fn costs(subject: GradesSubject) -> Markup {
    let grades = subject.grades;
    let currency = &grades.currency;
    html! {
        p {
            "Wanted: " (count(grades.quantity)) " good converters. A failed one is "
            @match grades.failed {
                Failed::Scrapped => { "scrapped, and another one is built" }
                Failed::Reworked => { "reworked until it is good" }
            }
            ": " (money(grades.failure_cost)) " " (currency) " per failure. Everything that is not \
             on offer costs " (money(grades.other_cost)) " " (currency) " per converter built."
        }
        pre { code {
            @match grades.failed {
                Failed::Scrapped => {
                    "built B = wanted / yield\n"
                    "cost per good converter = (Σ price × max(parts × B, minimum order)\n"
                    "                           + B × other + B (1 − yield) × failure) / wanted\n"
                    "without minimum orders: (parts + other + (1 − yield) × failure) / yield"
                }
                Failed::Reworked => {
                    "built B = wanted\n"
                    "cost per good converter = (Σ price × max(parts × B, minimum order)\n"
                    "                           + B × other + B (1 − yield) × failure) / wanted\n"
                    "without minimum orders: parts + other + (1 − yield) × failure"
                }
            }
        } }
        p {
            "Where larger orders have lower prices, the cheapest order is taken that holds all parts \
             needed. Measuring and matching add their cost for each part used."
        }
        p {
            "Common practice, no source. Surplus parts count as worth nothing. B is the expected \
             number, not rounded. The lead time of a set is that of its slowest part. The prices \
             are those of the scenario, and no better."
        }
    }
}

/// How the numbers were obtained.
pub(super) fn methods(subject: GradesSubject) -> Markup {
    let confidence = given_percent(subject.scenario.limits.confidence);
    html! {
        dl {
            dt { "Samples" }
            dd {
                "A sample is a converter with all its parts drawn, solved in the chain and \
                 paralleled at every operating point. Sample k draws the same probabilities with \
                 every set of grades. So sets differ by their parts alone. "
                (prose::FAR_FROM_LIMITS)
            }
            dt { "Recommendation" }
            dd {
                "The first samples rank the sets: those that meet the yield target first, then the \
                 undecided ones, each by cost. The first four are the short list, which is tried \
                 again on fresh samples. Four more follow, up to twelve, as long as none of it meets \
                 the target there and one that is left may. The recommended set is the cheapest that \
                 meets the target on the fresh samples, at a level that allows for the longest list. \
                 A set picked as the best of many looks better on the samples that picked it; the \
                 fresh samples did not see the choice. Single steps are tried on the same fresh \
                 samples. Steps go by rising price: a dearer grade need not be the narrower."
                @if let Some(fewest) = subject.ranking.fewest_samples {
                    " A pass takes at least " (samples(fewest)) ", all of them good."
                }
            }
            (balancing(&confidence))
            (order(subject, &confidence))
            dt { "Intervals" }
            dd {
                "Yields: the two-sided " (confidence) " interval of Clopper and Pearson (Biometrika \
                 26, 1934, 404–413), each for itself. On the short lists the level allows for the \
                 longest list. \
                 The bounds of a cost are the costs at the bounds of its yield. Differences of \
                 yields: R. G. Newcombe’s method 10 for paired samples (Statistics in Medicine 17, \
                 1998, 2635–2650). Differences of costs: the same rule on the costs at Wilson’s \
                 bounds (G. Y. Zou and A. Donner, Statistics in Medicine 27, 2008, 1693–1702). The \
                 samples choose the set that others are compared with. So a table counts all \
                 pairs of sets that it might come to compare, m of them. With charge balancing the first \
                 samples and the fresh ones take half of the permitted error each: a comparison has the \
                 level 1 − (1 − " (confidence) ")/(2 m). Without charge balancing it has the \
                 level 1 − (1 − " (confidence) ")/m. A set costs more, or \
                 less, where the whole interval of the difference says so; where it holds zero, the \
                 sets tie."
            }
        }
    }
}

/// How the number to build and the matched parts were obtained.
fn order(subject: GradesSubject, confidence: &str) -> Markup {
    let order = subject.ranking.order(subject.scenario, subject.grades);
    html! {
        @if let Some(order) = order {
            dt { "Number to build" }
            dd {
                "The expected number B holds enough good converters on average only. The number to build holds \
                 them with " (confidence) ". " (number_to_build(&order))
            }
        }
        dt { "Matched parts" }
        dd {
            "Parts of one lot are measured and sorted, and neighbours go into one converter. Each sample \
             draws a pool of its own and takes the group of its first part, so samples stay independent. \
             The measurement errs normally."
        }
    }
}

/// How the number to build follows.
fn number_to_build(order: &SeriesOrder) -> String {
    if let SeriesLots::Drawn(drawn) = &order.lots {
        return format!(
            "{} were drawn from lots, each up to its last good converter. {} in a row share the lots of all \
             their parts; the next ones have other lots. One more series takes any place among those drawn \
             with the same probability. So the number to build is the length of rank {} (n + 1) of n, the \
             shortest first. Costs and yields of the sets follow from samples with lots of their own.",
            words::drawn_series(drawn),
            counted(drawn.lots.converters, "converter"),
            order.series.confidence
        );
    }
    let independent = "Half of the permitted error goes to the yield, which is taken at a lower bound that \
                       holds for all sets of both short lists. The other half goes to the luck of the series. \
                       The number of converters up to the last good one follows the negative binomial \
                       distribution. That holds for converters that fail independently of each other.";
    match &order.lots {
        SeriesLots::LeftOut(reason) => format!(
            "{independent} Parts of one lot fail together: a series from few lots may hold fewer good ones. {}",
            words::left_out(*reason)
        ),
        _ => independent.to_owned(),
    }
}

/// How the answer on charge balancing was obtained.
fn balancing(confidence: &str) -> Markup {
    html! {
        dt { "Charge balancing" }
        dd {
            "The sets without charge balancing have a short list of their own, made by the same rule \
             and tried on the same fresh samples. A set is better than another one if two of three \
             hold: it meets the target, the other misses it, the other costs more. \
             Charge balancing is recommended if one set with it is shown to be better than every set \
             without it. It lowers the cost if, besides, every one of these costs more. Otherwise the \
             same is asked the other way round. Sets that are not on a short list are judged by the \
             first samples. All bounds are exact (Clopper and Pearson), and costs are compared at the \
             bounds of the yields. An answer is wrong only if a bound errs. It belongs to the truly \
             best set of the other side, or to one of at most twelve sets of the named side. These \
             errors sum up to at most 1 − " (confidence) ", whatever the number of sets."
        }
    }
}

/// What the results rest on.
pub(super) fn validity(subject: GradesSubject, drives: &[Drive]) -> Markup {
    let scenario = subject.scenario;
    let offered = |p: Parameter| subject.grades.offers.iter().any(|offer| offer.parameter == p);
    let fixed: Vec<String> = scenario
        .tolerances
        .iter()
        .filter(|(p, _)| !offered(*p))
        .map(|(p, _)| parameter_and_symbol(p))
        .collect();
    html! {
        (prose::model(scenario, drives))
        p {
            @if fixed.is_empty() { "No other part scatters." } @else {
                "These parts scatter as the scenario has it, with every set: " (fixed.join(", "))
                "."
            }
            " An interval says what sampling leaves open. It does not say whether delivered parts \
             scatter as their grades promise, nor whether prices and lead times hold."
        }
        (conditions::assumed(scenario))
    }
}

/// Everything that it takes to make this page again.
pub(super) fn reproduce(subject: GradesSubject) -> Markup {
    let stock = subject.stocked.map(|stocked| &stocked.stock);
    html! {
        p {
            "The same scenario, seed and version give the same bytes, for any number of threads. "
            @if stock.is_some() { "In a folder that holds the scenario and the lists:" }
            @else { "In the folder of the scenario:" }
        }
        pre { code { (command::grades(subject.scenario, subject.ranking.settings, stock)) } }
        p {
            "The same folder has " code { "summary.json" } " (every figure with its interval) \
             and " code { "grades.csv" } " (a row per set and arrangement)"
            @if stock.is_some() { ", and " code { "build_list.csv" } " and " code { "not_passing.csv" } " (a row per phase)" }
            "."
        }
    }
}
