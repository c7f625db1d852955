//! How much each coordinate of a box has moved each component of a figure.

/// A change that counts as some influence, as a share of what is raised.
const SOME: f64 = 5e-4;

/// The largest changes met so far.
#[derive(Debug)]
pub(super) struct CoordinateInfluence {
    /// By coordinate, then by component; none where the coordinate was not moved yet.
    largest: Vec<Option<Vec<f64>>>,
}

impl CoordinateInfluence {
    /// Nothing is known of so many coordinates yet.
    pub(super) fn unknown(coordinates: usize) -> Self {
        Self { largest: vec![None; coordinates] }
    }

    /// Notes what components became as a coordinate was moved.
    pub(super) fn note(&mut self, coordinate: usize, before: &[f64], after: &[f64]) {
        let known = self.largest[coordinate].get_or_insert_with(|| vec![0.0; before.len()]);
        for (largest, (a, b)) in known.iter_mut().zip(before.iter().zip(after)) {
            *largest = largest.max((a - b).abs());
        }
    }

    /// Whether a coordinate moved a component by more than little of `value`, or was not moved yet. Of all
    /// components where none is given.
    pub(super) fn has(&self, coordinate: usize, component: Option<usize>, value: f64) -> bool {
        let Some(known) = &self.largest[coordinate] else { return true };
        let change = match component {
            Some(component) => known.get(component).copied().unwrap_or(f64::INFINITY),
            None => known.iter().copied().fold(0.0, f64::max),
        };
        change > SOME * value.abs()
    }
}
