//! The figures of the sizes: failing share, sharing error and ripple over the capacitance.

use maud::{Markup, html};

use super::words;
use crate::converter::{RatedPart, Stress};
use crate::report::format::figures::{
    Ends, Mark, Name, SizeAxes, SizeLine, WIDTH, over_size as drawn_over_size,
};
use crate::report::format::numbers::{given_percent, three};
use crate::scenario::Scenario;
use crate::study::capacitors::size::{SizeResult, SizeStudy};

/// What makes converters fail, then what a size costs.
pub(super) fn over_size(scenario: &Scenario, study: &SizeStudy) -> Markup {
    html! {
        div class="figures" {
            (sharing(scenario, study))
            (ripple(scenario, study))
            (settling(study))
        }
    }
}

/// The share that fails over the size, with its interval and the target.
pub(super) fn failing_drawn(
    scenario: &Scenario,
    study: &SizeStudy,
    id: &str,
    width: f64,
) -> Markup {
    let target = 1.0 - scenario.limits.yield_target;
    let trials = study.sizes.iter().filter_map(|own| own.good).map(|good| good.trials as f64);
    let least = 0.5 / trials.fold(1.0, f64::max);
    let values = Ends { from: least.min(0.5 * target), to: 1.0 };
    let share = |own: &SizeResult| Some(own.good?.failing()[0].max(values.from));
    let band = |own: &SizeResult| {
        let good = own.good?;
        Some([(1.0 - good.upper).max(values.from), 1.0 - good.lower])
    };
    let line =
        SizeLine { class: "chain", pieces: pieces(study, share), bands: pieces(study, band) };
    let limit = Mark { value: target, label: format!("target: {} fail", given_percent(target)) };
    let axes =
        SizeAxes { sizes: sizes(study), name: "share that fails", values, number: percent, width };
    let name = Name {
        id: id.to_owned(),
        title: "Share of the converters that fail over the flying capacitance".into(),
        description:
            "The share that misses a limit at any operating point, with its interval, and the \
                      share that the target allows. A line that ends is a size that was not sampled."
                .into(),
    };
    drawn_over_size(&name, &axes, &[line], Some(&limit), mark(study).as_ref())
}

fn sharing(scenario: &Scenario, study: &SizeStudy) -> Markup {
    let limit = scenario.limits.sharing_error;
    let largest = study.sizes.iter().filter_map(SizeResult::sharing_error_p95);
    let top = largest.chain(limit).fold(0.0, f64::max);
    let values = Ends { from: 0.0, to: if top > 0.0 { 1.1 * top } else { 1.0 } };
    let line = |class, value: &dyn Fn(&SizeResult) -> Option<f64>| SizeLine {
        class,
        pieces: pieces(study, value),
        bands: Vec::new(),
    };
    let very_large = study.very_large.sharing_error_p95();
    let lines =
        [line("chain beyond", &|_| very_large), line("chain", &SizeResult::sharing_error_p95)];
    let limit = limit.map(|value| Mark { value, label: format!("limit {}", given_percent(value)) });
    let axes = SizeAxes {
        sizes: sizes(study),
        name: "sharing error",
        values,
        number: percent,
        width: WIDTH,
    };
    let name = Name {
        id: "sharing".into(),
        title: "Sharing error over the flying capacitance".into(),
        description:
            "The sharing error that 95 % of all samples keep to, with the limit, and the same \
                      with very large flying capacitors."
                .into(),
    };
    html! {
        figure {
            (drawn_over_size(&name, &axes, &lines, limit.as_ref(), mark(study).as_ref()))
            figcaption {
                b { "Sharing error that 95 % of the samples keep to." } " The largest of all operating \
                 points. Thin: with flying capacitors so large that they add nothing."
            }
        }
    }
}

