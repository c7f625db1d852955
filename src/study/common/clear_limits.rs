//! Limits that a converter is clear of: told close to its solution, before it is solved to the end.
//!
//! Where only the limits matter, most converters need no more. Each figure is taken close to the solution
//! ([`Approach`]), and with it what it may still change. If it stays on one side of its limit all the same,
//! it is told whether that is met. The rows then hold these ends instead of the figures: the same limits are
//! met and missed, and the same counts follow. Whatever is near a limit is solved to the end.

use crate::converter::{Shared, Sharing};
use crate::scenario::Limits;
use crate::solver::{Approach, Case, Detail};
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, SolvedConverter};

/// What a figure of a current or voltage may change by, in steps that are left: the solution lies within two.
const STEPS: f64 = 20.0;
/// The least step that is reckoned with: solutions themselves hold no more closely.
const LEAST_STEP: f64 = 1e-8;

/// The limits of a case, each with its column.
#[derive(Debug, Clone)]
pub struct ClearLimits {
    limits: Vec<LimitedColumn>,
    /// Whether currents of the tanks and switches are limited, not only those of the output.
    needs_state: bool,
}

#[derive(Debug, Clone, Copy)]
struct LimitedColumn {
    figure: Figure,
    limit: f64,
    column: usize,
}

/// Whether a figure follows from the output currents alone.
fn is_of_output(figure: Figure) -> bool {
    matches!(figure, Figure::SharingError(Sharing { share: Shared::OutputCurrent, .. }))
}

impl ClearLimits {
    /// Those of a case, whose figures stand in these columns; none where a limit is told of solutions alone.
    pub fn new(limits: &Limits, case: &Case, figures: &[Figure]) -> Option<Self> {
        let limited = |demand: Demand| {
            let figure = demand.figure?;
            if !figure.applies(case.arrangement, case.point.drive) {
                return None;
            }
            let column = figures.iter().position(|own| *own == figure);
            Some(column.map(|column| LimitedColumn { figure, limit: demand.limit, column }))
        };
        let demands = Demand::all(limits, case.arrangement).into_iter();
        let limits: Vec<LimitedColumn> = demands.filter_map(limited).collect::<Option<_>>()?;
        let is_told = |own: &LimitedColumn| {
            let of_switches =
                matches!(own.figure, Figure::WorstSwitchRms | Figure::WorstSwitchPeak);
            let of_rms = matches!(
                own.figure,
                Figure::SharingError(Sharing { share: Shared::RmsTankCurrent, .. })
            );
            of_switches || of_rms || is_of_output(own.figure) || own.figure == Figure::WorstBlocking
        };
        let needs_state = limits.iter().any(|own| !is_of_output(own.figure));
        limits.iter().all(is_told).then_some(Self { limits, needs_state })
    }
}

/// What a figure is at the solution: nothing outside these ends.
#[derive(Debug, Clone, Copy)]
struct Ends {
    least: f64,
    most: f64,
}

impl Ends {
    /// The end on the same side of a limit as all of it, if it lies on one side.
    fn beside(self, limit: f64) -> Option<f64> {
        if self.most < limit { Some(self.most) } else { (self.least > limit).then_some(self.least) }
    }
}

impl ClearLimits {
    /// What has to be told of a converter close to its solution.
    pub fn detail(&self) -> Detail {
        if self.needs_state { Detail::Bounds } else { Detail::Outputs }
    }

    /// Whether a converter close to its solution is clear of all limits. Then the row holds ends of the limited
    /// figures. `solved` is made of the state there, where it is told.
    pub fn are_clear(
        &self,
        near: &Approach,
        solved: Option<&SolvedConverter<'_>>,
        case: &Case,
        row: &mut [f64],
    ) -> bool {
        row.fill(f64::NAN);
        self.limits.iter().all(|LimitedColumn { figure, limit, column }| {
            let end = ends(*figure, near, solved, case).and_then(|ends| ends.beside(*limit));
            row[*column] = end.unwrap_or(f64::NAN);
            end.is_some()
        })
    }
}

/// What a figure may be at the solution; none where that is not told from nearby.
fn ends(
    figure: Figure,
    near: &Approach,
    solved: Option<&SolvedConverter<'_>>,
    case: &Case,
) -> Option<Ends> {
    let step = near.step.max(LEAST_STEP);
    let share = STEPS * step;
    // Of what loads the switches only upper bounds are told.
    let at_most = |most: f64| Some(Ends { least: 0.0, most });
    match figure {
        Figure::SharingError(Sharing { share: Shared::OutputCurrent, measure }) => {
            let currents = near.output_currents.iter().map(|current| current.0);
            let mean = currents.clone().sum::<f64>() / currents.len() as f64;
            let (error, off) = (measure.error(currents), near.change.0 / mean + step);
            Some(Ends { least: error - off, most: error + off })
        }
        Figure::SharingError(sharing @ Sharing { share: Shared::RmsTankCurrent, .. }) => {
            let error = solved?.sharing_error(sharing);
            Some(Ends { least: error - share, most: error + share })
        }
        Figure::WorstSwitchRms | Figure::WorstSwitchPeak => {
            at_most(solved?.value(figure) * (1.0 + share))
        }
        Figure::WorstBlocking => {
            let solved = solved.filter(|solved| !solved.may_overshoot())?;
            at_most(solved.value(figure) + share * case.point.input_voltage.0)
        }
        _ => None,
    }
}
