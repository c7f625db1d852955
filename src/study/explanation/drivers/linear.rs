//! A linear model of a figure: least squares on the relative deviations of all parts.

use nalgebra::{DVector, DVectorView};

use super::exchanged::Exchanged;
use crate::converter::{Converter, Property};

/// The least share of its diagonal that a pivot keeps. Parts of one lot without own scatter, and parts
/// without effect, leave a matrix that is singular.
const RIDGE: f64 = 1e-10;

/// Deviations of all parts of a converter from its nominal ones, property by property: relative ones of
/// values, differences of responses.
pub(super) fn deviations(
    converter: &Converter,
    nominal: &Converter,
    properties: &[Property],
) -> Vec<f64> {
    let of_property = |property: &Property| {
        let property = *property;
        let values =
            move |index| converter.property(property, index).zip(nominal.property(property, index));
        let is_response = property.influence.is_some();
        let deviation = move |(value, nominal): (f64, f64)| {
            if is_response { value - nominal } else { value / nominal - 1.0 }
        };
        (0..nominal.parts(property.parameter)).filter_map(values).map(deviation)
    };
    properties.iter().flat_map(of_property).collect()
}

/// A fitted linear model.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LinearModel {
    /// Where all deviations are zero.
    nominal: f64,
    slopes: DVector<f64>,
    /// Share of the variance that it explains, adjusted for the number of slopes; none where the
    /// figure does not vary.
    pub(super) explained: Option<f64>,
}

/// Rows of deviations that linear models are fitted over: the models of all figures that are known for the
/// same rows differ in their right-hand side alone.
struct Regression<'a> {
    rows: Vec<&'a [f64]>,
    known: Vec<bool>,
    centre: Vec<f64>,
    normal: CholeskyFactor,
}

impl<'a> Regression<'a> {
    /// Over the rows that are known. None with fewer than two of them for each slope.
    fn new(all: &'a [Vec<f64>], known: Vec<bool>) -> Option<Self> {
        let rows = all.iter().zip(&known).filter(|(_, known)| **known);
        let rows: Vec<&[f64]> = rows.map(|(row, _)| row.as_slice()).collect();
        let slopes = rows.first()?.len();
        if rows.len() < 2 * (slopes + 1) {
            return None;
        }
        let mean = |n: usize| rows.iter().map(|x| x[n]).sum::<f64>() / rows.len() as f64;
        let centre: Vec<f64> = (0..slopes).map(mean).collect();
        let normal = CholeskyFactor::of_squares(&rows, &centre);
        Some(Self { rows, known, centre, normal })
    }

    fn fit(&self, values: &[Option<f64>]) -> LinearModel {
        let known: Vec<f64> = values.iter().copied().flatten().collect();
        let mean = known.iter().sum::<f64>() / known.len() as f64;
        let mut right = vec![0.0; self.centre.len()];
        for (x, y) in self.rows.iter().zip(&known) {
            for ((right, x), centre) in right.iter_mut().zip(*x).zip(&self.centre) {
                *right += (x - centre) * (y - mean);
            }
        }
        let slopes = DVector::from_vec(self.normal.solution(right));
        let nominal = mean - product(&slopes, &self.centre);
        let model = LinearModel { nominal, slopes, explained: None };
        let explained = model.adjusted_share(&self.rows, &known, mean);
        LinearModel { explained, ..model }
    }
}

/// Fits linear models over the same rows of deviations.
pub(super) struct LinearFits<'a> {
    rows: &'a [Vec<f64>],
    last: Option<Regression<'a>>,
}

impl<'a> LinearFits<'a> {
    /// Over these rows.
    pub(super) fn over(rows: &'a [Vec<f64>]) -> Self {
        Self { rows, last: None }
    }

    /// The rows, known or not.
    pub(super) fn rows(&self) -> &'a [Vec<f64>] {
        self.rows
    }

    /// Fits values; rows whose value is none are left out. None with fewer than two rows for each slope.
    pub(super) fn fit(&mut self, values: &[Option<f64>]) -> Option<LinearModel> {
        let known: Vec<bool> = values.iter().map(Option::is_some).collect();
        if self.last.as_ref().is_none_or(|last| last.known != known) {
            self.last = Some(Regression::new(self.rows, known)?);
        }
        self.last.as_ref().map(|own| own.fit(values))
    }
}

impl LinearModel {
    /// What it predicts.
    pub(super) fn value(&self, row: &[f64]) -> f64 {
        self.nominal + product(&self.slopes, row)
    }

    /// By how much its prediction changes with the deviations that are exchanged.
    pub(super) fn change(&self, row: &[f64], exchanged: &Exchanged) -> f64 {
        let slopes = self.slopes.as_slice();
        let change = |(place, now): (usize, f64)| slopes[place] * (now - row[place]);
        exchanged.iter().map(change).sum()
    }

