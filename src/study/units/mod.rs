//! Converters whose parts are known: measured, or mismatched on purpose.

use std::sync::atomic::AtomicBool;

use crate::converter::{Arrangement, OperatingPoint};
use crate::engine::Workers;
use crate::population::parts_file::Unit;
use crate::scenario::{PointRequest, Scenario};
use crate::solver::{Case, Method, Outcome, Solver};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::commutation::{SoftSwitching, SolvedCase};
use crate::study::common::error::StudyError;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::{at_all_points, settled};
use crate::study::common::shared_work::SharedWork;
use crate::units::{Ampere, Volt};

/// One converter at one operating point in one arrangement.
#[derive(Debug)]
pub struct UnitResult {
    /// The converter's name.
    pub unit: String,
    /// Number of its phases.
    pub phases: usize,
    /// The operating point.
    pub point: OperatingPoint,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// What became of it.
    pub outcome: Outcome,
    /// Its sharing error, if solved.
    pub sharing_error: Option<f64>,
    /// What its worst switches carry and block, if solved.
    pub worst_switches: Option<WorstSwitches>,
    /// How its switches turn on, if solved and asked for.
    pub switching: Option<SoftSwitching>,
}

/// The highest values of any switch of a converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorstSwitches {
    /// RMS current.
    pub rms_current: Ampere,
    /// Peak current.
    pub peak_current: Ampere,
    /// Blocking voltage, with the assumed drift of the flying-capacitor voltages.
    pub blocking_voltage: Volt,
}

/// The results of listed units.
#[derive(Debug)]
pub struct Listed {
    /// How the configuration was chosen of every operating point that leaves it open.
    pub choices: Vec<ConfigurationChoice>,
    /// In the order of the units and of the scenario's operating points.
    pub results: Vec<UnitResult>,
}

/// Solves every unit at every operating point in both arrangements, on as many threads (0 takes
/// all cores); results come in the order of the units and of the scenario's operating points.
///
/// # Errors
///
/// When no configuration suits an operating point that leaves it open, when `stop` is set, when
/// the threads cannot be started.
pub fn units(
    scenario: &Scenario,
    units: &[Unit],
    method: Method,
    threads: usize,
    stop: &AtomicBool,
) -> Result<Listed, StudyError> {
    let nominal = scenario.nominal_converter();
    let workers = Workers::new(threads, stop)?;
    let solver = workers.solver(method);
    let at_point =
        |request: &PointRequest, solver: &Solver| settled(scenario, &nominal, request, solver);
    let settled = at_all_points(scenario, solver, at_point, |(_, choice)| choice.as_ref())?;
    let (points, choices): (Vec<_>, Vec<_>) = settled.into_iter().unzip();
    let points: Vec<OperatingPoint> = points.iter().flat_map(|p| scenario.at_all_ages(p)).collect();
    let sharing =
        solver.with_share(SharedWork::CONVERTERS.share(Arrangement::ALL.len() * points.len()));
    let cases = Arrangement::ALL.map(|arrangement| {
        let case = |point: &OperatingPoint| {
            let case = Case::new(point.clone(), scenario.frequency, arrangement).with_stress();
            // The averaged solver's search takes a hundred times as long as its steps from a solution
            // nearby. The exact one's search is the more certain way for parts that lie far apart.
            match method {
                Method::Averaged => sharing.prepare(&nominal, case).1,
                Method::Exact => case,
            }
        };
        points.iter().map(case).collect::<Vec<_>>()
    });
    let [chain, paralleled] = &cases;
    let pairs: Vec<(&Unit, [&Case; 2])> = units
        .iter()
        .flat_map(|unit| chain.iter().zip(paralleled).map(move |(a, b)| (unit, [a, b])))
        .collect();
    let solved = workers
        .map(&pairs, |(unit, cases)| cases.map(|case| solve(scenario, unit, case, &solver)))?;
    Ok(Listed {
        choices: choices.into_iter().flatten().collect(),
        results: solved.into_iter().flatten().collect(),
    })
}

fn solve(scenario: &Scenario, unit: &Unit, case: &Case, solver: &Solver) -> UnitResult {
    let (point, arrangement) = (&case.point, case.arrangement);
    let outcome = solver.solve(&unit.converter, case);
    let split = scenario.neutral_split;
    let measured = outcome
        .solved()
        .map(|state| SolvedConverter::new(state, &unit.converter, point, arrangement, split));
    let sharing_error = measured.as_ref().map(|m| m.sharing_error(scenario.limits.sharing));
    let worst_switches = measured.as_ref().map(|measured| WorstSwitches {
        rms_current: Ampere(measured.value(Figure::WorstSwitchRms)),
        peak_current: Ampere(measured.value(Figure::WorstSwitchPeak)),
        blocking_voltage: Volt(measured.value(Figure::WorstBlocking)),
    });
    let switching = outcome.solved().and_then(|state| {
        let converter = unit.converter.at(&point.condition);
        let solved = SolvedCase { converter: &converter, state, point, arrangement };
        SoftSwitching::new(scenario, solved)
    });
    UnitResult {
        unit: unit.name.clone(),
        phases: unit.converter.phases(),
        point: point.clone(),
        arrangement,
        outcome,
        sharing_error,
        worst_switches,
        switching,
    }
}
