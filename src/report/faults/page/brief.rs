//! The brief of `faults`: what a review reads first, and may read alone.

use maud::{Markup, html};

use crate::converter::{Arrangement, FailureMode};
use crate::report::faults::findings::{NamedFinding, Remedy, findings};
use crate::report::faults::words;
use crate::report::format::faults::fault_word::{FaultWord, failure};
use crate::report::format::faults::matrix::short_outcome;
use crate::report::format::faults::rows::{FailureRow, WorstRow};
use crate::report::format::names;
use crate::report::format::numbers::{counted, four, kilo};
use crate::report::format::page::brief::{Brief, Finding, brief, sentences, short_brief};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::report::format::page::parts::{headings, number};
use crate::report::format::{premises, switching};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::faults::{FaultResult, FaultStudy};

/// Phases up to which cells of the matrix hold words.
const WORDS_UP_TO: usize = 4;
/// Operating points shown: more would not fit the sheet.
const SHOWN: usize = 6;
/// So few operating points, and words in the matrix, leave paper empty.
const SHORT: usize = 4;

/// The first sheet.
pub(super) fn sheet(scenario: &Scenario, study: &FaultStudy) -> Markup {
    // The remedy comes first among them.
    let mut named = findings(study).iter().map(named_finding).collect::<Vec<_>>().into_iter();
    let remedy: Vec<Finding> = named.by_ref().take(1).collect();
    let is_short = scenario.phases <= WORDS_UP_TO && scenario.operating_points.len() <= SHORT;
    let drawn = if is_short { short_brief } else { brief };
    drawn(&Brief {
        question: "One part fails: does the converter run on, and what brings it back?".to_owned(),
        answer: words::of_chain(study),
        verdicts: Vec::new(),
        measure: words::of_reference(study),
        notice: notice(scenario, study),
        columns: [
            std::iter::once(matrix(study)).chain(named).collect(),
            remedy.into_iter().chain(std::iter::once(points(study))).collect(),
            vec![signs(study), judged_at(scenario, SHOWN)],
        ],
        last: [how_sure(study), changes(scenario)],
        foot: vec![
            html! { b { (words::DANGER[0]) } },
            limits(scenario),
            nominal_phase(scenario),
            caution(&html! { a href="#cautions" { "Cautions" } " apply." }),
        ],
    })
}

fn notice(scenario: &Scenario, study: &FaultStudy) -> Option<Markup> {
    let is_averaged = study.settings.method == Method::Averaged;
    let before = words::before(scenario, study);
    let offers = premises::exact_offers(scenario);
    let shift = study.sharing_shift.as_ref();
    let shift = shift.map(|own| switching::shift_beside_limit(scenario, own));
    let told: Vec<&String> = before.iter().chain(&offers).chain(&shift).collect();
    (is_averaged || !told.is_empty()).then(|| {
        html! {
            @if is_averaged {
                p { strong { "A quick look only." } " Take decisions from the exact solver." }
            }
            @for told in told { p { (told) } }
        }
    })
}

fn named_finding(own: &NamedFinding) -> Finding {
    Finding {
        heading: own.heading.to_owned(),
        remark: None,
        inside: html! { p { (own.sentence) } },
    }
}

/// Results of the chain at all operating points.
fn of_chain(study: &FaultStudy) -> Vec<&FaultResult> {
    study.results.iter().filter(|own| own.arrangement() == Arrangement::Chain).collect()
}

/// The worst word of every failure at every place, over all operating points and legs.
fn matrix(study: &FaultStudy) -> Finding {
    let phases = study.healthy.first().map_or(0, |own| own.state.phases.len());
    let rows = WorstRow::all(study, phases);
    let failures = || rows.iter().filter(|row| row.failure != FailureMode::Bypassed);
    let stopping = failures().filter(|row| row.chain.contains(&Some(FaultWord::Stops))).count();
    let is_short = phases > WORDS_UP_TO;
    let cell = |word: Option<FaultWord>| {
        word.map_or_else(|| html! { td {} }, |word| short_outcome(word, is_short))
    };
    Finding {
        heading: format!(
            "{stopping} of {} kinds of failure can stop every phase",
            failures().count()
        ),
        remark: Some("Worst of all operating points and legs; columns are phases.".to_owned()),
        inside: html! {
            div class="scrolls" tabindex="0" role="group" aria-label="What happens, failure by failure" {
                table class="matrix" {
                    thead { tr {
                        th scope="col" class="text" { "what fails" }
                        @for k in 1..=phases { th scope="col" class="text" { (k) } }
                        th scope="col" class="text" { "paralleled" }
                    } }
                    tbody {
                        @for row in &rows {
                            tr {
                                th scope="row" class="wraps" { (failure(row.failure)) }
                                @for word in &row.chain { (cell(*word)) }
                                (cell(row.paralleled))
                            }
                        }
                    }
                }
            }
            p class="remark" { (WorstRow::key(&rows, is_short)) }
        },
    }
}

