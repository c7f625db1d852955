//! Voltages of the flying capacitors and across the blocking switches.
//!
//! V(k) is the source voltage at the start of phase k's high interval, Q the common charge. The
//! mid-ripple voltages m(k) of the flying capacitors follow from `m(k−1) − m(k) = V(k) −
//! (Q/2)(1/C(k−1) + 1/C(k))`, m(0) = Vin, m(N) = 0. In full-bridge drive only the mean of both
//! legs' V(k) is determined. Both legs count as having the same mid-ripple voltages. The scenario
//! states how far they may drift apart.

use arrayvec::ArrayVec;

use super::steady_state::{PhaseState, SteadyState};
use crate::converter::{
    Arrangement, ChainDrift, Converter, FlyingCapacitors, MAX_PHASES, NodeValues, OperatingPoint,
    neighbours,
};
use crate::units::Volt;

/// Voltage of one flying capacitor over a period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlyingVoltage {
    /// Half-way between the ends of its ripple.
    pub middle: Volt,
    /// Mean over the period; none where the steady state does not tell what loads the parts.
    pub mean: Option<Volt>,
    /// Lowest instantaneous value.
    pub lowest: Volt,
    /// Highest instantaneous value.
    pub highest: Volt,
}

/// Voltages in one leg of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct LegVoltages {
    /// Every flying capacitor; N − 1 of them.
    pub flying: NodeValues<FlyingVoltage>,
    /// Highest voltage across each high switch. Exact for the first two and the last. Between two flying
    /// capacitors a bound, mostly a few percent of a ripple too high. Where the solver does not tell how their charges
    /// run ahead of each other, it is one ripple at most.
    pub high_blocking: ArrayVec<Volt, MAX_PHASES>,
    /// Highest voltage across each low switch.
    pub low_blocking: ArrayVec<Volt, MAX_PHASES>,
}

/// Voltages in all driven legs of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainVoltages {
    /// One leg in half-bridge drive; in full-bridge drive the driven and the return leg.
    pub legs: ArrayVec<LegVoltages, 2>,
}

impl ChainVoltages {
    /// The highest voltage across any switch when the flying capacitors' voltages may be off so far
    /// either way. Nodes may be off in opposite directions, and then two of them add up.
    pub fn worst_blocking(&self, drift: &ChainDrift) -> Volt {
        Volt(self.blocking(drift).map(|v| v.0).fold(0.0, f64::max))
    }

    /// The same of every switch: leg by leg, the high switches first.
    pub fn blocking(&self, drift: &ChainDrift) -> impl Iterator<Item = Volt> {
        self.legs.iter().flat_map(move |leg| {
            let high = leg.high_blocking.iter().enumerate();
            let high = high.map(|(k, v)| Volt(v.0 + drift.across_high_switch(k).0));
            let low = leg.low_blocking.iter().enumerate();
            high.chain(low.map(|(k, v)| Volt(v.0 + drift.across_phase(k).0)))
        })
    }
}

/// Mid-ripple voltage of the node after each phase of a solved chain, in volt.
pub(super) fn middle_voltages(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
) -> ArrayVec<f64, MAX_PHASES> {
    // In half bridge the return leg has no flying capacitors, and both legs' mean is the one's.
    let kappa = |k: usize| -> f64 {
        let both = converter.flying_elastance(k, Arrangement::Chain, point.drive);
        both.iter().sum::<f64>() / point.drive.legs() as f64
    };
    let mut at = point.input_voltage.0;
    let after_phase = |(k, phase): (usize, &PhaseState)| {
        at -= phase.start_voltage.0 - 0.5 * phase.charge * kappa(k);
        at
    };
    state.phases.iter().enumerate().map(after_phase).collect()
}

/// Mean of the bridge voltage of phase `k`, counted from 0, in a chain: it stands on the resonant capacitor. With two
/// driven legs, whose flying capacitors have the same mid-ripple voltages, it is a quarter of the charge times what
/// their elastances differ by, because the legs' voltages at the start of their high intervals differ by half of it.
pub fn bridge_mean(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
    k: usize,
) -> Volt {
    if point.drive.legs() < 2 {
        return Volt(0.0);
    }
    let Converter { flying, flying_return, .. } = converter;
    Volt(0.25 * state.phases[k].charge * (neighbours(flying, k) - neighbours(flying_return, k)))
}

/// The voltages of a solved chain.
pub fn chain_voltages(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
) -> ChainVoltages {
    let middles = middle_voltages(state, converter, point);
    let legs = [&converter.flying, &converter.flying_return];
    ChainVoltages {
        legs: (0..point.drive.legs())
            .map(|half| {
                let (phases, input) = (&state.phases, point.input_voltage);
                DrivenLeg { phases, flying: legs[half], middles: &middles, half, input }.voltages()
            })
            .collect(),
    }
}

