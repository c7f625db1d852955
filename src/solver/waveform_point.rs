//! Currents and voltages of a phase at one instant.

use crate::units::{Ampere, Second, Volt};

/// A phase at one instant. Signs and basis as in [`TankState`](super::TankState): currents are those of the
/// tank as it is, in both arrangements.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaveformPoint {
    /// Time.
    pub time: Second,
    /// Current through the resonant inductance and the resonant capacitor.
    pub tank_current: Ampere,
    /// Current through the magnetising inductance; the rectifier carries the difference.
    pub magnetising_current: Ampere,
    /// Voltage between the phase's bridge nodes, which drives the tank. In a chain it falls by the ripple of
    /// the flying capacitors.
    pub source_voltage: Volt,
    /// Voltage of the resonant capacitor.
    pub capacitor_voltage: Volt,
}

impl WaveformPoint {
    /// What the rectifier carries, referred to the primary.
    pub fn rectified_current(&self) -> Ampere {
        Ampere((self.tank_current.0 - self.magnetising_current.0).abs())
    }
}
