//! A solved converter whose losses tell what to expect of others nearby.

use arrayvec::ArrayVec;
use nalgebra::{DMatrix, DVector};

use super::losses::{TankLoad, TankLoads};
use crate::converter::MAX_PHASES;
use crate::solver::steady_state::SteadyState;
use crate::units::{Ohm, Volt};

/// Resistances and drops are compared at some ten ampere.
const OHM_PER_VOLT: f64 = 0.1;
/// Change of a resistance or drop that tells how the losses respond, relatively, and of what at least.
const STEP: f64 = 1e-3;
const LEAST: f64 = 1e-3;

/// The resistances and drops that all tanks see, as numbers of like size.
pub(super) type LoadNumbers = ArrayVec<f64, { 2 * MAX_PHASES }>;

/// A steady state of a converter whose losses change its parts.
#[derive(Debug, Clone)]
pub struct Nearby {
    /// Its currents.
    pub(in crate::solver) state: SteadyState,
    /// How what the losses make of the tanks changes with what the tanks had before, all as
    /// [`LoadNumbers`].
    response: Option<LoadMap>,
    /// (1 − response)⁻¹: what comes of a change after all rounds, with currents like those here.
    settled: Option<LoadMap>,
}

/// Within which part of them currents are like those of the solution nearby: in a chain all are.
const ALIKE: f64 = 0.03;

impl Nearby {
    /// A steady state alone.
    pub(in crate::solver) fn new(state: SteadyState) -> Self {
        Self { state, response: None, settled: None }
    }

    /// The same, which also tells how losses come back to themselves. `loads_of` gives what the losses make
    /// of tanks that saw `seen`, and some that saw a little else; none where those are not solved.
    pub(super) fn with_feedback(
        self,
        seen: &TankLoads,
        loads_of: impl Fn(&TankLoads) -> Option<TankLoads>,
    ) -> Self {
        let seen = numbers(seen);
        let image = |seen: &LoadNumbers| {
            loads_of(&loads(seen)).map(|found| DVector::from_column_slice(&numbers(&found)))
        };
        let about = image(&seen);
        let column = |n: usize| {
            let (mut other, step) = (seen.clone(), STEP * seen[n].max(LEAST));
            other[n] += step;
            Some((image(&other)? - about.as_ref()?) / step)
        };
        let columns: Option<Vec<_>> = (0..seen.len()).map(column).collect();
        let response = columns.map(|columns| DMatrix::from_columns(&columns));
        let settled = response.as_ref().and_then(|response| {
            let one = DMatrix::identity(response.nrows(), response.ncols());
            (one - response).try_inverse()
        });
        let map = |matrix: DMatrix<f64>| LoadMap::new(&matrix);
        Self { response: response.map(map), settled: settled.map(map), ..self }
    }

    /// Whether all tanks have currents like those here.
    pub(super) fn is_like(&self, state: &SteadyState) -> bool {
        self.ratios(state).all(|ratio| (ratio - 1.0).abs() < ALIKE)
    }

    /// By how much larger the RMS currents of the tanks are than those here.
    fn ratios(&self, state: &SteadyState) -> impl Iterator<Item = f64> {
        let currents = state.phases.iter().zip(&self.state.phases);
        currents.map(|(now, here)| now.rms_current.0 / here.rms_current.0)
    }

    /// What tanks that saw `seen` are to see next, where the losses made `found` of it with these currents:
    /// the point at which both agree, if the losses respond there as they do here. None where that is not
    /// known.
    ///
    /// A resistance acts as a voltage, which rises with the current; and what a voltage makes of a
    /// resistance rises with the current too. So both are scaled with the currents of each phase, which
    /// in a paralleled converter can be far from those here.
    pub(super) fn agreed(
        &self,
        seen: &TankLoads,
        found: &TankLoads,
        currents: &SteadyState,
    ) -> Option<TankLoads> {
        let (seen, found) = (numbers(seen), numbers(found));
        let residual: LoadNumbers = found.iter().zip(&seen).map(|(a, b)| a - b).collect();
        let settled = self.settled.as_ref()?;
        let mut change = settled.of(&residual);
        if !self.is_like(currents) {
            let left = self.left(&change, &residual, currents)?;
            change.iter_mut().zip(settled.of(&left)).for_each(|(all, more)| *all += more);
        }
        let agreed: LoadNumbers = seen.iter().zip(&change).map(|(a, b)| a + b).collect();
        Some(loads(&agreed))
    }

    /// What a change leaves of a residual with these currents: residual − (1 − response) change, the response
    /// scaled with the currents of the tanks.
    fn left(
        &self,
        change: &LoadNumbers,
        residual: &LoadNumbers,
        currents: &SteadyState,
    ) -> Option<LoadNumbers> {
        let scales: LoadNumbers = self.ratios(currents).flat_map(|ratio| [ratio, 1.0]).collect();
        let scaled: LoadNumbers = change.iter().zip(&scales).map(|(a, b)| a * b).collect();
        let back = self.response.as_ref()?.of(&scaled);
        let rows = residual.iter().zip(change).zip(back.iter().zip(&scales));
        Some(
            rows.map(|((residual, change), (back, scale))| residual - change + scale * back)
                .collect(),
        )
    }
}

/// A linear map of resistances and drops, column by column; rows that there are not hold zeros.
#[derive(Debug, Clone)]
struct LoadMap {
    columns: Vec<[f64; 2 * MAX_PHASES]>,
}

impl LoadMap {
    fn new(matrix: &DMatrix<f64>) -> Self {
        let mut columns = vec![[0.0; 2 * MAX_PHASES]; matrix.ncols()];
        for (column, own) in columns.iter_mut().zip(matrix.column_iter()) {
            column.iter_mut().zip(&own).for_each(|(to, from)| *to = *from);
        }
        Self { columns }
    }

    fn of(&self, numbers: &LoadNumbers) -> LoadNumbers {
        let (mut image, count) = ([0.0; 2 * MAX_PHASES], numbers.len());
        for (column, number) in self.columns.iter().zip(numbers) {
            for (sum, entry) in image[..count].iter_mut().zip(column) {
                *sum += entry * number;
            }
        }
        let mut image = LoadNumbers::from(image);
        image.truncate(count);
        image
    }
}

/// Resistances and drops as numbers of like size, phase by phase.
pub(super) fn numbers(loads: &TankLoads) -> LoadNumbers {
    loads.iter().flat_map(|load| [load.resistance.0, OHM_PER_VOLT * load.drop.0]).collect()
}

/// The resistances and drops that numbers stand for; none is below zero.
pub(super) fn loads(numbers: &[f64]) -> TankLoads {
    let load = |pair: &[f64]| TankLoad {
        resistance: Ohm(pair[0].max(0.0)),
        drop: Volt((pair[1] / OHM_PER_VOLT).max(0.0)),
    };
    numbers.chunks_exact(2).map(load).collect()
}