    /// 1 − (1 − R²)(n − 1)/(n − p − 1) (M. Ezekiel, Methods of Correlation Analysis, 1930).
    fn adjusted_share(&self, rows: &[&[f64]], values: &[f64], mean: f64) -> Option<f64> {
        let all: f64 = values.iter().map(|y| (y - mean).powi(2)).sum();
        let known = rows.iter().zip(values);
        let left: f64 = known.map(|(x, y)| (y - self.value(x)).powi(2)).sum();
        let free = (values.len() - self.slopes.len() - 1) as f64;
        let is_varying = all > (values.len() as f64) * (1e-12 * mean).powi(2);
        is_varying.then(|| 1.0 - left / all * (values.len() - 1) as f64 / free)
    }
}

/// The sum of the products of slopes and deviations.
fn product(slopes: &DVector<f64>, row: &[f64]) -> f64 {
    slopes.dot(&DVectorView::from_slice(row, row.len()))
}

/// The matrix of the normal equations of least squares, as the lower factor of its Cholesky decomposition.
struct CholeskyFactor {
    lower: Vec<Vec<f64>>,
}

impl CholeskyFactor {
    /// Of the sums of squares and products of deviations from a centre.
    fn of_squares(rows: &[&[f64]], centre: &[f64]) -> Self {
        let mut lower: Vec<Vec<f64>> = (1..=centre.len()).map(|n| vec![0.0; n]).collect();
        let mut x = vec![0.0; centre.len()];
        for row in rows {
            x.iter_mut().zip(*row).zip(centre).for_each(|((x, own), centre)| *x = own - centre);
            for (n, products) in lower.iter_mut().enumerate() {
                for (entry, other) in products.iter_mut().zip(&x) {
                    *entry += x[n] * other;
                }
            }
        }
        let mut factor = Self { lower };
        factor.decompose();
        factor
    }

    /// In place.
    fn decompose(&mut self) {
        for n in 0..self.lower.len() {
            let diagonal = self.lower[n][n];
            for m in 0..=n {
                let known: f64 = (0..m).map(|k| self.lower[n][k] * self.lower[m][k]).sum();
                let left = self.lower[n][m] - known;
                self.lower[n][m] = if m < n {
                    left / self.lower[m][m]
                } else {
                    left.max(RIDGE * diagonal).max(f64::MIN_POSITIVE).sqrt()
                };
            }
        }
    }

    /// With this right-hand side.
    fn solution(&self, mut right: Vec<f64>) -> Vec<f64> {
        let size = right.len();
        for n in 0..size {
            let known: f64 = (0..n).map(|k| self.lower[n][k] * right[k]).sum();
            right[n] = (right[n] - known) / self.lower[n][n];
        }
        for n in (0..size).rev() {
            let known: f64 = (n + 1..size).map(|k| self.lower[k][n] * right[k]).sum();
            right[n] = (right[n] - known) / self.lower[n][n];
        }
        right
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = 2 + 3 a − b, and a column that repeats another, by hand.
    #[test]
    fn a_plane_is_found_again() {
        let rows: Vec<Vec<f64>> = (0..20)
            .map(|n| {
                let (a, b) = (f64::from(n % 5), f64::from(n / 5));
                vec![a, b, a]
            })
            .collect();
        let values: Vec<Option<f64>> = rows.iter().map(|x| Some(2.0 + 3.0 * x[0] - x[1])).collect();
        let model = LinearFits::over(&rows).fit(&values).unwrap();
        assert!((model.value(&[7.0, -2.0, 7.0]) - 25.0).abs() < 1e-6, "{model:?}");
        assert!(model.explained.unwrap() > 1.0 - 1e-9);
        let constant = vec![Some(4.0); 20];
        assert_eq!(LinearFits::over(&rows).fit(&constant).unwrap().explained, None);
        let few = [vec![None; 13], vec![Some(1.0); 7]].concat();
        assert_eq!(LinearFits::over(&rows).fit(&few), None);
    }

    /// Half of the variance of y = a + b is a's, where both scatter alike and b is not known.
    #[test]
    fn what_is_not_known_is_not_explained() {
        let rows: Vec<Vec<f64>> = (0..400).map(|n| vec![f64::from(n % 20)]).collect();
        let values: Vec<Option<f64>> =
            (0..400).map(|n| Some(f64::from(n % 20) + f64::from(n / 20))).collect();
        let explained = LinearFits::over(&rows).fit(&values).unwrap().explained.unwrap();
        assert!((explained - 0.5).abs() < 0.005, "{explained}");
    }
}
