//! A solved converter whose losses tell what to expect of others nearby.

use nalgebra::{DMatrix, DVector};

use super::load_numbers::{LoadNumbers, LoadScale};
use super::losses::TankLoads;
use crate::converter::MAX_PHASES;
use crate::solver::steady_state::SteadyState;

/// Change of a resistance or drop that tells how the losses respond, relatively, and of which share of the
/// output at least.
const STEP: f64 = 1e-3;
const LEAST: f64 = 3e-4;

/// A steady state of a converter whose losses change its parts.
#[derive(Debug, Clone)]
pub struct Nearby {
    /// Its currents.
    pub(in crate::solver) state: SteadyState,
    /// How its losses come back to themselves, where that is known.
    feedback: Option<Feedback>,
}

/// How losses come back to themselves, with currents like those of the solution nearby.
#[derive(Debug, Clone)]
struct Feedback {
    scale: LoadScale,
    /// How what the losses make of the tanks changes with what the tanks had before, all as
    /// [`LoadNumbers`].
    response: LoadMap,
    /// (1 − response)⁻¹: what comes of a change after all rounds, with currents like those here.
    settled: LoadMap,
}

/// Within which part of them currents are like those of the solution nearby: in a chain all are.
const ALIKE: f64 = 0.03;

impl Nearby {
    /// A steady state alone.
    pub(in crate::solver) fn new(state: SteadyState) -> Self {
        Self { state, feedback: None }
    }

    /// The same, which also tells how losses come back to themselves. `loads_of` gives what the losses make
    /// of tanks that saw `seen`, and some that saw a little else; none where those are not solved.
    pub(super) fn with_feedback(
        self,
        seen: &TankLoads,
        scale: LoadScale,
        loads_of: impl Fn(&TankLoads) -> Option<TankLoads>,
    ) -> Self {
        Self { feedback: Feedback::new(seen, scale, loads_of), ..self }
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
        let feedback = self.feedback.as_ref()?;
        let scales =
            || self.ratios(currents).flat_map(|ratio| [ratio, 1.0]).collect::<LoadNumbers>();
        let scales = (!self.is_like(currents)).then(scales);
        Some(feedback.agreed(seen, found, scales.as_ref()))
    }
}

impl Feedback {
    fn new(
        seen: &TankLoads,
        scale: LoadScale,
        loads_of: impl Fn(&TankLoads) -> Option<TankLoads>,
    ) -> Option<Self> {
        let seen = scale.numbers(seen);
        let image = |seen: &LoadNumbers| {
            let found = loads_of(&scale.loads(seen))?;
            Some(DVector::from_column_slice(&scale.numbers(&found)))
        };
        let about = image(&seen)?;
        let column = |n: usize| {
            let (mut other, step) = (seen.clone(), STEP * seen[n].max(LEAST));
            other[n] += step;
            Some((image(&other)? - &about) / step)
        };
        let columns: Vec<_> = (0..seen.len()).map(column).collect::<Option<_>>()?;
        let response = DMatrix::from_columns(&columns);
        let one = DMatrix::identity(seen.len(), seen.len());
        let settled = (one - &response).try_inverse()?;
        Some(Self { scale, response: LoadMap::new(&response), settled: LoadMap::new(&settled) })
    }

    /// As [`Nearby::agreed`]; `scales` is by how much the response differs from that nearby, where it does.
    fn agreed(
        &self,
        seen: &TankLoads,
        found: &TankLoads,
        scales: Option<&LoadNumbers>,
    ) -> TankLoads {
        let (seen, found) = (self.scale.numbers(seen), self.scale.numbers(found));
        let residual: LoadNumbers = found.iter().zip(&seen).map(|(a, b)| a - b).collect();
        let mut change = self.settled.of(&residual);
        if let Some(scales) = scales {
            let left = self.left(&change, &residual, scales);
            change.iter_mut().zip(self.settled.of(&left)).for_each(|(all, more)| *all += more);
        }
        let agreed: LoadNumbers = seen.iter().zip(&change).map(|(a, b)| a + b).collect();
        self.scale.loads(&agreed)
    }

    /// What a change leaves of a residual: residual − (1 − response) change, the response scaled.
    fn left(
        &self,
        change: &LoadNumbers,
        residual: &LoadNumbers,
        scales: &LoadNumbers,
    ) -> LoadNumbers {
        let scaled: LoadNumbers = change.iter().zip(scales).map(|(a, b)| a * b).collect();
        let back = self.response.of(&scaled);
        let rows = residual.iter().zip(change).zip(back.iter().zip(scales));
        rows.map(|((residual, change), (back, scale))| residual - change + scale * back).collect()
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
