//! Which samples of a run are tried again after a change: the failing ones and a part of those that
//! pass.

/// The first samples of a run that are tried again: of the first `failing_among` all that failed, of the
/// first `passing_among` all that passed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RetriedSamples {
    /// Samples of which every one that failed is tried again.
    pub failing_among: u64,
    /// Samples of which every one that passed is tried again.
    pub passing_among: u64,
    /// Their numbers, rising.
    pub numbers: Vec<u64>,
}

impl RetriedSamples {
    /// At most `most` of `judged` samples: failing ones up to a half of them, then passing ones. None
    /// that pass, or none that fail, leave their part to the others.
    pub fn choose(judged: u64, most: u64, passes: impl Fn(u64) -> bool) -> Self {
        let (failing, failing_among) = first(judged, most / 2, |sample| !passes(sample));
        let left = most - failing.len() as u64;
        let (passing, passing_among) = first(judged, left, &passes);
        let mut numbers = failing;
        numbers.extend(passing);
        numbers.sort_unstable();
        Self { failing_among, passing_among, numbers }
    }
}

/// The first `most` samples of a kind, and how many samples hold no more of the kind.
fn first(judged: u64, most: u64, is_wanted: impl Fn(u64) -> bool) -> (Vec<u64>, u64) {
    let mut found = Vec::new();
    for sample in 0..judged {
        if is_wanted(sample) {
            if found.len() as u64 == most {
                return (found, sample);
            }
            found.push(sample);
        }
    }
    (found, judged)
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

    use super::*;
    use crate::statistics::{Confidence, Estimator, OutcomeChanges};

    #[test]
    fn by_hand() {
        let passes = |sample: u64| sample % 10 != 3;
        let few = RetriedSamples::choose(100, 40, passes);
        assert_eq!((few.failing_among, few.passing_among), (100, 34));
        assert_eq!(few.numbers.len(), 40);
        let many = RetriedSamples::choose(100, 8, passes);
        assert_eq!((many.failing_among, many.passing_among), (43, 5));
        assert_eq!(many.numbers, [0, 1, 2, 3, 4, 13, 23, 33]);
        let all = RetriedSamples::choose(100, 500, passes);
        assert_eq!((all.failing_among, all.passing_among), (100, 100));
        assert_eq!(all.numbers, (0..100).collect::<Vec<_>>());
    }

    /// A population whose samples pass or fail with known probabilities, before and after a change.
    #[derive(Clone, Copy)]
    struct KnownChange {
        saved: f64,
        still_failing: f64,
        lost: f64,
    }

    impl KnownChange {
        /// The outcomes of a study: how often its intervals of difference and yield hold.
        fn study(self, rng: &mut ChaCha8Rng, judged: u64, most: u64) -> [OutcomeChanges; 2] {
            let outcomes: Vec<[bool; 2]> = (0..judged)
                .map(|_| {
                    let p = (rng.next_u64() >> 11) as f64 / 9_007_199_254_740_992.0;
                    let failed = p < self.saved + self.still_failing;
                    let fails = p >= self.saved && p < self.saved + self.still_failing + self.lost;
                    [!failed, !fails]
                })
                .collect();
            let place = |sample: u64| usize::try_from(sample).unwrap();
            let tried = RetriedSamples::choose(judged, most, |sample| outcomes[place(sample)][0]);
            let mut changes = OutcomeChanges {
                failing_among: tried.failing_among,
                passing_among: tried.passing_among,
                ..OutcomeChanges::default()
            };
            for sample in &tried.numbers {
                match outcomes[place(*sample)] {
                    [false, true] => changes.saved += 1,
                    [false, false] => changes.still_failing += 1,
                    [true, false] => changes.lost += 1,
                    [true, true] => {}
                }
            }
            // Who takes the samples that fail for all samples forgets what is lost.
            [changes, OutcomeChanges { passing_among: judged, ..changes }]
        }
    }

    /// 1500 studies where few or many samples fail, and where the failing ones are too many to try all
    /// of them: both intervals err in 5 % at most, plus three standard errors. Errors of a yield on the
    /// side of one verdict: 2.5 %. The wrong count of the last row is found.
    #[test]
    fn intervals_err_as_seldom_as_they_say() {
        let estimator = Estimator::Fixed(Confidence::new(0.95).unwrap());
        let mut rng = ChaCha8Rng::seed_from_u64(21);
        for (saved, still_failing, lost, most) in [
            (0.004, 0.002, 0.0, 300),
            (0.004, 0.002, 0.004, 300),
            (0.05, 0.05, 0.01, 300),
            (0.0, 0.9, 0.01, 200),
            (0.02, 0.01, 0.02, 5000),
        ] {
            let known = KnownChange { saved, still_failing, lost };
            let (mut wrong, mut flattered) = ([0; 4], 0);
            for _ in 0..1500 {
                let [changes, forgetful] = known.study(&mut rng, 2500, most);
                let difference = changes.difference(&estimator).unwrap();
                let now = changes.yield_now(&estimator).unwrap();
                let (change, truth) = (saved - lost, 1.0 - still_failing - lost);
                wrong[0] += u32::from(difference.lower > change);
                wrong[1] += u32::from(difference.upper < change);
                wrong[2] += u32::from(now.lower > truth);
                wrong[3] += u32::from(now.upper < truth);
                flattered += u32::from(forgetful.yield_now(&estimator).unwrap().lower > truth);
            }
            // 2.5 % of 1500 are 37.5, with a standard error of 6.
            assert!(wrong.iter().all(|n| *n <= 56), "{saved} {still_failing} {lost}: {wrong:?}");
            if lost >= 0.01 && most == 300 {
                assert!(flattered > 100, "{flattered}");
            }
        }
    }
}
