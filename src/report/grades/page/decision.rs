//! The answer, first: the recommended set, or why there is none.

use maud::{Markup, html};

use super::subject::PageSubject;
use crate::report::format::names::{PARTIAL, verdict_heading};
use crate::report::format::numbers::{count, given_percent, level, money, samples, yield_percent};
use crate::report::format::page::parts::{verdict_class, verdict_sign};
use crate::report::grades::words;
use crate::solver::Method;
use crate::statistics::{Verdict, Yield};
use crate::study::grades::{BalancingVerdict, SetResult};

/// The answer with its numbers.
pub(super) fn decision(subject: PageSubject) -> Markup {
    let PageSubject { scenario, grades, ranking, .. } = subject;
    let verdict = ranking.verdict(scenario.limits.yield_target);
    let best = ranking.recommended();
    html! {
        (notices(subject))
        div class="verdicts" {
            article class=(format!("card chain {}", verdict_class(verdict))) {
                (heading(subject))
                @if best.cost.estimate.is_finite() {
                    p class="word choice" { (words::set(grades, best)) }
                    (costs(subject, best))
                } @else if let Some(reason) = words::not_built(grades, best) {
                    p { (reason) }
                }
                (target(subject, verdict, &best.good))
            }
        }
        (balancing(subject))
        p {
            (words::verification(ranking))
            @for sentence in words::advice(scenario, ranking) { " " (sentence) }
        }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

/// Whether a set is recommended; if not, why, and what the set below is.
fn heading(subject: PageSubject) -> Markup {
    let PageSubject { scenario, ranking, .. } = subject;
    html! {
        @match words::refusal(scenario, ranking) {
            None => h3 { "Recommended, in the chain" },
            Some(reason) => {
                h3 { "In the chain" }
                p { strong { (reason) } }
                @if let Some(role) = words::role(scenario, ranking) { p { (role) ":" } }
            }
        }
    }
}

fn notices(subject: PageSubject) -> Markup {
    let ranking = subject.ranking;
    html! {
        @if let Some(stage) = ranking.interrupted {
            p class="notice" {
                strong { (PARTIAL) } " All numbers rest on the samples done by then (" (stage.name())
                ")."
            }
        }
        @if ranking.settings.method == Method::Averaged {
            p class="notice" {
                strong { "Averaged solver." } " It understates the sharing error. Decide with the \
                 exact solver."
            }
        }
    }
}

fn costs(subject: PageSubject, best: &SetResult) -> Markup {
    let currency = &subject.grades.currency;
    html! {
        p {
            "Cost per good converter: " strong { (words::cost(best.cost.estimate)) " " (currency) }
            " (" (words::cost_bounds(best.cost)) ")."
            @if best.surplus > 0.0 {
                " Of it for surplus parts, because of minimum orders: " (money(best.surplus)) "."
            }
            " Compared parts, per converter built: " (money(best.parts)) "."
            @if let Some(weeks) = best.lead_time {
                " Lead time: " (weeks) " weeks (shown, not weighed)."
            }
        }
    }
}

fn target(subject: PageSubject, verdict: Verdict, good: &Yield) -> Markup {
    let target = subject.scenario.limits.yield_target;
    let relation = match good.verdict(target) {
        Verdict::Pass => "the whole interval meets the target of ",
        Verdict::Fail => "the whole interval misses the target of ",
        Verdict::NotDecided => "the interval holds the target of ",
    };
    html! {
        p class="word judged" { (verdict_sign(verdict)) (verdict_heading(verdict)) }
        p {
            "Yield: " strong { (yield_percent(good.estimate)) } " ("
            (count(good.successes)) " of " (samples(good.trials)) " meet every limit at every \
             operating point). " (level(good.confidence)) " interval " (words::yield_bounds(good))
            ": " (relation) (given_percent(target)) "."
        }
    }
}

/// What the flying capacitors are worth.
fn balancing(subject: PageSubject) -> Markup {
    let PageSubject { scenario, grades, ranking, .. } = subject;
    let verdict = ranking.balancing.map(|answer| answer.verdict);
    let Some(sentences) = words::balancing(scenario, grades, ranking) else { return html! {} };
    html! {
        p class=[(verdict == Some(BalancingVerdict::NotRecommended)).then_some("notice")] {
            @for (n, sentence) in sentences.iter().enumerate() {
                @if n == 0 { strong { (sentence) } } @else { " " (sentence) }
            }
        }
    }
}
