//! What terminal and page both say of starts.

use super::super::undelivered::undelivered;
use crate::report::format::numbers::{NONE, quantity, three, up};
use crate::solver::start_up::integration::{StartOutput, SwitchRecord};
use crate::study::capacitors::drift::DriftStudy;
use crate::study::capacitors::start_up::{
    IntegratedRun, PointStart, SequenceResult, StartMethod, StartOutcome, StartSequence,
    StartUpStudy,
};
use crate::units::{Ampere, Second, Volt};

/// A sequence in a few words.
pub(super) fn name(sequence: StartSequence) -> &'static str {
    match sequence {
        StartSequence::InputGatesOff => "input first, gates off",
        StartSequence::InputThenGates => "input first, then gates at the top",
        StartSequence::RampShorted => "gates at the top, input ramp, output shorted",
        StartSequence::RampHeldAtTop => "gates at the top, input ramp, output held",
        StartSequence::PreCharge => "pre-charge by resistors, then gates",
        StartSequence::RampHeld => "gates at operating frequency, input ramp, output held",
        StartSequence::RampRising => {
            "gates at operating frequency, input ramp, output rises with it"
        }
    }
}

/// The same, short.
pub(super) fn short(sequence: StartSequence) -> &'static str {
    match sequence {
        StartSequence::InputGatesOff => "input, gates off",
        StartSequence::InputThenGates => "input, then gates",
        StartSequence::RampShorted => "ramp, shorted",
        StartSequence::RampHeldAtTop => "ramp at top, held",
        StartSequence::PreCharge => "pre-charge",
        StartSequence::RampHeld => "ramp, held",
        StartSequence::RampRising => "ramp, rising",
    }
}

/// The law that carries a sequence.
pub(super) fn law(sequence: StartSequence) -> &'static str {
    match sequence {
        StartSequence::InputGatesOff => "capacitance ladder",
        StartSequence::InputThenGates => "cold start",
        StartSequence::RampShorted => "loss ladder",
        StartSequence::RampHeldAtTop => "threshold",
        StartSequence::PreCharge => "resistor ladder",
        StartSequence::RampHeld => "rated charge",
        StartSequence::RampRising => "rated charge, energy of the fill",
    }
}

/// How a sequence ends by its law.
pub(super) fn outcome(own: &SequenceResult) -> &'static str {
    end_of(own.sequence, own.outcome)
}

/// How a sequence ends, as integrated where it was.
pub(super) fn decided(own: &SequenceResult) -> &'static str {
    end_of(own.sequence, own.decided())
}

fn end_of(sequence: StartSequence, outcome: StartOutcome) -> &'static str {
    match outcome {
        StartOutcome::NotKnown if sequence == StartSequence::PreCharge => "resistors not told",
        known => end(known),
    }
}

/// How a start ends.
pub(super) fn end(outcome: StartOutcome) -> &'static str {
    match outcome {
        StartOutcome::Keeps => "keeps",
        StartOutcome::Exceeds => "exceeds",
        StartOutcome::StaysCrooked => "stays crooked",
        StartOutcome::NotKnown => "no law tells",
    }
}

/// The same in a word.
pub(super) fn short_end(outcome: StartOutcome) -> &'static str {
    match outcome {
        StartOutcome::StaysCrooked => "crooked",
        StartOutcome::NotKnown => NONE,
        known => end(known),
    }
}

/// What the output does during a start.
pub(super) fn output(own: StartOutput) -> &'static str {
    match own {
        StartOutput::Shorted => "shorted",
        StartOutput::Held => "held",
        StartOutput::Rising => "rising",
        StartOutput::Capacitor { .. } => "capacitor",
    }
}

/// A sequence with its output, short: `input, then gates, output held`. Some names tell the output.
pub(super) fn with_output(sequence: StartSequence, own: StartOutput) -> String {
    let (short, output) = (short(sequence), output(own));
    if short.ends_with(output) { short.to_owned() } else { format!("{short}, output {output}") }
}

/// A switch: `high 1`, `low 2, return`.
pub(super) fn switch(own: &SwitchRecord) -> String {
    let side = if own.is_high { "high" } else { "low" };
    let leg = if own.is_return { ", return" } else { "" };
    format!("{side} {}{leg}", own.phase + 1)
}

/// The best sequence that keeps what the switches may block at every operating point.
fn best(study: &StartUpStudy) -> Option<StartSequence> {
    if study.points.is_empty() || !study.unsolved.is_empty() {
        return None;
    }
    let keeps = |sequence: &StartSequence| {
        let mut points = study.points.iter();
        points.all(|point| {
            let mut own = point.sequences.iter();
            own.any(|own| own.sequence == *sequence && own.decided() == StartOutcome::Keeps)
        })
    };
    advised().find(keeps)
}

