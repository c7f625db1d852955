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
use super::solution::{solve_from, start_of};
use super::start::Base;
use super::system::{ConverterUnknowns, HalfPeriod, Linear, NewtonStep, PerUnitConverter, Source};
use crate::converter::Converter;
use crate::solver::{Case, Effort, Outcome, SteadyState};
use crate::units::Ampere;

/// Largest Newton step left, relative to the unknowns.
pub(super) const NEAR: f64 = 1e-3;
/// From farther away than this the solution of a chain is not approached: it may be another one. Paralleled
/// phases that are all on the falling side of their peaks have no other.
const FAR: f64 = 0.03;
/// Periods followed at most.
const PERIODS: usize = 6;

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
    /// Where the step begins.
    pub(super) from: ConverterUnknowns,
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
    let mut last = match system.source {
        Source::Chain(_) => FAR,
        Source::Paralleled { .. } => f64::INFINITY,
    };
    for _ in 0..PERIODS {
        system.linearise(&point, &mut linear)?;
        let step = system.step(&point, &linear, HalfPeriod::Regulated)?;
        let size = point.size_of(&linear, &step);
        if !(size < last && point.z.iter().all(credible)) {
            return None;
        }
        if size < NEAR {
            if !(system.is_next_to(&point, size) && system.is_sure_of(&linear, &step, &point)) {
                return None;
            }
            let after: Vec<f64> =
                linear.trends.iter().map(|own| step.leads_to(&own.output)).collect();
            let near = Near { point: &point, linear: &linear, case, base: &start.base, size };
            return system.approached(&near, &after, detail);
        }
        point.advance(&linear, &step, step.trusted(&point));
        last = size;
    }
    None
}

/// Solves a converter that was approached in this case to the end.
pub(in crate::solver) fn finish(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    approach: &Approach,
) -> Outcome {
    solve_from(converter, case, effort, &approach.from)
}

/// A point next to a solution, so many steps of the unknowns away.
pub(super) struct Near<'a> {
    pub(super) point: &'a ConverterUnknowns,
    pub(super) linear: &'a Linear,
    pub(super) case: &'a Case,
    pub(super) base: &'a Base,
    pub(super) size: f64,
}

impl PerUnitConverter<'_> {
    /// Whether a step of this size from a point leads to a solution inside the band.
    pub(super) fn is_next_to(&self, point: &ConverterUnknowns, size: f64) -> bool {
        let (shortest, longest) = self.half_periods;
        size < NEAR
            && point.z.iter().all(credible)
            && (1.0 - 2.0 * size) * point.h > shortest
            && (1.0 + 2.0 * size) * point.h < longest
    }

    /// Whether a solution about this point is the one at the highest frequency and the only one there.
    pub(super) fn is_sure_of(
        &self,
        linear: &Linear,
        step: &NewtonStep,
        point: &ConverterUnknowns,
    ) -> bool {
        self.is_highest(linear, step) && !self.may_leave_split_open(point.h)
    }

    /// What is told next to a solution with these output currents, per unit.
    pub(super) fn approached(
        &self,
        near: &Near,
        output_currents: &[f64],
        detail: Detail,
    ) -> Option<Approach> {
        let Near { point, linear, case, base, size } = near;
        let ampere = base.ampere();
        let changes = output_currents.iter().zip(&linear.periods);
        let changes = changes.map(|(after, period)| (after - period.output).abs());
        let state = match detail {
            Detail::Outputs => None,
            Detail::Bounds => Some(self.bounded_state(point, linear, case, base)?),
        };
        Some(Approach {
            output_currents: output_currents.iter().map(|own| Ampere(own * ampere)).collect(),
            change: Ampere(changes.fold(0.0, f64::max) * ampere),
            step: *size,
            state,
            from: (*point).clone(),
        })
    }
}
