//! The starts of the nominal converter, integrated.

use super::laws::StartLaws;
use super::prepared::PreparedStart;
use super::result::{FollowedStart, IntegratedRun, PointStart, StartOutcome, StartSequence};
use crate::scenario::Scenario;
use crate::solver::start_up::integration::{StartCircuit, StartInput, StartOutput, StartPlan};
use crate::solver::start_up::ladder_lags;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::units::{Second, Volt};

/// Switching periods that are followed once the input has its voltage.
const HOLD: f64 = 2000.0;
/// Stretches that one start may take, about: some seconds.
const MOST_WORK: f64 = 3e7;
/// The same of all starts of a study together: about a quarter of a minute on one core.
const ALL_WORK: f64 = 2e8;
/// Work that a start may take over that expected, and some more, before it is given up: body diodes cut
/// stretches into pieces, and tanks turn.
const SLACK: f64 = 10.0;
const LEAST_WORK: f64 = 1e6;
/// How far a phase may be from an equal share of the input at the end, as a share of it, before the chain
/// counts as crooked.
const CROOKED: f64 = 0.1;
/// Starts that are handed out to the threads at a time.
const CHUNK: usize = 8;

/// A start that is to be followed, and which result it belongs to.
struct OpenRun<'a> {
    prepared: &'a PreparedStart,
    starts: StartLaws<'a>,
    point: usize,
    sequence: usize,
    plan: StartPlan,
    run: IntegratedRun,
}

/// Follows all starts, and puts what they show beside their laws.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn integrate(
    scenario: &Scenario,
    session: &Session,
    prepared: &[PreparedStart],
    points: &mut [PointStart],
    progress: &mut dyn Progress,
) -> Result<(), StudyError> {
    let open: Vec<OpenRun> = prepared
        .iter()
        .enumerate()
        .flat_map(|(n, own)| open_runs(own, own.laws(scenario), n, &points[n]))
        .collect();
    let most = largest_affordable(open.iter().map(OpenRun::work).collect());
    progress.stage("starts integrated", open.len() as u64);
    for chunk in open.chunks(CHUNK) {
        let found = session.workers().map(chunk, |own| own.follow(session, most))?;
        for (own, found) in chunk.iter().zip(found) {
            let run = IntegratedRun { found, ..own.run.clone() };
            points[own.point].sequences[own.sequence].integrated.push(run);
        }
        progress.advance(chunk.len() as u64);
    }
    Ok(())
}

/// The work up to which starts are followed: so that all of these together, the shorter ones first, take no
/// more than may be taken. Of starts with equal work all are followed, or none.
fn largest_affordable(mut works: Vec<f64>) -> f64 {
    works.retain(|work| *work <= MOST_WORK);
    works.sort_by(f64::total_cmp);
    let mut sum = 0.0;
    let first_beyond = works.iter().copied().find(|work| {
        sum += work;
        sum > ALL_WORK
    });
    let is_affordable = |work: &f64| first_beyond.is_none_or(|beyond| *work < beyond);
    works.iter().copied().filter(is_affordable).fold(0.0, f64::max)
}

impl OpenRun<'_> {
    /// Work that it takes, about.
    fn work(&self) -> f64 {
        self.plan.work(self.prepared.chain.phases())
    }

    fn follow(&self, session: &Session, most: f64) -> Option<FollowedStart> {
        let (chain, expected) = (&self.prepared.chain, self.work());
        if expected > most {
            return None;
        }
        let circuit = StartCircuit {
            converter: &self.prepared.converter,
            point: &chain.point,
            diode_drop: self.starts.scenario.faults.body_diode_drop,
        };
        let effort = session.solver().effort_of(LEAST_WORK + SLACK * expected);
        let start = circuit.follow(&self.plan, &effort)?;
        let is_capacitor = matches!(self.plan.output, StartOutput::Capacitor { .. });
        let outcome = if is_capacitor && start.crookedness() > CROOKED {
            StartOutcome::StaysCrooked
        } else if self.starts.exceeds(start.factor(), Some(start.highest())) {
            StartOutcome::Exceeds
        } else {
            StartOutcome::Keeps
        };
        Some(FollowedStart { start, outcome })
    }
}

