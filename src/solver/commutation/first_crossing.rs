//! The first time at which a signal falls below zero, never passed over.
//!
//! From a point that is above zero by g, with slope g′, a signal whose second derivative is at most M stays above
//! zero until the root of g + g′ t − M t²/2. Steps of that length come to the first crossing from before, near it
//! as fast as Newton's steps.

/// Steps after which the crossing is left to the next stretch.
const STEPS: usize = 60;
/// A step so short, relative to the whole time, ends at the crossing: the next would be its square, about.
const SHORT: f64 = 1e-5;

/// A signal over time.
pub(super) struct Way<F> {
    /// Value and slope at a time.
    pub(super) at: F,
    /// The same at the begin.
    pub(super) start: [f64; 2],
    /// The most that its second derivative can be.
    pub(super) bend: f64,
}

/// How far a signal is known to stay above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Crossing {
    pub(super) time: f64,
    /// Whether it falls below zero there; else more steps would tell.
    pub(super) is_met: bool,
}

/// Where before `end` a signal first falls below `−negligible`; none where it does not.
pub(super) fn first_below(
    way: &Way<impl Fn(f64) -> [f64; 2]>,
    end: f64,
    negligible: f64,
) -> Option<Crossing> {
    let [mut value, mut slope] = way.start;
    // Mostly it stays above zero all the way.
    let lowest = value + negligible + (slope.min(0.0) - 0.5 * way.bend * end) * end;
    if lowest > 0.0 {
        return None;
    }
    let mut time = 0.0;
    for _ in 0..STEPS {
        let above = value + negligible;
        if above < 0.0 {
            return Some(Crossing { time, is_met: true });
        }
        let step = safe_step(above, slope, way.bend);
        if time + step >= end {
            return None;
        }
        time += step;
        if slope < 0.0 && step <= SHORT * end {
            return Some(Crossing { time, is_met: true });
        }
        [value, slope] = (way.at)(time);
    }
    Some(Crossing { time, is_met: false })
}

/// The root of `above + slope t − bend t²/2`, without the difference of like numbers.
fn safe_step(above: f64, slope: f64, bend: f64) -> f64 {
    let root = (slope * slope + 2.0 * bend * above).sqrt();
    if slope < 0.0 {
        2.0 * above / (root - slope)
    } else if bend > 0.0 {
        (root + slope) / bend
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// a + b cos(ωt + φ) bends by no more than |b| ω².
    fn wave(a: f64, b: f64, omega: f64, phi: f64) -> Way<impl Fn(f64) -> [f64; 2]> {
        let at = move |t: f64| {
            let (sin, cos) = libm::sincos(omega * t + phi);
            [a + b * cos, -b * omega * sin]
        };
        Way { at, start: at(0.0), bend: (b * omega * omega).abs() }
    }

    #[test]
    fn crossings_by_hand() {
        // cos t falls below 1/2 at π/3.
        let found = first_below(&wave(-0.5, 1.0, 1.0, 0.0), 3.0, 0.0).unwrap();
        assert!(found.is_met && (found.time - std::f64::consts::FRAC_PI_3).abs() < 1e-12);
        assert_eq!(first_below(&wave(-0.5, 1.0, 1.0, 0.0), 1.04, 0.0), None, "ends before it");
        assert_eq!(first_below(&wave(1.1, 1.0, 1.0, 0.0), 50.0, 0.0), None, "stays above");
        let below = first_below(&wave(-2.0, 1.0, 1.0, 0.0), 1.0, 0.0);
        assert_eq!(below, Some(Crossing { time: 0.0, is_met: true }), "is below at once");
        // A straight line: 1 − 4 t.
        let line = Way { at: |t: f64| [1.0 - 4.0 * t, -4.0], start: [1.0, -4.0], bend: 0.0 };
        assert!((first_below(&line, 1.0, 0.0).unwrap().time - 0.25).abs() < 1e-12);
    }

    const SMALL: u32 = 20_000;

    proptest! {
        /// Against many small steps: nothing is passed over, also where it only dips.
        #[test]
        fn no_crossing_is_passed_over(
            a in -1.0..1.5_f64, b in 0.1..1.0_f64, omega in 0.1..20.0_f64, phi in 0.0..6.3_f64,
        ) {
            let way = wave(a, b, omega, phi);
            prop_assume!(way.start[0] > 1e-3);
            let stepped = (0..=SMALL)
                .map(|n| f64::from(n) / f64::from(SMALL))
                .find(|t| (way.at)(*t)[0] < 0.0);
            match (first_below(&way, 1.0, 0.0), stepped) {
                (Some(found), Some(stepped)) if found.is_met => {
                    prop_assert!((found.time - stepped).abs() < 1.1 / f64::from(SMALL));
                }
                (Some(found), Some(stepped)) => prop_assert!(found.time <= stepped),
                (None, Some(stepped)) => prop_assert!(false, "none, but below at {}", stepped),
                // A dip between two of the small steps.
                (Some(found), None) => prop_assert!((way.at)(found.time)[0] < 1e-3),
                (None, None) => {}
            }
        }
    }
}
