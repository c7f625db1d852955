//! Sentences of the brief.

use crate::converter::Arrangement;
use crate::report::format::numbers::{
    count, counted, factor, given_percent, percent_of_three_down, percent_of_three_up,
    yield_in_few_digits, yield_percent,
};
use crate::report::format::what_if::words::{THE_VERDICT, sentence as sentence_of_assumptions};
use crate::report::format::{names, premises, switching};
use crate::report::run::brief::briefed_run::BriefedRun;
use crate::report::run::words;
use crate::scenario::Scenario;
use crate::statistics::{QuantileEnd, Verdict, Yield};
use crate::study::run::{Run, SolverComparison};

/// What the page answers.
pub(super) fn question(scenario: &Scenario) -> String {
    format!(
        "Do the {} phases share the current by themselves, with no current sensors and no control loops?",
        scenario.phases
    )
}

/// The converters drawn that are good, as the subject of a sentence.
struct Drawn {
    share: String,
    keep: &'static str,
    have: &'static str,
}

impl Drawn {
    fn new(good: &Yield) -> Self {
        let one = || "the one converter drawn".to_owned();
        let (share, keep, have) = match (good.successes, good.trials) {
            (0, 1) => (one(), "does not keep", "does not have"),
            (1, 1) => (one(), "keeps", "has"),
            (0, drawn) => {
                (format!("none of the {} converters drawn", count(drawn)), "keeps", "has")
            }
            (all, drawn) if all == drawn => {
                (format!("all {} converters drawn", count(drawn)), "keep", "have")
            }
            _ => (
                format!("{} of all converters", yield_in_few_digits(good.estimate)),
                "keep",
                "have",
            ),
        };
        Self { share, keep, have }
    }
}

/// The answer in one sentence.
pub(super) fn answer(told: &BriefedRun) -> String {
    let BriefedRun { scenario, run, .. } = *told;
    let [chain, paralleled] = &run.joint;
    let Drawn { share, keep, have } = Drawn::new(&chain.good);
    let points = if scenario.operating_points.len() > 1 {
        "at every operating point"
    } else {
        "at the operating point"
    };
    if premises::has_no_limit(scenario) {
        return format!(
            "Not judged: no limit is set for the chain. With charge balancing {share} {have} a steady state {points}."
        );
    }
    if !chain.is_judged {
        return format!(
            "Not judged: parts on offer count as exact. So with charge balancing {share} {keep} every limit {points}."
        );
    }
    let without = match paralleled.good.successes {
        0 => "without it, none does".to_owned(),
        all if all == paralleled.good.trials => "without it, all do too".to_owned(),
        _ => format!("without it, {}", yield_percent(paralleled.good.estimate)),
    };
    match chain.verdict {
        Verdict::Pass => {
            let yes = match scenario.limits.sharing_error {
                Some(_) if switching::exceeds_alone(scenario, run.switching.as_ref()) => {
                    "Yes, dead times aside."
                }
                Some(_) => "Yes.",
                None => "Sharing is not judged: it has no limit.",
            };
            format!("{yes} With charge balancing {share} {keep} every limit {points}; {without}.")
        }
        Verdict::Fail => {
            let only = if chain.good.successes == 0 { "" } else { "only " };
            format!(
                "No. With charge balancing {only}{share} {keep} every limit {points}; {without}."
            )
        }
        Verdict::NotDecided => format!(
            "Not decided. With charge balancing {share} {keep} every limit {points}, which does not decide on the target of {}.",
            given_percent(scenario.limits.yield_target)
        ),
    }
}

/// What the numbers rest on.
pub(super) fn how_sure(told: &BriefedRun) -> Vec<String> {
    let run = told.run;
    let method = names::method(run.settings.method).long;
    let [_, out_of_range, not_solved] = run.totals(Arrangement::Chain);
    let unsolved = if out_of_range + not_solved == 0 {
        "every chain is solved".to_owned()
    } else {
        format!(
            "chains out of range {}, not solved {}: both count as failures",
            count(out_of_range),
            count(not_solved)
        )
    };
    let mut told = vec![
        format!("{} by the {method} solver; {unsolved}.", counted(run.settings.samples, "converter")),
        "The interval covers the error of sampling. It does not cover wrong bands, shapes or lot shares.".to_owned(),
    ];
    told.extend(run.joint.first().and_then(words::of_measured_parts));
    told.extend(solvers(run));
    told
}

/// How far the averaged solver is from the exact one at the point that limits.
fn solvers(run: &Run) -> Option<String> {
    let ratios = run.comparison.iter().step_by(2).filter_map(SolverComparison::p95_ratio);
    let farthest =
        ratios.max_by(|a, b| libm::fabs(libm::log(*a)).total_cmp(&libm::fabs(libm::log(*b))))?;
    let (times, which) =
        if farthest >= 1.0 { (farthest, "smaller") } else { (1.0 / farthest, "larger") };
    Some(format!(
        "The averaged solver finds the p95 sharing error of the chain up to {} times {which}.",
        factor(times)
    ))
}

/// What would change the verdict.
pub(super) fn changes(told: &BriefedRun) -> Vec<String> {
    let BriefedRun { run, explanation, .. } = *told;
    let chain = &run.joint[0];
    let mut told: Vec<String> = limit_that_decides(told)
        .filter(|_| chain.is_judged)
        .map(|own| words::of_samples(chain, &own))
        .into_iter()
        .collect();
    if let Some(forecast) = &chain.forecast {
        told.push(words::of_samples(chain, &words::to_decide(run, chain, forecast)));
    }
    told.extend(words::lack(chain));
    let what_if = explanation.and_then(|own| own.what_if.as_ref());
    told.extend(
        what_if.map(|own| words::of_samples(chain, &sentence_of_assumptions(THE_VERDICT, own))),
    );
    if told.is_empty() {
        let none = if chain.is_judged {
            "No other assumption was tried."
        } else {
            "There is no verdict to change."
        };
        told.push(none.to_owned());
    }
    told
}

/// The limits of the sharing error between which the verdict changes.
fn limit_that_decides(told: &BriefedRun) -> Option<String> {
    let limit = told.scenario.limits.sharing_error?;
    let required = told.run.over_points.as_ref()?.over_points[0].required_limit;
    let [pass, fail] = [required.upper, required.lower].map(QuantileEnd::value);
    match (pass, fail) {
        (Some(pass), Some(fail)) if pass <= limit => Some(format!(
            "A limit of the sharing error below {}: not decided. Below {}: fail.",
            percent_of_three_up(pass),
            percent_of_three_down(fail)
        )),
        (Some(pass), Some(fail)) if limit < fail => Some(format!(
            "A limit of the sharing error above {}: not decided. From {} on: pass.",
            percent_of_three_down(fail),
            percent_of_three_up(pass)
        )),
        (Some(pass), Some(fail)) => Some(format!(
            "A limit of the sharing error from {} (pass) or below {} (fail).",
            percent_of_three_up(pass),
            percent_of_three_down(fail)
        )),
        (None, _) if required.lower == QuantileEnd::Beyond => Some(
            "No limit of the sharing error would do: other limits fail too many converters."
                .to_owned(),
        ),
        (None, _) if required.upper == QuantileEnd::Beyond => Some(
            "No limit of the sharing error is shown to do: other limits may fail too many converters."
                .to_owned(),
        ),
        _ => None,
    }
}
