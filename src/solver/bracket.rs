//! Where a function changes its sign: by parabolas that stay inside the bracket. And the bracket
//! itself, for a falling function.

use std::ops::RangeInclusive;

/// Ratio of the first two trial values while a bracket is sought, and the largest.
const RATIOS: (f64, f64) = (1.01, 4.0);
/// Ratio at which a search that finds no value any more gives up.
const SHORTEST: f64 = 1.0 + 1e-5;

/// More steps than any bracket takes: one in two halves it, or parabolas do better.
const STEPS: usize = 400;

/// A point with the function's value there.
#[derive(Clone, Copy)]
struct Sample {
    x: f64,
    f: f64,
}

/// The two neighbouring numbers, to rounding, between which `f` changes its sign. It is not
/// positive at the first and positive at the second. It must have different signs at `ends`.
///
/// An inverse parabola where it is monotone, else the middle: T. R. Chandrupatla, "A new hybrid
/// quadratic/bisection algorithm for finding the zero of a nonlinear function without using
/// derivatives", Advances in Engineering Software 28 (1997) 145–149.
pub(super) fn sign_change(mut f: impl FnMut(f64) -> f64, ends: [f64; 2]) -> [f64; 2] {
    let mut sample = |x: f64| Sample { x, f: f(x) };
    // The newest, and the one beyond the change of sign.
    let (mut near, mut far) = (sample(ends[1]), sample(ends[0]));
    let mut share = 0.5;
    for _ in 0..STEPS {
        let new = sample(near.x + share * (far.x - near.x));
        let before =
            if (new.f > 0.0) == (near.f > 0.0) { near } else { std::mem::replace(&mut far, near) };
        near = new;
        let best = if near.f.abs() < far.f.abs() { near } else { far };
        let least = 2.0 * f64::EPSILON * best.x.abs() / (far.x - near.x).abs();
        if best.f == 0.0 {
            return [best.x; 2];
        }
        if least.is_nan() || least > 0.5 {
            break;
        }
        // Where the function overflows there is no parabola.
        let guess = parabola(near, far, before).filter(|share| share.is_finite());
        share = guess.unwrap_or(0.5).clamp(least, 1.0 - least);
    }
    if near.f > 0.0 { [far.x, near.x] } else { [near.x, far.x] }
}

/// The zero of the inverse parabola through the three points, as a share of the way from `near` to
/// `far`; none where that parabola is not monotone.
fn parabola(near: Sample, far: Sample, before: Sample) -> Option<f64> {
    let abscissa = (near.x - far.x) / (before.x - far.x);
    let height = (near.f - far.f) / (before.f - far.f);
    if !(height.powi(2) < abscissa && (1.0 - height).powi(2) < 1.0 - abscissa) {
        return None;
    }
    let first = near.f / (far.f - near.f) * before.f / (far.f - before.f);
    let second = (before.x - near.x) / (far.x - near.x) * near.f / (before.f - near.f) * far.f
        / (before.f - far.f);
    Some(first + second)
}

/// What became of the search for a zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Zero {
    /// The zero, and the value of the function there: not near zero where it jumps.
    At(f64, f64),
    /// Below zero from the least value on.
    Below,
    /// Above zero up to the greatest value.
    Above,
}

/// Finds the zero of `f`, which falls, inside a range above zero, from `start`.
/// Where `f` has no value on the way to a bracket shorter steps are taken; `None` where that does
/// not help, and where it has none inside the bracket.
pub(super) fn falling_zero(
    mut f: impl FnMut(f64) -> Option<f64>,
    start: f64,
    range: RangeInclusive<f64>,
) -> Option<Zero> {
    let (least, most) = range.into_inner();
    let mut near = (start, f(start)?);
    let upwards = near.1 > 0.0;
    let mut ratio = RATIOS.0;
    loop {
        if upwards && near.0 >= most {
            return Some(Zero::Above);
        }
        if !upwards && near.0 <= least {
            return Some(Zero::Below);
        }
        let next = if upwards { near.0 * ratio } else { near.0 / ratio }.clamp(least, most);
        let Some(value) = f(next) else {
            ratio = ratio.sqrt();
            if ratio < SHORTEST {
                return None;
            }
            continue;
        };
        if (value > 0.0) != upwards {
            return zero_inside(f, [near.0, next]);
        }
        near = (next, value);
        ratio = (ratio * ratio).min(RATIOS.1);
    }
}

