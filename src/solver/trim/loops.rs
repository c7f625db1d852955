//! The loops' own dynamics: whether they stay at a rest point, and where they go from no trim.

use arrayvec::ArrayVec;
use nalgebra::DMatrix;
use nalgebra::linalg::Schur;

use super::range::{AGREEMENT, PhaseValues, balanced, disagreement, mean};
use super::search::{Evaluated, Failure, TrimSearch};
use crate::converter::MAX_PHASES;
use crate::solver::steady_state::Unsolved;

/// Change of the trims by which derivatives are taken.
const PROBE: f64 = 1e-4;
/// Longest step along the way of the loops, of the range.
const LONGEST: f64 = 1.0 / 16.0;
/// Where the loops turn back within so little of the range, the quick steps take over.
const SHORT: f64 = 1e-3;
/// Where the converter does not work so little of the range farther, the loops have driven it there.
const SHORTEST: f64 = 1e-4;
/// Most steps along that way.
const STEPS: usize = 200;
/// Number of steady states within which a rest point counts as found at once, those for its
/// stability included. And number of points on the way to one that was not.
const AT_ONCE: usize = 24;
const PLACES: u32 = 16;
/// Sweeps of the eigenvalue iteration, at most.
const SWEEPS: usize = 1000;

impl TrimSearch<'_> {
    /// Whether the loops come back to a rest point.
    pub(super) fn is_stable(&mut self, at: &Evaluated) -> bool {
        let range = self.range();
        let free: ArrayVec<usize, MAX_PHASES> =
            (0..at.trims.len()).filter(|k| at.trims[*k].abs() < range).collect();
        let Some((last, others)) = free.split_last() else { return true };
        let answers = others.iter().map(|phase| self.answer_to(at, *phase, *last));
        let answers: Option<Vec<PhaseValues>> = answers.collect();
        answers.is_some_and(|answers| return_to_rest(&free, &answers))
    }

    /// How `y` answers when one phase is trimmed up and another one down.
    pub(super) fn answer_to(
        &mut self,
        at: &Evaluated,
        up: usize,
        down: usize,
    ) -> Option<PhaseValues> {
        [PROBE, -PROBE].into_iter().find_map(|step| {
            let mut trims = at.trims.clone();
            trims[up] += step;
            trims[down] -= step;
            let moved = self.evaluate(&trims).ok()?;
            Some(moved.y.iter().zip(&at.y).map(|(new, old)| (new - old) / step).collect())
        })
    }

    /// Whether the loops lead from no trim to a rest point. If the quick steps went to it at once,
    /// they do. Else points on the straight way there tell it.
    pub(super) fn is_reached(&mut self, rest: &Evaluated) -> bool {
        let range = self.range();
        let inside = rest.trims.iter().all(|x| x.abs() < range);
        if range == 0.0 || (inside && self.evaluations <= AT_ONCE) {
            return true;
        }
        let mut next = rest.clone();
        (0..PLACES).rev().all(|place| {
            let share = f64::from(place) / f64::from(PLACES);
            let trims = rest.trims.iter().map(|x| share * x).collect();
            let Ok(at) = self.evaluate(&trims) else { return false };
            let leads = turns_back(&next, &at);
            next = at;
            leads
        })
    }

    /// Follows the loops from no trim, or from `start` where the converter does not work without,
    /// in small steps, until they come to rest.
    pub(super) fn follow(&mut self, start: Evaluated) -> Result<Evaluated, Failure> {
        let range = self.range();
        let none: PhaseValues = start.trims.iter().map(|_| 0.0).collect();
        let mut at = self.evaluate(&none).unwrap_or(start);
        let mut step = LONGEST;
        for _ in 0..STEPS {
            if disagreement(&at.trims, &at.y, range) <= AGREEMENT {
                break;
            }
            match self.evaluate(&drifted(&at, step * range, range)) {
                // The loops turn back on the way: they come to rest before its end.
                Ok(new) if turns_back(&at, &new) => {
                    step *= 0.5;
                    if step < SHORT {
                        break;
                    }
                }
                Ok(new) => {
                    step = (1.5 * step).min(LONGEST);
                    at = new;
                }
                Err(failure) => {
                    step *= 0.5;
                    if step < SHORTEST {
                        return Err(failure);
                    }
                }
            }
        }
        let rest = self.close_in(at).filter(|rest| self.is_stable(rest));
        rest.ok_or(Failure::NotSolved(Unsolved::TrimsAdrift))
    }
}

/// Where the loops go from here, with no trim changing by much more than `most`.
fn drifted(at: &Evaluated, most: f64, range: f64) -> PhaseValues {
    let middle = mean(&at.y);
    let largest = at.y.iter().fold(0.0, |a, y| f64::max(a, (y - middle).abs()));
    let go = |slope: f64| -> PhaseValues {
        let slopes: PhaseValues = at.y.iter().map(|_| slope).collect();
        let wanted = at.trims.iter().zip(&at.y).map(|(x, y)| x - (y - middle) / slope);
        balanced(&wanted.collect(), &slopes, range)
    };
    let first = go(largest / most);
    let moves = first.iter().zip(&at.trims).map(|(new, old)| (new - old).abs());
    let moved = moves.fold(0.0, f64::max);
    // Phases at an end may have the largest deviations and not move: then the others go farther.
    if moved > SHORT * most { go(largest / most * moved / most) } else { first }
}

/// Whether the loops at the end of a step would go back along it.
fn turns_back(old: &Evaluated, new: &Evaluated) -> bool {
    let along = new.trims.iter().zip(&old.trims).zip(&new.y).map(|((x, from), y)| (x - from) * y);
    along.sum::<f64>() > 0.0
}

/// Whether loops come back whose phases at no end are `free`. Row j of `answers`: how `y` answers when
/// the j-th of these is trimmed against the last one.
pub(super) fn return_to_rest(free: &[usize], answers: &[PhaseValues]) -> bool {
    // How the free phases move off their mean. Rows of all but the last one make the matrix in the
    // same basis.
    let mut matrix = DMatrix::zeros(answers.len(), answers.len());
    for (j, answer) in answers.iter().enumerate() {
        let common = free.iter().map(|k| answer[*k]).sum::<f64>() / free.len() as f64;
        for (i, phase) in free.iter().take(answers.len()).enumerate() {
            matrix[(i, j)] = answer[*phase] - common;
        }
    }
    returns(matrix)
}

/// Whether all that moves by `dx/dt = −A x` comes back to 0: every eigenvalue of `A` lies in the
/// right half plane.
fn returns(answers: DMatrix<f64>) -> bool {
    if answers.is_empty() {
        return true;
    }
    let schur = Schur::try_new(answers, f64::EPSILON, SWEEPS);
    schur.is_some_and(|s| s.complex_eigenvalues().iter().all(|e| e.re > 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eigenvalues by hand: 3 and 1; 1 ± 2j, −1 ± 2j; one of each sign, though the diagonal is
    /// positive.
    #[test]
    fn loops_return_where_all_eigenvalues_have_positive_real_parts() {
        let return_from = |x: [f64; 4]| returns(DMatrix::from_row_slice(2, 2, &x));
        assert!(return_from([2.0, 1.0, 1.0, 2.0]));
        assert!(return_from([1.0, 2.0, -2.0, 1.0]));
        assert!(!return_from([-1.0, 2.0, -2.0, -1.0]));
        assert!(!return_from([1.0, 2.0, 2.0, 1.0]));
        assert!(returns(DMatrix::zeros(0, 0)));
        assert!(!returns(DMatrix::from_element(1, 1, -1e-9)));
    }
}
