//! Counts of samples that fail, in which those come first that are the likeliest to.

use std::collections::BTreeMap;

/// Most samples that are tried between two counts.
const MOST_IN_CHUNK: usize = 512;

/// By how much samples fell short when they were last tried, under other conditions.
///
/// Those that fell short most are tried first. Once more of them fail than may, the count ends. The order
/// changes how soon that is, and not what the count tells.
#[derive(Debug)]
pub(super) struct LikelyFailures {
    /// A sample fails when it falls short by more, or by what nobody knows.
    limit: f64,
    /// By the number of the sample; NaN where nobody knows.
    last: BTreeMap<u64, f64>,
}

impl LikelyFailures {
    /// Nothing is known yet.
    pub(super) fn new(limit: f64) -> Self {
        Self { limit, last: BTreeMap::new() }
    }

    /// Whether at most so many of the samples fail. `shortfalls` tries some of them.
    ///
    /// # Errors
    ///
    /// Those of `shortfalls`.
    pub(super) fn fails_at_most<E>(
        &mut self,
        most: u64,
        numbers: &[u64],
        mut shortfalls: impl FnMut(&[u64]) -> Result<Vec<f64>, E>,
    ) -> Result<bool, E> {
        let ordered = self.likeliest_first(numbers);
        let (mut left, mut failing) = (&ordered[..], 0);
        // The fewest that can decide.
        let mut size = usize::try_from(most).map_or(MOST_IN_CHUNK, |most| most + 1);
        while failing <= most && failing + left.len() as u64 > most {
            let (chunk, rest) = left.split_at(size.min(left.len()));
            for (number, shortfall) in chunk.iter().zip(shortfalls(chunk)?) {
                let is_soft = shortfall <= self.limit;
                failing += u64::from(!is_soft);
                self.last.insert(*number, shortfall);
            }
            (left, size) = (rest, MOST_IN_CHUNK.min(2 * size));
        }
        Ok(failing <= most)
    }

    /// The samples, those that fell short most first. Of those that are equal, or were not tried, the order
    /// stays.
    fn likeliest_first(&self, numbers: &[u64]) -> Vec<u64> {
        let last = |number: &u64| match self.last.get(number) {
            None => f64::NEG_INFINITY,
            Some(shortfall) if shortfall.is_nan() => f64::INFINITY,
            Some(shortfall) => *shortfall,
        };
        let mut ordered = numbers.to_vec();
        ordered.sort_by(|a, b| last(b).total_cmp(&last(a)));
        ordered
    }
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    /// Tries samples whose shortfall is told, and notes how many.
    fn count(order: &mut LikelyFailures, most: u64, shortfall: fn(u64) -> f64) -> (bool, usize) {
        let (numbers, mut tried): (Vec<u64>, _) = ((100..1100).collect(), 0);
        let answer = order.fails_at_most(most, &numbers, |chunk| {
            tried += chunk.len();
            Ok::<_, Infallible>(chunk.iter().map(|number| shortfall(*number)).collect())
        });
        let Ok(answer) = answer;
        (answer, tried)
    }

    /// 8 of 1000 fail, one of them unknown: counted by hand, whatever may fail and in any order.
    #[test]
    fn the_order_does_not_change_the_answer() {
        let shortfall = |number: u64| match number {
            500 => f64::NAN,
            n if n % 150 == 149 => 0.1,
            _ => -1.0,
        };
        assert_eq!(
            (100..1100).filter(|n| shortfall(*n).is_nan() || shortfall(*n) > -0.15).count(),
            8
        );
        for most in 0..10 {
            let mut order = LikelyFailures::new(-0.15);
            let first = count(&mut order, most, shortfall);
            let second = count(&mut order, most, shortfall);
            assert_eq!((first.0, second.0), (most >= 8, most >= 8), "at most {most}");
            if most < 8 {
                assert!(second.1 <= first.1, "at most {most}: {} then {}", first.1, second.1);
            }
        }
    }

    /// What fell short most before is tried first: four samples tell that more than three fail.
    #[test]
    fn a_count_ends_as_soon_as_it_is_certain() {
        let mut order = LikelyFailures::new(-0.15);
        let easy = |number: u64| if number < 1090 { -1.0 } else { -0.2 };
        assert_eq!(count(&mut order, 3, easy), (true, 1000));
        let hard = |number: u64| if number < 1090 { -0.9 } else { -0.1 };
        assert_eq!(count(&mut order, 3, hard), (false, 4));
        assert!(!count(&mut LikelyFailures::new(-0.15), 3, hard).0);
        assert_eq!(count(&mut order, 1000, hard), (true, 0), "nothing to try");
    }
}
