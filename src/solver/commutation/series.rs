//! Power series of a signal over a stretch of time, and their first crossing of zero.

/// Highest power.
pub(super) const ORDER: usize = 10;

/// Parts of a stretch in which a sign is looked for.
const PARTS: u32 = 8;
/// Most halvings of a part.
const HALVINGS: u32 = 100;

/// Coefficients of 1, u, u², …, where u is time over the length of the stretch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Series(pub(super) [f64; ORDER + 1]);

impl Series {
    /// From a coefficient for each power.
    pub(super) fn new(coefficient: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(coefficient))
    }

    /// The value at u.
    pub(super) fn at(&self, u: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum * u + c)
    }

    /// The integral from 0 to u.
    pub(super) fn integral(&self, u: f64) -> f64 {
        let terms = self.0.iter().enumerate().rev();
        u * terms.fold(0.0, |sum, (power, c)| sum * u + c / (power + 1) as f64)
    }

    /// The same, higher by a number.
    pub(super) fn plus(mut self, constant: f64) -> Self {
        self.0[0] += constant;
        self
    }

    /// The same, times a number.
    pub(super) fn times(self, factor: f64) -> Self {
        Self(self.0.map(|c| factor * c))
    }

    /// The least that it can be up to u.
    fn bound(&self, u: f64) -> f64 {
        let mut power = 1.0;
        let further = self.0[1..].iter().map(|c| {
            power *= u;
            (c * power).abs()
        });
        self.0[0] - further.sum::<f64>()
    }

    /// Where up to `end` it first falls below `−negligible`: the last u at which it does not yet.
    pub(super) fn first_below(&self, end: f64, negligible: f64) -> Option<f64> {
        if self.bound(end) >= -negligible {
            return None;
        }
        let shifted = self.plus(negligible);
        let mut before = Crossing { u: 0.0, value: shifted.0[0] };
        if before.value < 0.0 {
            return Some(0.0);
        }
        for part in 1..=PARTS {
            let u = end * f64::from(part) / f64::from(PARTS);
            let after = Crossing { u, value: shifted.at(u) };
            if after.value < 0.0 {
                return Some(shifted.narrow(before, after));
            }
            before = after;
        }
        None
    }

    /// The crossing between two points, by false position with a halving now and then.
    fn narrow(&self, mut before: Crossing, mut after: Crossing) -> f64 {
        let narrow_enough = 1e-13 * after.u;
        for round in 0..HALVINGS {
            let width = after.u - before.u;
            if width <= narrow_enough {
                break;
            }
            let share = before.value / (before.value - after.value);
            let is_inside = round % 3 != 2 && share > 0.0 && share < 1.0;
            let u = before.u + width * if is_inside { share } else { 0.5 };
            let middle = Crossing { u, value: self.at(u) };
            if middle.value < 0.0 { after = middle } else { before = middle }
        }
        before.u
    }
}

/// A point on the way to a crossing.
#[derive(Clone, Copy)]
struct Crossing {
    u: f64,
    value: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(coefficients: &[f64]) -> Series {
        Series::new(|n| coefficients.get(n).copied().unwrap_or(0.0))
    }

    #[test]
    fn values_and_integrals_by_hand() {
        let cubic = series(&[1.0, -2.0, 0.0, 4.0]);
        assert!((cubic.at(0.5) - 0.5).abs() < 1e-15);
        assert!((cubic.integral(0.5) - (0.5 - 0.25 + 0.0625)).abs() < 1e-15);
        assert!((cubic.times(2.0).plus(1.0).at(0.5) - 2.0).abs() < 1e-15);
    }

    #[test]
    fn the_first_crossing_is_found() {
        // (u − 0.3)(u − 0.6)
        let parabola = series(&[0.18, -0.9, 1.0]);
        assert!((parabola.first_below(1.0, 0.0).unwrap() - 0.3).abs() < 1e-12);
        assert_eq!(parabola.first_below(0.29, 0.0), None);
        assert_eq!(parabola.first_below(1.0, 0.03), None, "it dips by 0.0225");
        assert_eq!(series(&[-0.1, 1.0]).first_below(1.0, 0.0), Some(0.0));
        assert_eq!(series(&[0.0, 1.0]).first_below(1.0, 0.0), None, "leaves zero upward");
        assert!(series(&[0.0, -1.0]).first_below(1.0, 1e-9).unwrap() <= 1e-9);
    }
}
