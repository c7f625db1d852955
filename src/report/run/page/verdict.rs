//! The answer, first.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::page::parts::{
    arrangement, folded_table, headings, number, table, verdict_class, verdict_sign,
};
use crate::report::format::what_if::words::{THE_VERDICT, sentence as sentence_of_assumptions};
use crate::report::format::{names, numbers, switching};
use crate::report::run::{nominal, words};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::{Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::what_if::WhatIf;
use crate::study::explanation::Explanation;
use crate::study::run::{Joint, Run};

/// The verdicts of both arrangements, and what became of the samples.
pub(super) fn verdict(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> Markup {
    let what_if = explanation.and_then(|explanation| explanation.what_if.as_ref());
    html! {
        @if run.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." }
                " These results come from the averaged (fundamental harmonic) solver, which may \
                 understate sharing errors. For a verdict in a design review, run the exact \
                 solver. "
                a href="#solvers" { "How far the two differ" } "."
            }
        }
        (nominal::page(&run.nominal_misses))
        div class="verdicts" {
            @for joint in &run.joint {
                @let is_chain = joint.arrangement == Arrangement::Chain;
                (card(scenario, run, joint, what_if.filter(|_| is_chain)))
            }
        }
        p class="remark" {
            (words::sampling(run))
            @if let Some(first) = words::first_in_files(run) { " " (first) }
        }
        (by_age(run))
        (statuses(run))
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

fn card(scenario: &Scenario, run: &Run, joint: &Joint, what_if: Option<&WhatIf>) -> Markup {
    html! {
        article class=(format!("card {} {}", joint.arrangement.name(), verdict_class(joint.verdict))) {
            h3 { (names::arrangement_heading(joint.arrangement)) }
            p class="word" { (verdict_sign(joint.verdict)) (heading(run, joint.arrangement, joint.verdict)) }
            p { (sentence(scenario, joint)) }
            @if let Some(forecast) = &joint.forecast {
                p { (words::of_samples(joint, &words::to_decide(run, joint, forecast))) }
            }
            @if let Some(measured) = words::measured_parts(joint) { p { (measured) } }
            (binding(run, joint))
            @if joint.arrangement == Arrangement::Chain {
                @if let Some(shift) = switching::shift(scenario, run.switching.as_ref(), &words::kept_figures(run)) {
                    p { (shift) " " a href="#switching" { "Soft switching" } }
                }
            }
            @if let Some(found) = what_if {
                p { (words::of_samples(joint, &sentence_of_assumptions(THE_VERDICT, found))) " " a href="#what-if" { "All assumptions" } }
            }
        }
    }
}

fn heading(run: &Run, arrangement: Arrangement, verdict: Verdict) -> String {
    names::capital(words::verdict_word(run, arrangement, verdict))
}

fn sentence(scenario: &Scenario, joint: &Joint) -> Markup {
    let good = &joint.good;
    let relation = match joint.verdict {
        Verdict::Pass => "the whole interval meets the target of ",
        Verdict::Fail => "the whole interval misses the target of ",
        Verdict::NotDecided if !joint.is_judged => "there is no verdict against the target of ",
        Verdict::NotDecided => "the target lies inside, at ",
    };
    html! {
        strong { (numbers::yield_percent(good.estimate)) }
        " of the converters meet every limit at every operating point: "
        (numbers::count(good.successes)) " of " (numbers::samples(good.trials)) ". The "
        (numbers::given_percent(good.confidence.get())) " " (words::interval(good.method))
        @if joint.of_measured_parts.is_some() { " for the whole production of the measured parts" }
        " reaches from "
        (numbers::yield_percent(good.lower)) " to " (numbers::yield_percent(good.upper)) ": "
        (relation) (numbers::given_percent(scenario.limits.yield_target)) "."
    }
}

fn binding(run: &Run, joint: &Joint) -> Markup {
    html! {
        @match &joint.binding {
            Some(Binding { operating_point: point, demand, missed }) => p {
                "Limited by the " strong { (names::limit(demand).long) }
                @if let Some(limit) = names::demanded(demand) { " (" (limit) ")" }
                " at operating point “" (point) "”: " (numbers::count(*missed)) " of "
                (numbers::samples(run.settings.samples)) " " (words::miss(*missed)) " it."
            },
            None => p { "No sample missed any limit." },
        }
    }
}

/// Both ages side by side.
fn by_age(run: &Run) -> Markup {
    let ends = |good: &Yield| {
        let [lower, upper] = [good.lower, good.upper].map(numbers::yield_percent);
        format!("{lower} to {upper}")
    };
    let rows = html! {
        @for own in &run.by_age {
            tr {
                th scope="row" { (own.age.name()) }
                (arrangement(own.arrangement))
                td { (heading(run, own.arrangement, own.verdict)) }
                (number(numbers::yield_percent(own.good.estimate)))
                (number(ends(&own.good)))
            }
        }
    };
    let head = headings(3, &["age", "arrangement", "verdict", "yield", "interval"]);
    html! {
        @if !run.by_age.is_empty() {
            (table("New and at the end of life, over all operating points and limits", &head, &rows))
            p class="remark" {
                "The verdict above is on both ages together: a good converter meets every limit new and \
                 at the end of life."
            }
        }
    }
}

fn statuses(run: &Run) -> Markup {
    let rows = html! {
        @for a in Arrangement::ALL {
            @let totals = run.totals(a);
            tr {
                (arrangement(a))
                @for n in totals { (number(numbers::count(n))) }
                (number(numbers::count(totals.iter().sum())))
            }
        }
    };
    let head = headings(1, &["arrangement", "solved", "out of range", "not solved", "all"]);
    html! {
        (folded_table("Samples of all operating points together", &head, &rows))
        p class="remark" {
            "No sample is left out. " em { "Out of range" } ": no switching frequency inside the \
             band delivers the output. " em { "Not solved" } ": the solver found no steady state. \
             Both count as failures in every yield of this page."
        }
    }
}
