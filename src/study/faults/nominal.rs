//! Every fault of the nominal converter.

use super::counted_drift::CountedDrift;
use super::judged::{FaultedFigures, JudgedConverter};
use super::result::{BlockingVoltage, FaultResult, FaultedSharing, HealthyConverter};
use crate::converter::{Arrangement, Drive, Fault};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::solver::fault::{FaultCase, FaultOutcome, FaultedState, NoSteadyState};
use crate::solver::{PhaseState, Solver, Unsolved};
use crate::study::common::drift::DriftingChain;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::Baseline;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::shared_work::SharedWork;
use crate::units::{Ampere, Volt};

/// Searches for one fault: to prepare the start of others, and for the answer.
const SEARCHES: usize = 2;

/// The converter before any fault, and with each.
pub(super) fn solve_all(
    session: &Session,
    progress: &mut dyn Progress,
) -> Result<(Vec<HealthyConverter>, Vec<FaultResult>), EngineError> {
    let healthy: Vec<HealthyConverter> =
        session.baselines().iter().map(|own| before_fault(session, own)).collect();
    let asked: Vec<Question> = session
        .baselines()
        .iter()
        .enumerate()
        .flat_map(|(n, baseline)| questions(session.scenario(), n, baseline))
        .collect();
    progress.stage("faults of the nominal converter", 0);
    let work = SharedWork::CONVERTERS.of_phases(session.scenario().phases);
    let share = work.share(SEARCHES * asked.len());
    let solver = session.solver().with_share(share);
    let answer = |question: &Question| question.answer(session, &solver, &healthy);
    let results = session.workers().map(&asked, answer)?;
    Ok((healthy, results))
}

/// One fault, and the converter before it.
struct Question {
    healthy: usize,
    case: FaultCase,
}

fn questions(scenario: &Scenario, healthy: usize, baseline: &Baseline) -> Vec<Question> {
    let case = &baseline.case;
    let (drive, arrangement) = (case.point.drive, case.arrangement);
    let (nominal, point) = (scenario.nominal_converter(), &case.point);
    let converter = nominal.at(&point.condition);
    let diode_drop = scenario.faults.body_diode_drop;
    let all = Fault::all(scenario.phases, drive, arrangement, &scenario.faults.remaining);
    all.into_iter()
        .map(|fault| {
            let point = case.point.clone();
            let asked = FaultCase::new(fault, point, case.band, arrangement, diode_drop);
            let drift = CountedDrift::Worst.of(scenario, &asked, &converter, &baseline.state);
            let asked = asked.with_drift(drift);
            let with_stress = scenario.limits.needs_stress();
            Question { healthy, case: asked.telling(with_stress, case.switch) }
        })
        .collect()
}

fn before_fault(session: &Session, baseline: &Baseline) -> HealthyConverter {
    let Baseline { case, state, .. } = baseline;
    let scenario = session.scenario();
    let (point, arrangement, nominal) = (&case.point, case.arrangement, session.nominal());
    let converter = nominal.at(&point.condition);
    let drift = DriftingChain { converter: &converter, state, point }.worst_drift(scenario);
    let solved = SolvedConverter::new(state, nominal, point, arrangement, &scenario.drift)
        .with_switches(scenario.switch.as_ref())
        .with_drift(drift);
    HealthyConverter {
        operating_point: case.point.name.clone(),
        arrangement: case.arrangement,
        state: state.clone(),
        blocking: Volt(solved.value(Figure::WorstBlocking)),
        steady_blocking: solved.steady_blocking_voltage(),
        tank_rms_current: highest(&state.phases, |phase| phase.rms_current),
        band: (case.band.minimum, case.band.maximum),
    }
}

fn highest(phases: &[PhaseState], current: fn(&PhaseState) -> Ampere) -> Ampere {
    Ampere(phases.iter().map(|phase| current(phase).0).fold(0.0, f64::max))
}

