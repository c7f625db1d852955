//! What stands out among the faults, in sentences.

use crate::converter::{Arrangement, FailureMode};
use crate::report::format::faults::fault_word::failure;
use crate::report::format::faults::rows::FailureRow;
use crate::report::format::numbers::{decimals, given_percent, quantity, yield_interval};
use crate::solver::fault::{FaultOutcome, NoSteadyState};
use crate::study::faults::{FaultResult, FaultStudy, HealthyConverter};
use crate::units::{Ampere, Hertz};

/// A change of the highest tank current, or a sharing error, that hardly shows beside tolerances.
const HARDLY_SEEN: f64 = 0.05;
/// Factor on the blocking voltage from which on it is worth a sentence.
const MUCH_HIGHER: f64 = 1.1;

/// A finding on the chain.
#[derive(Debug)]
pub(super) struct NamedFinding {
    /// What it is about.
    pub heading: &'static str,
    /// The finding.
    pub sentence: String,
}

/// Sentences on the chain: the remedy, what the currents hide, traps, low switches.
pub(super) fn findings(study: &FaultStudy) -> Vec<NamedFinding> {
    let points: Vec<ChainPoint> = ChainPoint::all(study);
    let all = [
        ("Remedy: hold the low switches on", remedy(&points)),
        ("Hidden from current sensors", hidden(&points)),
        ("An aged capacitor traps the controller", traps(&points)),
        ("How many converters are trapped", trapped_converters(&points)),
        ("Low switches that carry more", low_switches(&points)),
    ];
    let named = all.into_iter().filter_map(|(heading, sentence)| Some((heading, sentence?)));
    named.map(|(heading, sentence)| NamedFinding { heading, sentence }).collect()
}

/// What becomes of a chain any one phase of which is bypassed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Remedy {
    /// The others deliver, at the lowest to the highest frequency.
    Delivers([Hertz; 2]),
    /// Some place is out of range.
    OutOfRange,
    /// Some place has no steady temperature.
    Heats,
    /// Some place is not solved, or the model does not tell: nothing is known of it.
    NotSolved,
}

impl Remedy {
    /// The remedy at an operating point, by the index of the converter before the fault.
    pub(super) fn at(study: &FaultStudy, healthy: usize) -> Self {
        Self::of(study.results.iter().filter(|own| own.healthy == healthy))
    }

    fn of<'a>(results: impl Iterator<Item = &'a FaultResult>) -> Self {
        let mut frequencies = [f64::INFINITY, 0.0];
        let mut worst = None;
        for own in results.filter(|own| own.fault().failure == FailureMode::Bypassed) {
            match &own.outcome {
                FaultOutcome::NotSolved(_) | FaultOutcome::Unknown => return Self::NotSolved,
                FaultOutcome::NoSteadyState(NoSteadyState::JunctionRunaway) => {
                    worst = Some(Self::Heats);
                }
                outcome => match outcome.state() {
                    Some(found) => {
                        let own = found.state.switching_frequency.0;
                        frequencies = [frequencies[0].min(own), frequencies[1].max(own)];
                    }
                    None => worst = worst.or(Some(Self::OutOfRange)),
                },
            }
        }
        worst.unwrap_or(Self::Delivers(frequencies.map(Hertz)))
    }
}

/// A chain at an operating point with all of its faults.
struct ChainPoint<'a> {
    before: &'a HealthyConverter,
    results: Vec<&'a FaultResult>,
}

impl<'a> ChainPoint<'a> {
    fn all(study: &'a FaultStudy) -> Vec<Self> {
        let healthy = study.healthy.iter().enumerate();
        let chains = healthy.filter(|(_, before)| before.arrangement == Arrangement::Chain);
        chains
            .map(|(n, before)| Self {
                before,
                results: study.results.iter().filter(|own| own.healthy == n).collect(),
            })
            .collect()
    }

    fn name(&self) -> &'a str {
        &self.before.operating_point
    }

    fn rows(&self) -> Vec<FailureRow<'a>> {
        FailureRow::all(&self.results)
    }

    fn remedy(&self) -> Remedy {
        Remedy::of(self.results.iter().copied())
    }

    /// Whether the others deliver with the remedy at some place, and miss a limit.
    fn remedy_misses_a_limit(&self) -> bool {
        let mut held =
            self.results.iter().filter(|own| own.fault().failure == FailureMode::Bypassed);
        held.any(|own| own.missed.as_ref().is_some_and(|missed| !missed.is_empty()))
    }
}

