//! Close to a solution, without going all the way: enough to tell that limits are met which are not near.
//!
//! # What is certain
//!
//! The period is followed at a point whose Newton step is at most [`NEAR`] of the unknowns. Newton's
//! iteration goes on from there to a solution no farther away than twice that step if the slopes of the
//! equations change by less than half within that distance (Kantorovich's theorem; Ortega and Rheinboldt,
//! Iterative Solution of Nonlinear Equations in Several Variables, 1970, section 12.6, from memory).
//! Where the step squares the error, as it does next to a solution, slopes change by some thousandths
//! there. That they do not change by half is argued and no proof, as what the solver takes for the
//! solution itself: tests compare what was told from here with full solutions.

use super::settle::credible;
use super::solution::start_of;
use super::system::{HalfPeriod, Linear, PerUnitConverter, Period};
use crate::converter::Converter;
use crate::solver::{Case, Effort, SteadyState};
use crate::units::Ampere;

/// Largest Newton step left, relative to the unknowns.
const NEAR: f64 = 1e-3;
/// From farther away than this the solution is not approached: it may be another one.
const FAR: f64 = 0.03;
/// Periods followed at most.
const PERIODS: usize = 2;

/// What is told of a converter close to its solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// The output currents of its phases.
    Outputs,
    /// Bounds of currents and voltages too.
    Bounds,
}

/// A converter close to its solution.
#[derive(Debug, Clone)]
pub struct Approach {
    /// Output currents of the phases after the step that is left.
    pub output_currents: Vec<Ampere>,
    /// The largest change of any of them by this step.
    pub change: Ampere,
    /// That step, relative to the unknowns of the equations. The solution is at most twice as far away.
    pub step: f64,
    /// Before it, where they are asked for: RMS currents of the tanks and upper bounds of the currents of the
    /// switches, with charges that give upper bounds of what the switches block. Means are not known.
    pub state: Option<SteadyState>,
}

/// Approaches the solution of a converter from the start of the case; none where it is not reached at
/// once, or might not be the one at the highest frequency inside the band.
pub(in crate::solver) fn approach(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    detail: Detail,
) -> Option<Approach> {
    let start = start_of(case)?;
    let mut system = PerUnitConverter::new(converter, case, &start.base, effort);
    system.look_below_rest(true);
    let mut point = system.forecast(start).into_owned();
    let mut linear = Linear::default();
    linear.expect(&start.hints);
    for _ in 0..PERIODS {
        system.linearise(&point, &mut linear)?;
        let step = system.step(&point, &linear, HalfPeriod::Regulated)?;
        let size = point.size_of(&linear, &step);
        if !(size < FAR && point.z.iter().all(credible)) {
            return None;
        }
        if size < NEAR {
            let (shortest, longest) = system.half_periods;
            let is_inside =
                (1.0 - 2.0 * size) * point.h > shortest && (1.0 + 2.0 * size) * point.h < longest;
            if !is_inside
                || !system.is_highest(&linear, &step)
                || system.may_leave_split_open(point.h)
            {
                return None;
            }
            let ampere = start.base.ampere();
            let after = |own: &Period| step.leads_to(&own.trend);
            let output_currents = linear.periods.iter().map(|own| Ampere(after(own) * ampere));
            let changes = linear.periods.iter().map(|own| (after(own) - own.output).abs());
            let state = match detail {
                Detail::Outputs => None,
                Detail::Bounds => Some(system.bounded_state(&point, &linear, case, &start.base)?),
            };
            return Some(Approach {
                output_currents: output_currents.collect(),
                change: Ampere(changes.fold(0.0, f64::max) * ampere),
                step: size,
                state,
            });
        }
        point.advance(&linear, &step, step.trusted(&point));
    }
    None
}
