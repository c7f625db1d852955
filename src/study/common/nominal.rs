//! The nominal converter at every operating point, solved before anything is sampled.

use crate::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rating, SwitchTiming,
};
use crate::scenario::{PointRequest, Scenario, SwitchSettings};
use crate::solver::{Case, Method, Outcome, Solver, SteadyState, Unsolved};
use crate::study::common::choice::{
    ConfigurationChoice, configurations, in_configuration, reaches,
};
use crate::study::common::point_case::case_at;
use crate::study::common::shared_work::SharedWork;
use crate::units::{Ampere, Volt};

/// Share of a search's work for the voltages that a configuration reaches, told before all ends.
const REACHING: f64 = 0.5;

/// Why nothing can be sampled.
#[derive(Debug, thiserror::Error)]
pub enum BaselineError {
    /// The design itself does not work.
    #[error(
        "the nominal converter cannot deliver operating point \"{point}\" ({arrangement}): no \
         switching frequency from {band} delivers {output}"
    )]
    OutOfRange {
        /// The operating point.
        point: String,
        /// The arrangement.
        arrangement: &'static str,
        /// The band of frequencies, with units.
        band: String,
        /// The wanted output, with units.
        output: String,
    },
    /// None of the configurations that the scenario leaves open reaches the output.
    #[error(
        "the nominal converter cannot deliver operating point \"{point}\" in any \
         configuration: no switching frequency from {band} delivers {output}; at {current} they \
         reach{reaches}"
    )]
    NoConfiguration {
        /// The operating point.
        point: String,
        /// The band of frequencies, with units.
        band: String,
        /// The wanted output, with units.
        output: String,
        /// The output current, with its unit.
        current: String,
        /// What each configuration can reach, a line each.
        reaches: Box<str>,
        /// Whether the work was too little for some of them.
        is_short_of_work: bool,
    },
    /// The solver failed on the nominal converter.
    #[error(
        "the nominal converter is not solved at operating point \"{point}\" ({arrangement}): {}",
        why.reason()
    )]
    NotSolved {
        /// The operating point.
        point: String,
        /// The arrangement.
        arrangement: &'static str,
        /// The reason.
        why: Unsolved,
    },
    /// Something is limited that the averaged solver does not tell, and it was asked.
    #[error("`{limit}` needs the exact solver: the averaged one does not tell {untold}")]
    NeedsExactSolver {
        /// The limit, as the scenario names it.
        limit: &'static str,
        /// What it depends on.
        untold: &'static str,
    },
    /// A single part is limited, and the averaged solver was asked.
    #[error(
        "limits of single parts need the exact solver: the averaged one does not tell what loads every \
         part"
    )]
    PartsNeedExactSolver,
    /// A part is limited in a way that no operating point loads it, in the drives chosen for them: every converter
    /// would keep to the limit.
    #[error(
        "`{part}` is limited, but no operating point loads it so, in the drives chosen for them"
    )]
    PartNotLoaded {
        /// The part, as the scenario names it.
        part: &'static str,
        /// The drive that would load it.
        needed: Option<Drive>,
    },
    /// The user asked to stop.
    #[error("interrupted; no result files were written")]
    Interrupted,
}

impl BaselineError {
    /// The name of the operating point that cannot be delivered.
    pub fn point(&self) -> Option<&str> {
        match self {
            Self::OutOfRange { point, .. }
            | Self::NoConfiguration { point, .. }
            | Self::NotSolved { point, .. } => Some(point),
            Self::NeedsExactSolver { .. }
            | Self::PartsNeedExactSolver
            | Self::PartNotLoaded { .. }
            | Self::Interrupted => None,
        }
    }

    /// Whether more work might have led to a solution.
    fn is_short_of_work(&self) -> bool {
        match self {
            Self::NotSolved { why, .. } => *why == Unsolved::TooMuchWork,
            Self::NoConfiguration { is_short_of_work, .. } => *is_short_of_work,
            Self::OutOfRange { .. }
            | Self::NeedsExactSolver { .. }
            | Self::PartsNeedExactSolver
            | Self::PartNotLoaded { .. }
            | Self::Interrupted => false,
        }
    }
}

/// The nominal converter's solution in one case. It tells what loads every part.
#[derive(Debug, Clone)]
pub struct Baseline {
    /// The case, with this solution to start from.
    pub case: Case,
    /// The solution.
    pub state: SteadyState,
    /// All configurations that were tried, where drive or rectifier are left open.
    pub choice: Option<ConfigurationChoice>,
}

