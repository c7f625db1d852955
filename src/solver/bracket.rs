//! The place where a function changes its sign, by parabolas that cannot leave the bracket.

/// More steps than any bracket takes: one in two halves it, or parabolas do better.
const STEPS: usize = 400;

/// A point with the function's value there.
#[derive(Clone, Copy)]
struct Sample {
    x: f64,
    f: f64,
}

/// The two neighbouring places, to rounding, between which `f` changes its sign, not positive at
/// the first and positive at the second; of different signs at the ends given.
///
/// T. R. Chandrupatla, "A new hybrid quadratic/bisection algorithm for finding the zero of a
/// nonlinear function without using derivatives", Advances in Engineering Software 28 (1997)
/// 145–149: an inverse parabola where it is sure to be one, else the middle.
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
        if least > 0.5 {
            break;
        }
        share = parabola(near, far, before).unwrap_or(0.5).clamp(least, 1.0 - least);
    }
    if near.f > 0.0 { [far.x, near.x] } else { [near.x, far.x] }
}

/// The share of the way from `near` to `far` at which the inverse parabola through the three
/// points has its zero, where that parabola is monotone.
fn parabola(near: Sample, far: Sample, before: Sample) -> Option<f64> {
    let place = (near.x - far.x) / (before.x - far.x);
    let height = (near.f - far.f) / (before.f - far.f);
    if !(height.powi(2) < place && (1.0 - height).powi(2) < 1.0 - place) {
        return None;
    }
    let first = near.f / (far.f - near.f) * before.f / (far.f - before.f);
    let second = (before.x - near.x) / (far.x - near.x) * near.f / (before.f - near.f) * far.f
        / (before.f - far.f);
    Some(first + second)
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
}
