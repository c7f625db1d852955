//! The modes of a period map: how fast they decay, and what they move.

use std::f64::consts::TAU;

use nalgebra::{Complex, DMatrix, DVector, Schur};

use super::period_map::{ChainLayout, PeriodMap};
use crate::units::Second;

/// Sweeps of the eigenvalue iteration, at most.
const SWEEPS: usize = 10_000;
/// Of the energy of a mode, the share in the flying capacitors below which it does not move them.
const MOVES: f64 = 1e-9;
/// How far beside an eigenvalue its eigenvector is iterated for.
const BESIDE: f64 = 1e-9;
const ITERATIONS: usize = 4;
/// Decay per period below which rounding cannot tell it from none.
const UNDAMPED: f64 = 1e-11;
/// Powers of a map that tell whether it settles: up to the 4096th. The norm of one that does so stays small.
const SQUARINGS: usize = 13;
const LARGE: f64 = 1e4;
/// Angle per period, in radians, below which a mode does not oscillate.
const NO_ANGLE: f64 = 1e-9;

/// How a chain settles after a small disturbance.
#[derive(Debug, Clone, PartialEq)]
pub struct Settling {
    /// One switching period.
    pub period: Second,
    /// Factors by which the modes that decay change in one period, by falling modulus.
    pub eigenvalues: Vec<Complex<f64>>,
    /// The slowest mode that moves flying capacitors and decays.
    pub slowest: SettlingMode,
    /// Modes that neither grow nor decay, one a node: none in half-bridge drive.
    pub neutral_modes: usize,
}

/// One mode.
#[derive(Debug, Clone, PartialEq)]
pub struct SettlingMode {
    /// Factor by which it changes in one period.
    pub eigenvalue: Complex<f64>,
    /// By how much it moves each node of the chain, of the node that it moves most.
    pub shape: Vec<NodeShare>,
}

/// By how much a mode moves the voltage of a node: the mean of both legs in full-bridge drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NodeShare {
    /// Of the node that it moves most.
    pub amplitude: f64,
    /// Ahead of that node, in radians; π is opposite.
    pub angle: f64,
}

fn modulus(value: Complex<f64>) -> f64 {
    (value.re * value.re + value.im * value.im).sqrt()
}

impl SettlingMode {
    /// The share that the mode loses in one period, 1 − |λ|.
    pub fn decay_per_period(&self) -> f64 {
        1.0 - modulus(self.eigenvalue)
    }

    /// Periods until this share of it is left, ln(share)/ln|λ|; infinite where nothing damps it.
    pub fn periods_until(&self, share: f64) -> f64 {
        if self.decay_per_period() < UNDAMPED {
            return f64::INFINITY;
        }
        libm::log(share) / libm::log(modulus(self.eigenvalue))
    }

    /// Switching periods of one oscillation, 2π/arg λ; none of a mode that does not oscillate.
    pub fn oscillation_periods(&self) -> Option<f64> {
        let angle = libm::atan2(self.eigenvalue.im.abs(), self.eigenvalue.re);
        (angle > NO_ANGLE).then(|| TAU / angle)
    }
}

impl PeriodMap {
    /// The modes. `None` where their iteration does not end.
    pub fn settling(&self) -> Option<Settling> {
        let schur = Schur::try_new(self.decaying.clone(), f64::EPSILON, SWEEPS)?;
        let mut eigenvalues: Vec<_> = schur.complex_eigenvalues().iter().copied().collect();
        eigenvalues.sort_by(|a, b| {
            modulus(*b)
                .total_cmp(&modulus(*a))
                .then(b.re.total_cmp(&a.re))
                .then(b.im.total_cmp(&a.im))
        });
        // What is left of the neutral modes is exactly nothing.
        eigenvalues.truncate(eigenvalues.len() - self.neutral_modes());
        let mut upper = eigenvalues.iter().filter(|value| value.im >= 0.0);
        let slowest = upper.find_map(|value| self.mode(*value))?;
        let (period, neutral_modes) = (self.period(), self.neutral_modes());
        Some(Settling { period, eigenvalues, slowest, neutral_modes })
    }

