//! What the brief says of the sizes.

use maud::{Markup, html};

use super::words::{self, cell};
use super::{figures, purchase};
use crate::report::format::numbers::{counted, given_percent, level, money, three, yield_percent};
use crate::report::format::page::brief::{Finding, VerdictLine, both_widths, sentences};
use crate::report::format::page::parts::{headings, number};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::bands::rule::VERIFICATIONS;
use crate::study::capacitors::size::{SizeResult, SizeStudy};

/// Widths of the figure.
const WIDE: f64 = 640.0;
const NARROW: f64 = 340.0;

/// Sizes shown below and above the one that is chosen.
const BELOW: usize = 2;
const SHOWN: usize = 5;

/// The answer in one sentence.
pub(in crate::report::capacitors) fn answer(scenario: &Scenario, study: &SizeStudy) -> String {
    words::answer(scenario, study)
}

/// Verdicts on the confirmed size, and on that of the scenario.
pub(in crate::report::capacitors) fn verdicts(study: &SizeStudy) -> Vec<VerdictLine> {
    let run = study.smallest.confirmed().zip(study.confirmed());
    let confirmed = run.map(|(run, own)| {
        let subject = format!("{}, fresh samples", words::size(own.capacitance));
        VerdictLine::new(Verdict::Pass, "chain", subject, &run.good)
    });
    let present = study.present().and_then(|own| {
        let subject = format!("{}, as in the scenario", words::size(own.capacitance));
        let verdict = study.verdict_of(own);
        let line = VerdictLine::new(verdict, "chain", subject, own.good.as_ref()?);
        Some(VerdictLine { word: words::verdict(study, verdict), ..line })
    });
    confirmed.into_iter().chain(present).collect()
}

/// The figure that carries the answer.
pub(in crate::report::capacitors) fn failing(scenario: &Scenario, study: &SizeStudy) -> Finding {
    Finding {
        heading: words::what_decides(study).unwrap_or_else(|| "No size is chosen".to_owned()),
        remark: Some(format!(
            "Share of the converters that fail over the size. Shaded: {} interval of each size.",
            level(study.rule.plain)
        )),
        inside: html! {
            (both_widths(
                &figures::failing_drawn(scenario, study, "failing", WIDE),
                &figures::failing_drawn(scenario, study, "failing-narrow", NARROW),
            ))
        },
    }
}

/// The sizes about the one that is chosen.
pub(in crate::report::capacitors) fn sizes(study: &SizeStudy) -> Finding {
    let own = study.confirmed().or_else(|| study.present());
    let is_own = |size: &SizeResult| own.is_some_and(|own| own.capacitance == size.capacitance);
    let first = study.sizes.iter().position(is_own).unwrap_or(0).saturating_sub(BELOW);
    let last_first = study.sizes.len().saturating_sub(SHOWN);
    let shown: Vec<&SizeResult> =
        study.sizes.iter().skip(first.min(last_first)).take(SHOWN).collect();
    let has_price = shown.iter().any(|own| price(own).is_some());
    let mut names =
        vec!["size", "ripple, V", "RMS, A", "settles, periods", "yield, %", "limited by"];
    if has_price {
        names.push("price");
    }
    Finding {
        heading: own.map_or_else(|| "Sizes".to_owned(), loads),
        remark: None,
        inside: html! {
            table class="points" {
                thead { (headings(1, &names)) }
                tbody { @for size in &shown { (row(study, size, has_price)) } }
            }
        },
    }
}

fn price(own: &SizeResult) -> Option<f64> {
    own.purchase.as_ref()?.price
}

/// What the chosen size carries.
fn loads(own: &SizeResult) -> String {
    format!(
        "{}: ripple {} V, {} A RMS, nominal",
        words::size(own.capacitance),
        cell(own.ripple().map(|v| v.0), three),
        cell(own.rms_current().map(|i| i.0), three)
    )
}

fn row(study: &SizeStudy, own: &SizeResult, has_price: bool) -> Markup {
    let good = own.good.map(|good| yield_percent(good.estimate));
    let good = good.map(|text| text.trim_end_matches('%').trim_end().to_owned());
    html! {
        tr class=[(words::mark(study, own) == ">").then_some("limited")] {
            th scope="row" { (words::size(own.capacitance)) }
            (number(cell(own.ripple().map(|v| v.0), three)))
            (number(cell(own.rms_current().map(|i| i.0), three)))
            (number(words::periods(own)))
            (number(good.unwrap_or_else(|| words::NO_VALUE.to_owned())))
            td class="wraps" { (words::limit_cell(own)) }
            @if has_price { (number(cell(price(own), money))) }
        }
    }
}

/// What to buy, where the scenario tells of a dc bias or of parts on offer.
pub(in crate::report::capacitors) fn purchase(
    scenario: &Scenario,
    study: &SizeStudy,
) -> Option<Finding> {
    let told = purchase::findings(scenario, study);
    (!told.is_empty()).then(|| Finding {
        heading: "What to buy".to_owned(),
        remark: None,
        inside: sentences(&told),
    })
}

/// What would change the answer.
pub(in crate::report::capacitors) fn changes(study: &SizeStudy) -> Vec<String> {
    let told = words::changes(study);
    if told.is_empty() { vec!["Nothing else that was tried changes it.".to_owned()] } else { told }
}

/// What the sizes rest on.
pub(in crate::report::capacitors) fn how_sure(study: &SizeStudy, samples: u64) -> Vec<String> {
    let tried = match study.smallest.runs.len() {
        0 => "no choice was tried on fresh ones".to_owned(),
        1 => "the choice was tried on fresh ones".to_owned(),
        runs => format!("{runs} choices were tried on fresh ones"),
    };
    vec![
        format!("{} of each size, the same parts for all; {tried}.", counted(samples, "sample")),
        format!(
            "A run on fresh samples has an interval of {} confidence: up to {VERIFICATIONS} such runs together \
             keep {}.",
            level(study.rule.shared),
            level(study.rule.plain)
        ),
        "An interval covers the error of sampling. It does not cover wrong bands or shapes."
            .to_owned(),
    ]
}

/// The target, as the verdict line tells it.
pub(in crate::report::capacitors) fn measure(scenario: &Scenario) -> String {
    let limits = &scenario.limits;
    format!(
        "target {}, confidence {}",
        given_percent(limits.yield_target),
        given_percent(limits.confidence)
    )
}
