//! The nominal converter at every operating point, solved before anything is sampled.

use crate::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use crate::scenario::{PointRequest, Scenario};
use crate::solver::{Case, Outcome, Solver, SteadyState, Unsolved};
use crate::study::common::choice::{
    ConfigurationChoice, configurations, in_configuration, reaches,
};
use crate::units::{Ampere, Volt};

/// Searches that an operating point may take: four configurations in both arrangements, and the one
/// taken once more.
const SEARCHES: usize = 10;

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
        reaches: String,
    },
    /// The solver failed on the nominal converter.
    #[error(
        "the nominal converter is not solved at operating point \"{point}\" ({arrangement}): {why}"
    )]
    NotSolved {
        /// The operating point.
        point: String,
        /// The arrangement.
        arrangement: &'static str,
        /// The reason in words.
        why: &'static str,
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
            Self::Interrupted => None,
        }
    }
}

/// The nominal converter's solution in one case.
#[derive(Debug, Clone)]
pub struct Baseline {
    /// The case, with this solution to start from.
    pub case: Case,
    /// The solution.
    pub state: SteadyState,
    /// All configurations that were tried, where drive or rectifier are left open.
    pub choice: Option<ConfigurationChoice>,
}

/// Solves the nominal converter at every operating point in both arrangements, the chain first.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point, and when the user asks to stop.
pub fn baselines<'a>(
    scenario: &Scenario,
    solver: impl Into<Solver<'a>>,
) -> Result<Vec<Baseline>, BaselineError> {
    let searches = scenario.operating_points.len() * SEARCHES;
    let solver = solver.into().sharing(searches);
    let nominal = scenario.nominal_converter();
    let mut all = Vec::new();
    for request in &scenario.operating_points {
        let (point, choice) = settled(scenario, &nominal, request, &solver)?;
        for arrangement in Arrangement::ALL {
            let case = Case::new(point.clone(), scenario.frequency, arrangement);
            let (outcome, case) = solver.prepare(&nominal, case);
            let state = require(outcome, &case)?;
            all.push(Baseline { case, state, choice: choice.clone() });
        }
    }
    Ok(all)
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
        Outcome::NotSolved(why) => {
            let why = why.reason();
            Err(BaselineError::NotSolved { point: name, arrangement, why })
        }
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
        None => Err(BaselineError::NoConfiguration {
            point: request.name.clone(),
            band: band_text(&scenario.frequency),
            output: output_text(request.output_current, request.output_voltage),
            current: request.output_current.to_string(),
            reaches: reaches(&choice, nominal, &scenario.frequency, solver),
        }),
    }
}

fn band_text(band: &FrequencyBand) -> String {
    format!("{} to {}", band.minimum, band.maximum)
}

fn output_text(current: Ampere, voltage: Volt) -> String {
    format!("{current} at {voltage}")
}