/// The sequences that may be advised, the best first.
fn advised() -> impl Iterator<Item = StartSequence> {
    StartSequence::ALL.into_iter().rev().filter(|own| own.may_be_advised())
}

/// How to start, in a few words.
pub(super) fn heading(study: &StartUpStudy) -> String {
    match best(study) {
        Some(best) => format!("Start: {}", name(best)),
        None => "No start is shown to keep what the switches may block".to_owned(),
    }
}

/// Which sequences keep what the switches may block, at every operating point.
pub(super) fn answer(study: &StartUpStudy) -> String {
    if let Some(untold) = undelivered(&study.unsolved) {
        return format!("No start is advised. {untold}");
    }
    let ramp = quantity(study.settings.ramp_time);
    match best(study) {
        Some(best) => format!(
            "Start like this: {}, in {ramp}.{} With equal flying capacitors no switch then blocks more than \
             {}{}.{}",
            name(best),
            held(best),
            most(study, "or"),
            match study.method {
                StartMethod::Laws => ", by law alone: --integrate checks it".to_owned(),
                StartMethod::Integrated if is_integrated(study, best) =>
                    ", by law and by integration".to_owned(),
                StartMethod::Integrated => format!(", by integration{}", ramp_of_law(study, best)),
            },
            current(study, best).map_or_else(String::new, |told| format!(" {told}"))
        ),
        None => format!(
            "No sequence is shown to keep every switch within {} with an input ramp of {ramp}.{}",
            most(study, "and"),
            longer_ramp(study).unwrap_or_else(|| match study.method {
                StartMethod::Laws => {
                    " Laws alone tell that: --integrate follows each start.".to_owned()
                }
                StartMethod::Integrated => String::new(),
            })
        ),
    }
}

/// What a start asks of the output beside the converter.
fn held(sequence: StartSequence) -> &'static str {
    match sequence {
        StartSequence::RampHeld | StartSequence::RampHeldAtTop => {
            " Another source must hold the output at its voltage."
        }
        _ => "",
    }
}

/// Whether the current of the start that is recommended keeps to the limit on switches.
pub(super) fn best_current(study: &StartUpStudy) -> Option<String> {
    current(study, best(study)?)
}

/// The same of any start; none where there is no limit.
fn current(study: &StartUpStudy, sequence: StartSequence) -> Option<String> {
    let limit = study.peak_limit?;
    let all = study.points.iter().flat_map(|point| &point.sequences);
    let own = all.filter(|own| own.sequence == sequence);
    let peaks: Option<Vec<f64>> = own.map(|own| Some(own.highest_current()?.0)).collect();
    let Some(peak) = peaks.map(|all| all.into_iter().fold(0.0, f64::max)) else {
        return Some("The currents of this start are not known.".to_owned());
    };
    let limit = quantity(limit);
    (study.peak_limit.is_some_and(|limit| peak > limit.0)).then(|| {
        format!(
            "The tank current may reach {}, more than the {limit} that a switch may carry.",
            quantity(Ampere(peak))
        )
    })
}

/// What a switch may block at a start: the limit too, where it is less than the factor allows.
fn most(study: &StartUpStudy, with: &str) -> String {
    let factor = study.settings.highest_factor;
    let of_factor = format!("{factor} times its normal voltage");
    let phase = study.points.iter().map(|point| point.phase_voltage.0).fold(0.0, f64::max);
    match study.blocking_limit.filter(|limit| limit.0 < 2.0 * factor * phase) {
        Some(limit) => format!("{of_factor} {with} its limit of {}", quantity(limit)),
        None => of_factor,
    }
}

/// Whether a sequence was followed at every operating point, and its law tells the same.
fn is_integrated(study: &StartUpStudy, sequence: StartSequence) -> bool {
    study.method == StartMethod::Integrated
        && study.points.iter().all(|point| {
            let own = point.sequences.iter().find(|own| own.sequence == sequence);
            own.is_some_and(|own| {
                own.outcome == StartOutcome::Keeps
                    && !own.integrated.is_empty()
                    && own.integrated.iter().all(|run| run.found.is_some() || run.has_needed_ramp)
            })
        })
}

/// The longer ramp that the law asks for where integration alone shows that the ramp of the scenario does.
fn ramp_of_law(study: &StartUpStudy, sequence: StartSequence) -> String {
    let results = study.points.iter().flat_map(|point| &point.sequences);
    let exceeds =
        results.filter(|own| own.sequence == sequence && own.outcome != StartOutcome::Keeps);
    let ramps = exceeds.filter_map(|own| own.needed_ramp);
    let longest = ramps.reduce(|a, b| if b > a { b } else { a });
    longest.map_or_else(String::new, |own| format!("; its law asks for {}", needed(own)))
}

