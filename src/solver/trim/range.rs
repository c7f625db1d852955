//! Trims of mean zero within their range: the nearest ones, and whether the loops rest at them.

use arrayvec::ArrayVec;

use crate::converter::MAX_PHASES;

/// How closely the readings of phases that are not at an end agree, of their mean.
pub const AGREEMENT: f64 = 1e-7;

/// One number a phase.
pub(super) type PhaseValues = ArrayVec<f64, MAX_PHASES>;

pub(super) fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

/// `clamp(x(k) + c/σ(k), ±range)` with the c that makes the sum zero; it rises with c.
/// With equal slopes it is the nearest point to x, the projection on those trims.
pub(super) fn balanced(x: &PhaseValues, slopes: &PhaseValues, range: f64) -> PhaseValues {
    let at = |c: f64| -> PhaseValues {
        x.iter().zip(slopes).map(|(x, s)| (x + c / s).clamp(-range, range)).collect()
    };
    // Inside the range the sum is a straight line.
    let inverse = slopes.iter().map(|s| 1.0 / s).sum::<f64>();
    let inside = -x.iter().sum::<f64>() / inverse;
    if x.iter().zip(slopes).all(|(x, s)| (x + inside / s).abs() < range) {
        return at(inside);
    }
    let ends = |end: f64| x.iter().zip(slopes).map(move |(x, s)| (end - x) * s);
    let mut low = ends(-range).fold(f64::INFINITY, f64::min);
    let mut high = ends(range).fold(f64::NEG_INFINITY, f64::max);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if at(middle).iter().sum::<f64>() < 0.0 { low = middle } else { high = middle }
    }
    at(high)
}

/// How far the loops are from rest, relative to the mean reading: readings that must not be above
/// the common one, less those that must not be below it.
pub(super) fn disagreement(trims: &[f64], y: &[f64], range: f64) -> f64 {
    let pick = |which: fn(f64, f64) -> bool| {
        trims.iter().zip(y).filter(move |(x, _)| which(**x, range)).map(|(_, y)| *y)
    };
    let high = pick(|x, range| x > -range).fold(f64::NEG_INFINITY, f64::max);
    let low = pick(|x, range| x < range).fold(f64::INFINITY, f64::min);
    let miss = (high - low) / mean(y).abs();
    if miss > 0.0 { miss } else { 0.0 }
}
