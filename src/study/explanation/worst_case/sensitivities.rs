//! How the components of a figure move with every part, and what follows to first order.

use super::search::{BoxFigure, LocalMaximum, SearchStart};

/// Step of the difference quotients, of the half width of a tolerance band.
const STEP: f64 = 0.02;

/// The components of a figure in the middle of the box, and their slopes.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivities {
    /// The components in the middle of the box.
    pub middle: Vec<f64>,
    /// One a coordinate: what each component gains over half of the band, to first order.
    pub slopes: Vec<Vec<f64>>,
}

impl Sensitivities {
    /// By central differences about the middle of a box with so many coordinates; none where the figure
    /// has no value there. Its work is not limited: it is little.
    pub fn new(figure: &mut dyn BoxFigure, coordinates: usize) -> Option<Self> {
        Self::from_components(Self::points(coordinates).map(|point| figure.components(&point)))
    }

    /// Where the components must be known: in the middle, and above and below it along every coordinate.
    pub fn points(coordinates: usize) -> impl Iterator<Item = Vec<f64>> {
        let beside = (0..coordinates).flat_map(|n| [(n, STEP), (n, -STEP)]);
        std::iter::once(vec![0.0; coordinates]).chain(beside.map(move |(n, offset)| {
            let mut point = vec![0.0; coordinates];
            point[n] = offset;
            point
        }))
    }

    /// From the components at [`points`](Self::points); none where they are not known at one.
    pub fn from_components(mut components: impl Iterator<Item = Option<Vec<f64>>>) -> Option<Self> {
        let middle = components.next()??;
        let mut slopes = Vec::new();
        while let Some(above) = components.next() {
            let (above, below) = (above?, components.next()??);
            slopes.push(above.iter().zip(&below).map(|(a, b)| (a - b) / (2.0 * STEP)).collect());
        }
        Some(Self { middle, slopes })
    }

    /// Whether no part moves the figure.
    pub fn is_constant(&self) -> bool {
        self.slopes.iter().flatten().all(|slope| *slope == 0.0)
    }

    /// The middle of the box, which is as high as any other point where no part moves the figure.
    pub fn middle_as_maximum(&self) -> LocalMaximum {
        let value = self.middle.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        LocalMaximum { point: vec![0.0; self.slopes.len()], value, settled: true }
    }

    /// The root-sum-square value. Of every component: its value in the middle of the box, and the root
    /// of the quadratic form of its slopes with the correlations of the coordinates. Of these the
    /// largest.
    pub fn root_sum_square(&self, correlation: impl Fn(usize, usize) -> f64) -> f64 {
        let spread = |component: usize| {
            let slope = |n: usize| self.slopes[n][component];
            let all = 0..self.slopes.len();
            let form: f64 = all
                .clone()
                .flat_map(|i| all.clone().map(move |j| (i, j)))
                .map(|(i, j)| slope(i) * slope(j) * correlation(i, j))
                .sum();
            form.max(0.0).sqrt()
        };
        let components = self.middle.iter().enumerate();
        components.map(|(n, middle)| middle + spread(n)).fold(f64::NEG_INFINITY, f64::max)
    }

    /// For every component the corner of the box that its slopes point to.
    pub fn corners(&self) -> Vec<SearchStart> {
        let corner = |component: usize| SearchStart {
            point: self.slopes.iter().map(|slopes| 1.0_f64.copysign(slopes[component])).collect(),
            component: Some(component),
        };
        (0..self.middle.len()).map(corner).collect()
    }
}