/// The starts of an operating point.
fn open_runs<'a>(
    prepared: &'a PreparedStart,
    starts: StartLaws<'a>,
    point: usize,
    laws: &PointStart,
) -> Vec<OpenRun<'a>> {
    let mut open = Vec::new();
    for (n, law) in laws.sequences.iter().enumerate() {
        let given = starts.settings().ramp_time;
        let has_ramp = !matches!(
            law.sequence,
            StartSequence::InputGatesOff | StartSequence::InputThenGates | StartSequence::PreCharge
        );
        let needed = law.needed_ramp.filter(|own| has_ramp && own.0 > 0.0 && *own != given);
        let ramps = [Some((given, false)), needed.map(|own| (own, true))];
        for (ramp, has_needed_ramp) in ramps.into_iter().flatten() {
            for output in outputs(&starts, law.sequence) {
                let ramp = has_ramp.then_some(ramp);
                let plan = plan(&starts, law.sequence, output, ramp);
                let run = open_run(&starts, law.sequence, &plan, has_needed_ramp);
                open.push(OpenRun { prepared, starts, point, sequence: n, plan, run });
            }
        }
    }
    open
}

/// What the output may do in a sequence.
fn outputs(starts: &StartLaws, sequence: StartSequence) -> Vec<StartOutput> {
    let settings = starts.settings();
    let capacitor = settings
        .output_capacitance
        .map(|capacitance| StartOutput::Capacitor { capacitance, load: settings.load });
    match sequence {
        StartSequence::InputGatesOff => Vec::new(),
        StartSequence::InputThenGates | StartSequence::PreCharge => {
            vec![StartOutput::Shorted, StartOutput::Held]
        }
        StartSequence::RampShorted => vec![StartOutput::Shorted],
        StartSequence::RampHeldAtTop | StartSequence::RampHeld => vec![StartOutput::Held],
        StartSequence::RampRising => {
            [Some(StartOutput::Rising), capacitor].into_iter().flatten().collect()
        }
    }
}

fn plan(
    starts: &StartLaws,
    sequence: StartSequence,
    output: StartOutput,
    ramp: Option<Second>,
) -> StartPlan {
    let at_operating = matches!(sequence, StartSequence::RampHeld | StartSequence::RampRising);
    let frequency = if at_operating { starts.operating } else { starts.top() };
    let voltages = match sequence {
        StartSequence::PreCharge => charged(starts),
        _ => vec![Volt(0.0); starts.chain.phases() - 1],
    };
    StartPlan {
        input: ramp.map_or(StartInput::Applied, StartInput::Ramp),
        output,
        frequency,
        hold: Second(HOLD / frequency.0),
        voltages,
        wanted_factor: starts.settings().highest_factor,
    }
}

/// Flying-capacitor voltages after pre-charge: as the ladder of resistors leaves them at the end of the
/// ramp, ideal ones where these are not told.
fn charged(starts: &StartLaws) -> Vec<Volt> {
    let (chain, settings) = (starts.chain, starts.settings());
    let ideal = chain.ideal_voltages();
    let Some(step) = settings.precharge_resistance else { return ideal };
    let largest = chain.flying.iter().map(|own| own.0).fold(0.0, f64::max);
    let lags = ladder_lags(chain.phases(), step.0 * largest, settings.ramp_time.0);
    let input = chain.point.input_voltage.0;
    ideal.iter().zip(lags).map(|(v, lag)| Volt(v.0 - lag * input)).collect()
}

fn open_run(
    starts: &StartLaws,
    sequence: StartSequence,
    plan: &StartPlan,
    has_needed_ramp: bool,
) -> IntegratedRun {
    let ramp = match plan.input {
        StartInput::Applied => None,
        StartInput::Ramp(ramp) => Some(ramp),
    };
    let law = starts.told(sequence, ramp.unwrap_or(starts.settings().ramp_time));
    IntegratedRun {
        output: plan.output,
        ramp,
        has_needed_ramp,
        frequency: plan.frequency,
        law_factor: law.factor,
        law_peak: law.peak_current,
        found: None,
        time: Second(ramp.map_or(0.0, |own| own.0) + plan.hold.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Short starts are followed whatever a long one would take, and none above what one may take.
    #[test]
    fn long_starts_are_left_out_first() {
        assert!((largest_affordable(vec![1e9, 2e6, 1e5]) - 2e6).abs() < 1.0);
        let equal = largest_affordable([vec![1e6], vec![2.5e7; 100]].concat());
        assert!((equal - 1e6).abs() < 1.0, "all of equal ones, or none: {equal}");
        let mut rising: Vec<f64> = (1..=30).map(|n| 1e6 * f64::from(n)).collect();
        rising.reverse();
        // 1 + 2 + … + 19 = 190, and 20 more are too many.
        assert!((largest_affordable(rising) - 1.9e7).abs() < 1.0);
        assert!(largest_affordable(Vec::new()).abs() < 1e-9);
    }
}
