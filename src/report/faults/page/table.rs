//! What the other parts carry and block, and what shows first.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::faults::words::{
    blocked, blocked_by, blocking_limit, carrying, cause, missed, periods, trapped, trapped_share,
};
use crate::report::format::faults::fault_word::FaultWord;
use crate::report::format::faults::matrix::outcome;
use crate::report::format::faults::rows::FailureRow;
use crate::report::format::numbers::{self, NONE};
use crate::report::format::page::parts::{headings, number, remarked, table};
use crate::scenario::Scenario;
use crate::solver::fault::FirstSigns;
use crate::study::faults::{FaultResult, FaultStudy, HealthyConverter};
use crate::units::Volt;

/// One table an operating point and arrangement.
pub(super) fn loads(scenario: &Scenario, study: &FaultStudy) -> Markup {
    html! {
        p {
            "Each row is the worst place of a failure: by the outcome, then by blocked voltage times \
             tank current. A factor compares with the highest value before the fault. " code { "faults.csv" }
            " holds every place."
        }
        @for (n, before) in study.healthy.iter().enumerate() {
            @let limit = blocking_limit(scenario, before.arrangement);
            div data-point=(before.operating_point) data-arrangement=(before.arrangement.name()) {
                (table(&caption(before, limit), &head(&LOADS), &rows(&results(study, n), before, limit)))
            }
        }
    }
}

fn results(study: &FaultStudy, healthy: usize) -> Vec<&FaultResult> {
    study.results.iter().filter(|result| result.healthy == healthy).collect()
}

const LOADS: [&str; 11] = [
    "what fails",
    "outcome",
    "worst at",
    "carries",
    "kHz",
    "tank RMS, A",
    "low switch RMS, A",
    "blocks, V",
    "sharing error, %",
    "yield, %",
    "remarks",
];

fn caption(before: &HealthyConverter, limit: Option<Volt>) -> String {
    let arrangement = match before.arrangement {
        Arrangement::Chain => "chain",
        Arrangement::Paralleled => "paralleled reference, currents of the chain’s tanks",
    };
    let limit = limit.map(|limit| format!(", limit {}", numbers::quantity(limit)));
    format!(
        "{}, {arrangement}. Before a fault: {}, tank RMS {}, highest blocking voltage {}{}",
        before.operating_point,
        numbers::quantity(before.state.switching_frequency),
        numbers::quantity(before.tank_rms_current),
        numbers::quantity(before.blocking),
        limit.unwrap_or_default()
    )
}

fn rows(own: &[&FaultResult], before: &HealthyConverter, limit: Option<Volt>) -> Markup {
    html! { @for row in FailureRow::all(own) { (load_row(before, &row, limit)) } }
}

fn head(names: &[&str]) -> Markup {
    html! {
        tr {
            @for (n, name) in names.iter().enumerate() {
                th scope="col" class=[(n < 4 || n + 1 == names.len()).then_some("text")] { (name) }
            }
        }
    }
}

fn load_row(before: &HealthyConverter, row: &FailureRow, limit: Option<Volt>) -> Markup {
    let Some(worst) = row.worst() else { return html! {} };
    let found = worst.outcome.state();
    let rms = worst.tank_rms_current.map(|own| {
        let factor = own.0 / before.tank_rms_current.0;
        remarked(&numbers::three(own.0), &format!("× {}", numbers::decimals(factor, 2)))
    });
    let plain = |value: Option<String>| number(value.unwrap_or_else(|| NONE.into()));
    html! {
        tr {
            th scope="row" class="wraps" { (row.heading()) }
            (outcome(FaultWord::of_result(worst)))
            td { (worst.fault().phase + 1) }
            td { (carrying(worst)) }
            (plain(found.map(|own| numbers::kilo(own.state.switching_frequency.0))))
            @match rms { Some(cell) => (cell), None => (number(NONE)) }
            (plain(worst.low_switch_rms_current.map(|own| numbers::three(own.0))))
            @match blocked_by(worst, limit) {
                Some(remark) => (remarked(&blocked(worst), &remark)),
                None => (number(blocked(worst))),
            }
            (plain(worst.sharing.map(|own| numbers::in_percent(own.of_carrying))))
            (yield_cell(worst))
            td class="wraps" { (remarks(worst)) }
        }
    }
}

fn yield_cell(result: &FaultResult) -> Markup {
    html! {
        @match &result.remaining_yield {
            Some(own) => {
                @let (lower, upper) = (own.good.lower, own.good.upper);
                (remarked(
                    &numbers::in_percent(own.good.estimate),
                    &format!("{} to {}", numbers::in_percent(lower), numbers::in_percent(upper)),
                ))
            }
            None => (number(NONE)),
        }
    }
}

fn remarks(result: &FaultResult) -> String {
    [cause(result), trapped(result), trapped_share(result), missed(result)]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

/// When each fault shows, at the operating point that comes first.
pub(super) fn signs(study: &FaultStudy) -> Markup {
    let names = [
        "what fails",
        "output current",
        "input current",
        "sharing error",
        "flying capacitor",
        "switch voltage",
    ];
    let chain = study.healthy.iter().enumerate();
    let chain = chain.filter(|(_, before)| before.arrangement == Arrangement::Chain);
    html! {
        p {
            "In switching periods after the fault. Output and input: too high, or below a tenth. Sharing \
             error: the phases differ widely, which takes a current sensor in each phase. Flying \
             capacitor: a tenth of a phase voltage off its mean. > 26: no sooner than in 26 periods. A \
             dash: never for certain."
        }
        @for (n, before) in chain {
            @let own = results(study, n);
            @let rows = html! {
                @for row in FailureRow::all(&own) {
                    @if let Some(worst) = row.worst() { (sign_row(&row.heading(), &worst.signs)) }
                }
            };
            @let period = numbers::quantity(crate::units::Second(1.0 / before.state.switching_frequency.0));
            @let caption = format!("{}, chain; a period takes {period}", before.operating_point);
            div data-point=(before.operating_point) { (table(&caption, &headings(1, &names), &rows)) }
        }
    }
}

fn sign_row(heading: &str, signs: &FirstSigns) -> Markup {
    let all = [signs.output, signs.input, signs.sharing, signs.capacitor, signs.switch];
    html! {
        tr {
            th scope="row" class="wraps" { (heading) }
            @for one in all { (number(periods(one))) }
        }
    }
}