/// One driven leg.
struct DrivenLeg<'a> {
    phases: &'a [PhaseState],
    flying: &'a FlyingCapacitors,
    /// Mid-ripple voltage of the node after each phase.
    middles: &'a [f64],
    /// The half of each phase's period in which the leg's high side is on.
    half: usize,
    input: Volt,
}

impl DrivenLeg<'_> {
    fn voltages(&self) -> LegVoltages {
        let phases = self.phases.len();
        let flying: NodeValues<FlyingVoltage> =
            (1..phases).map(|n| self.flying_voltage(n)).collect();
        LegVoltages {
            high_blocking: (0..phases).map(|k| self.high_blocking(k, &flying)).collect(),
            low_blocking: (0..phases).map(|k| self.low_blocking(k)).collect(),
            flying,
        }
    }

    /// Voltage of the flying capacitor after the n-th phase.
    fn flying_voltage(&self, n: usize) -> FlyingVoltage {
        let (c, middle) = (self.flying[n - 1].0, self.middles[n - 1]);
        let (charged_by, discharged_by) = (&self.phases[n - 1], &self.phases[n]);
        let half_ripple = 0.5 * charged_by.charge / c;
        let (start, end) = (middle - half_ripple, middle + half_ripple);
        let ((in_low, in_high), (out_low, out_high)) =
            (charged_by.charge_range[self.half], discharged_by.charge_range[self.half]);
        let mean_charge = |phase: &PhaseState| Some(phase.stress?.mean_charge[self.half]);
        let means = mean_charge(charged_by).zip(mean_charge(discharged_by));
        FlyingVoltage {
            middle: Volt(middle),
            // Half the period it is charged from its start, the other half discharged from its end.
            mean: means.map(|(come, gone)| Volt(middle + 0.5 * (come - gone) / c)),
            lowest: Volt((start + in_low / c).min(end - out_high / c)),
            highest: Volt((end - out_low / c).max(start + in_high / c)),
        }
    }

    /// Mid-ripple voltage of a node. Node 0 is the input and node N the ground, both without ripple. Node n
    /// between them is the flying capacitor after the n-th phase.
    fn middle(&self, n: usize) -> f64 {
        match n {
            0 => self.input.0,
            _ if n == self.phases.len() => 0.0,
            _ => self.middles[n - 1],
        }
    }

    /// Highest voltage across the low switch of phase `k`: its source voltage while its high side
    /// is on, highest where charge flowed back.
    fn low_blocking(&self, k: usize) -> Volt {
        let phase = &self.phases[k];
        let kappa = neighbours(self.flying, k);
        let start = self.middle(k) - self.middle(k + 1) + 0.5 * phase.charge * kappa;
        Volt(start - kappa * phase.charge_range[self.half].0)
    }

    /// Highest voltage across the high switch of phase `k`. While phase k is low its neighbours are
    /// high: node k − 1 stands on node k − 2's voltage.
    fn high_blocking(&self, k: usize, flying: &[FlyingVoltage]) -> Volt {
        let upper = if k < 2 { self.input.0 } else { flying[k - 2].highest.0 };
        if k == 0 {
            return Volt(upper - self.lowest_while_low(0));
        }
        if k + 1 == self.phases.len() {
            return Volt(upper);
        }
        let apart = upper - self.lowest_while_low(k);
        Volt(if k < 2 { apart } else { apart.min(self.highest_between(k).unwrap_or(apart)) })
    }

    /// Highest voltage between the flying capacitors after phases k − 2 and `k` while phase k is low. Both are then
    /// discharged, by phases k − 1 and k + 1, with a and b for their charges and A and B for the capacitors:
    ///
    /// ```text
    /// u(k−2) − u(k) + (b − a)/B + a (1/B − 1/A)      u: voltages before
    /// ```
    ///
    /// None where it is not told how far b runs ahead of a.
    fn highest_between(&self, k: usize) -> Option<f64> {
        let (upper, lower) = (self.flying[k - 2].0, self.flying[k].0);
        let own = &self.phases[k - 1];
        let lead = own.lead?[self.half] / lower;
        let before = |n: usize, c: f64| self.middles[n] + 0.5 * own.charge / c;
        let slower = 1.0 / lower - 1.0 / upper;
        let (least, most) = own.charge_range[self.half];
        let by_own = (least * slower).max(most * slower);
        Some(before(k - 2, upper) - before(k, lower) + lead + by_own)
    }

    /// Lowest voltage of the flying capacitor after phase `k` while phase k is low.
    fn lowest_while_low(&self, k: usize) -> f64 {
        let (c, q) = (self.flying[k].0, self.phases[k].charge);
        let discharged = self.phases[k + 1].charge_range[self.half].1;
        self.middles[k] + 0.5 * q / c - discharged / c
    }
}