/// Solves the nominal converter at every operating point in both arrangements, the chain first: new,
/// and at the end of life where the scenario has one, in the same configuration.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point, when the averaged solver is asked and
/// soft switching is a limit, and when the user asks to stop.
pub fn baselines<'a>(
    scenario: &Scenario,
    solver: impl Into<Solver<'a>>,
) -> Result<Vec<Baseline>, BaselineError> {
    baselines_in(&Arrangement::ALL, scenario, solver)
}

/// The same in these arrangements alone. A configuration that the scenario leaves open must work in both
/// all the same.
///
/// # Errors
///
/// As [`baselines`].
pub(in crate::study) fn baselines_in<'a>(
    arrangements: &[Arrangement],
    scenario: &Scenario,
    solver: impl Into<Solver<'a>>,
) -> Result<Vec<Baseline>, BaselineError> {
    let (solver, nominal) = (solver.into(), scenario.nominal_converter());
    require_exact_solver(scenario, solver.method)?;
    let at_point = |request: &PointRequest, solver: &Solver| {
        let (point, choice) = settled(scenario, &nominal, request, solver)?;
        let baseline = |point: &OperatingPoint, arrangement| {
            let case = case_at(scenario, point, arrangement).with_stress();
            let (outcome, case) = solver.prepare(&nominal, case);
            let state = require(outcome, &case)?;
            let case = Case { with_stress: scenario.limits.needs_stress(), ..case };
            Ok(Baseline { case, state, choice: choice.clone() })
        };
        let points = scenario.at_all_ages(&point);
        let cases = points.iter().flat_map(|point| arrangements.iter().map(move |a| (point, *a)));
        cases.map(|(point, a)| baseline(point, a)).collect::<Result<Vec<_>, _>>()
    };
    let all = at_all_points(scenario, solver, at_point, |baselines| baselines[0].choice.as_ref())?;
    let all: Vec<Baseline> = all.into_iter().flatten().collect();
    require_loaded_parts(scenario, &all)?;
    Ok(all)
}

/// Refuses a limit of a part that no operating point loads. The reader refuses it where all drives are written.
fn require_loaded_parts(scenario: &Scenario, baselines: &[Baseline]) -> Result<(), BaselineError> {
    let is_loaded =
        |rating: Rating| baselines.iter().any(|baseline| rating.is_used(baseline.case.point.drive));
    let mut limited = scenario.limits.parts.iter().map(|own| own.rating);
    let Some(rating) = limited.find(|rating| !is_loaded(*rating)) else { return Ok(()) };
    let needed = Drive::ALL.into_iter().find(|drive| rating.is_used(*drive));
    Err(BaselineError::PartNotLoaded { part: rating.part.table(), needed })
}

/// Refuses the averaged solver where limits ask what it does not tell.
///
/// # Errors
///
/// [`BaselineError::NeedsExactSolver`] and [`BaselineError::PartsNeedExactSolver`].
pub(in crate::study) fn require_exact_solver(
    scenario: &Scenario,
    method: Method,
) -> Result<(), BaselineError> {
    if method == Method::Exact {
        return Ok(());
    }
    if !scenario.limits.parts.is_empty() {
        return Err(BaselineError::PartsNeedExactSolver);
    }
    match Arrangement::ALL.into_iter().find_map(|own| untold_by_averages(scenario, own)) {
        Some([limit, untold]) => Err(BaselineError::NeedsExactSolver { limit, untold }),
        None => Ok(()),
    }
}

/// A limit of an arrangement that depends on what the averaged solver does not tell, and that; none where there is none.
fn untold_by_averages(scenario: &Scenario, arrangement: Arrangement) -> Option<[&'static str; 2]> {
    let limits = scenario.limits.switches(arrangement);
    let is_at_once = |own: &SwitchSettings| own.chain.timing == SwitchTiming::Together;
    let may_overshoot =
        arrangement == Arrangement::Chain && scenario.switch.as_ref().is_some_and(is_at_once);
    let loses_at_turn_on = scenario.warmed_switch(arrangement).is_some();
    let turn_on = "what switches lose at turn-on";
    let all = [
        (limits.soft_turn_on.is_some(), "soft_switching", "the currents at the switching instants"),
        (limits.settling_time.is_some(), "settling_time", "how the flying capacitors settle"),
        (
            limits.blocking_voltage.is_some() && may_overshoot,
            "blocking_voltage",
            "what switches see in the dead times of [switch]",
        ),
        (limits.efficiency.is_some() && loses_at_turn_on, "efficiency", turn_on),
        (
            limits.junction_temperature.is_some() && loses_at_turn_on,
            "junction_temperature",
            turn_on,
        ),
    ];
    all.into_iter().find(|own| own.0).map(|(_, limit, untold)| [limit, untold])
}

