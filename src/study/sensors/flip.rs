//! Where a finding turns over when all tolerance bands grow or shrink together.

use serde::Serialize;

use crate::scenario::{Scenario, Tolerance};

/// Ratio of neighbouring factors of the search.
const STRIDE: f64 = std::f64::consts::SQRT_2;
/// Strides to either side: a factor of 8.
const STRIDES: i32 = 6;
/// How close the bracket is closed, as a ratio.
const CLOSE: f64 = 1.01;
/// No band may reach the nominal value itself.
const WIDEST_BAND: f64 = 0.95;

/// Two factors on all bands between which a finding turns over.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Flip {
    /// The factor at which the finding is as at 1.
    pub holds: f64,
    /// The factor at which it is the opposite.
    pub turned: f64,
}

/// What a search for a turn found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Search {
    /// A turn.
    Found(Flip),
    /// None between these factors.
    None {
        /// Least factor looked at.
        least: f64,
        /// Greatest factor looked at.
        greatest: f64,
    },
}

/// Which way a search goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Wider bands alone.
    Up,
    /// Narrower bands alone.
    Down,
    /// The nearest turn on either side.
    Both,
}

impl Direction {
    fn signs(self) -> &'static [i32] {
        match self {
            Self::Up => &[1],
            Self::Down => &[-1],
            Self::Both => &[1, -1],
        }
    }
}

/// Most evaluations of a search in one direction: strides, then halvings of one.
pub const EVALUATIONS: u64 = 6 + 6;

/// Looks outward from 1 for the nearest factor up to `greatest` where `finding` is not what it is
/// at 1, and halves the last stride, by ratio, until its ends are 1 % apart. Sound as far as the
/// finding turns over once; evaluated on common random numbers it does so but for single samples.
///
/// # Errors
///
/// Those of `finding`.
pub fn search<E>(
    at_one: bool,
    direction: Direction,
    greatest: f64,
    mut finding: impl FnMut(f64) -> Result<bool, E>,
) -> Result<Search, E> {
    let factor = |n: i32| STRIDE.powi(n).min(greatest);
    for stride in 1..=STRIDES {
        for sign in direction.signs() {
            let (near, far) = (factor(sign * (stride - 1)), factor(sign * stride));
            if (far / near - 1.0).abs() < 1e-9 || finding(far)? == at_one {
                continue;
            }
            return close_in(at_one, (near, far), finding).map(Search::Found);
        }
    }
    let ends = direction.signs().iter().map(|sign| factor(sign * STRIDES));
    let (least, most) = ends.fold((1.0, 1.0), |(a, b): (f64, f64), x| (a.min(x), b.max(x)));
    Ok(Search::None { least, greatest: most })
}

fn close_in<E>(
    at_one: bool,
    (mut holds, mut turned): (f64, f64),
    mut finding: impl FnMut(f64) -> Result<bool, E>,
) -> Result<Flip, E> {
    while (holds / turned).max(turned / holds) > CLOSE {
        let middle = (holds * turned).sqrt();
        if finding(middle)? == at_one { holds = middle } else { turned = middle }
    }
    Ok(Flip { holds, turned })
}

/// The scenario with all bands of the parts multiplied by a factor; sensors stay as they are.
#[must_use]
pub fn widened(scenario: &Scenario, factor: f64) -> Scenario {
    let mut wider = scenario.clone();
    for (parameter, tolerance) in scenario.tolerances.iter() {
        let own = Tolerance { band: tolerance.band * factor, ..tolerance };
        wider.tolerances = wider.tolerances.with(parameter, Some(own));
    }
    wider
}

/// The greatest factor at which every band stays below the nominal value.
pub fn greatest_factor(scenario: &Scenario) -> f64 {
    let bands = scenario.tolerances.iter().map(|(_, t)| t.band);
    WIDEST_BAND / bands.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(turn: f64, direction: Direction) -> Search {
        search::<()>(1.0 < turn, direction, 1e3, |factor| Ok(factor < turn)).unwrap()
    }

    /// A stand-in whose turn is known lies between both ends, which are 1 % apart.
    #[test]
    fn a_known_turn_is_bracketed() {
        for turn in [0.2, 0.7, 0.999, 1.001, 1.3, 5.0] {
            let Search::Found(flip) = found(turn, Direction::Both) else { panic!("{turn}") };
            let (low, high) = (flip.holds.min(flip.turned), flip.holds.max(flip.turned));
            assert!(low < turn && turn <= high && high / low <= CLOSE, "{turn}: {flip:?}");
            assert_eq!(flip.holds < turn, 1.0 < turn, "{turn}: {flip:?}");
        }
    }

    #[test]
    fn a_turn_out_of_reach_is_none() {
        assert_eq!(
            found(9.0, Direction::Up),
            Search::None { least: 1.0, greatest: STRIDE.powi(6) }
        );
        assert!(matches!(found(0.1, Direction::Both), Search::None { least, .. } if least < 0.13));
        let few = search::<()>(true, Direction::Up, 1.2, |factor| Ok(factor < 1.3)).unwrap();
        assert_eq!(few, Search::None { least: 1.0, greatest: 1.2 });
        assert_eq!(search(true, Direction::Up, 9.0, |_| Err("stopped")), Err("stopped"));
    }
}
