//! Fixed points of several numbers, from the last rounds of their iteration.

use nalgebra::{DMatrix, DVector};

/// Rounds that count. More are of no use: the map is nearly linear near its fixed point.
const DEPTH: usize = 6;
/// A residual that is so many times the smallest of the last rounds leads away.
const FARTHER: f64 = 2.0;
/// Share of the way that is taken otherwise.
const DAMPED: f64 = 0.4;

/// Anderson's mixing: the combination of the last rounds whose residuals cancel best, as if the map were
/// linear. With few numbers it converges nearly as Newton's iteration does, also where plain iteration
/// turns away from the fixed point. D. G. Anderson (1965), J. ACM 12, 547–560; in the form of H. F.
/// Walker and P. Ni (2011), SIAM J. Numer. Anal. 49, 1715–1735 (both from memory).
#[derive(Debug, Default)]
pub(super) struct Mixing {
    /// Points and the residuals of the map there, the last one at the end.
    rounds: Vec<Round>,
}

#[derive(Debug)]
struct Round {
    point: DVector<f64>,
    residual: DVector<f64>,
}

impl Mixing {
    /// Where to look next, after the map took `point` to `image`. Where that leads away, the last rounds do
    /// not tell: then a part of the way, and they are forgotten.
    pub(super) fn next(&mut self, point: &[f64], image: &[f64]) -> Vec<f64> {
        let point = DVector::from_column_slice(point);
        let residual = DVector::from_column_slice(image) - &point;
        let residuals = self.rounds.iter().map(|round| round.residual.norm());
        let nearest = residuals.fold(f64::INFINITY, f64::min);
        if residual.norm() > FARTHER * nearest {
            self.rounds.clear();
            let damped = (&point + &residual * DAMPED).iter().copied().collect();
            self.rounds.push(Round { point, residual });
            return damped;
        }
        if self.rounds.len() > DEPTH {
            self.rounds.remove(0);
        }
        self.rounds.push(Round { point, residual });
        self.mixed().unwrap_or_else(|| image.to_vec())
    }

    fn mixed(&self) -> Option<Vec<f64>> {
        let (last, before) = self.rounds.split_last()?;
        if before.is_empty() {
            return None;
        }
        let columns = |of: fn(&Round) -> &DVector<f64>| {
            let differences: Vec<_> = before.iter().map(|round| of(last) - of(round)).collect();
            DMatrix::from_columns(&differences)
        };
        let (points, residuals) = (columns(|r| &r.point), columns(|r| &r.residual));
        // The least squares are small and may be singular: no weight where nothing differs.
        let smallest = 1e-10 * residuals.norm();
        let weights = residuals.clone().svd(true, true).solve(&last.residual, smallest).ok()?;
        let mixed = &last.point + &last.residual - (points + residuals) * weights;
        mixed.iter().all(|x| x.is_finite()).then(|| mixed.iter().copied().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a linear map of two numbers whose plain iteration grows, with the fixed point (1, 2).
    /// A few rounds tell it.
    #[test]
    fn a_linear_map_that_grows_is_solved() {
        let map = |x: &[f64]| {
            let [a, b] = [x[0] - 1.0, x[1] - 2.0];
            vec![1.0 - 1.5 * a + 0.2 * b, 2.0 + 0.4 * a + 0.9 * b]
        };
        let (mut mixing, mut x) = (Mixing::default(), vec![0.0, 0.0]);
        for _ in 0..12 {
            let image = map(&x);
            x = mixing.next(&x, &image);
        }
        assert!((x[0] - 1.0).abs() < 1e-9 && (x[1] - 2.0).abs() < 1e-9, "{x:?}");
    }

    /// A map that is far from linear, and swings about its fixed point: x = 3/(1 + x²), x = 1.2134 (by
    /// bisection).
    #[test]
    fn a_map_that_swings_is_solved() {
        let (mut mixing, mut x) = (Mixing::default(), vec![9.0]);
        for _ in 0..60 {
            let image = [3.0 / (1.0 + x[0] * x[0])];
            x = mixing.next(&x, &image);
        }
        assert!((x[0] + x[0].powi(3) - 3.0).abs() < 1e-9, "{x:?}");
    }
}
