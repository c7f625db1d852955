//! The brief of `capacitors`: what a review reads first, and may read alone.

use maud::{Markup, html};

use super::{drift, settling, size, start_up};
use crate::converter::Drive;
use crate::report::format::page::brief::{Brief, Finding, brief, sentences};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::report::format::tolerance::measured_parts_alone;
use crate::report::format::{names, premises, switching};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::capacitors::CapacitorStudy;
use crate::study::capacitors::start_up::StartMethod;

/// Operating points shown: more would not fit the sheet.
const POINTS: usize = 4;

/// The first sheet.
pub(super) fn sheet(scenario: &Scenario, study: &CapacitorStudy) -> Markup {
    brief(&Brief {
        question: "How large must the flying capacitors be, how soon do they settle, and how may the chain \
                   start?"
            .to_owned(),
        answer: size::brief::answer(scenario, &study.size),
        verdicts: size::brief::verdicts(&study.size),
        measure: size::brief::measure(scenario),
        notice: notice(scenario, study),
        columns: [
            [
                Some(size::brief::failing(scenario, &study.size)),
                Some(size::brief::sizes(&study.size)),
                size::brief::purchase(scenario, &study.size),
            ]
            .into_iter()
            .flatten()
            .collect(),
            vec![
                settling::page::finding(scenario, &study.settling),
                drift::page::finding(scenario, &study.drift),
                points(scenario, study),
            ],
            vec![start_up::page::finding(&study.start_up, &study.drift)],
        ],
        last: [how_sure(scenario, study), changes(study)],
        foot: vec![
            limits(scenario),
            nominal_phase(scenario),
            caution(&html! {
                "Flying capacitors stay charged after switch-off. "
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

fn notice(scenario: &Scenario, study: &CapacitorStudy) -> Option<Markup> {
    let is_averaged = study.settings.method == Method::Averaged;
    let shift = study.sharing_shift.as_ref();
    let alone = measured_parts_alone(scenario.tolerances.iter().map(|(_, own)| own));
    (is_averaged || shift.is_some() || alone.is_some()).then(|| {
        html! {
            @if is_averaged {
                p {
                    strong { "A quick look only." } " The averaged solver understates the sharing error. Decide \
                     with the exact solver."
                }
            }
            @if let Some(alone) = alone { p { (alone) } }
            @if let Some(shift) = shift { p { (switching::shift_beside_limit(scenario, shift)) } }
        }
    })
}

fn points(scenario: &Scenario, study: &CapacitorStudy) -> Finding {
    let of_drive = |drive: &Drive| {
        let points = scenario.operating_points.iter().zip(&study.drives);
        let own = points.filter(|(_, own)| *own == drive);
        let names: Vec<String> =
            own.map(|(point, _)| format!("\u{201c}{}\u{201d}", point.name)).collect();
        (!names.is_empty()).then(|| format!("{} in {} drive.", names.join(", "), drive.name()))
    };
    let told: Vec<String> = Drive::ALL.iter().filter_map(of_drive).collect();
    Finding { remark: Some(told.join(" ")), ..judged_at(scenario, POINTS) }
}

fn how_sure(scenario: &Scenario, study: &CapacitorStudy) -> Finding {
    let mut told = size::brief::how_sure(&study.size, study.settings.samples);
    told.push(format!(
        "Settling: eigenvalues of the whole circuit, {} solver. Starts: {}.",
        names::method(study.settings.method).long,
        match study.start_up.method {
            StartMethod::Laws => "by law alone, --integrate checks it",
            StartMethod::Integrated => "by law and by integration",
        }
    ));
    told.extend(premises::sentences(scenario, None));
    Finding { heading: "How sure".to_owned(), remark: None, inside: sentences(&told) }
}

fn changes(study: &CapacitorStudy) -> Finding {
    Finding {
        heading: "What would change this answer".to_owned(),
        remark: None,
        inside: sentences(&size::brief::changes(&study.size)),
    }
}
