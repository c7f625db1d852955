//! The answer, first: the recommended set, or why there is none.

use maud::{Markup, html};

use crate::report::format::names::{PARTIAL, capital};
use crate::report::format::numbers::{count, given_percent, level, money, samples, yield_percent};
use crate::report::format::page::parts::{verdict_class, verdict_sign};
use crate::report::format::switching;
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words;
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::grades::{BalancingVerdict, SetResult};

/// The answer with its numbers.
pub(super) fn decision(subject: GradesSubject) -> Markup {
    let GradesSubject { scenario, ranking, .. } = subject;
    html! {
        (notices(subject))
        @if let Some(shift) = &ranking.sharing_shift {
            p class="notice" { (switching::shift_beside_limit(scenario, shift)) }
        }
        @if let Some(card) = without_balancing(subject) {
            div class="verdicts" { (card) }
            (balancing(subject))
            (with_balancing(subject))
        } @else {
            (with_balancing(subject))
            (balancing(subject))
        }
        p {
            (words::verification(ranking, &ranking.shortlist))
            @for sentence in words::advice(scenario, ranking) { " " (sentence) }
        }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

/// The best set without charge balancing, where that is shown to be the better choice.
fn without_balancing(subject: GradesSubject) -> Option<Markup> {
    let GradesSubject { scenario, grades, ranking, .. } = subject;
    let role = words::role_without(scenario, ranking)?;
    let best = ranking.without_balancing()?;
    let verdict = best.verdict(scenario.limits.yield_target);
    Some(html! {
        article class=(format!("card {}", verdict_class(verdict))) {
            h3 { (role) }
            @if let Some(reason) = words::refusal_without(scenario, ranking) {
                p { strong { (reason) } }
            }
            p class="word choice" { (words::set(grades, best)) }
            (costs(subject, best))
            (target(subject, verdict, best))
            p { (words::verification(ranking, &ranking.paralleled_shortlist)) }
        }
    })
}

/// The set with charge balancing that the answer names, or why there is none.
fn with_balancing(subject: GradesSubject) -> Markup {
    let GradesSubject { scenario, grades, ranking, .. } = subject;
    let verdict = ranking.verdict(scenario.limits.yield_target);
    let best = ranking.recommended();
    html! {
        div class="verdicts" {
            article class=(format!("card chain {}", verdict_class(verdict))) {
                (heading(subject))
                @if best.cost.estimate.is_finite() {
                    p class="word choice" { (words::set(grades, best)) }
                    (costs(subject, best))
                } @else if let Some(reason) = words::not_built(grades, best) {
                    p { (reason) }
                }
                (target(subject, verdict, best))
            }
        }
    }
}

/// Whether a set with charge balancing is recommended; if not, why, and what the set below is.
fn heading(subject: GradesSubject) -> Markup {
    let GradesSubject { scenario, ranking, .. } = subject;
    html! {
        @match words::refusal(scenario, ranking) {
            None => @if let Some(role) = words::role(scenario, ranking) { h3 { (role) } },
            Some(reason) => {
                h3 { "With charge balancing" }
                p { strong { (reason) } }
                @if let Some(role) = words::role(scenario, ranking) { p { (role) ":" } }
            }
        }
    }
}

fn notices(subject: GradesSubject) -> Markup {
    let ranking = subject.ranking;
    html! {
        @if let Some(stage) = ranking.interrupted {
            p class="notice" {
                strong { (PARTIAL) } " " (words::stopped_at(stage))
            }
        }
        @if ranking.settings.method == Method::Averaged {
            p class="notice" {
                strong { "Averaged solver." } " It understates the sharing error. Decide with the \
                 exact solver."
            }
        }
        @if let Some(alone) = words::measured_parts_alone(subject.scenario, subject.grades) {
            p class="notice" { (alone) }
        }
    }
}

fn costs(subject: GradesSubject, best: &SetResult) -> Markup {
    let currency = &subject.grades.currency;
    html! {
        p {
            "Cost per good converter: " strong { (words::cost(best.cost.estimate)) " " (currency) }
            " (" (words::cost_bounds(best.cost)) ")."
            @if best.surplus > 0.0 {
                " This holds " (money(best.surplus)) " for surplus parts, bought for a minimum order or a price break."
            }
            " Compared parts, per converter built: " (money(best.parts)) "."
            @if let Some(weeks) = best.lead_time {
                " Lead time: " (weeks) " weeks (shown, not weighed)."
            }
        }
    }
}

fn target(subject: GradesSubject, verdict: Verdict, set: &SetResult) -> Markup {
    let good = &set.good;
    let word = words::verdict_word(set, verdict);
    let target = subject.scenario.limits.yield_target;
    let relation = match set.verdict(target) {
        _ if !set.is_judged => "no limit is set, and the target is ",
        Verdict::Pass => "the whole interval meets the target of ",
        Verdict::Fail => "the whole interval misses the target of ",
        Verdict::NotDecided => "the interval holds the target of ",
    };
    html! {
        p class="word judged" { (verdict_sign(verdict)) (capital(word)) }
        p {
            "Yield: " strong { (yield_percent(good.estimate)) } " ("
            (count(good.successes)) " of " (samples(good.trials)) " meet every limit at every \
             operating point). " (level(good.confidence)) " interval " (words::yield_bounds(good))
            ": " (relation) (given_percent(target)) "."
        }
    }
}

/// What the flying capacitors are worth.
fn balancing(subject: GradesSubject) -> Markup {
    let GradesSubject { scenario, grades, ranking, .. } = subject;
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
