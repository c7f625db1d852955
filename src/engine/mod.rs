//! Samples by the batch: drawn and solved on all threads, handed on in order.
//!
//! Every sample is a function of seed and number alone and is written to its own place of the
//! batch; whoever consumes the batch sees the samples in order. So the number of threads cannot
//! change a result, and memory holds two batches, however many samples there are: one is consumed
//! while the next is solved.

use std::num::NonZero;
use std::ops::{ControlFlow, Range};
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::solver::{Method, Outcome, Solver};

/// Samples in one batch at most, and fewer where each is solved so often that the batch would take
/// more than [`ROWS`]: it should be done in a fraction of a second, and fit into memory.
const BATCH: usize = 2048;
const ROWS: usize = 1 << 14;
/// Fewer would leave threads waiting for each other.
const LEAST: usize = 64;

/// Most threads for each core. More would take memory and wait for each other.
const THREADS_PER_CORE: usize = 4;

/// What became of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Status {
    /// It delivers the output.
    Solved,
    /// No frequency inside the band delivers it.
    OutOfRange,
    /// The solver failed.
    NotSolved,
}

impl Status {
    /// All of them, in their own order.
    pub const ALL: [Self; 3] = [Self::Solved, Self::OutOfRange, Self::NotSolved];

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Solved => "solved",
            Self::OutOfRange => "out of range",
            Self::NotSolved => "not solved",
        }
    }
}

impl From<&Outcome> for Status {
    fn from(outcome: &Outcome) -> Self {
        match outcome {
            Outcome::Solved(_) => Self::Solved,
            Outcome::OutOfRange => Self::OutOfRange,
            Outcome::NotSolved(_) => Self::NotSolved,
        }
    }
}

/// Why the engine stopped early.
#[derive(Debug, thiserror::Error)]
pub enum EngineError {
    /// The user asked it to.
    #[error("interrupted after {0} samples; no result files were written")]
    Interrupted(u64),
    /// The user asked it to, where nothing is sampled.
    #[error("interrupted; no result files were written")]
    Stopped,
    /// The threads could not be started.
    #[error("cannot start the threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
    /// The system has too little memory for the samples of a batch.
    #[error(
        "not enough memory for a batch of {samples} samples: {megabytes} MB are needed twice; fewer \
         operating points take less"
    )]
    Memory {
        /// Samples of the batch.
        samples: usize,
        /// What they take.
        megabytes: usize,
    },
    /// Whoever consumed a batch failed.
    #[error(transparent)]
    Consumer(#[from] anyhow::Error),
}

/// Figures of consecutive samples: for each sample and case a status and a row of numbers, and numbers of the
/// sample itself.
#[derive(Debug)]
pub struct Batch {
    /// Number of the first sample.
    pub first: u64,
    layout: Layout,
    statuses: Vec<Status>,
    /// Sample by sample.
    numbers: Vec<f64>,
}

impl Batch {
    fn new(layout: Layout) -> Self {
        Self { first: 0, layout, statuses: Vec::new(), numbers: Vec::new() }
    }

    /// Makes room for other samples; what stands there is of no meaning until it is filled.
    ///
    /// # Errors
    ///
    /// When there is not enough memory.
    fn renew(&mut self, first: u64, samples: usize) -> Result<(), EngineError> {
        self.first = first;
        let rows = samples * self.layout.rows;
        let numbers = samples * self.layout.numbers();
        let more = |wanted: usize, held: usize| wanted.saturating_sub(held);
        self.statuses
            .try_reserve_exact(more(rows, self.statuses.len()))
            .and_then(|()| self.numbers.try_reserve_exact(more(numbers, self.numbers.len())))
            .map_err(|_| EngineError::Memory {
                samples,
                megabytes: numbers * size_of::<f64>() / 1_000_000,
            })?;
        self.statuses.resize(rows, Status::NotSolved);
        self.numbers.resize(numbers, f64::NAN);
        Ok(())
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.statuses.len() / self.layout.rows
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.statuses.is_empty()
    }

    /// Status and figures of the batch's sample `n` in a case; the figures are NaN unless solved.
    pub fn row(&self, n: usize, case: usize) -> SampleRow<'_> {
        let Layout { rows, width, .. } = self.layout;
        let first = n * self.layout.numbers() + case * width;
        let figures = &self.numbers[first..first + width];
        SampleRow { status: self.statuses[n * rows + case], figures }
    }

    /// The numbers of the batch's sample `n` itself.
    pub fn own(&self, n: usize) -> &[f64] {
        let numbers = self.layout.numbers();
        &self.numbers[(n + 1) * numbers - self.layout.own..(n + 1) * numbers]
    }
}

/// A sample in a case.
#[derive(Debug, Clone, Copy)]
pub struct SampleRow<'a> {
    /// What became of it.
    pub status: Status,
    /// Its figures; NaN unless solved.
    pub figures: &'a [f64],
}

/// How many rows a sample has, and how long they are.
#[derive(Debug, Clone, Copy)]
pub struct Layout {
    /// Rows a sample, each with a status.
    pub rows: usize,
    /// Numbers in a row.
    pub width: usize,
    /// Numbers of the sample itself, behind those of its rows.
    pub own: usize,
}

