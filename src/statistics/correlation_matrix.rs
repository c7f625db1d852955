//! Correlation matrices of a few variables: whether there can be such a one, its factor, and the
//! nearest one that can be.

/// A symmetric matrix by rows, square.
pub type Matrix = Vec<Vec<f64>>;

/// Rounds of the alternating projections; they are far more than three or seven variables need.
const ROUNDS: usize = 500;

/// The matrix of variables that have nothing in common.
pub fn identity(size: usize) -> Matrix {
    let row = |n: usize| (0..size).map(|k| if k == n { 1.0 } else { 0.0 }).collect();
    (0..size).map(row).collect()
}

/// The lower triangular L with L Lᵀ = A (A.-L. Cholesky; G. H. Golub, C. F. Van Loan, Matrix
/// Computations (2013), section 4.2.5). `None` unless the matrix is positive definite.
pub fn factor(matrix: &Matrix) -> Option<Matrix> {
    let size = matrix.len();
    let mut lower = vec![vec![0.0; size]; size];
    for row in 0..size {
        for column in 0..=row {
            let known: f64 = (0..column).map(|k| lower[row][k] * lower[column][k]).sum();
            let rest = matrix[row][column] - known;
            if row == column {
                if rest.is_nan() || rest <= 0.0 {
                    return None;
                }
                lower[row][row] = rest.sqrt();
            } else {
                lower[row][column] = rest / lower[column][column];
            }
        }
    }
    Some(lower)
}

/// The x with L Lᵀ x = v, L lower triangular without a zero in its diagonal: what stands above the
/// diagonal is not read.
pub fn solved(lower: &Matrix, values: &[f64]) -> Vec<f64> {
    let mut x = values.to_vec();
    for row in 0..x.len() {
        let known: f64 = (0..row).map(|k| lower[row][k] * x[k]).sum();
        x[row] = (x[row] - known) / lower[row][row];
    }
    for row in (0..x.len()).rev() {
        let known: f64 = (row + 1..x.len()).map(|k| lower[k][row] * x[k]).sum();
        x[row] = (x[row] - known) / lower[row][row];
    }
    x
}

/// The matrix of some of the variables.
pub fn submatrix(matrix: &Matrix, variables: &[usize]) -> Matrix {
    let row = |n: &usize| variables.iter().map(|k| matrix[*n][*k]).collect();
    variables.iter().map(row).collect()
}

/// The smallest eigenvalue.
pub fn smallest_eigenvalue(matrix: &Matrix) -> f64 {
    decomposition(matrix).values.into_iter().fold(f64::INFINITY, f64::min)
}

/// The nearest correlation matrix, by the sum of squared differences, none of whose eigenvalues is
/// much below `least`: N. J. Higham, IMA J. Numer. Anal. 22 (2002) 329, algorithm 3.3.
pub fn nearest(matrix: &Matrix, least: f64) -> Matrix {
    let size = matrix.len();
    let mut found = matrix.clone();
    let mut correction = vec![vec![0.0; size]; size];
    for _ in 0..ROUNDS {
        let shifted = combined(&found, &correction, |a, b| a - b);
        let projected = decomposition(&shifted).with_least(least);
        correction = combined(&projected, &shifted, |a, b| a - b);
        found = projected;
        for (n, row) in found.iter_mut().enumerate() {
            row[n] = 1.0;
        }
    }
    found
}

fn combined(first: &Matrix, second: &Matrix, rule: impl Fn(f64, f64) -> f64) -> Matrix {
    let rows = first.iter().zip(second);
    rows.map(|(a, b)| a.iter().zip(b).map(|(a, b)| rule(*a, *b)).collect()).collect()
}

/// Eigenvalues, and eigenvectors in columns.
struct Decomposition {
    values: Vec<f64>,
    vectors: Matrix,
}

impl Decomposition {
    /// The matrix with all eigenvalues raised to `least`.
    fn with_least(&self, least: f64) -> Matrix {
        let entry = |row: usize, column: usize| {
            let vectors = self.vectors[row].iter().zip(&self.vectors[column]);
            let terms = vectors.zip(&self.values);
            terms.map(|((a, b), value)| a * b * value.max(least)).sum()
        };
        let size = self.values.len();
        (0..size).map(|row| (0..size).map(|column| entry(row, column)).collect()).collect()
    }
}