/// Solves the nominal converter at every operating point. They share the work: those for which it was
/// too little, by an error or by the choice of the configuration, are solved again with more.
///
/// # Errors
///
/// Those of `at_point`, of the first point that has one.
pub(in crate::study) fn at_all_points<R>(
    scenario: &Scenario,
    solver: Solver,
    at_point: impl Fn(&PointRequest, &Solver) -> Result<R, BaselineError>,
    choice: impl Fn(&R) -> Option<&ConfigurationChoice>,
) -> Result<Vec<R>, BaselineError> {
    let round = |requests: &[&PointRequest], share: f64| {
        let solver = solver.with_share(share);
        let results = requests.iter().map(|request| match at_point(request, &solver) {
            Err(error) if !error.is_short_of_work() => Err(error),
            result => Ok(result),
        });
        results.collect::<Result<Vec<_>, _>>()
    };
    let is_short = |result: &Result<R, BaselineError>| match result {
        Ok(result) => choice(result).is_some_and(ConfigurationChoice::is_short_of_work),
        Err(_) => true,
    };
    let requests = &scenario.operating_points;
    let ages = scenario.ages().len();
    let searches = |request: &PointRequest| searches(request, ages);
    let all = SharedWork::CONVERTERS.in_two_rounds(requests, searches, round, is_short)?;
    all.into_iter().collect()
}

/// Searches that an operating point may take: each configuration that is open in both arrangements at each
/// age, and for what it reaches, then the one taken in both, at each age.
fn searches(request: &PointRequest, ages: usize) -> usize {
    let arrangements = Arrangement::ALL.len();
    match configurations(request).len() {
        1 => ages * arrangements,
        open => (ages * arrangements + 1) * open + ages * arrangements,
    }
}

/// The steady state of the nominal converter in a case.
///
/// # Errors
///
/// When there is none.
pub(in crate::study) fn require(
    outcome: Outcome,
    case: &Case,
) -> Result<SteadyState, BaselineError> {
    let point = &case.point;
    let (name, arrangement) = (point.name.clone(), case.arrangement.name());
    match outcome {
        Outcome::Solved(state) => Ok(state),
        Outcome::OutOfRange => Err(BaselineError::OutOfRange {
            point: name,
            arrangement,
            band: band_text(&case.band),
            output: output_text(point.output_current, point.output_voltage),
        }),
        Outcome::NotSolved(Unsolved::Interrupted) => Err(BaselineError::Interrupted),
        Outcome::NotSolved(why) => Err(BaselineError::NotSolved { point: name, arrangement, why }),
    }
}

/// The operating point in the configuration that it takes, with the choice where the scenario
/// leaves one.
///
/// # Errors
///
/// When none of the configurations that are left open reaches the output, and when the user asks to
/// stop.
pub(in crate::study) fn settled(
    scenario: &Scenario,
    nominal: &Converter,
    request: &PointRequest,
    solver: &Solver,
) -> Result<(OperatingPoint, Option<ConfigurationChoice>), BaselineError> {
    if let [one] = configurations(request)[..] {
        return Ok((in_configuration(request, one), None));
    }
    let choice = ConfigurationChoice::for_request(scenario, nominal, request, *solver);
    match choice.taken() {
        _ if solver.is_stopped() => Err(BaselineError::Interrupted),
        Some(taken) => Ok((taken.point.clone(), Some(choice))),
        None => {
            let is_short_of_work = choice.is_short_of_work();
            // Where no work would help, nothing else follows: the curves may take more.
            let solver = if is_short_of_work { *solver } else { solver.with_share(REACHING) };
            Err(BaselineError::NoConfiguration {
                point: request.name.clone(),
                band: band_text(&scenario.frequency),
                output: output_text(request.output_current, request.output_voltage),
                current: request.output_current.to_string(),
                reaches: reaches(&choice, nominal, &scenario.frequency, &solver).into(),
                is_short_of_work,
            })
        }
    }
}

fn band_text(band: &FrequencyBand) -> String {
    format!("{} to {}", band.minimum, band.maximum)
}

fn output_text(current: Ampere, voltage: Volt) -> String {
    format!("{current} at {voltage}")
}
