//! Voltages of the flying capacitors and across the blocking switches.
//!
//! With V(k) the source voltage at the start of phase k's high interval and Q the common charge,
//! the mid-ripple voltages m(k) of the flying capacitors follow from
//! `m(k−1) − m(k) = V(k) − (Q/2)(1/C(k−1) + 1/C(k))`, m(0) = Vin, m(N) = 0. In full-bridge drive
//! only the mean of both legs' V(k) is determined; both legs are taken to have the same mid-ripple
//! voltages, and a split between them is a margin that the scenario states.

use arrayvec::ArrayVec;

use super::{PhaseState, SteadyState};
use crate::converter::{
    Arrangement, Converter, FlyingCapacitors, MAX_PHASES, OperatingPoint, neighbours,
};
use crate::units::Volt;

/// Voltage of one flying capacitor over a period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlyingVoltage {
    /// Half-way between the ends of its ripple.
    pub middle: Volt,
    /// Lowest instantaneous value.
    pub lowest: Volt,
    /// Highest instantaneous value.
    pub highest: Volt,
}

/// Voltages in one leg of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct LegVoltages {
    /// Every flying capacitor; N − 1 of them.
    pub flying: ArrayVec<FlyingVoltage, { MAX_PHASES - 1 }>,
    /// Highest voltage across each high switch. Exact for the first two and the last; between two
    /// flying capacitors a bound, at most one ripple too high.
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
    /// The highest voltage across any switch when every flying capacitor's voltage may be off by
    /// `split` either way. Nodes may be off in opposite directions, and then two of them add up.
    pub fn worst_blocking(&self, split: Volt) -> Volt {
        let worst = |leg: &LegVoltages| {
            let phases = leg.low_blocking.len();
            // How many flying capacitors stand in the path of a switch.
            let high = leg.high_blocking.iter().enumerate().map(|(k, v)| {
                let flying = usize::from(k >= 2) + usize::from(k + 1 < phases);
                v.0 + flying as f64 * split.0
            });
            let low = leg.low_blocking.iter().enumerate().map(|(k, v)| {
                let flying = usize::from(k >= 1) + usize::from(k + 1 < phases);
                v.0 + flying as f64 * split.0
            });
            high.chain(low).fold(0.0, f64::max)
        };
        Volt(self.legs.iter().map(worst).fold(0.0, f64::max))
    }
}

/// The voltages of a solved chain.
pub fn chain_voltages(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
) -> ChainVoltages {
    // In half bridge the return leg has no flying capacitors, and both legs' mean is the one's.
    let kappa = |k: usize| -> f64 {
        let both = converter.flying_elastance(k, Arrangement::Chain, point.drive);
        both.iter().sum::<f64>() / point.drive.legs() as f64
    };
    let mut at = point.input_voltage.0;
    let middles: ArrayVec<f64, MAX_PHASES> = state
        .phases
        .iter()
        .enumerate()
        .map(|(k, p)| {
            at -= p.start_voltage.0 - 0.5 * p.charge * kappa(k);
            at
        })
        .collect();
    let legs = [&converter.flying, &converter.flying_return];
    ChainVoltages {
        legs: (0..point.drive.legs())
            .map(|half| leg_voltages(&state.phases, legs[half], &middles, (half, point)))
            .collect(),
    }
}

/// One leg, whose own high intervals are the given half of each phase's period.
fn leg_voltages(
    phases: &[PhaseState],
    flying: &FlyingCapacitors,
    middles: &[f64],
    (half, point): (usize, &OperatingPoint),
) -> LegVoltages {
    // Node 0 is the input and node N the ground: no ripple there.
    let node = |n: usize| -> FlyingVoltage {
        if n == 0 || n == phases.len() {
            let v = if n == 0 { point.input_voltage } else { Volt(0.0) };
            return FlyingVoltage { middle: v, lowest: v, highest: v };
        }
        let (c, middle) = (flying[n - 1].0, middles[n - 1]);
        let (charged_by, discharged_by) = (&phases[n - 1], &phases[n]);
        let (start, end) =
            (middle - 0.5 * charged_by.charge / c, middle + 0.5 * charged_by.charge / c);
        let ((in_low, in_high), (out_low, out_high)) =
            (charged_by.charge_range[half], discharged_by.charge_range[half]);
        FlyingVoltage {
            middle: Volt(middle),
            lowest: Volt((start + in_low / c).min(end - out_high / c)),
            highest: Volt((end - out_low / c).max(start + in_high / c)),
        }
    };
    // While phase k's high side is on: its source voltage, highest where charge flowed back.
    let low_blocking = |k: usize| {
        let (upper, lower) = (node(k).middle.0, node(k + 1).middle.0);
        let kappa = neighbours(flying, k);
        let start = upper - lower + 0.5 * phases[k].charge * kappa;
        Volt(start - kappa * phases[k].charge_range[half].0)
    };
    // While phase k is low its neighbours are high: node k − 1 stands on node k − 2's voltage.
    let high_blocking = |k: usize| {
        let upper = node(k.saturating_sub(1)).highest.0;
        if k == 0 {
            return Volt(upper - while_discharging(phases, flying, middles, (0, half)));
        }
        let lower = if k + 1 == phases.len() {
            0.0
        } else {
            while_discharging(phases, flying, middles, (k, half))
        };
        Volt(upper - lower)
    };
    LegVoltages {
        flying: (1..phases.len()).map(node).collect(),
        high_blocking: (0..phases.len()).map(high_blocking).collect(),
        low_blocking: (0..phases.len()).map(low_blocking).collect(),
    }
}

/// Lowest voltage of the flying capacitor after phase `k` while phase k is low.
fn while_discharging(
    phases: &[PhaseState],
    flying: &FlyingCapacitors,
    middles: &[f64],
    (k, half): (usize, usize),
) -> f64 {
    let (c, q) = (flying[k].0, phases[k].charge);
    middles[k] + 0.5 * q / c - phases[k + 1].charge_range[half].1 / c
}