/// The ramp that makes the best sequence do at every operating point; none where no ramp does.
fn longer_ramp(study: &StartUpStudy) -> Option<String> {
    let longest = |sequence: StartSequence| {
        let at_point = |point: &PointStart| {
            let own = point.sequences.iter().find(|own| own.sequence == sequence)?;
            let may_do = own.decided() != StartOutcome::StaysCrooked;
            own.needed_ramp.filter(|_| may_do && !own.is_needed_ramp_refuted())
        };
        let all: Option<Vec<Second>> = study.points.iter().map(at_point).collect();
        all?.into_iter().reduce(|a, b| if b > a { b } else { a })
    };
    let (best, ramp) = advised().find_map(|own| Some((own, longest(own)?)))?;
    Some(format!(" A ramp of {} or more does: {}.{}", needed(ramp), name(best), held(best)))
}

/// A ramp that is needed. Rounded up: the one that is told has to do.
fn needed(ramp: Second) -> String {
    if ramp.0 > 0.0 { quantity(Second(up(ramp.0, 4))) } else { quantity(ramp) }
}

/// The same in a table; a dash where there is none.
pub(super) fn needed_ramp(own: &SequenceResult) -> String {
    own.needed_ramp.map_or_else(|| NONE.to_owned(), needed)
}

/// The ramp of a start that was followed.
pub(super) fn ramp_of(run: &IntegratedRun) -> Option<String> {
    run.ramp.map(|ramp| if run.has_needed_ramp { needed(ramp) } else { quantity(ramp) })
}

/// What follows the answer.
pub(super) fn findings(study: &StartUpStudy, drift: &DriftStudy) -> Vec<String> {
    let shorted =
        "Never ramp into a shorted output: only losses then charge the flying capacitors.";
    let mut findings = warnings(study, drift);
    findings.push(shorted.to_owned());
    findings.extend(open_energy(study));
    findings
}

/// What goes wrong if it is not heeded: unequal parts, an output that takes too little, an input that comes first.
pub(super) fn warnings(study: &StartUpStudy, drift: &DriftStudy) -> Vec<String> {
    let unequal = drift.largest_start().map(|left| {
        format!(
            "A start with unequal parts leaves up to {} at a node, a part of the drift.",
            quantity(left)
        )
    });
    let told = [unequal, overshoot(study), input_first(study)];
    told.into_iter().flatten().collect()
}

/// What switches block and carry where the input comes first.
fn input_first(study: &StartUpStudy) -> Option<String> {
    let all = study.points.iter().flat_map(|point| &point.sequences);
    let cold = all.filter(|own| own.sequence == StartSequence::InputThenGates);
    let highest = |own: &SequenceResult| own.highest.map_or(0.0, |own| own.0);
    let worst = cold.reduce(|a, b| if highest(b) > highest(a) { b } else { a })?;
    let peak = worst
        .peak_current
        .map(|peak| format!(" Into a shorted output tank currents reach {}.", quantity(peak)));
    Some(format!(
        "Never apply the input first: once gates begin, switches high 1, high 2 and low 1 block all of it, \
         {}.{}",
        quantity(Volt(highest(worst).max(study.highest_input.0))),
        peak.unwrap_or_default()
    ))
}

/// What the chain delivers while it fills, where nothing tells whether the output takes it: at the point where that
/// is most.
fn open_energy(study: &StartUpStudy) -> Option<String> {
    let open = study.points.iter().filter(|point| point.absorbed.is_none());
    let point = open.reduce(|a, b| if b.fill_energy > a.fill_energy { b } else { a })?;
    Some(format!(
        "While it fills, the chain delivers {} to the output at “{}”. Give output_capacitance in \
         [start_up] to see whether the output takes it.",
        quantity(point.fill_energy),
        point.operating_point
    ))
}

/// That the output does not take what the chain delivers: at the point where most is left over.
fn overshoot(study: &StartUpStudy) -> Option<String> {
    let excess = |point: &PointStart| Some(point.fill_energy.0 - point.absorbed?.0);
    let all = study.points.iter().filter_map(|point| Some((point, excess(point)?)));
    let worst = all.filter(|(_, excess)| *excess > 0.0);
    let (point, _) = worst.reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    let taken = point.absorbed?;
    Some(format!(
        "While it fills, the chain delivers {} to the output at “{}”, which takes {}. The output overshoots \
         and the chain stays crooked: add a load for the start.",
        quantity(point.fill_energy),
        point.operating_point,
        quantity(taken)
    ))
}

/// A number, or a dash.
pub(super) fn cell(value: Option<f64>) -> String {
    value.map_or_else(|| NONE.to_owned(), three)
}
