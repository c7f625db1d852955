//! What body diodes leave of the voltages of a sound leg beside a damaged one, while none of them conducts.
//!
//! Phases 1 … N, C(k) between the phases k and k + 1, all charges Q. A tank current that lags moves a charge b back at
//! first, and up to Q⁺ ≥ Q in between. V(k) is the voltage that phase k receives at the start of its high interval.
//! Node k stands at S(k) while phase k is high, and at zero else. So the low diode keeps V(k) at −d or above to the
//! end of the interval, and the diode of high switch k keeps S(k−1) + V(k) there while phase k is low:
//!
//! ```text
//! one phase     V(k) ≥ −d + κ(k) Q⁺,                     κ(k) = 1/C(k−1) + 1/C(k)
//! the first     V(1) ≥ −d + (Q + b)/C(1)                 while the second one is high
//! two in a row  V(k−1) + V(k) ≥ −d + κ(k) Q + q/C(k−2) − q/C(k)   for q from −b to Q⁺
//! ```
//!
//! Where nothing but the sum of the voltages of some phases is given, they may be chosen so that it is the least
//! with which all of these hold: the largest sum of right sides in which each phase counts once, alone or in a pair
//! (both are linear programmes, dual to each other; in a row of phases the dual has a whole solution).

use super::leg::LegRemainder;
use crate::solver::steady_state::PhaseState;

/// The sound leg of a full bridge whose other leg is damaged.
pub(super) struct SoundLeg<'a> {
    pub(super) leg: &'a LegRemainder,
    /// The half of a period in which it is high.
    pub(super) half: usize,
    /// Which phases receive voltage in the damaged leg, too: of these the sum alone is given.
    pub(super) fed: &'a [bool],
    pub(super) phases: &'a [PhaseState],
    /// d, in volt.
    pub(super) drop: f64,
}

impl SoundLeg<'_> {
    /// Whether diodes hold two phases in a row together rather than each by itself.
    pub(super) fn holds_pairs(&self) -> bool {
        let fed = (0..self.phases.len()).filter(|k| self.fed[*k]);
        self.least_sum() > fed.map(|k| self.alone(k)).sum::<f64>()
    }

    /// The least that the voltages of the phases that receive voltage in both legs may sum to, in volt.
    pub(super) fn least_sum(&self) -> f64 {
        // Up to the phase before the last one, and up to the last one.
        let (mut before, mut least) = (0.0, 0.0);
        for k in 0..self.phases.len() {
            let alone = if self.fed[k] { least + self.alone(k) } else { least };
            let is_pair = k > 0 && self.fed[k - 1] && self.fed[k];
            let next = if is_pair { f64::max(alone, before + self.pair(k)) } else { alone };
            (before, least) = (least, next);
        }
        least
    }

    /// 1/C of the capacitor after a phase, if there is one.
    fn after(&self, k: usize) -> f64 {
        self.leg.jumps.get(k).copied().unwrap_or(0.0)
    }

    /// b and Q⁺ of a phase, in coulomb.
    fn range(&self, k: usize) -> [f64; 2] {
        let (low, high) = self.phases.get(k).map_or((0.0, 0.0), |own| own.charge_range[self.half]);
        [-low, high]
    }

    /// The least voltage of one phase.
    fn alone(&self, k: usize) -> f64 {
        let [_, highest] = self.range(k);
        let own = self.leg.elastances[k] * highest;
        if k > 0 {
            return own - self.drop;
        }
        let [back, _] = self.range(1);
        own.max(self.after(0) * (self.phases[0].charge + back)) - self.drop
    }

    /// The least sum of the voltages of a phase and the one before it.
    fn pair(&self, k: usize) -> f64 {
        let before = if k > 1 { self.after(k - 2) } else { 0.0 };
        let ([back, _], [_, highest]) = (self.range(k + 1), self.range(k - 1));
        let slope = before - self.after(k);
        let falls = if slope > 0.0 { slope * highest } else { -slope * back };
        self.leg.elastances[k] * self.phases[k].charge + falls - self.drop
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Farad;

    /// The least sum in volt, of four phases of which the first two receive voltage, with capacitors of 1 F, a
    /// charge of 0.2 C that is 0.3 C in between, and 0.1 C that flows back.
    fn least_sum(drop: f64) -> f64 {
        let own = PhaseState { charge: 0.2, charge_range: [(-0.1, 0.3); 2], ..Default::default() };
        let leg = LegRemainder::new(&[Farad(1.0); 3], None);
        let fed = [true, true, false, false];
        SoundLeg { leg: &leg, half: 1, fed: &fed, phases: &[own; 4], drop }.least_sum()
    }

    /// By hand. Alone the first phase needs 0.3 V less a drop, the second one 0.6 V less a drop. Together they need
    /// 0.4 V by the charge of the second one, and 0.1 V by what flows back behind it, less one drop.
    #[test]
    fn diodes_keep_two_phases_alone_or_together() {
        // Low ripple: the pair decides. High ripple: each phase does.
        for (drop, least) in [(0.8, 0.5 - 0.8), (0.5, 0.5 - 0.5), (0.1, 0.9 - 0.2)] {
            assert!((least_sum(drop) - least).abs() < 1e-12, "{drop}: {}", least_sum(drop));
        }
    }

    /// By hand, without ripple: a row of phases counts one drop a pair, and none where a phase receives no voltage.
    #[test]
    fn each_phase_counts_once() {
        let leg = LegRemainder::new(&[Farad(1.0); 5], None);
        let least = |fed: [bool; 6]| {
            let phases = &[PhaseState::default(); 6];
            SoundLeg { leg: &leg, half: 0, fed: &fed, phases, drop: 1.0 }.least_sum()
        };
        let (t, f) = (true, false);
        for (fed, expected) in [
            ([t, f, f, f, f, f], -1.0),
            ([t, t, t, f, f, f], -2.0),
            ([f, f, t, t, t, t], -2.0),
            ([t, f, t, f, t, t], -3.0),
            ([f; 6], 0.0),
        ] {
            assert!((least(fed) - expected).abs() < 1e-12, "{fed:?}: {}", least(fed));
        }
    }
}
