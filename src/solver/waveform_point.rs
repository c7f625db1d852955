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
    /// What the rectifier delivers to the output: the difference times the turns ratio. Of a voltage
    /// doubler half of that, because each capacitor takes every other half wave.
    pub rectified_current: Ampere,
    /// Voltage between the phase's bridge nodes, which drives the tank. In a chain it is that between the
    /// flying capacitors on both sides of the phase, and falls by their ripple.
    pub bridge_voltage: Volt,
    /// Voltage of the resonant capacitor. In full-bridge drive of a chain it includes the small mean of the
    /// bridge voltage that unequal flying capacitors of both legs leave.
    pub capacitor_voltage: Volt,
    /// Voltage of the flying capacitor between this phase and the next, in the driven and in the return
    /// leg. None in the last phase, in a leg that does not switch, and without a chain.
    pub flying_voltages: [Option<Volt>; 2],
}
