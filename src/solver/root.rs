//! The zero of a falling function of a positive quantity, without derivatives.

/// Largest ratio of neighbouring trial values while a bracket is sought.
const WIDEST: f64 = 4.0;
/// Ratio of the first two.
const NARROWEST: f64 = 1.01;
/// Ratio at which a search that finds no value any more gives up.
const SHORTEST: f64 = 1.0 + 1e-5;
/// Steps inside a bracket; bisection alone would need fewer to end at neighbouring doubles.
const STEPS: usize = 200;
/// Relative width at which a bracket counts as closed.
const CLOSED: f64 = 1e-12;

/// What became of the search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Root {
    /// The zero, and the value of the function there: not near zero where it jumps.
    At(f64, f64),
    /// Below zero from the least value on.
    Below,
    /// Above zero up to the greatest value.
    Above,
}

/// A value and the function there.
type Trial = (f64, f64);

/// Finds the zero of `f`, which falls, between `least` and `most`, both above zero, from `start`:
/// a bracket first, then the method of Chandrupatla (Advances in Engineering Software 28, 1997,
/// 145–149; formulas from memory), which takes inverse quadratic interpolation where it is safe
/// and bisection elsewhere. Where `f` has no value on the way to a bracket shorter steps are taken;
/// `None` where that does not help.
pub(super) fn falling_root(
    mut f: impl FnMut(f64) -> Option<f64>,
    start: f64,
    (least, most): (f64, f64),
) -> Option<Root> {
    let mut near = (start, f(start)?);
    let upwards = near.1 > 0.0;
    let mut ratio = NARROWEST;
    loop {
        if upwards && near.0 >= most {
            return Some(Root::Above);
        }
        if !upwards && near.0 <= least {
            return Some(Root::Below);
        }
        let next = if upwards { near.0 * ratio } else { near.0 / ratio }.clamp(least, most);
        let Some(value) = f(next) else {
            ratio = ratio.sqrt();
            if ratio < SHORTEST {
                return None;
            }
            continue;
        };
        let far = (next, value);
        if (far.1 > 0.0) != upwards {
            let (x, value) = close(f, near, far)?;
            return Some(Root::At(x, value));
        }
        near = far;
        ratio = (ratio * ratio).min(WIDEST);
    }
}

/// Closes a bracket.
fn close(mut f: impl FnMut(f64) -> Option<f64>, mut old: Trial, mut new: Trial) -> Option<Trial> {
    let mut share = 0.5;
    for _ in 0..STEPS {
        let x = new.0 + share * (old.0 - new.0);
        let now = (x, f(x)?);
        let last =
            if (now.1 > 0.0) == (new.1 > 0.0) { new } else { std::mem::replace(&mut old, new) };
        new = now;
        let best = if old.1.abs() < new.1.abs() { old } else { new };
        let least_share = CLOSED * best.0.abs() / (old.0 - new.0).abs();
        if best.1 == 0.0 || least_share > 0.5 {
            return Some(best);
        }
        share = interpolated(new, old, last).unwrap_or(0.5).clamp(least_share, 1.0 - least_share);
    }
    Some(if old.1.abs() < new.1.abs() { old } else { new })
}

/// Where, as a share of the way from the first trial to the second, inverse quadratic
/// interpolation has the zero; none where it could stand outside.
fn interpolated((a, fa): Trial, (b, fb): Trial, (c, fc): Trial) -> Option<f64> {
    let (xi, phi) = ((a - b) / (c - b), (fa - fb) / (fc - fb));
    let safe = phi * phi < xi && (1.0 - phi).powi(2) < 1.0 - xi;
    safe.then(|| {
        fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zeros_by_hand_from_both_sides() {
        for (power, zero) in [(1, 3.0), (3, 2.0), (9, 0.05)] {
            for start in [1e-3, 1.0, 1e3] {
                let mut calls = 0;
                let f = |x: f64| {
                    calls += 1;
                    Some(1.0 - (x / zero).powi(power))
                };
                let Some(Root::At(x, _)) = falling_root(f, start, (1e-6, 1e6)) else {
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
        let Some(Root::At(x, value)) = falling_root(f, 0.2, (1e-6, 1e6)) else { panic!() };
        assert!((x - (1.0 - 1e-6)).abs() < 1e-11 && value.abs() < 1e-8, "{x}");
    }

    #[test]
    fn no_zero_and_no_value_are_told() {
        assert_eq!(falling_root(|_| Some(-1.0), 1.0, (0.1, 10.0)), Some(Root::Below));
        assert_eq!(falling_root(|_| Some(1.0), 1.0, (0.1, 10.0)), Some(Root::Above));
        assert_eq!(falling_root(|_| None, 1.0, (0.1, 10.0)), None);
        let f = |x: f64| (x < 2.0).then_some(1.9 - x);
        let Some(Root::At(x, _)) = falling_root(f, 1.0, (0.1, 10.0)) else { panic!() };
        assert!((x - 1.9).abs() < 1e-11, "found before the values end");
        let Some(Root::At(x, value)) =
            falling_root(|x| Some(if x < 2.0 { 1.0 } else { -1.0 }), 1.0, (0.1, 10.0))
        else {
            panic!()
        };
        assert!((x - 2.0).abs() < 1e-11 && value.abs() > 0.5, "a jump shows in its value");
    }
}