/// The zero inside a bracket; none where the function has no value on the way.
pub(super) fn zero_inside(mut f: impl FnMut(f64) -> Option<f64>, ends: [f64; 2]) -> Option<Zero> {
    let (mut least, mut lost) = (f64::INFINITY, false);
    let value = |x: f64| {
        // A zero ends the search at once.
        let Some(value) = f(x).filter(|_| !lost) else {
            lost = true;
            return 0.0;
        };
        if value.abs() < least.abs() {
            least = value;
        }
        value
    };
    let [x, _] = sign_change(value, ends);
    (!lost).then_some(Zero::At(x, least))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_roots_in_closed_form() {
        let root = |f: fn(f64) -> f64| sign_change(f, [0.0, 4.0])[0];
        assert!((root(|x| x * x - 2.0) - 2f64.sqrt()).abs() < 1e-15);
        assert!((root(|x| x.powi(9) - 0.5) - 0.5_f64.powf(1.0 / 9.0)).abs() < 1e-15);
        // A jump.
        let jump = |x: f64| if x < 1.25 { -1.0 } else { 1e6 };
        let [below, above] = sign_change(jump, [0.0, 4.0]);
        assert!(below < 1.25 && above >= 1.25 && above - below < 1e-15);
    }

    /// Without loss a current may be infinite.
    #[test]
    fn a_function_that_overflows_is_halved() {
        for ends in [[-1.0, f64::INFINITY], [f64::NEG_INFINITY, 1.0], [-1e300, f64::INFINITY]] {
            let f = |x: f64| if x < 1.25 { ends[0] } else { ends[1] };
            let [below, above] = sign_change(f, [0.0, 4.0]);
            assert!(below < 1.25 && above >= 1.25 && above - below < 1e-15, "{ends:?}");
        }
        let pole = |x: f64| if x > 1.25 { 1.0 / (x - 1.25) } else { f64::NEG_INFINITY };
        let [below, above] = sign_change(pole, [0.0, 4.0]);
        assert!((below - 1.25).abs() < 1e-15 && (above - 1.25).abs() < 1e-15);
    }

    #[test]
    fn takes_few_evaluations() {
        let mut evaluations = 0;
        sign_change(
            |x| {
                evaluations += 1;
                x.exp() - 3.0
            },
            [0.0, 4.0],
        );
        assert!(evaluations < 15, "{evaluations}");
    }

    #[test]
    fn zeros_by_hand_from_both_sides() {
        for (power, zero) in [(1, 3.0), (3, 2.0), (9, 0.05)] {
            for start in [1e-3, 1.0, 1e3] {
                let mut calls = 0;
                let f = |x: f64| {
                    calls += 1;
                    Some(1.0 - (x / zero).powi(power))
                };
                let Some(Zero::At(x, _)) = falling_zero(f, start, 1e-6..=1e6) else {
                    panic!("power {power} from {start}")
                };
                assert!((x / zero - 1.0).abs() < 1e-11, "power {power} from {start}: {x}");
                assert!(calls < 60, "power {power} from {start}: {calls} calls");
            }
        }
    }

    #[test]
    fn a_steep_fall_like_that_of_a_square_root_is_followed() {
        let f = |x: f64| Some((1.0 - x).max(0.0).sqrt() - 1e-3);
        let Some(Zero::At(x, value)) = falling_zero(f, 0.2, 1e-6..=1e6) else { panic!() };
        assert!((x - (1.0 - 1e-6)).abs() < 1e-11 && value.abs() < 1e-8, "{x}");
    }

    #[test]
    fn no_zero_and_no_value_are_told() {
        assert_eq!(falling_zero(|_| Some(-1.0), 1.0, 0.1..=10.0), Some(Zero::Below));
        assert_eq!(falling_zero(|_| Some(1.0), 1.0, 0.1..=10.0), Some(Zero::Above));
        assert_eq!(falling_zero(|_| None, 1.0, 0.1..=10.0), None);
        let f = |x: f64| (x < 2.0).then_some(1.9 - x);
        let Some(Zero::At(x, _)) = falling_zero(f, 1.0, 0.1..=10.0) else { panic!() };
        assert!((x - 1.9).abs() < 1e-11, "found before the values end");
        let Some(Zero::At(x, value)) =
            falling_zero(|x| Some(if x < 2.0 { 1.0 } else { -1.0 }), 1.0, 0.1..=10.0)
        else {
            panic!()
        };
        assert!((x - 2.0).abs() < 1e-11 && value.abs() > 0.5, "a jump shows in its value");
    }
}
