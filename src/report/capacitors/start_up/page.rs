//! Starts on the page.

use maud::{Markup, html};

use super::{integrated, words};
use crate::report::format::numbers::{given_percent, quantity};
use crate::report::format::page::brief::{Finding, sentences};
use crate::report::format::page::parts::{headings, headings_with_text_last, number, table};
use crate::study::capacitors::drift::DriftStudy;
use crate::study::capacitors::start_up::{
    PointStart, SequenceResult, StartMethod, StartOutcome, StartUpStudy,
};

/// Which sequence keeps what the switches may block.
pub(in crate::report::capacitors) fn section(study: &StartUpStudy, drift: &DriftStudy) -> Markup {
    html! {
        p class="lead" { b { (words::answer(study)) } }
        ul { @for finding in words::findings(study, drift) { li { (finding) } } }
        @for point in &study.points {
            (sequences(study, point))
            (integrated::at_point(study, point))
        }
        p class="caution" {
            "A chain that starts wrong puts the whole input across single switches, and they fail short. \
             Limit the energy behind the input, start on reduced voltage first, and measure every switch. \
             Laws and standards for such equipment, and qualified engineers, decide."
        }
        p class="remark" {
            "Unknown: unequal phases during a start, saturation in the first periods, frequency control \
             during a start, source impedance, and switch capacitance that depends on its voltage."
        }
    }
}

/// Which start, for the brief: the sequences at the operating point with the highest voltages.
pub(in crate::report::capacitors) fn finding(study: &StartUpStudy, drift: &DriftStudy) -> Finding {
    let highest = |point: &PointStart| {
        let all = point.sequences.iter().filter_map(|own| own.highest);
        all.map(|own| own.0).fold(0.0, f64::max)
    };
    let worst = study.points.iter().reduce(|a, b| if highest(b) > highest(a) { b } else { a });
    Finding {
        heading: words::heading(study),
        remark: worst.map(|point| {
            let integrated = match study.method {
                StartMethod::Laws => "",
                StartMethod::Integrated => " By law; the last column as integrated.",
            };
            format!(
                "Ramp of {}, factor over the normal voltage of a switch, at \u{201c}{}\u{201d}.{integrated}",
                quantity(study.settings.ramp_time),
                point.operating_point
            )
        }),
        inside: html! {
            @if let Some(point) = worst { (short_sequences(point)) }
            @if let Some(told) = words::best_current(study) { p { (told) } }
            (sentences(&words::findings(study, drift)))
        },
    }
}

fn short_sequences(point: &PointStart) -> Markup {
    html! {
        table class="points" {
            thead { (headings(1, &["start", "factor", "ramp needed", "blocking"])) }
            tbody {
                @for own in &point.sequences {
                    @let does = own.sequence.may_be_advised() && own.decided() == StartOutcome::Keeps;
                    tr class=[does.then_some("limited")] {
                        th scope="row" class="wraps" { (words::short(own.sequence)) }
                        (number(words::cell(own.factor)))
                        (number(words::needed_ramp(own)))
                        (number(words::short_end(own.decided())))
                    }
                }
            }
        }
    }
}

fn sequences(study: &StartUpStudy, point: &PointStart) -> Markup {
    let names = [
        "start",
        "factor",
        "highest voltage, V",
        "peak tank current, A",
        "ramp needed",
        "blocking",
        "law",
    ];
    let rows = html! { @for own in &point.sequences { (row(own)) } };
    let settings = &study.settings;
    let caption = format!("Starts of the chain: {}", point.operating_point);
    html! {
        (table(&caption, &headings_with_text_last(&names), &rows))
        p class="remark" {
            "Input ramp of " (quantity(settings.ramp_time)) ", load during the ramp "
            (given_percent(settings.load)) " of the rated one. Factor: highest voltage of a switch over its \
             normal one, " (quantity(point.phase_voltage)) " or twice that. Ramp needed: for a factor of "
            (settings.highest_factor)
            @if let Some(limit) = study.blocking_limit { " and the blocking limit of " (quantity(limit)) }
            @if study.has_switch_limits { "; blocking limits of single switches are not judged here" }
            ". The chain delivers " (quantity(point.fill_energy))
            " to the output while it fills"
            @if let Some(taken) = point.absorbed { "; the output takes " (quantity(taken)) }
            "."
        }
    }
}

fn row(own: &SequenceResult) -> Markup {
    html! {
        tr class=[(own.decided() == StartOutcome::Keeps).then_some("limited")] {
            th scope="row" class="wraps" { (words::name(own.sequence)) }
            (number(words::cell(own.factor)))
            (number(words::cell(own.highest.map(|v| v.0))))
            (number(words::cell(own.peak_current.map(|i| i.0))))
            (number(words::needed_ramp(own)))
            (number(words::outcome(own)))
            td { (words::law(own.sequence)) }
        }
    }
}

/// The laws.
pub(in crate::report::capacitors) fn methods(study: &StartUpStudy) -> Markup {
    html! {
        dt { "Start" }
        dd {
            "Laws without dead time, checked by integration of six invented designs with body diodes. "
            em { "Capacitance ladder" } ": switch capacitances divide the input. "
            em { "Cold start" } ": empty capacitors leave the whole input to the first switches. The tank \
             current is at most that of Lr, Cr and R under a square wave from rest. "
            em { "Resistor ladder" } ": v(k) lags by m R C k(N−k)(2N−k)/(6N). "
            em { "Loss ladder" } ": the same with 2 X² legs/(a² R) for R. "
            em { "Threshold" } ": a phase passes K (V/Vth − 1)² above its threshold. Far above it, it passes what \
             its fundamental passes. "
            em { "Rated charge" } ": a phase passes its rated Q f at Vin/N, nothing below its threshold, and \
             else in proportion. Half the ripple comes on top. "
            em { "Energy of the fill" } ": legs C Vin² (N²−1)/(12 N) arrive at the output. m is Vin over the \
             ramp time, X the reactance of the tank, K a current of the tank (model of the solver). Where \
             phases differ by their temperatures, a cold start takes phase 1, and each other law the worst \
             phase."
        }
        (integrated::method(study))
    }
}
