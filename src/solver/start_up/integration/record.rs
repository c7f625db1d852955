//! What an integrated start shows.

use crate::units::{Ampere, Joule, Second, Volt};

/// What a switch blocked at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchRecord {
    /// Whether it is in the return leg.
    pub is_return: bool,
    /// Whether it is a high switch.
    pub is_high: bool,
    /// Its phase, counted from 0.
    pub phase: usize,
    /// Highest voltage.
    pub highest: Volt,
    /// That over its normal value: Vin/N, or 2 Vin/N of high switches after the first.
    pub factor: f64,
}

/// A start that was followed to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct IntegratedStart {
    /// Every switch.
    pub switches: Vec<SwitchRecord>,
    /// Highest magnitude of any tank current.
    pub peak_current: Ampere,
    /// What arrived at the output until the input had its voltage, at the output's terminals.
    pub delivered_energy: Joule,
    /// Highest output voltage.
    pub highest_output: Volt,
    /// Time in which some switch blocked more than the wanted factor.
    pub time_above: Second,
    /// Time that was followed.
    pub time: Second,
    /// Voltages of all phases at the end, of the leg in which they are farthest from equal.
    pub phase_voltages: Vec<Volt>,
}

impl IntegratedStart {
    /// The switch that blocked most over its normal value; the first of equal ones.
    pub fn worst(&self) -> Option<&SwitchRecord> {
        self.switches.iter().reduce(|a, b| if b.factor > a.factor * (1.0 + 1e-6) { b } else { a })
    }

    /// Highest factor of any switch.
    pub fn factor(&self) -> f64 {
        self.worst().map_or(0.0, |own| own.factor)
    }

    /// Highest voltage of any switch.
    pub fn highest(&self) -> Volt {
        Volt(self.switches.iter().map(|own| own.highest.0).fold(0.0, f64::max))
    }

    /// Highest voltage of a switch, of both legs the larger.
    pub fn of_both_legs(&self, switch: &SwitchRecord) -> Volt {
        let is_same =
            |own: &&SwitchRecord| (own.is_high, own.phase) == (switch.is_high, switch.phase);
        Volt(self.switches.iter().filter(is_same).map(|own| own.highest.0).fold(0.0, f64::max))
    }

    /// How far the voltage of a phase lies from an equal share at the end, at most, as a share of it.
    pub fn crookedness(&self) -> f64 {
        let mean =
            self.phase_voltages.iter().map(|v| v.0).sum::<f64>() / self.phase_voltages.len() as f64;
        self.phase_voltages.iter().map(|v| (v.0 / mean - 1.0).abs()).fold(0.0, f64::max)
    }
}

/// Highest voltages of the switches of a leg, over its phases.
#[derive(Debug, Clone)]
pub(super) struct LegRecord {
    low: Vec<f64>,
    high: Vec<f64>,
    /// Highest voltage over its normal value in the present period, in shares of Vin/N.
    present: f64,
}

impl LegRecord {
    pub(super) fn new(phases: usize) -> Self {
        Self { low: vec![0.0; phases], high: vec![0.0; phases], present: 0.0 }
    }

    pub(super) fn low(&mut self, phase: usize, voltage: f64) {
        self.low[phase] = self.low[phase].max(voltage);
        self.present = self.present.max(voltage);
    }

    pub(super) fn high(&mut self, phase: usize, voltage: f64) {
        self.high[phase] = self.high[phase].max(voltage);
        self.present = self.present.max(voltage / spans(phase));
    }

    /// What was highest since the last call, of a switch that normally blocks the voltage of one phase.
    pub(super) fn take_present(&mut self) -> f64 {
        std::mem::take(&mut self.present)
    }

    /// All switches, with the normal voltage of a phase.
    pub(super) fn switches(
        &self,
        is_return: bool,
        phase_voltage: f64,
    ) -> impl Iterator<Item = SwitchRecord> {
        let records = move |is_high: bool, values: &[f64]| -> Vec<SwitchRecord> {
            let record = |(phase, highest): (usize, &f64)| SwitchRecord {
                is_return,
                is_high,
                phase,
                highest: Volt(*highest),
                factor: highest / (phase_voltage * if is_high { spans(phase) } else { 1.0 }),
            };
            values.iter().enumerate().map(record).collect()
        };
        records(true, &self.high).into_iter().chain(records(false, &self.low))
    }
}

/// Phases whose voltages a high switch blocks.
fn spans(phase: usize) -> f64 {
    if phase == 0 { 1.0 } else { 2.0 }
}