/// Jacobi's cyclic method (Golub and Van Loan 2013, section 8.5).
fn decomposition(matrix: &Matrix) -> Decomposition {
    let size = matrix.len();
    let (mut a, mut vectors) = (matrix.clone(), identity(size));
    for _ in 0..60 {
        for p in 0..size {
            for q in p + 1..size {
                rotate(&mut a, &mut vectors, p, q);
            }
        }
    }
    Decomposition { values: (0..size).map(|n| a[n][n]).collect(), vectors }
}

/// Turns the plane of two axes so that their entry becomes zero.
fn rotate(a: &mut Matrix, vectors: &mut Matrix, p: usize, q: usize) {
    if a[p][q] == 0.0 {
        return;
    }
    let tau = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
    let tangent = 1.0_f64.copysign(tau) / (tau.abs() + (1.0 + tau * tau).sqrt());
    let cosine = 1.0 / (1.0 + tangent * tangent).sqrt();
    let sine = tangent * cosine;
    let turned = |x: f64, y: f64| (cosine * x - sine * y, sine * x + cosine * y);
    for row in a.iter_mut().chain(vectors.iter_mut()) {
        (row[p], row[q]) = turned(row[p], row[q]);
    }
    let (mut first, mut second) = (std::mem::take(&mut a[p]), std::mem::take(&mut a[q]));
    for (x, y) in first.iter_mut().zip(&mut second) {
        (*x, *y) = turned(*x, *y);
    }
    (a[p], a[q]) = (first, second);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three(ab: f64, ac: f64, bc: f64) -> Matrix {
        vec![vec![1.0, ab, ac], vec![ab, 1.0, bc], vec![ac, bc, 1.0]]
    }

    /// Two variables: eigenvalues 1 ± r. Three with one r: 1 − r twice, and 1 + 2 r.
    #[test]
    fn eigenvalues_are_those_of_closed_forms() {
        for r in [-0.45, -0.2, 0.3, 0.9] {
            let two = vec![vec![1.0, r], vec![r, 1.0]];
            assert!((smallest_eigenvalue(&two) - (1.0 - r.abs())).abs() < 1e-14);
            let least = (1.0 - r).min(1.0 + 2.0 * r);
            assert!((smallest_eigenvalue(&three(r, r, r)) - least).abs() < 1e-14, "{r}");
        }
    }

    #[test]
    fn a_factor_gives_the_matrix_again() {
        let matrix = three(0.5, -0.3, 0.4);
        let lower = factor(&matrix).unwrap();
        for row in 0..3 {
            for column in 0..3 {
                let product: f64 = (0..3).map(|k| lower[row][k] * lower[column][k]).sum();
                assert!((product - matrix[row][column]).abs() < 1e-15);
            }
        }
        assert_eq!(factor(&three(0.9, 0.9, -0.9)), None);
    }

    /// R x = v again, by hand from the matrix.
    #[test]
    fn what_is_solved_gives_the_values_again() {
        let (matrix, values) = (three(0.5, -0.3, 0.4), [1.0, -2.0, 0.5]);
        let x = solved(&factor(&matrix).unwrap(), &values);
        for (row, value) in matrix.iter().zip(values) {
            let product: f64 = row.iter().zip(&x).map(|(a, b)| a * b).sum();
            assert!((product - value).abs() < 1e-14);
        }
    }

    /// Higham (2002), section 4: for the matrix with 1 beside the diagonal and 0 in the corners the
    /// nearest correlation matrix has 0.7607 and 0.1573.
    #[test]
    fn the_nearest_matrix_is_that_of_higham_2002() {
        let found = nearest(&three(1.0, 0.0, 1.0), 0.0);
        assert!((found[0][1] - 0.7607).abs() < 5e-5, "{found:?}");
        assert!((found[0][2] - 0.1573).abs() < 5e-5, "{found:?}");
        assert!((found[1][2] - 0.7607).abs() < 5e-5, "{found:?}");
        let definite = nearest(&three(1.0, 0.0, 1.0), 0.01);
        assert!(smallest_eigenvalue(&definite) > 0.009 && factor(&definite).is_some());
        let known = three(0.5, -0.3, 0.4);
        let unchanged = nearest(&known, 0.01);
        assert!(known.concat().iter().zip(unchanged.concat()).all(|(a, b)| (a - b).abs() < 1e-12));
    }
}
