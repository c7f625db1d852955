//! Quick steps along secant slopes to where the loops are at rest.

use arrayvec::ArrayVec;

use super::range::{AGREEMENT, PhaseValues, balanced, disagreement, mean};
use super::search::{Evaluated, TrimSearch};
use crate::converter::MAX_PHASES;

/// Most steps.
const STEPS: usize = 150;
/// Steps after which the slopes, and with them the steps, become cautious. Where a phase begins or
/// ceases to conduct, a slope jumps by decades, and steps can leap to and fro.
const CAREFREE: usize = 24;
/// By how much one secant may change a slope; and by how much it may lower a cautious one.
const TURN: f64 = 3.0;
const CAUTIOUS_TURN: f64 = 1.25;
/// Least share of a step.
const LEAST_SHARE: f64 = 0.02;
/// Where even this share of a step leads to no steady state, the steps lead nowhere.
const NO_SHARE: f64 = 1e-3;

impl TrimSearch<'_> {
    /// A rest point near these trims, stable or not; none where the steps lead to none.
    pub(super) fn close_in(&mut self, mut at: Evaluated) -> Option<Evaluated> {
        let range = self.range();
        let mut slopes: PhaseValues = at.trims.iter().map(|_| self.from.slope).collect();
        let (mut share, mut miss) = (1.0_f64, disagreement(&at.trims, &at.y, range));
        for step in 0..STEPS {
            if miss <= AGREEMENT {
                return Some(at);
            }
            let wanted = at.trims.iter().zip(&at.y).zip(&slopes).map(|((x, y), s)| x - y / s);
            let target = balanced(&wanted.collect(), &slopes, range);
            // Whole steps land on the ends of the range themselves.
            let next = if share < 1.0 { between(&at.trims, &target, share) } else { target };
            let Ok(new) = self.evaluate(&next) else {
                share *= 0.5;
                if share < NO_SHARE {
                    return None;
                }
                continue;
            };
            let cautious = step > CAREFREE;
            follow_secants(&mut slopes, &at, &new, cautious);
            let left = disagreement(&new.trims, &new.y, range);
            // A share of a step can take away no more than that share of the disagreement.
            let helps = left <= (1.0 - 0.3 * share) * miss;
            share = if helps || cautious {
                (2.0 * share).min(1.0)
            } else {
                (0.5 * share).max(LEAST_SHARE)
            };
            (miss, at) = (left, new);
        }
        (miss <= AGREEMENT).then_some(at)
    }
}

fn between(from: &[f64], to: &[f64], share: f64) -> PhaseValues {
    from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect()
}

/// Slopes after the last step, all readings having moved alike besides.
///
/// A cautious slope rises at once to what it must be and falls by little.
fn follow_secants(slopes: &mut PhaseValues, old: &Evaluated, new: &Evaluated, cautious: bool) {
    let (down, up) = if cautious { (CAUTIOUS_TURN, f64::INFINITY) } else { (TURN, TURN) };
    let moves: ArrayVec<(f64, f64), MAX_PHASES> =
        (0..slopes.len()).map(|k| (new.trims[k] - old.trims[k], new.y[k] - old.y[k])).collect();
    let alike = moves.iter().zip(slopes.iter()).map(|((x, y), s)| y - s * x).sum::<f64>()
        / slopes.len() as f64;
    let size = mean(&new.y).abs();
    for ((x, y), slope) in moves.iter().zip(slopes.iter_mut()) {
        // A step as small as the solver's own error tells no slope.
        if (*slope * x).abs() > 1e-8 * size {
            let secant = (y - alike) / x;
            *slope = secant.clamp(*slope / down, *slope * up);
        }
    }
}