fn ripple(scenario: &Scenario, study: &SizeStudy) -> Markup {
    let value = |own: &SizeResult| own.ripple().map(|volt| volt.0);
    let all: Vec<f64> = study.sizes.iter().filter_map(value).collect();
    let [least, most] =
        [all.iter().copied().reduce(f64::min), all.iter().copied().reduce(f64::max)];
    let values = Ends { from: least.unwrap_or(0.1), to: most.unwrap_or(1.0) };
    let limit = ripple_limit(scenario);
    let limit = limit.map(|value| Mark { value, label: format!("limit {}\u{a0}V", three(value)) });
    let line = SizeLine { class: "chain", pieces: pieces(study, value), bands: Vec::new() };
    let axes =
        SizeAxes { sizes: sizes(study), name: "ripple, V", values, number: three, width: WIDTH };
    let name = Name {
        id: "ripple".into(),
        title: "Ripple over the flying capacitance".into(),
        description:
            "Nominal ripple from the lowest to the highest voltage, with the limit if the \
                      scenario has one."
                .into(),
    };
    html! {
        figure {
            (drawn_over_size(&name, &axes, &[line], limit.as_ref(), mark(study).as_ref()))
            figcaption {
                b { "Ripple, lowest to highest voltage." } " Of the nominal converter, the largest of all \
                 operating points and capacitors."
            }
        }
    }
}

fn settling(study: &SizeStudy) -> Markup {
    let value = |own: &SizeResult| {
        own.settling().map(|speed| speed.periods_to_1_percent).filter(|periods| periods.is_finite())
    };
    let most = study.sizes.iter().filter_map(value).fold(0.0, f64::max);
    let values = Ends { from: 0.0, to: if most > 0.0 { 1.1 * most } else { 1.0 } };
    let line = SizeLine { class: "chain", pieces: pieces(study, value), bands: Vec::new() };
    let axes = SizeAxes {
        sizes: sizes(study),
        name: "switching periods",
        values,
        number: plain,
        width: WIDTH,
    };
    let name = Name {
        id: "settling".into(),
        title: "Settling over the flying capacitance".into(),
        description:
            "Switching periods until 1 % is left of the slowest disturbance of the nominal \
                      converter."
                .into(),
    };
    html! {
        @if most > 0.0 {
            figure {
                (drawn_over_size(&name, &axes, &[line], None, mark(study).as_ref()))
                figcaption {
                    b { "Periods until 1 % is left of a disturbance." } " Of the one that dies out most \
                     slowly, in the nominal converter at the slowest operating point."
                }
            }
        }
    }
}

/// The lowest limit on the ripple of any flying capacitor.
fn ripple_limit(scenario: &Scenario) -> Option<f64> {
    let is_ripple = |part: RatedPart, stress| {
        matches!(part, RatedPart::FlyingCapacitor(_)) && stress == Stress::RippleVoltage
    };
    let limits = scenario.limits.parts.iter();
    let own = limits.filter(|own| is_ripple(own.rating.part, own.rating.stress));
    own.map(|own| own.limit).reduce(f64::min)
}

fn micro(own: &SizeResult) -> f64 {
    1e6 * own.capacitance.0
}

fn sizes(study: &SizeStudy) -> Ends {
    let end = |own: Option<&SizeResult>| own.map_or(1.0, micro);
    Ends { from: end(study.sizes.first()), to: end(study.sizes.last()) }
}

/// The size that fresh samples confirm.
fn mark(study: &SizeStudy) -> Option<Mark> {
    let own = study.confirmed()?;
    Some(Mark { value: micro(own), label: words::size(own.capacitance) })
}

/// Values over the size in unbroken pieces.
fn pieces<V>(study: &SizeStudy, value: impl Fn(&SizeResult) -> Option<V>) -> Vec<Vec<(f64, V)>> {
    let mut pieces = vec![Vec::new()];
    for own in &study.sizes {
        match (value(own), pieces.last_mut()) {
            (Some(value), Some(piece)) => piece.push((micro(own), value)),
            _ => pieces.push(Vec::new()),
        }
    }
    pieces.retain(|piece| !piece.is_empty());
    pieces
}

fn percent(fraction: f64) -> String {
    given_percent(fraction)
}

/// A number without needless digits.
fn plain(value: f64) -> String {
    value.to_string()
}
