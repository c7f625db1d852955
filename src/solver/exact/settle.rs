//! The periodic steady state of one phase at a given frequency, from any start.

use super::cycle::{Cycle, Forcing, PerUnitPhase, PhaseUnknowns};

/// Relative step below which a steady state counts as found.
const TOLERANCE: f64 = 1e-10;
/// As small as this, a step that no longer shrinks is rounding.
const ROUNDING: f64 = 1e-8;
/// Unknowns beyond this are no solution: their rounding drowns the equations, and a step is small
/// beside them whatever the equations say.
const LARGEST: f64 = 1e7;
/// Newton steps before averaging is tried.
const NEWTON_STEPS: usize = 12;
/// Rounds of averaging, each longer than the one before.
const ROUNDS: usize = 24;

/// Whether Newton's iteration has arrived: its step vanishes, or is down to rounding.
pub(super) fn arrived(step: f64, last: f64) -> bool {
    step < TOLERANCE || (step < ROUNDING && step > 0.25 * last)
}

/// Whether a point is one at which the equations can hold.
pub(super) fn credible(z: &PhaseUnknowns) -> bool {
    z.amax() < LARGEST
}

/// Rounds of averaging before the phase is damped.
const ROUNDS_UNDAMPED: usize = 4;
/// Damping, as a share of the characteristic impedance, that is as good as none.
const NEGLIGIBLE: f64 = 1e-12;

/// What a charge asks of a phase.
#[allow(clippy::large_enum_variant, reason = "it is taken apart at once, where it arises")]
#[derive(Debug, Clone, Copy)]
pub(super) enum Passing {
    /// It passes the charge, at some amplitude of its source.
    Settled(SettledPhase),
    /// Not even the highest amplitude makes it pass the charge. A tank without loss passes no more
    /// than its reactance lets through, however high the source.
    Beyond,
}

/// A phase at its steady state.
#[derive(Debug, Clone, Copy)]
pub(super) struct SettledPhase {
    pub(super) z: PhaseUnknowns,
    pub(super) cycle: Cycle,
}

impl PerUnitPhase<'_> {
    /// Newton's iteration with the slopes of either side of a start without rectifier current.
    fn newton(&self, z: &mut PhaseUnknowns, forcing: Forcing, h: f64) -> Option<SettledPhase> {
        let start = *z;
        self.iterate(z, forcing, h).or_else(|| {
            *z = start;
            let mut other = *self;
            other.look_below_rest(true);
            other.iterate(z, forcing, h)
        })
    }

    /// Newton's iteration alone. Gives the last point with the outcome.
    fn iterate(&self, z: &mut PhaseUnknowns, forcing: Forcing, h: f64) -> Option<SettledPhase> {
        let mut last = f64::INFINITY;
        for step in 0..NEWTON_STEPS {
            let cycle = self.evaluate(z, h)?;
            let response = cycle.equations(forcing, self.elastance()).respond()?;
            let size = response.base.amax() / (1.0 + z.amax());
            if arrived(size, last) {
                return credible(z).then_some(SettledPhase { z: *z, cycle });
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
    pub(super) fn settle_at_amplitude(
        &self,
        start: &PhaseUnknowns,
        w: f64,
        h: f64,
    ) -> Option<SettledPhase> {
        let mut anchor = *start;
        for round in 1..=ROUNDS {
            let mut z = anchor;
            if let Some(settled) = self.newton(&mut z, Forcing::Amplitude(w), h) {
                return Some(settled);
            }
            if round == ROUNDS_UNDAMPED
                && let Some(settled) = self.settle_by_damping(w, Forcing::Amplitude(w), h)
            {
                return Some(settled);
            }
            for _ in 0..8 * round {
                anchor = self.average(&anchor, w, h)?;
            }
        }
        None
    }

    /// Steady state from that of the same phase with a large series resistance, which is then
    /// taken away step by step, starting at amplitude `w`. Every damped phase has one steady
    /// state, and it moves continuously with the resistance. This leads to where averaging would
    /// take as many periods as the tank stores energy for: close to resonance, without loss.
    fn settle_by_damping(&self, w: f64, forcing: Forcing, h: f64) -> Option<SettledPhase> {
        let impedance = self.characteristic_impedance();
        let mut z = PhaseUnknowns::new(0.0, 0.0, w, w);
        let (mut damping, mut ratio) = (1.0, 0.1);
        z = self.damped(impedance).newton(&mut z, forcing, h)?.z;
        while ratio < 0.97 {
            let next = if damping * ratio < NEGLIGIBLE { 0.0 } else { damping * ratio };
            let mut at = z;
            let phase = self.damped(next * impedance);
            match phase.newton(&mut at, forcing, h) {
                Some(settled) if next == 0.0 => return Some(settled),
                Some(settled) => {
                    (z, damping, ratio) = (settled.z, next, f64::max(0.1, ratio * ratio));
                }
                None => ratio = ratio.sqrt(),
            }
        }
        None
    }

    /// Steady state with charge `q` a half period, of a source of amplitude at most `most`. Falls
    /// back to a search for the amplitude: passivity makes W − κQ/2 rise with Q.
    pub(super) fn settle_at_charge(
        &self,
        start: &PhaseUnknowns,
        q: f64,
        h: f64,
        most: f64,
    ) -> Option<Passing> {
        let mut z = *start;
        if let Some(settled) = self.newton(&mut z, Forcing::Charge(q), h) {
            return Some(Passing::Settled(settled));
        }
        self.search_amplitude(start, q, h, most).or_else(|| {
            // Close to resonance without loss an amplitude barely too high makes a current without
            // bounds, while the charge is met as anywhere else.
            let damped = 1.0 + self.characteristic_impedance() * q / h;
            let settled = self.settle_by_damping(damped, Forcing::Charge(q), h)?;
            let within = settled.cycle.amplitude.value <= most;
            Some(if within { Passing::Settled(settled) } else { Passing::Beyond })
        })
    }

    fn search_amplitude(
        &self,
        start: &PhaseUnknowns,
        q: f64,
        h: f64,
        most: f64,
    ) -> Option<Passing> {
        let mut at = *start;
        let mut charge_at = |w: f64| {
            let settled = self.settle_at_amplitude(&at, w, h)?;
            at = settled.z;
            Some((settled.cycle.charge(), settled.z))
        };
        let (mut low, mut high) = (0.0, most.min(1.0));
        while charge_at(high)?.0 < q {
            if high >= most {
                return Some(Passing::Beyond);
            }
            (low, high) = (high, most.min(2.0 * high));
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let (charge, mut z) = charge_at(middle)?;
            // Near enough, Newton's iteration takes the last stretch at once.
            if (charge - q).abs() < 0.1 * q
                && let Some(settled) = self.newton(&mut z, Forcing::Charge(q), h)
            {
                return Some(Passing::Settled(settled));
            }
            if charge < q { low = middle } else { high = middle }
        }
        None
    }
}