/// What a protection sees first, at the first operating point.
fn signs(study: &FaultStudy) -> Finding {
    let is_asked =
        |own: &&FaultResult| own.healthy == 0 && own.fault().failure != FailureMode::Bypassed;
    let own: Vec<&FaultResult> = of_chain(study).into_iter().filter(is_asked).collect();
    let rows = FailureRow::all(&own);
    let is_silent = |own: &FaultResult| words::first_sign(&own.signs) == "nothing";
    let least_seen =
        || rows.iter().filter_map(|row| Some((row.heading(), row.one_or_worst(is_silent)?)));
    let all = least_seen().count();
    let silent = least_seen().filter(|(_, own)| is_silent(own)).count();
    Finding {
        heading: format!("{silent} of {all} failures show no certain sign"),
        remark: Some(
            "What shows first, and by which switching period: at a place where nothing does, else the worst."
                .to_owned(),
        ),
        inside: html! {
            table {
                (head(&["what fails", "first sign, period"]))
                tbody {
                    @for (heading, own) in least_seen() {
                        tr { th scope="row" class="wraps" { (heading) } (number(words::first_sign(&own.signs))) }
                    }
                }
            }
        },
    }
}

fn head(names: &[&str]) -> Markup {
    html! { thead { (headings(1, names)) } }
}

/// Operating points, with the frequency of the remedy, and the limits.
fn remedy(own: Remedy) -> String {
    match own {
        Remedy::Delivers([_, highest]) => kilo(highest.0),
        Remedy::OutOfRange => "out of range".to_owned(),
        Remedy::Heats => "heats up".to_owned(),
        Remedy::NotSolved => "not solved".to_owned(),
    }
}

fn points(study: &FaultStudy) -> Finding {
    let chains = study.healthy.iter().enumerate();
    let chains: Vec<_> = chains.filter(|(_, own)| own.arrangement == Arrangement::Chain).collect();
    let is_back = |n: usize| matches!(Remedy::at(study, n), Remedy::Delivers(_));
    let back = chains.iter().filter(|(n, _)| is_back(*n)).count();
    Finding {
        heading: format!(
            "The remedy delivers {back} of {}",
            counted(chains.len() as u64, "operating point")
        ),
        remark: None,
        inside: html! {
            table class="points" {
                (head(&["operating point", "kHz", "tank RMS, A", "blocks, V", "remedy, kHz"]))
                tbody {
                    @for (n, own) in chains.iter().take(SHOWN) {
                        tr {
                            th scope="row" { (own.operating_point) }
                            (number(kilo(own.state.switching_frequency.0)))
                            (number(four(own.tank_rms_current.0)))
                            (number(four(own.blocking.0)))
                            (number(remedy(Remedy::at(study, *n))))
                        }
                    }
                }
            }
        },
    }
}

fn how_sure(study: &FaultStudy) -> Finding {
    let settings = &study.settings;
    let told = [
        format!(
            "Steady states by the {} solver, with the equation that replaces charge balance; {} where the \
             nominal one runs.",
            names::method(settings.method).long,
            counted(settings.samples, "drawn converter")
        ),
        "The model was checked by integration of invented converters with body diodes, not of this one."
            .to_owned(),
        "The moment of the fault is told by its first signs alone.".to_owned(),
    ];
    Finding { heading: "How sure".to_owned(), remark: None, inside: sentences(&told) }
}

fn changes(scenario: &Scenario) -> Finding {
    let dead_time = if scenario.switch.is_none() { ", dead time" } else { "" };
    let mut told = vec![
        format!(
            "Saturation, stray inductance{dead_time} and a fast controller: the model has none of them."
        ),
        "Faults of two parts at once.".to_owned(),
    ];
    if let Some(limits) = words::limits_on_first_sheet(scenario) {
        told.push(format!("Limits that are not judged after every fault: {limits}."));
    }
    Finding {
        heading: "What would change this answer".to_owned(),
        remark: None,
        inside: sentences(&told),
    }
}
