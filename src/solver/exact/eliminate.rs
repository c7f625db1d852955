//! Small linear systems, by Gaussian elimination with partial pivoting.
//!
//! The systems have three or four unknowns and three right-hand sides. Each converter needs some
//! twenty of them. This code takes a third of the time of a general matrix library.

/// Solves `matrix · x = right` for three right-hand sides at once. `None` when singular.
#[allow(clippy::needless_range_loop, reason = "rows and columns are told by number")]
pub(super) fn eliminate<const N: usize>(
    mut matrix: [[f64; N]; N],
    mut right: [[f64; 3]; N],
) -> Option<[[f64; 3]; N]> {
    for k in 0..N {
        let pivot = (k + 1..N)
            .fold(k, |best, n| if matrix[n][k].abs() > matrix[best][k].abs() { n } else { best });
        matrix.swap(k, pivot);
        right.swap(k, pivot);
        let scale = 1.0 / matrix[k][k];
        if !scale.is_finite() {
            return None;
        }
        for n in k + 1..N {
            let factor = matrix[n][k] * scale;
            for m in k + 1..N {
                matrix[n][m] -= factor * matrix[k][m];
            }
            for c in 0..3 {
                right[n][c] -= factor * right[k][c];
            }
        }
        // The diagonal's inverse is all that is needed of it from here on.
        matrix[k][k] = scale;
    }
    for k in (0..N).rev() {
        for c in 0..3 {
            let known: f64 = (k + 1..N).map(|m| matrix[k][m] * right[m][c]).sum();
            right[k][c] = (right[k][c] - known) * matrix[k][k];
        }
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Against the general-purpose library nalgebra.
        #[test]
        fn agrees_with_a_library(
            rows in prop::array::uniform4(prop::array::uniform4(-1.0..1.0_f64)),
            right in prop::array::uniform4(prop::array::uniform3(-1.0..1.0_f64)),
        ) {
            let matrix = nalgebra::Matrix4::from_fn(|n, m| rows[n][m]);
            let columns = nalgebra::Matrix4x3::from_fn(|n, m| right[n][m]);
            let expected = matrix.lu().solve(&columns).unwrap();
            let found = eliminate(rows, right).unwrap();
            let scale = expected.amax();
            for n in 0..4 {
                for c in 0..3 {
                    prop_assert!((found[n][c] - expected[(n, c)]).abs() < 1e-9 * scale);
                }
            }
        }
    }

    #[test]
    fn a_singular_system_has_no_solution() {
        assert!(eliminate([[1.0, 2.0], [2.0, 4.0]], [[1.0; 3]; 2]).is_none());
    }
}
