//! Under which conditions the answer would be another.

use super::{money, with_interval};
use crate::report::terminal::{grouped, yield_percent};
use crate::scenario::Scenario;
use crate::study::sensors::{Finding, Fresh, Question, SensorStudy, Span, Turn, Variant};

/// A sentence each.
pub(in crate::report) fn flips(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let mut all: Vec<String> = study
        .turns
        .iter()
        .map(|turn| {
            let found = match turn.question {
                Question::Target => at_target(scenario, turn),
                _ => rivals(turn),
            };
            format!("{}: {found}.{}", subject(turn.question), fresh(study, turn))
        })
        .collect();
    all.extend(
        [Variant::ParalleledWithSensors, Variant::ChainWithSensors].map(|v| price(study, v)),
    );
    all
}

fn subject(question: Question) -> &'static str {
    match question {
        Question::Target => "All bands of the parts, times a factor",
        Question::Bands => "The same, (b) against (c)",
        Question::SensorErrors => "All errors of the sensors, times a factor",
    }
}

fn factor(x: f64) -> String {
    format!("{x:.3}")
}

fn at_target(scenario: &Scenario, turn: &Turn) -> String {
    let target = yield_percent(scenario.limits.yield_target);
    let each = turn.spans.iter().map(|span| {
        let said = match span.finding {
            Finding::Yes => format!("(b) surely meets {target}"),
            Finding::Open => format!("{} samples do not tell", grouped(turn.samples)),
            Finding::No => format!("(b) surely misses {target}"),
        };
        // Beyond a sure answer the yield goes on as the bands do.
        match span.finding {
            Finding::Yes if turn.spans.first() == Some(span) => {
                format!("{said} up to {}", factor(span.to))
            }
            Finding::No if turn.spans.last() == Some(span) => {
                format!("{said} from {} on", factor(span.from))
            }
            _ => format!("{said} {}", range(span)),
        }
    });
    each.collect::<Vec<_>>().join("; ")
}

fn rivals(turn: &Turn) -> String {
    let each = turn.spans.iter().map(|span| {
        let said = match span.finding {
            Finding::Yes => "(b) surely yields more".to_owned(),
            Finding::Open => format!("{} samples do not tell", grouped(turn.samples)),
            Finding::No => "(c) surely yields more".to_owned(),
        };
        format!("{said} {}", range(span))
    });
    each.collect::<Vec<_>>().join("; ")
}

fn range(span: &Span) -> String {
    if span.from < span.to {
        format!("from {} to {}", factor(span.from), factor(span.to))
    } else {
        format!("at {}", factor(span.from))
    }
}

/// What samples that the search did not see say of the ends.
fn fresh(study: &SensorStudy, turn: &Turn) -> String {
    let each: Vec<_> = turn.fresh.iter().map(look).collect();
    if each.is_empty() {
        return String::new();
    }
    format!(
        " Of {} fresh samples (seed {}), {}.",
        grouped(study.samples),
        study.fresh_seed,
        each.join("; ")
    )
}

fn look(fresh: &Fresh) -> String {
    let said = if fresh.finding == fresh.search {
        "so again"
    } else if fresh.finding == Finding::Open {
        "left open"
    } else {
        "to the contrary"
    };
    let numbers = match fresh.difference {
        Some(d) => {
            let signed = |x: f64| format!("{:+.3}", 100.0 * x).replace('-', "−");
            format!(
                "(b) less (c) {} % ({} to {})",
                signed(d.estimate),
                signed(d.lower),
                signed(d.upper)
            )
        }
        None => fresh.yields.first().map_or_else(String::new, |(_, good)| with_interval(good)),
    };
    format!("at {} {numbers}: {said}", factor(fresh.factor))
}

fn price(study: &SensorStudy, variant: Variant) -> String {
    let letter = variant.letter();
    let Some(even) = study.of(variant).break_even else {
        return format!("Price: no good converter, so no break-even price for ({letter}).");
    };
    let range = even.interval.map_or_else(
        || "no interval: too few good".to_owned(),
        |i| format!("{} to {}", money(i.lower), money(i.upper)),
    );
    let at = money(even.estimate);
    if even.estimate > 0.0 {
        format!(
            "Price: ({letter}) costs less per good converter than (b) below {at} a sensor ({range})."
        )
    } else {
        format!(
            "Price: ({letter}) costs more per good converter than (b) even with sensors as a gift: \
             break-even at {at} a sensor ({range})."
        )
    }
}
