//! Where integration and laws of a start differ, in sentences.

use super::words;
use crate::report::format::numbers::{quantity, three};
use crate::solver::start_up::integration::{IntegratedStart, StartOutput};
use crate::study::capacitors::start_up::{
    IntegratedRun, PointStart, SequenceResult, StartOutcome, StartSequence,
};

/// By how much a law and the integration differ before that is told, as a share.
const WORTH_TELLING: f64 = 0.02;
/// Share of an upper end below which a peak is told.
const FAR_BELOW: f64 = 0.85;

/// What integration shows that the laws do not, at an operating point.
pub(super) fn differences(point: &PointStart) -> Vec<String> {
    let mut told = Vec::new();
    for law in &point.sequences {
        for run in &law.integrated {
            let name = words::with_output(law.sequence, run.output);
            match run.start() {
                None => told.push(format!(
                    "Not integrated, since it takes too many periods: {name}{}.",
                    with_ramp(run)
                )),
                Some(_) if run.has_needed_ramp => told.extend(needed_ramp(run, &name)),
                Some(start) => {
                    told.extend(factor(law, run, &name));
                    told.extend(peak(run, &name));
                    told.extend(output(point, run, start));
                }
            }
        }
    }
    told
}

fn with_ramp(run: &IntegratedRun) -> String {
    words::ramp_of(run).map_or_else(String::new, |ramp| format!(", with a ramp of {ramp}"))
}

/// Why the ramp that a law asks for does not do; nothing where it does.
fn needed_ramp(run: &IntegratedRun, name: &str) -> Option<String> {
    let start = run.start()?;
    let found = match run.outcome()? {
        StartOutcome::Keeps | StartOutcome::NotKnown => return None,
        StartOutcome::StaysCrooked => "the chain stays crooked.".to_owned(),
        StartOutcome::Exceeds => format!(
            "the highest factor of a switch is {}, and the highest voltage of any {}. That is too much.",
            three(start.factor()),
            quantity(start.highest())
        ),
    };
    Some(format!("{name}{}, which the law asks for: integrated, {found}", with_ramp(run)))
}

/// The factor, where law and integration differ.
fn factor(law: &SequenceResult, run: &IntegratedRun, name: &str) -> Option<String> {
    let start = run.start()?;
    let integrated = three(start.factor());
    let Some(told) = run.law_factor else {
        let has_law = law.sequence != StartSequence::PreCharge;
        return has_law
            .then(|| format!("{name}: no law tells the factor, integrated it is {integrated}."));
    };
    let difference = start.factor() / told - 1.0;
    if difference.abs() < WORTH_TELLING {
        return None;
    }
    let why = match law.sequence {
        StartSequence::RampShorted => " Diodes pass charge that the law leaves out.",
        StartSequence::PreCharge => return None,
        _ => "",
    };
    Some(format!(
        "{name}: the law tells a factor of {}, integrated it is {integrated}.{why}",
        three(told)
    ))
}

/// The peak of the tank current, where it is far below what the law allows, or above.
fn peak(run: &IntegratedRun, name: &str) -> Option<String> {
    let (integrated, law) = (run.start()?.peak_current, run.law_peak?);
    let is_told = integrated > law || integrated.0 < FAR_BELOW * law.0;
    is_told.then(|| {
        format!(
            "{name}: the law allows up to {} of tank current, integrated the peak is {}.",
            quantity(law),
            quantity(integrated)
        )
    })
}

/// What an output capacitor receives, and what that does to the chain.
fn output(point: &PointStart, run: &IntegratedRun, start: &IntegratedStart) -> Option<String> {
    let StartOutput::Capacitor { load, .. } = run.output else { return None };
    let energy = quantity(start.delivered_energy);
    let voltages = start.phase_voltages.iter().map(|v| three(v.0));
    let voltages = voltages.collect::<Vec<_>>().join(", ");
    match run.outcome()? {
        StartOutcome::StaysCrooked => Some(format!(
            "The output capacitor receives {energy} and rises to {}. The phases then have {voltages} V \
             in place of {} each: the chain stays crooked.",
            quantity(start.highest_output),
            quantity(point.phase_voltage)
        )),
        _ if load == 0.0 => Some(format!(
            "The output capacitor receives {energy} until the input has its voltage; by law the fill of \
             the chain delivers {} of it.",
            quantity(point.fill_energy)
        )),
        _ => None,
    }
}