    /// Whether certainly no more than a share of any mode that decays is left after so many periods, λⁿ ≤ share.
    ///
    /// No eigenvalue of a matrix is larger than the norm of its k-th power, to the power of 1/k. So all modes
    /// of M decay faster than by a factor f in a period where the norm of a power of M/f is below one. Powers
    /// are squared one after the other, with a bound of what rounding makes of them (Higham, Accuracy and
    /// Stability of Numerical Algorithms, 2nd edition 2002, section 3.5; from memory). Close to the limit
    /// nothing is certain.
    pub fn settles_within(&self, periods: f64, share: f64) -> bool {
        let rounding = self.decaying.nrows() as f64 * f64::EPSILON;
        let mut power = &self.decaying / libm::exp(libm::log(share) / periods);
        let mut error = rounding * power.norm();
        for _ in 0..SQUARINGS {
            let norm = power.norm();
            if norm + error < 1.0 {
                return true;
            }
            if !(norm < LARGE && error < 1.0) {
                return false;
            }
            error = (2.0 * norm + error) * error + rounding * norm * norm;
            power = &power * &power;
        }
        false
    }

    /// The mode of an eigenvalue; none where it does not move flying capacitors.
    fn mode(&self, eigenvalue: Complex<f64>) -> Option<SettlingMode> {
        let vector = eigenvector(&self.decaying, eigenvalue)?;
        let layout = &self.circuit;
        let square = |place: usize| vector[place].re.powi(2) + vector[place].im.powi(2);
        let nodes = || 0..layout.nodes();
        let flying = (0..layout.legs()).flat_map(|leg| nodes().map(move |node| (leg, node)));
        let held: f64 = flying.filter_map(|(leg, node)| layout.flying(leg, node)).map(square).sum();
        let all: f64 = (0..layout.size()).map(square).sum();
        if held < MOVES * all {
            return None;
        }
        Some(SettlingMode { eigenvalue, shape: shape(layout, &vector) })
    }
}

/// How a scaled mode moves the nodes.
fn shape(layout: &ChainLayout, vector: &DVector<Complex<f64>>) -> Vec<NodeShare> {
    let part = |of: fn(&Complex<f64>) -> f64| layout.unscaled(&vector.map(|value| of(&value)));
    let (re, im) = (part(|value| value.re), part(|value| value.im));
    let voltages: Vec<Complex<f64>> = (0..layout.nodes())
        .map(|node| {
            let places = (0..layout.legs()).filter_map(|leg| layout.flying(leg, node));
            let sum: Complex<f64> = places.map(|place| Complex::new(re[place], im[place])).sum();
            sum / layout.legs() as f64
        })
        .collect();
    let largest = voltages.iter().copied().reduce(|a, b| {
        // Of equal nodes the first: rounding does not decide.
        if modulus(b) > modulus(a) * (1.0 + 1e-9) { b } else { a }
    });
    let relative = |value: &Complex<f64>| value / largest.unwrap_or(Complex::new(1.0, 0.0));
    let share = |value: Complex<f64>| NodeShare {
        amplitude: modulus(value),
        angle: libm::atan2(value.im, value.re),
    };
    voltages.iter().map(relative).map(share).collect()
}

/// An eigenvector by inverse iteration (Golub and Van Loan, Matrix Computations, 4th edition 2013,
/// section 7.6.1; from memory).
fn eigenvector(matrix: &DMatrix<f64>, eigenvalue: Complex<f64>) -> Option<DVector<Complex<f64>>> {
    let size = matrix.nrows();
    let shift = eigenvalue * (1.0 + BESIDE) + BESIDE * BESIDE;
    let shifted = DMatrix::from_fn(size, size, |n, m| {
        let own = Complex::new(matrix[(n, m)], 0.0);
        if n == m { own - shift } else { own }
    });
    let factors = shifted.lu();
    // Near to no eigenvector's orthogonal complement.
    let mut vector =
        DVector::from_fn(size, |n, _| Complex::new(1.0 + (n as f64 * 0.618) % 1.0, 0.0));
    for _ in 0..ITERATIONS {
        vector = factors.solve(&vector)?;
        let length = vector.iter().map(|v| v.re * v.re + v.im * v.im).sum::<f64>().sqrt();
        if !length.is_finite() || length == 0.0 {
            return None;
        }
        vector /= Complex::new(length, 0.0);
    }
    Some(vector)
}
