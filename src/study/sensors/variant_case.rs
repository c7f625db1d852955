//! A variant at an operating point, and the nominal converter there.

use super::variant::Variant;
use crate::scenario::SensorRequest;
use crate::solver::trim::{Trim, TrimCase, TrimStart};
use crate::solver::{Case, Solver, SteadyState};
use crate::study::common::nominal::{BaselineError, require};
use crate::study::common::session::Session;

/// A variant at an operating point.
#[derive(Debug)]
pub(super) struct VariantCase {
    pub variant: Variant,
    pub case: Case,
    /// The nominal converter there.
    pub nominal: SteadyState,
    /// Where the loops start from; none without sensors.
    pub trim: Option<TrimStart>,
}

impl VariantCase {
    /// Solves the nominal converter in all variants.
    pub(super) fn all(
        session: &Session,
        request: &SensorRequest,
    ) -> Result<Vec<Self>, BaselineError> {
        let mut all = Vec::new();
        for variant in Variant::ALL {
            let arrangement = variant.arrangement();
            let baselines = session.baselines().iter();
            for baseline in baselines.filter(|b| b.case.arrangement == arrangement) {
                let case = baseline.case.clone();
                let (nominal, trim) = if variant.has_sensors() {
                    let trimmed = trim_case(request, session.solver(), &case);
                    let (outcome, start) = trimmed.prepare(session.nominal());
                    (require(outcome, &case)?, start)
                } else {
                    (baseline.state.clone(), None)
                };
                all.push(Self { variant, case, nominal, trim });
            }
        }
        Ok(all)
    }
}

/// How the loops of a case trim.
pub(super) fn trim_case<'a>(
    request: &SensorRequest,
    solver: Solver<'a>,
    case: &'a Case,
) -> TrimCase<'a> {
    TrimCase {
        solver,
        case,
        trim: Trim {
            measured: request.measured,
            parameter: request.trim,
            range: request.trim_range,
            added_resistance: request.added_resistance,
        },
    }
}
