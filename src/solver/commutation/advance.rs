//! The way through the dead time, from event to event.

use super::leg::MovingLeg;
use super::motion::Motion;
use super::stretch::LinearStretch;

/// Stretches after which a dead time is given up: hundreds of times as many as any has taken.
pub(super) const MOST_STRETCHES: usize = 5000;
/// How much longer a stretch is tried than the last one was accurate for.
const LONGER: f64 = 1.5;

impl<const ROOM: usize> Motion<ROOM> {
    /// Goes on for a time. None where that takes too many stretches: nothing is known then.
    pub(super) fn advance(&mut self, time: f64) -> Option<()> {
        self.advance_in_steps(time, 1, |_, _| ())
    }

    /// Goes on for some equal steps of time, and shows itself after each, which count from 0. None where
    /// that takes too many stretches: nothing is known then.
    pub(super) fn advance_in_steps(
        &mut self,
        step: f64,
        steps: usize,
        mut show: impl FnMut(usize, &Self),
    ) -> Option<()> {
        let time = step * steps as f64;
        let (mut passed, mut length, mut next) = (0.0, time, 0);
        let mut stretch = LinearStretch::NONE;
        for _ in 0..MOST_STRETCHES {
            let left = time - passed;
            if left <= 1e-12 * time {
                (next..steps).for_each(|n| show(n, self));
                return Some(());
            }
            stretch.begin(self, f64::min(length, left));
            let end = stretch.end(self);
            while next < steps {
                let u = ((next + 1) as f64 * step - passed) / stretch.length();
                if u >= end.u {
                    break;
                }
                stretch.go(self, u);
                show(next, self);
                next += 1;
            }
            stretch.go(self, end.u);
            passed += end.u * stretch.length();
            match end.event {
                Some(event) => self.pass(event),
                None => self.legs.iter_mut().for_each(MovingLeg::tie),
            }
            length = if stretch.accurate() < 1.0 {
                f64::max(LONGER * stretch.accurate() * stretch.length(), 1e-6 * time)
            } else {
                time
            };
        }
        None
    }
}
