//! Samples that are tried for one search: those that are likely to fail first, and no more than it takes.

use std::collections::HashSet;
use std::ops::{ControlFlow, Range};

use crate::engine::{Batch, EngineError, Layout, Status, Workers};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;

/// Samples that are tried before it is asked whether the others count.
const AT_A_TIME: u64 = 512;
/// Numbers of failed samples that are kept, at most.
const MOST_SUSPECTS: usize = 1 << 14;

/// Why sampling ended early.
pub(super) enum Stopped {
    /// By the user.
    Interrupted,
    Failed(StudyError),
}

impl<E: Into<StudyError>> From<E> for Stopped {
    fn from(e: E) -> Self {
        Self::Failed(e.into())
    }
}

/// Good samples so far, and those left to try.
#[derive(Debug, Clone, Copy)]
pub(super) struct Counted {
    pub good: u64,
    pub left: u64,
}

/// Samples that were tried.
pub(super) struct Tried {
    pub counted: Counted,
    /// Numbers of those that are not good, the first [`MOST_SUSPECTS`] of them.
    pub failed: Vec<u64>,
}

/// Numbers of samples that are likely not to be good, each once: those that failed last before others.
#[derive(Debug, Default)]
pub(super) struct Suspects(Vec<u64>);

impl Suspects {
    /// Takes in those that failed now.
    pub(super) fn learn(&mut self, mut failed: Vec<u64>) {
        let news: HashSet<u64> = failed.iter().copied().collect();
        failed.extend(self.0.iter().filter(|own| !news.contains(own)));
        failed.truncate(MOST_SUSPECTS);
        self.0 = failed;
    }
}

/// Samples that are tried until that is enough.
pub(super) struct SuspectTrials<'a, G, C> {
    workers: &'a Workers<'a>,
    is_good: G,
    is_certain: C,
    progress: &'a mut dyn Progress,
    counted: Counted,
    failed: Vec<u64>,
}

impl<'a, G, C> SuspectTrials<'a, G, C>
where
    G: Fn(u64) -> bool + Sync,
    C: Fn(Counted) -> Result<bool, Stopped>,
{
    /// None tried yet, of so many.
    pub(super) fn new(
        workers: &'a Workers<'a>,
        is_good: G,
        is_certain: C,
        samples: u64,
        progress: &'a mut dyn Progress,
    ) -> Self {
        let counted = Counted { good: 0, left: samples };
        Self { workers, is_good, is_certain, progress, counted, failed: Vec::new() }
    }

    /// Tries the suspects, then the others, until it is certain; those left do not count.
    pub(super) fn run(mut self, suspects: &Suspects) -> Result<Tried, Stopped> {
        let Suspects(suspects) = suspects;
        let suspect = |n: u64| usize::try_from(n).ok().and_then(|n| suspects.get(n).copied());
        let known: HashSet<u64> = suspects.iter().copied().collect();
        let samples = self.counted.left;
        self.go_through(suspects.len() as u64, suspect)?;
        self.go_through(samples, |n| (!known.contains(&n)).then_some(n))?;
        let Self { progress, counted, failed, .. } = self;
        progress.advance(counted.left);
        Ok(Tried { counted, failed })
    }

    /// Tries the samples that stand at so many places; none stands where it was tried before.
    fn go_through(
        &mut self,
        places: u64,
        at: impl Fn(u64) -> Option<u64> + Sync,
    ) -> Result<(), Stopped> {
        let mut first = 0;
        while first < places && self.counted.left > 0 && !(self.is_certain)(self.counted)? {
            let next = places.min(first + AT_A_TIME);
            self.try_places(first..next, &at)?;
            first = next;
        }
        Ok(())
    }

    fn try_places(
        &mut self,
        places: Range<u64>,
        at: &(impl Fn(u64) -> Option<u64> + Sync),
    ) -> Result<(), Stopped> {
        let Self { workers, is_good, progress, counted, failed, .. } = self;
        let fill = |place: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            statuses[0] = Status::Solved;
            numbers[0] = at(place).map_or(f64::NAN, |own| f64::from(u8::from(is_good(own))));
        };
        let take = |batch: &Batch| {
            let tried = (0..batch.len()).zip(batch.first..);
            for (n, sample) in tried.filter_map(|(n, place)| Some((n, at(place)?))) {
                let is_good = batch.row(n, 0).figures[0] > 0.0;
                counted.good += u64::from(is_good);
                counted.left -= 1;
                if !is_good && failed.len() < MOST_SUSPECTS {
                    failed.push(sample);
                }
                progress.advance(1);
            }
            Ok(ControlFlow::Continue(()))
        };
        match workers.batches_until(Layout::of_rows(1, 1), places, fill, take) {
            Err(EngineError::Interrupted(_)) => Err(Stopped::Interrupted),
            other => Ok(other?),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

    use super::*;
    use crate::study::common::progress::Silent;

    const SAMPLES: u64 = 5000;

    /// Tries samples of which every 50th fails, until 40 failures are there or none are left.
    fn tried(suspects: &[u64]) -> Option<(Tried, u64)> {
        let (stop, asked) = (AtomicBool::new(false), AtomicU64::new(0));
        let workers = Workers::new(2, &stop).ok()?;
        let is_good = |sample: u64| {
            asked.fetch_add(1, Ordering::Relaxed);
            !sample.is_multiple_of(50)
        };
        let is_certain = |own: Counted| Ok(SAMPLES - own.left - own.good >= 40);
        let mut silent = Silent;
        let trials = SuspectTrials::new(&workers, is_good, is_certain, SAMPLES, &mut silent);
        let tried = trials.run(&Suspects(suspects.to_vec())).ok()?;
        Some((tried, asked.into_inner()))
    }

    #[test]
    fn those_that_fail_are_found_sooner_among_suspects_and_each_counts_once() {
        let (all, asked) = tried(&[]).unwrap();
        assert_eq!((all.failed.len(), asked), (41, 4 * AT_A_TIME));
        assert_eq!(all.counted.good + all.counted.left, SAMPLES - 41);
        let failing: Vec<u64> = (0..60).map(|n| 50 * n).collect();
        let (few, asked) = tried(&failing).unwrap();
        assert_eq!((few.failed, asked), (failing, 60));
        // Suspects that pass, and too few that fail: the others follow, none of them twice.
        let (mixed, _) = tried(&[3, 50, 7, 100]).unwrap();
        assert!(mixed.counted.left > 0 && mixed.counted.good + mixed.counted.left < SAMPLES - 40);
        let mut once = mixed.failed.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), mixed.failed.len());
    }

    #[test]
    fn those_that_failed_last_are_suspected_first() {
        let mut suspects = Suspects::default();
        suspects.learn(vec![4, 9, 2]);
        suspects.learn(vec![7, 9]);
        assert_eq!(suspects.0, [7, 9, 4, 2]);
        suspects.learn((100..).take(MOST_SUSPECTS).collect());
        assert_eq!((suspects.0.len(), suspects.0[0]), (MOST_SUSPECTS, 100));
    }
}