impl Question {
    fn answer(
        &self,
        session: &Session,
        solver: &Solver,
        healthy: &[HealthyConverter],
    ) -> FaultResult {
        let nominal = session.nominal();
        let before = &healthy[self.healthy];
        let case = self.case.clone().prepared(solver, nominal);
        let outcome = case.solve(solver, nominal);
        let state = outcome.state();
        let scenario = session.scenario();
        let judged = state.map(|found| JudgedConverter {
            scenario,
            case: &case,
            converter: nominal,
            found,
            drift: CountedDrift::Worst,
        });
        let missed = judged.map(|own| FaultedFigures::new(own).missed(&scenario.limits, &case));
        let frequency = before.state.switching_frequency;
        FaultResult {
            healthy: self.healthy,
            sharing: state.map(|found| sharing(scenario, found)),
            tank_rms_current: state.map(|own| highest(&own.state.phases, |p| p.rms_current)),
            low_switch_rms_current: state.map(|own| low_switch(&case, own)),
            inner_low_switch_rms_current: state.and_then(|own| lone_low_switch(&case, own)),
            blocking: blocking(&case, session, &outcome, judged),
            missed,
            trap: state.and_then(|own| case.trap_if_short(solver, nominal, frequency, own)),
            stopped: case.stopped(nominal).filter(|_| outcome == FaultOutcome::Stops),
            signs: case.first_signs(nominal, &before.state),
            remaining_yield: None,
            case: case.led_by(&outcome),
            outcome,
        }
    }
}

/// The low switch that carries most. In half-bridge drive those of the return leg do not switch.
fn low_switch(case: &FaultCase, found: &FaultedState) -> Ampere {
    let of_phase: fn(&PhaseState) -> Ampere = match case.point.drive {
        Drive::HalfBridge => |phase| phase.switches.low.rms,
        Drive::FullBridge => |phase| {
            let own = phase.switches;
            Ampere(own.low.rms.0.max(own.return_low.rms.0))
        },
    };
    highest(&found.state.phases, of_phase)
}

/// The low switch that carries most of those that stand between a phase with current and one without.
fn lone_low_switch(case: &FaultCase, found: &FaultedState) -> Option<Ampere> {
    let phases = found.state.phases.len();
    let is_alone = |k: &&usize| **k + 1 < phases && !found.carrying.contains(&(**k + 1));
    let alone =
        found.carrying.iter().filter(is_alone).filter(|_| case.arrangement == Arrangement::Chain);
    let currents = alone.map(|k| found.state.phases[*k].switches.low.rms.0);
    currents.reduce(f64::max).map(Ampere)
}

fn sharing(scenario: &Scenario, found: &FaultedState) -> FaultedSharing {
    let sharing = scenario.limits.sharing;
    let current = |k: usize| found.state.phases[k].shared(sharing.share).0;
    FaultedSharing {
        of_all: sharing.measure.error((0..scenario.phases).map(current)),
        of_carrying: sharing.measure.error(found.carrying.iter().map(|k| current(*k))),
    }
}

/// What the switches block, by the steady state and its figures or by what is known without one.
fn blocking(
    case: &FaultCase,
    session: &Session,
    outcome: &FaultOutcome,
    judged: Option<JudgedConverter<'_>>,
) -> Option<BlockingVoltage> {
    let input = case.point.input_voltage;
    let exactly = |voltage: Volt| BlockingVoltage { lowest: voltage, highest: Some(voltage) };
    match (case.arrangement, outcome) {
        (
            _,
            FaultOutcome::NoSteadyState(NoSteadyState::InputShorted)
            | FaultOutcome::NotSolved(Unsolved::Interrupted),
        ) => None,
        (Arrangement::Paralleled, _) => Some(exactly(input)),
        (Arrangement::Chain, FaultOutcome::Runs(_)) => judged.map(|own| BlockingVoltage {
            lowest: own.lowest_blocking(),
            highest: Some(own.highest_blocking()).filter(|v| v.0.is_finite()),
        }),
        (Arrangement::Chain, _) => {
            let range = case.blocking_without_current(session.nominal());
            Some(BlockingVoltage {
                lowest: range.lowest,
                highest: Some(range.highest).filter(|v| v.0.is_finite()),
            })
        }
    }
}