impl Layout {
    /// Rows alone. One without numbers has room for one all the same: what is solved is told by the rows.
    pub const fn of_rows(rows: usize, width: usize) -> Self {
        Self { rows, width: if width == 0 { 1 } else { width }, own: 0 }
    }

    /// Numbers a sample.
    const fn numbers(self) -> usize {
        self.rows * self.width + self.own
    }

    /// Samples of a whole batch.
    pub fn batch(&self) -> usize {
        (ROWS / self.rows.max(1)).clamp(LEAST, BATCH)
    }
}

impl Batch {
    /// Fills the rows of all samples; what is left once `stop` is set stays empty.
    fn fill<F>(&mut self, stop: &AtomicBool, fill: &F)
    where
        F: Fn(u64, &mut [Status], &mut [f64]) + Sync,
    {
        let (first, layout) = (self.first, self.layout);
        self.statuses
            .par_chunks_mut(layout.rows)
            .zip(self.numbers.par_chunks_mut(layout.numbers().max(1)))
            .enumerate()
            .for_each(|(n, (statuses, numbers))| {
                if !stop.load(Ordering::Relaxed) {
                    fill(first + n as u64, statuses, numbers);
                }
            });
    }
}

/// The threads that all work of a study is done on, and the user's wish to stop it.
#[derive(Debug)]
pub struct Workers<'a> {
    pool: rayon::ThreadPool,
    stop: &'a AtomicBool,
}

impl<'a> Workers<'a> {
    /// Starts so many threads, but no more than a few a core; 0 takes one a core. Work ends early
    /// once `stop` is set.
    ///
    /// # Errors
    ///
    /// When the threads cannot be started.
    pub fn new(threads: usize, stop: &'a AtomicBool) -> Result<Self, EngineError> {
        let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
        let threads = threads.min(THREADS_PER_CORE * cores);
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build()?;
        Ok(Self { pool, stop })
    }

    /// Whether the user asked to stop.
    pub fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// A method whose searches end once the user asks to stop.
    pub fn solver(&self, method: Method) -> Solver<'a> {
        Solver::new(method, self.stop)
    }

    /// Works on every item; results come in the order of the items.
    ///
    /// # Errors
    ///
    /// [`EngineError::Stopped`] when the user asked to stop before all items were done: a search
    /// that was interrupted found nothing.
    pub fn map<T: Sync, R: Send>(
        &self,
        items: &[T],
        work: impl Fn(&T) -> R + Sync,
    ) -> Result<Vec<R>, EngineError> {
        let unless_stopped = |item| {
            let result = (!self.is_stopped()).then(|| work(item))?;
            (!self.is_stopped()).then_some(result)
        };
        let results: Option<Vec<R>> =
            self.pool.install(|| items.par_iter().map(unless_stopped).collect());
        results.ok_or(EngineError::Stopped)
    }

    /// Changes every item, on all threads.
    pub fn for_each<T: Send>(&self, items: &mut [T], work: impl Fn(&mut T) + Send + Sync) {
        self.pool.install(|| items.par_iter_mut().for_each(work));
    }

    /// Goes through `samples` samples by the batch. `fill` is given the number of a sample, a status
    /// for each of its rows, and the rows, one after the other, then its own numbers; `consume` takes the
    /// batches in order.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, when `consume` fails.
    pub fn batches<F>(
        &self,
        layout: Layout,
        samples: u64,
        fill: F,
        mut consume: impl FnMut(&Batch) -> anyhow::Result<()> + Send,
    ) -> Result<(), EngineError>
    where
        F: Fn(u64, &mut [Status], &mut [f64]) + Sync,
    {
        self.batches_until(layout, 0..samples, fill, |batch| {
            consume(batch).map(|()| ControlFlow::Continue(()))
        })
    }

    /// The same of the samples with these numbers, until `consume` breaks off: then no more batches are
    /// consumed. Where they end follows from the layout alone, not from the number of threads.
    ///
    /// # Errors
    ///
    /// When the user asks to stop, when `consume` fails.
    pub fn batches_until<F>(
        &self,
        layout: Layout,
        samples: Range<u64>,
        fill: F,
        mut consume: impl FnMut(&Batch) -> anyhow::Result<ControlFlow<()>> + Send,
    ) -> Result<(), EngineError>
    where
        F: Fn(u64, &mut [Status], &mut [f64]) + Sync,
    {
        let mut full = Batch::new(layout);
        let mut next = Batch::new(layout);
        self.pool.install(|| {
            let mut first = samples.start;
            loop {
                let left = usize::try_from(samples.end - first).unwrap_or(usize::MAX);
                let count = left.min(layout.batch());
                next.renew(first, count)?;
                let (consumed, ()) = rayon::join(
                    || if full.is_empty() { Ok(ControlFlow::Continue(())) } else { consume(&full) },
                    || next.fill(self.stop, &fill),
                );
                if consumed?.is_break() || next.is_empty() {
                    return Ok(());
                }
                if self.is_stopped() {
                    return Err(EngineError::Interrupted(first - samples.start));
                }
                std::mem::swap(&mut full, &mut next);
                first += count as u64;
            }
        })
    }
}
