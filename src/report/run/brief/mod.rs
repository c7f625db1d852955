//! The brief of a run: what a review reads first, and may read alone.

mod briefed_run;
mod figures;
mod points;
mod words;

use maud::{Markup, html};

pub(in crate::report::run) use self::briefed_run::BriefedRun;
pub(in crate::report::run) use self::figures::{
    chain_uses, has_too_few_samples, over, without_share,
};
pub(in crate::report::run) use self::points::shown as points_shown;
use super::nominal;
use super::words::{kept_figures, verdict_word};
use crate::converter::Arrangement;
use crate::report::format::names::verdict_subject;
use crate::report::format::numbers::given_percent;
use crate::report::format::page::brief::{Brief, Finding, VerdictLine, brief, sentences};
use crate::report::format::page::brief_basis::{self, caution, nominal_phase};
use crate::report::format::premises;
use crate::report::format::switching;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::run::{Joint, Run};

/// The first sheet.
pub(in crate::report::run) fn sheet(told: &BriefedRun) -> Markup {
    let BriefedRun { scenario, run, .. } = *told;
    let limits = &scenario.limits;
    let first = [figures::sharing(told), figures::worst_case(told)];
    let second = [figures::failures(told), figures::drivers(told)];
    let third = [figures::limits(told), Some(points::finding(told))];
    brief(&Brief {
        question: words::question(scenario),
        answer: words::answer(told),
        verdicts: run.joint.iter().map(|joint| verdict_line(run, joint)).collect(),
        measure: format!(
            "target {}, confidence {}",
            given_percent(limits.yield_target),
            given_percent(limits.confidence)
        ),
        notice: notice(scenario, run),
        columns: [first, second, third].map(|all| all.into_iter().flatten().collect()),
        last: [how_sure(told), changes(told)],
        foot: vec![
            brief_basis::limits(scenario),
            html! {
                (nominal_phase(scenario))
                @if let Some(exact) = premises::exact_names(scenario, None) { ". " b { "Exact: " } (exact) }
            },
            caution(&html! {
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

fn verdict_line(run: &Run, joint: &Joint) -> VerdictLine {
    let subject = verdict_subject(joint.arrangement).to_owned();
    let line = VerdictLine::new(joint.verdict, joint.arrangement.name(), subject, &joint.good);
    VerdictLine { word: verdict_word(run, joint.arrangement, joint.verdict), ..line }
}

/// What must be known first: the quick solver, missing limits, a nominal converter that fails.
fn notice(scenario: &Scenario, run: &Run) -> Option<Markup> {
    let is_averaged = run.settings.method == Method::Averaged;
    let misses = run.nominal_misses.iter().any(|miss| miss.arrangement == Arrangement::Chain);
    let warnings = premises::warnings(scenario, None);
    let shift = switching::shift_over_limit(scenario, run.switching.as_ref(), &kept_figures(run));
    (is_averaged || misses || !warnings.is_empty() || shift.is_some()).then(|| {
        html! {
            @if let Some(shift) = shift { p { strong { (shift) } } }
            @if is_averaged {
                p {
                    strong { "A quick look only." }
                    " These results come from the averaged (fundamental harmonic) solver, which may \
                     understate sharing errors. For a verdict in a design review, run the exact solver. "
                    a href="#solvers" { "How far the two differ" } "."
                }
            }
            @for warning in &warnings { p { strong { (warning) } } }
            (nominal::of_chain(&run.nominal_misses))
        }
    })
}

fn how_sure(told: &BriefedRun) -> Finding {
    Finding {
        heading: "How sure".to_owned(),
        remark: None,
        inside: sentences(&words::how_sure(told)),
    }
}

fn changes(told: &BriefedRun) -> Finding {
    Finding {
        heading: "What would change this answer".to_owned(),
        remark: None,
        inside: sentences(&words::changes(told)),
    }
}