/// Whether the low switches of a failed phase, held on, bring the others back.
fn remedy(points: &[ChainPoint]) -> Option<String> {
    let (mut told, mut missing, mut out_of_range) = (Vec::new(), Vec::new(), Vec::new());
    let (mut heating, mut unsolved) = (Vec::new(), Vec::new());
    for point in points {
        let name = format!("\u{201c}{}\u{201d}", point.name());
        if point.remedy_misses_a_limit() {
            missing.push(name.clone());
        }
        match point.remedy() {
            Remedy::Delivers([low, high]) => {
                let (low, high) = (quantity(low), quantity(high));
                let range = if low == high { low } else { format!("{low} to {high}") };
                told.push(format!("{name} at {range}"));
            }
            Remedy::OutOfRange => out_of_range.push(name),
            Remedy::Heats => heating.push(name),
            Remedy::NotSolved => unsolved.push(name),
        }
    }
    let held = "Where one phase takes no charge, its low switches can be held on.".to_owned();
    let listed = |words: &str, names: &[String]| {
        (!names.is_empty()).then(|| format!("{words} {}.", names.join(", ")))
    };
    let sentences = [
        Some(held),
        listed("The others then deliver", &told),
        listed("For some phases a judged limit is then missed at", &missing),
        listed("The output is then out of range at", &out_of_range),
        listed("Parts then heat up without end at", &heating),
        listed("What they deliver was not found at", &unsolved),
    ];
    let sentences: Vec<String> = sentences.into_iter().flatten().collect();
    (!points.is_empty()).then(|| sentences.join(" "))
}

/// Failures that leave the currents as they are while a switch blocks more.
fn hidden(points: &[ChainPoint]) -> Option<String> {
    let mut names: Vec<String> = Vec::new();
    let mut most: f64 = 1.0;
    for point in points {
        for row in point.rows() {
            for result in &row.results {
                let Some(factor) = blocking_factor(point.before, result) else { continue };
                if !is_hidden(point.before, result) || factor < MUCH_HIGHER {
                    continue;
                }
                most = most.max(factor);
                let name = failure(result.fault().failure);
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
    }
    (!names.is_empty()).then(|| {
        format!(
            "Hardly seen in the currents, at some places: {}. A switch may then block up to {} times as much.",
            names.join(", "),
            decimals(most, 2)
        )
    })
}

/// Whether all phases go on with nearly the currents of before.
fn is_hidden(before: &HealthyConverter, result: &FaultResult) -> bool {
    let Some(found) = result.outcome.state() else { return false };
    let is_all = found.carrying.len() == found.state.phases.len();
    let factor = result.tank_rms_current.map(|own| own.0 / before.tank_rms_current.0);
    let is_shared = result.sharing.is_some_and(|own| own.of_all < HARDLY_SEEN);
    is_all && is_shared && factor.is_some_and(|factor| (factor - 1.0).abs() < HARDLY_SEEN)
}

fn blocking_factor(before: &HealthyConverter, result: &FaultResult) -> Option<f64> {
    let steady = result.outcome.state()?.highest_blocking().0;
    Some(steady / before.steady_blocking.0).filter(|own| own.is_finite())
}

/// Aged capacitors that catch the controller on the capacitive side.
fn traps(points: &[ChainPoint]) -> Option<String> {
    let mut shares: Vec<f64> = Vec::new();
    for result in points.iter().flat_map(|point| &point.results) {
        let share = result.fault().failure.remaining().filter(|_| result.trap.is_some());
        shares.extend(share.filter(|share| !shares.contains(share)));
    }
    let shares: Vec<String> = shares.into_iter().map(given_percent).collect();
    (!shares.is_empty()).then(|| {
        format!(
            "A flying capacitor that ages to {} traps the controller at the lower end of the band: the \
             resonance passes the frequency. Started from the top of the band it regulates.",
            shares.join(" or ")
        )
    })
}

/// In how many drawn converters that happens, at the place and operating point where it happens in most.
fn trapped_converters(points: &[ChainPoint]) -> Option<String> {
    let trapped = |own: &&FaultResult| {
        let share = own.fault().failure.remaining()?;
        Some((share, own.remaining_yield.as_ref()?.trapped?))
    };
    let all = points.iter().flat_map(|point| &point.results).filter_map(trapped);
    let most = all.reduce(|a, b| if b.1.successes > a.1.successes { b } else { a });
    let (share, own) = most.filter(|(_, own)| own.successes > 0)?;
    Some(format!(
        "With {} left of a flying capacitor the controller is trapped in {} of {} drawn converters.",
        given_percent(share),
        yield_interval(&own),
        own.trials
    ))
}

/// Low switches that carry next to nothing before a fault.
fn low_switches(points: &[ChainPoint]) -> Option<String> {
    let mut most: Option<(Ampere, &FaultResult)> = None;
    for result in points.iter().flat_map(|point| &point.results) {
        let Some(own) = result.inner_low_switch_rms_current else { continue };
        if most.is_none_or(|(known, _)| own.0 > known.0) {
            most = Some((own, result));
        }
    }
    let (current, result) = most?;
    Some(format!(
        "A low switch beside a phase without current carries the whole current of its own phase: up to {} RMS \
         with {}. Before the fault it carries next to nothing.",
        quantity(current),
        failure(result.fault().failure)
    ))
}
