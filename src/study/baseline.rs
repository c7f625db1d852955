//! The nominal converter at every operating point, solved before anything is sampled.

use crate::converter::{Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier};
use crate::engine::Case;
use crate::scenario::{PointRequest, Scenario};
use crate::solver::{Method, Outcome, SteadyState};
use crate::study::figures::{Figure, Measured};
use crate::units::Volt;

/// Why nothing can be sampled.
#[derive(Debug, thiserror::Error)]
pub enum BaselineError {
    /// The design itself does not work.
    #[error(
        "the nominal converter cannot deliver operating point \"{point}\" ({arrangement}): no \
         switching frequency from {band} delivers {output}\n  \
         widen [converter.frequency], or change the tank or the operating point"
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
}

/// The nominal converter's solution in one case.
#[derive(Debug, Clone)]
pub struct Baseline {
    /// The case, with this solution to start from.
    pub case: Case,
    /// The solution.
    pub state: SteadyState,
    /// Whether drive or rectifier were left for the tool to choose.
    pub chosen: bool,
}

/// Solves the nominal converter at every operating point in both arrangements, the chain first.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point.
pub fn baselines(scenario: &Scenario, method: Method) -> Result<Vec<Baseline>, BaselineError> {
    let nominal = scenario.nominal_converter();
    let mut all = Vec::new();
    for request in &scenario.operating_points {
        let (point, chosen) = choose(request, &nominal, &scenario.frequency);
        for arrangement in Arrangement::ALL {
            let (outcome, start) =
                method.prepare(&nominal, &point, &scenario.frequency, arrangement);
            let state = require(outcome, &point, arrangement, &scenario.frequency)?;
            let case = Case { point: point.clone(), arrangement, start };
            all.push(Baseline { case, state, chosen });
        }
    }
    Ok(all)
}

pub(super) fn require(
    outcome: Outcome,
    point: &OperatingPoint,
    arrangement: Arrangement,
    band: &FrequencyBand,
) -> Result<SteadyState, BaselineError> {
    let (name, arrangement) = (point.name.clone(), arrangement.name());
    match outcome {
        Outcome::Solved(state) => Ok(state),
        Outcome::OutOfRange => Err(BaselineError::OutOfRange {
            point: name,
            arrangement,
            band: format!("{} to {}", band.minimum, band.maximum),
            output: format!("{} at {}", point.output_current, point.output_voltage),
        }),
        Outcome::NotSolved(why) => {
            let why = why.reason();
            Err(BaselineError::NotSolved { point: name, arrangement, why })
        }
    }
}

/// The operating point with drive and rectifier as given; where one is left out, of the
/// possibilities that reach the output in the band, the one with the lowest loss.
///
/// When none reaches it, the first possibility, so that the caller can say what fails.
pub(super) fn choose(
    request: &PointRequest,
    nominal: &Converter,
    band: &FrequencyBand,
) -> (OperatingPoint, bool) {
    let drives = request.drive.map_or(vec![Drive::HalfBridge, Drive::FullBridge], |d| vec![d]);
    let rectifiers = request
        .rectifier
        .map_or(vec![Rectifier::FullBridge, Rectifier::VoltageDoubler], |r| vec![r]);
    let chosen = request.drive.is_none() || request.rectifier.is_none();
    let options: Vec<OperatingPoint> = drives
        .iter()
        .flat_map(|drive| rectifiers.iter().map(move |rectifier| (*drive, *rectifier)))
        .map(|(drive, rectifier)| OperatingPoint {
            name: request.name.clone(),
            input_voltage: request.input_voltage,
            output_voltage: request.output_voltage,
            output_current: request.output_current,
            drive,
            rectifier,
        })
        .collect();
    let loss = |point: &OperatingPoint| {
        let arrangement = Arrangement::Chain;
        let outcome = Method::Exact.solve(nominal, point, band, arrangement, None);
        outcome.solved().map(|state| {
            Measured::new(state, nominal, point, arrangement, Volt(0.0)).value(Figure::Loss)
        })
    };
    let best = if options.len() == 1 {
        0
    } else {
        let losses = options.iter().enumerate().filter_map(|(n, p)| Some((loss(p)?, n)));
        losses.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(0, |(_, n)| n)
    };
    (options[best].clone(), chosen)
}
