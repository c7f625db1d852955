//! What switches block where a fault leaves no current, or none that is known.

use super::case::FaultCase;
use super::effect::Effect;
use super::leg::LegRemainder;
use super::outcome::BlockingRange;
use crate::converter::{Converter, FailureMode};
use crate::units::Volt;

impl FaultCase {
    /// The highest voltage across any switch of a chain that is stopped or out of range.
    ///
    /// Phases that a short leaves share the input equally, where all legs are alike. Else it is open how the
    /// legs or the nodes settle. A stopped chain ends where its phases reach their thresholds; magnetising
    /// losses then drain what an open tank leaves. Behind a dead gate the capacitors empty. So the input is the most that any switch
    /// may see, but for the low switch at an open capacitor of a full bridge: no diode takes the current
    /// that it turns off.
    pub fn blocking_without_current(&self, converter: &Converter) -> BlockingRange {
        let input = self.point.input_voltage;
        let converter = &*converter.at(&self.point.condition);
        match Effect::of(&self.fault, converter, self.point.drive) {
            Effect::Passes(legs) => self.remaining_range(&legs),
            Effect::Stops => {
                let lowest = self.stopped(converter).map_or(input.0, |end| {
                    let phases: Vec<f64> = end.phases.iter().map(|v| v.0).collect();
                    phases.windows(2).map(|pair| pair[0] + pair[1]).fold(phases[0], f64::max)
                });
                let is_held = self.fault.failure == FailureMode::RectifierOpen && lowest < input.0;
                let highest = if is_held { Volt(lowest) } else { input };
                BlockingRange { lowest: Volt(lowest), highest }
            }
            Effect::OneLegDrives(_) => {
                let is_open = self.fault.failure == FailureMode::FlyingCapacitorOpen;
                let highest = if is_open { Volt(f64::INFINITY) } else { input };
                BlockingRange { lowest: input, highest }
            }
            Effect::ShortsInput => BlockingRange { lowest: input, highest: input },
        }
    }

    /// The same of a chain that passes charge, but too little.
    fn remaining_range(&self, legs: &[LegRemainder]) -> BlockingRange {
        let input = self.point.input_voltage;
        let is_alike = legs.iter().all(|leg| leg.fed == legs[0].fed);
        let is_known = match self.fault.failure {
            FailureMode::FlyingCapacitorAged(_) | FailureMode::LowGateOff => false,
            _ => is_alike,
        };
        if is_known {
            let of_leg = |leg: &LegRemainder| equal_voltages(leg, input.0);
            return BlockingRange::exactly(legs.iter().map(of_leg).fold(0.0, f64::max));
        }
        // One phase has the mean voltage at least.
        let fewest = legs.iter().map(LegRemainder::fed_phases).min().unwrap_or(1).max(1);
        BlockingRange { lowest: Volt(input.0 / fewest as f64), highest: input }
    }
}

/// The most that a switch of a leg blocks whose phases share the input equally: a high switch that of
/// two neighbours.
fn equal_voltages(leg: &LegRemainder, input: f64) -> f64 {
    let of_phase = input / leg.fed_phases() as f64;
    let is_pair = leg.fed.windows(2).any(|pair| pair[0] && pair[1]);
    if is_pair { 2.0 * of_phase } else { of_phase }
}
