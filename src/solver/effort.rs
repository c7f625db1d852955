//! How much work one search may take, counted in half turns of a ring and never in time: the same
//! search ends at the same place on every machine. And the user's wish to stop, seen from inside.

use std::cell::Cell;
use std::sync::atomic::{AtomicBool, Ordering};

use super::steady_state::Unsolved;

/// What is left of the work that a search may take.
///
/// The unit is one followed stretch of a half period, or one half turn of the ring in it.
#[derive(Debug)]
pub struct Effort<'a> {
    granted: f64,
    left: Cell<f64>,
    stop: Option<&'a AtomicBool>,
}

/// Work that a search for one converter's steady state may take: about a second. Of 80 000 searches
/// over the whole plausible space none took more than a quarter of it.
pub(super) const SEARCH: f64 = 4e6;

impl Default for Effort<'_> {
    /// The work of one search, never stopped.
    fn default() -> Self {
        Self::new(SEARCH, None)
    }
}

impl<'a> Effort<'a> {
    /// So much work, or less once `stop` is set.
    pub fn new(granted: f64, stop: Option<&'a AtomicBool>) -> Self {
        Self { granted, left: Cell::new(granted), stop }
    }

    /// Takes off some work; `None` once nothing is left, or the user wishes to stop.
    pub(super) fn spend(&self, work: f64) -> Option<()> {
        self.left.set(self.left.get() - work);
        (self.left.get() > 0.0 && !self.is_stopped()).then_some(())
    }

    /// Whether so much is left; if not, nothing is.
    pub(super) fn afford(&self, work: f64) -> Option<()> {
        if work < self.left.get() {
            return Some(());
        }
        self.left.set(0.0);
        None
    }

    /// Work that may be taken.
    pub fn granted(&self) -> f64 {
        self.granted
    }

    /// Work taken so far, as a share of what may be taken.
    pub fn share_taken(&self) -> f64 {
        1.0 - self.left.get() / self.granted
    }

    /// Why a search that found nothing ended, if the work was the reason.
    pub(super) fn exhaustion(&self) -> Option<Unsolved> {
        if self.is_stopped() {
            Some(Unsolved::Interrupted)
        } else {
            (self.left.get() <= 0.0).then_some(Unsolved::TooMuchWork)
        }
    }

    fn is_stopped(&self) -> bool {
        self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
    }
}
