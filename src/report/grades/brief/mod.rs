//! The brief of a comparison of grades: what a purchasing meeting reads first, and may read alone.

mod costs;
mod order;
mod points;
mod stock;
mod words;

pub(super) use self::stock::stock_sheet;
use maud::{Markup, html};

use super::subject::GradesSubject;
use super::words as common;
use crate::report::format::names::{PARTIAL, verdict_subject};
use crate::report::format::numbers::given_percent;
use crate::report::format::page::brief::{Brief, Finding, VerdictLine, brief, sentences};
use crate::report::format::page::brief_basis::{self, caution, nominal_phase};
use crate::report::format::switching;
use crate::solver::Method;
use crate::study::grades::{SetResult, price_gaps};

/// The first sheet.
pub(super) fn sheet(told: GradesSubject) -> Markup {
    let limits = &told.scenario.limits;
    let order = told.ranking.order(told.scenario, told.grades);
    let first = [costs::finding(told), order.as_ref().map(|own| order::finding(told, own))];
    let second = [order.as_ref().map(order::series), costs::steps(told)];
    let third = [costs::matching(told), Some(points::finding(told))];
    brief(&Brief {
        question: words::question(told),
        answer: words::answer(told),
        verdicts: verdicts(told),
        measure: format!(
            "target {}, confidence {}",
            given_percent(limits.yield_target),
            given_percent(limits.confidence)
        ),
        notice: notice(told),
        columns: [first, second, third].map(|all| all.into_iter().flatten().collect()),
        last: [
            finding("How sure", &words::how_sure(told)),
            finding("What would change this answer", &words::changes(told)),
        ],
        foot: vec![
            brief_basis::limits(told.scenario),
            nominal_phase(told.scenario),
            caution(&html! {
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

fn finding(heading: &str, told: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(told) }
}

/// The named set with charge balancing, and the best one without.
fn verdicts(told: GradesSubject) -> Vec<VerdictLine> {
    let (ranking, target) = (told.ranking, told.scenario.limits.yield_target);
    let line = |set: &SetResult, verdict| {
        let arrangement = set.candidate.arrangement;
        let subject = verdict_subject(arrangement).to_owned();
        let line = VerdictLine::new(verdict, arrangement.name(), subject, &set.good);
        VerdictLine { word: common::verdict_word(set, verdict), ..line }
    };
    let chain = line(ranking.recommended(), ranking.verdict(target));
    let plain = ranking.without_balancing().map(|set| line(set, set.verdict(target)));
    std::iter::once(chain).chain(plain).collect()
}

/// What must be known first: an interruption, the quick solver, measured parts, conspicuous prices.
fn notice(told: GradesSubject) -> Option<Markup> {
    let ranking = told.ranking;
    let is_averaged = ranking.settings.method == Method::Averaged;
    let alone = common::measured_parts_alone(told.scenario, told.grades);
    let gaps = price_gaps(told.grades);
    let refusal = common::refusal(told.scenario, ranking);
    let shift = ranking.sharing_shift.as_ref();
    let shift = shift.map(|own| switching::shift_beside_limit(told.scenario, own));
    let has_any = ranking.is_partial() || is_averaged || alone.is_some() || !gaps.is_empty();
    (has_any || refusal.is_some() || shift.is_some()).then(|| {
        html! {
            @if let Some(shift) = shift { p { (shift) } }
            @if let Some(stage) = ranking.interrupted {
                p { strong { (PARTIAL) } " " (common::stopped_at(stage)) }
            }
            @if let Some(refusal) = refusal { p { (refusal) } }
            @if is_averaged {
                p {
                    strong { "Averaged solver." }
                    " It understates the sharing error. Decide with the exact solver."
                }
            }
            @if let Some(alone) = alone { p { (alone) } }
            @for gap in &gaps { p { strong { "A price that looks wrong. " } (common::price_gap(gap)) } }
        }
    })
}
