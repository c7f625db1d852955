//! The brief of `sensors`: what a design review reads first, and may read alone.

mod figures;
mod tables;
mod words;

pub(super) use self::figures::class;
use maud::{Markup, html};

use super::words as told;
use crate::report::format::numbers::given_percent;
use crate::report::format::page::brief::{Brief, Finding, VerdictLine, brief, sentences};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::scenario::{Scenario, SensorRequest};
use crate::solver::Method;
use crate::study::sensors::{SensorStudy, Variant};

/// Operating points shown: more would not fit the sheet.
const POINTS: usize = 6;
/// Sentences on what would change the answer.
const CHANGES: usize = 3;

/// The first sheet.
pub(super) fn sheet(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Markup {
    let first = [Some(figures::variants(scenario, study)), Some(judged_at(scenario, POINTS))];
    // The comparison of variants stands where there is room.
    let changes = Some(tables::changes(study));
    let [beside, below] = match figures::price(study) {
        Some(price) => [Some(price), changes],
        None => [changes, None],
    };
    let second = [figures::robustness(scenario, study), beside];
    let third = [figures::switches(scenario, study), below];
    let [changes, robust] = {
        let found = told::sensitivity(scenario, study);
        [found.changes, found.robustness]
    };
    let all = changes.into_iter().chain(robust).take(CHANGES);
    let mut changes: Vec<String> = all.collect();
    if changes.is_empty() {
        changes.push("No break-even was searched for.".to_owned());
    }
    brief(&Brief {
        question: words::question(scenario),
        answer: words::answer(scenario, study),
        verdicts: judged(study).map(|variant| verdict_line(study, variant)).collect(),
        measure: format!(
            "target {}, confidence {}",
            given_percent(scenario.limits.yield_target),
            given_percent(scenario.limits.confidence)
        ),
        notice: notice(scenario, request, study),
        columns: [first, second, third].map(|all| all.into_iter().flatten().collect()),
        last: [
            list("How sure", &words::how_sure(scenario, study)),
            list("What would change this answer", &changes),
        ],
        foot: vec![
            limits(scenario),
            nominal_phase(scenario),
            html! { b { "Sensors: " } (words::sensors(request)) },
            html! { b { "Prices: " } (told::per_part(&request.price)) ". All costs are in this money." },
            caution(&html! { a href="#cautions" { "Cautions" } " apply." }),
        ],
    })
}

/// The variants whose verdicts stand below the answer: with and without sensors, and the bare converter where
/// nothing need be added.
fn judged(study: &SensorStudy) -> impl Iterator<Item = Variant> {
    let bare = study.decision().cheapest == Some(Variant::Paralleled);
    let bare = bare.then_some(Variant::Paralleled);
    bare.into_iter().chain([Variant::Chain, Variant::ParalleledWithSensors])
}

fn verdict_line(study: &SensorStudy, variant: Variant) -> VerdictLine {
    let result = study.variant(variant);
    let class = variant.arrangement().name();
    let line = VerdictLine::new(result.verdict, class, told::name(variant), &result.good);
    VerdictLine { word: told::verdict(result), ..line }
}

fn list(heading: &str, all: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(all) }
}

/// What must be known first: an unfinished study, the quick solver, doubts about the scenario.
fn notice(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Option<Markup> {
    let warnings = told::warnings(scenario, request, study);
    let [unfinished, open] = [told::unfinished(study), told::open_cost(scenario, study)];
    let is_averaged = study.settings.method == Method::Averaged;
    let is_silent = warnings.is_empty() && unfinished.is_none() && open.is_none() && !is_averaged;
    (!is_silent).then(|| {
        html! {
            @if let Some(missing) = unfinished { p { strong { (missing) } } }
            @if is_averaged {
                p {
                    strong { "Averaged solver." } " It understates the sharing error. Decide with the \
                     exact solver."
                }
            }
            @if let Some(open) = open { p { (open) } }
            @for warning in warnings { p { (warning) } }
        }
    })
}
