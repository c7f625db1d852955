//! A linear model of a figure: least squares on the relative deviations of all parts.

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
    mean: f64,
    slopes: Vec<f64>,
    centre: Vec<f64>,
    /// Share of the variance that it explains, adjusted for the number of slopes; none where the
    /// figure does not vary.
    pub(super) explained: Option<f64>,
}

impl LinearModel {
    /// Fits values over rows of deviations; rows whose value is none are left out. None with fewer
    /// than two rows for each slope.
    pub(super) fn fit(rows: &[Vec<f64>], values: &[Option<f64>]) -> Option<Self> {
        let known: Vec<(&[f64], f64)> = rows
            .iter()
            .zip(values)
            .filter_map(|(row, value)| Some((row.as_slice(), (*value)?)))
            .collect();
        let slopes = known.first()?.0.len();
        if known.len() < 2 * (slopes + 1) {
            return None;
        }
        let count = known.len() as f64;
        let mean = known.iter().map(|(_, y)| y).sum::<f64>() / count;
        let centre: Vec<f64> =
            (0..slopes).map(|n| known.iter().map(|(x, _)| x[n]).sum::<f64>() / count).collect();
        let slopes = NormalEquations::new(&known, mean, &centre).solution();
        let mut model = Self { mean, slopes, centre, explained: None };
        model.explained = model.adjusted_share(&known);
        Some(model)
    }

    /// What it predicts.
    pub(super) fn value(&self, row: &[f64]) -> f64 {
        let terms = self.slopes.iter().zip(row).zip(&self.centre);
        self.mean + terms.map(|((slope, x), centre)| slope * (x - centre)).sum::<f64>()
    }

    /// 1 − (1 − R²)(n − 1)/(n − p − 1) (M. Ezekiel, Methods of Correlation Analysis, 1930).
    fn adjusted_share(&self, known: &[(&[f64], f64)]) -> Option<f64> {
        let squares = |error: &dyn Fn(&[f64], f64) -> f64| {
            known.iter().map(|(x, y)| error(x, *y).powi(2)).sum::<f64>()
        };
        let all = squares(&|_, y| y - self.mean);
        let left = squares(&|x, y| y - self.value(x));
        let free = (known.len() - self.slopes.len() - 1) as f64;
        let is_varying = all > (known.len() as f64) * (1e-12 * self.mean).powi(2);
        is_varying.then(|| 1.0 - left / all * (known.len() - 1) as f64 / free)
    }
}

/// The normal equations of least squares: A b = c, A symmetric.
struct NormalEquations {
    matrix: Vec<Vec<f64>>,
    right: Vec<f64>,
}

impl NormalEquations {
    fn new(known: &[(&[f64], f64)], mean: f64, centre: &[f64]) -> Self {
        let slopes = centre.len();
        let mut matrix = vec![vec![0.0; slopes]; slopes];
        let mut right = vec![0.0; slopes];
        for (x, y) in known {
            let x: Vec<f64> = x.iter().zip(centre).map(|(x, centre)| x - centre).collect();
            for (n, (row, right)) in matrix.iter_mut().zip(&mut right).enumerate() {
                *right += x[n] * (y - mean);
                for (entry, other) in row.iter_mut().zip(&x[..=n]) {
                    *entry += x[n] * other;
                }
            }
        }
        Self { matrix, right }
    }

    /// By the Cholesky decomposition of the lower half, in place.
    fn solution(mut self) -> Vec<f64> {
        let size = self.right.len();
        for n in 0..size {
            let diagonal = self.matrix[n][n];
            for m in 0..=n {
                let known: f64 = (0..m).map(|k| self.matrix[n][k] * self.matrix[m][k]).sum();
                let left = self.matrix[n][m] - known;
                self.matrix[n][m] = if m < n {
                    left / self.matrix[m][m]
                } else {
                    left.max(RIDGE * diagonal).max(f64::MIN_POSITIVE).sqrt()
                };
            }
        }
        for n in 0..size {
            let known: f64 = (0..n).map(|k| self.matrix[n][k] * self.right[k]).sum();
            self.right[n] = (self.right[n] - known) / self.matrix[n][n];
        }
        for n in (0..size).rev() {
            let known: f64 = (n + 1..size).map(|k| self.matrix[k][n] * self.right[k]).sum();
            self.right[n] = (self.right[n] - known) / self.matrix[n][n];
        }
        self.right
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
        let model = LinearModel::fit(&rows, &values).unwrap();
        assert!((model.value(&[7.0, -2.0, 7.0]) - 25.0).abs() < 1e-6, "{model:?}");
        assert!(model.explained.unwrap() > 1.0 - 1e-9);
        let constant = vec![Some(4.0); 20];
        assert_eq!(LinearModel::fit(&rows, &constant).unwrap().explained, None);
        let few = [vec![None; 13], vec![Some(1.0); 7]].concat();
        assert_eq!(LinearModel::fit(&rows, &few), None);
    }

    /// Half of the variance of y = a + b is a's, where both scatter alike and b is not known.
    #[test]
    fn what_is_not_known_is_not_explained() {
        let rows: Vec<Vec<f64>> = (0..400).map(|n| vec![f64::from(n % 20)]).collect();
        let values: Vec<Option<f64>> =
            (0..400).map(|n| Some(f64::from(n % 20) + f64::from(n / 20))).collect();
        let explained = LinearModel::fit(&rows, &values).unwrap().explained.unwrap();
        assert!((explained - 0.5).abs() < 0.005, "{explained}");
    }
}
