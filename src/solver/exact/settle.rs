//! The periodic steady state of one phase at a given frequency, from any start.

use super::cycle::{Cycle, Forcing, Phase, Unknowns};

/// Relative step below which a steady state counts as found.
const TOLERANCE: f64 = 1e-11;
/// As small as this, a step that no longer shrinks is rounding.
const ROUNDING: f64 = 1e-8;
/// Newton steps before averaging is tried.
const NEWTON_STEPS: usize = 12;
/// Rounds of averaging, each longer than the one before.
const ROUNDS: usize = 24;

/// Whether Newton's iteration has arrived: its step vanishes, or is down to rounding.
pub(super) fn arrived(step: f64, last: f64) -> bool {
    step < TOLERANCE || (step < ROUNDING && step > 0.25 * last)
}

/// A phase at its steady state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settled {
    pub(super) z: Unknowns,
    pub(super) cycle: Cycle,
}

impl Phase {
    /// Newton's iteration alone. Gives the last point with the outcome.
    fn newton(&self, z: &mut Unknowns, forcing: Forcing, h: f64) -> Option<Settled> {
        let mut last = f64::INFINITY;
        for step in 0..NEWTON_STEPS {
            let cycle = self.evaluate(z, h)?;
            let response = cycle.respond(forcing, self.circuits()[0].elastance())?;
            let size = response.base.amax() / (1.0 + z.amax());
            if arrived(size, last) {
                return Some(Settled { z: *z, cycle });
            }
            if step > 3 && size > 2.0 * last {
                return None;
            }
            last = size;
            *z += response.base;
        }
        None
    }

    /// Steady state under a source of amplitude `w`: Newton's iteration, helped by averaging,
    /// which converges from everywhere.
    pub(super) fn settle_at_amplitude(&self, start: &Unknowns, w: f64, h: f64) -> Option<Settled> {
        let mut anchor = *start;
        for round in 1..=ROUNDS {
            let mut z = anchor;
            if let Some(settled) = self.newton(&mut z, Forcing::Amplitude(w), h) {
                return Some(settled);
            }
            for _ in 0..8 * round {
                anchor = self.average(&anchor, w, h)?;
            }
        }
        None
    }

    /// Steady state with charge `q` a half period. Falls back to a search for the amplitude:
    /// passivity makes W − κQ/2 rise with Q.
    pub(super) fn settle_at_charge(&self, start: &Unknowns, q: f64, h: f64) -> Option<Settled> {
        let mut z = *start;
        if let Some(settled) = self.newton(&mut z, Forcing::Charge(q), h) {
            return Some(settled);
        }
        self.search_amplitude(start, q, h)
    }

    fn search_amplitude(&self, start: &Unknowns, q: f64, h: f64) -> Option<Settled> {
        let mut at = *start;
        let mut charge_at = |w: f64| {
            let settled = self.settle_at_amplitude(&at, w, h)?;
            at = settled.z;
            Some((settled.cycle.charge(), settled.z))
        };
        let (mut low, mut high) = (0.0, 1.0);
        while charge_at(high)?.0 < q {
            (low, high) = (high, 2.0 * high);
            if high > 1e6 {
                return None;
            }
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let (charge, mut z) = charge_at(middle)?;
            // Near enough, Newton's iteration takes the last stretch at once.
            if (charge - q).abs() < 0.1 * q
                && let Some(settled) = self.newton(&mut z, Forcing::Charge(q), h)
            {
                return Some(settled);
            }
            if charge < q { low = middle } else { high = middle }
        }
        None
    }
}
