//! The brief of `bands`: what to specify, and what it rests on.

mod figures;
mod tables;
mod words;

use maud::{Markup, html};

use super::words::{names, specify};
use crate::report::format::names::verdict_subject;
use crate::report::format::numbers::{given_percent, level};
use crate::report::format::page::brief::{Brief, Finding, VerdictLine, brief, sentences};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::report::format::switching;
use crate::report::format::tolerance::measured_parts_alone;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::bands::{ArrangementBands, Bands};

/// Operating points shown: more would not fit the sheet.
const POINTS: usize = 6;

/// The first sheet.
pub(super) fn sheet(scenario: &Scenario, bands: &Bands) -> Markup {
    let first = [figures::parts(bands), tables::prices(bands)];
    let second = [figures::map(bands), Some(judged_at(scenario, POINTS))];
    let third = [tables::assumptions(bands), None];
    brief(&Brief {
        question: words::question(bands).to_owned(),
        answer: words::answer(bands),
        verdicts: bands.parts.iter().map(|part| verdict_line(part, bands)).collect(),
        measure: format!(
            "target {}, confidence {}",
            given_percent(bands.rule.target),
            level(bands.rule.plain)
        ),
        notice: notice(scenario, bands),
        columns: [first, second, third].map(|all| all.into_iter().flatten().collect()),
        last: [
            list("How sure", &words::how_sure(bands)),
            list("What would change this answer", &words::changes(bands)),
        ],
        foot: vec![
            limits(scenario),
            nominal_phase(scenario),
            caution(&html! {
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

fn verdict_line(part: &ArrangementBands, bands: &Bands) -> VerdictLine {
    let subject = format!("{} {}", names::starting_bands(bands), verdict_subject(part.arrangement));
    let (verdict, class) = (part.told_verdict(), part.arrangement.name());
    let line = VerdictLine::new(verdict, class, subject, &part.present.good);
    VerdictLine { word: names::verdict_word(part), ..line }
}

fn list(heading: &str, all: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(all) }
}

/// What must be known first.
fn notice(scenario: &Scenario, bands: &Bands) -> Option<Markup> {
    let unfinished = bands.is_partial().then(|| names::unfinished(bands));
    let averaged = (bands.settings.method == Method::Averaged).then(|| {
        "The averaged solver underestimates the sharing error. Confirm these bands with the exact solver."
            .to_owned()
    });
    let exact = bands.proposal().and_then(|proposal| specify::exact_parts(&proposal));
    let notices = [
        unfinished,
        averaged,
        measured_parts_alone(bands.present.iter().map(|(_, own)| own)),
        exact,
        specify::on_offer(bands).map(str::to_owned),
        specify::assumed_exact(scenario, bands),
        bands.sharing_shift.as_ref().map(|own| switching::shift_beside_limit(scenario, own)),
    ];
    let notices: Vec<String> = notices.into_iter().flatten().collect();
    (!notices.is_empty()).then(|| html! { @for own in notices { p { (own) } } })
}
