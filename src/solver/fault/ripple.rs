//! The ripple of capacitors behind phases whose voltage body diodes hold.
//!
//! In one leg the phases of a group receive voltage from capacitors alone. Body diodes keep each of these
//! voltages at −d or above. The capacitors pass a charge P ≤ Q of the group's charge Q; diodes take the
//! rest. With the charge q moved since the start of an interval, phase k receives
//!
//! ```text
//! V(k) = −d + κ(k) (P − q)   for q < P,   −d after
//! ```
//!
//! The solver knows sources that fall in a straight line, `A(k) − s κ(k) q`. The line that gives a sine of
//! current as much energy, and as much of its own quadrature, has (r = P/Q, cos θ = 1 − 2 r)
//!
//! ```text
//! s = (θ − sin θ cos θ)/π,   A(k) = −d + κ(k) Q (r² + s)/2
//! ```
//!
//! At r = 1 it is the source itself. Where nothing else tells P, all of these voltages sum to zero or less:
//!
//! ```text
//! P = min(Q, n d/K)    for n phases, whose interval ends differ by K Q in sum from zero
//! ```
//!
//! If P = Q, they end above −d: −K Q stands in the place of −n d.
//!
//! The current lags: at first a charge b flows back. Into a capacitor that stands at the voltage of a diode,
//! the diode takes it. So where one phase that receives voltage in the damaged leg lies before one that does not, the
//! capacitor between them passes P = Q + b, with the charge Q of the latter. What this receives has the mean over Q
//!
//! ```text
//! V − κ Q/2 − δ,   δ = κ (b + b²/(2 Q))
//! ```

use std::f64::consts::PI;

use arrayvec::ArrayVec;

use crate::converter::MAX_PHASES;

/// Capacitors of a leg behind the phases of a group.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct HeldRipple {
    /// Their elastance κ that each phase of the group sees, in 1/farad.
    pub(super) elastances: ArrayVec<f64, MAX_PHASES>,
    /// The half of a period in which they act.
    pub(super) half: usize,
    /// What the diodes of all phases of the group drop together, n d, in volt.
    pub(super) drops: f64,
    /// K, in 1/farad; zero where another group tells P.
    pub(super) total: f64,
}

/// The straight lines that stand in for the sources.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SourceLine {
    /// s: share of the elastances that acts.
    pub(super) share: f64,
    /// What the sources of all phases sum to at the start, A, in volt.
    pub(super) start: f64,
}

impl SourceLine {
    /// s, where capacitors pass this ratio r of the charge.
    fn share_of(ratio: f64) -> f64 {
        let cosine = 1.0 - 2.0 * ratio;
        (libm::acos(cosine) - (1.0 - cosine * cosine).sqrt() * cosine) / PI
    }

    /// (r² + s)/2: what A(k) is above −d with it, of κ(k) Q.
    pub(super) fn start_of(ratio: f64) -> f64 {
        0.5 * (ratio * ratio + Self::share_of(ratio))
    }
}

impl HeldRipple {
    /// P where the group itself tells it.
    pub(super) fn passed(&self, charge: f64) -> f64 {
        if self.total * charge > self.drops { self.drops / self.total } else { charge }
    }

    /// The lines for a charge of the group of which the capacitors pass a part.
    pub(super) fn line(&self, charge: f64, passed: f64) -> SourceLine {
        let ratio = if charge > 0.0 { (passed / charge).clamp(0.0, 1.0) } else { 0.0 };
        let share = SourceLine::share_of(ratio);
        let all: f64 = self.elastances.iter().sum();
        let ends =
            if self.total > 0.0 { (self.total * charge).min(self.drops) } else { self.drops };
        SourceLine { share, start: all * charge * SourceLine::start_of(ratio) - ends }
    }
}

/// The charge of a phase beside a capacitor that stands at the voltage of a diode, and what flows back of it at first,
/// in coulomb.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct TakenBack {
    pub(super) charge: f64,
    /// Zero or more.
    pub(super) back: f64,
}

impl TakenBack {
    /// What passes the capacitor.
    pub(super) fn passed(self) -> f64 {
        self.charge + self.back
    }

    /// δ of a capacitor with this elastance, in volt. A phase that moves less than what flows back carries next to
    /// nothing: there δ grows no more.
    pub(super) fn lost(self, elastance: f64) -> f64 {
        let Self { charge, back } = self;
        elastance * back * (1.0 + 0.5 * back / charge.max(back).max(f64::MIN_POSITIVE))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against sums over a sine of current: the same energy, the same quadrature.
    #[test]
    fn lines_give_as_much_energy_and_quadrature() {
        let held =
            HeldRipple { elastances: [2.0].into_iter().collect(), half: 1, drops: 0.8, total: 0.0 };
        for passed in [0.0, 0.3, 1.0, 1.7, 2.0] {
            let line = held.line(2.0, passed);
            let steps = 20_000;
            let (mut energy, mut quadrature) = (0.0, 0.0);
            for n in 0..steps {
                let angle = PI * (f64::from(n) + 0.5) / f64::from(steps);
                let charge = 1.0 - angle.cos();
                let source = -0.8 + 2.0 * (passed - charge).max(0.0);
                let error = line.start - line.share * 2.0 * charge - source;
                energy += error * angle.sin() * PI / f64::from(steps);
                quadrature += error * angle.cos() * PI / f64::from(steps);
            }
            assert!(
                energy.abs() < 1e-6 && quadrature.abs() < 1e-6,
                "{passed}: {energy} {quadrature}"
            );
        }
    }

    /// Against a sum over a current that begins below zero: what the capacitor gives while a diode takes what flows
    /// back.
    #[test]
    fn what_a_diode_takes_is_missing_in_the_mean() {
        let (elastance, lag, steps) = (3.0, 0.7_f64, 100_000);
        let charge_at = |n: f64| lag.cos() - (PI * n / f64::from(steps) - lag).cos();
        let (mut energy, mut lowest) = (0.0, 0.0_f64);
        for n in 0..steps {
            let [from, to] = [f64::from(n), f64::from(n + 1)].map(charge_at);
            let middle = 0.5 * (from + to);
            lowest = lowest.min(middle);
            energy -= elastance * (middle - lowest) * (to - from);
        }
        let charge = 2.0 * lag.cos();
        let own = TakenBack { charge, back: 1.0 - lag.cos() };
        let mean = energy / charge + 0.5 * elastance * charge;
        assert!((mean + own.lost(elastance)).abs() < 1e-4, "{mean} {}", own.lost(elastance));
        assert!((own.passed() - (1.0 + lag.cos())).abs() < 1e-15);
        assert!(TakenBack::default().lost(1.0).abs() < 1e-300);
    }

    /// By hand: two phases with a capacitor of 1 F between them sum to zero while the diodes are off.
    #[test]
    fn phases_beside_a_capacitor_sum_to_zero() {
        let elastances = [1.0, 1.0].into_iter().collect();
        let held = HeldRipple { elastances, half: 0, drops: 1.6, total: 1.0 };
        assert!((held.passed(1.2) - 1.2).abs() < 1e-15 && (held.passed(3.2) - 1.6).abs() < 1e-15);
        // Mean over the charge: the start less half of what it falls by.
        let mean = |charge: f64| {
            let line = held.line(charge, held.passed(charge));
            line.start - 0.5 * line.share * 2.0 * charge
        };
        assert!(mean(1.2).abs() < 1e-12);
        // Each falls by 1.6 V to −0.8 V over half of the charge, and stays there.
        assert!((mean(3.2) + 0.8).abs() < 1e-12);
    }
}
