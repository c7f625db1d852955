//! Resistances and drops that tanks see, as numbers of like size at any power.

use arrayvec::ArrayVec;

use super::losses::{TankLoad, TankLoads};
use crate::converter::{MAX_PHASES, OperatingPoint};
use crate::units::{Ohm, Volt};

/// The resistances and drops that all tanks see, phase by phase, each as a share of a [`LoadScale`].
pub(super) type LoadNumbers = ArrayVec<f64, { 2 * MAX_PHASES }>;

/// What the output of a phase is to the rectifier: resistances and drops are small shares of it, at any
/// voltage and power.
#[derive(Debug, Clone, Copy)]
pub(super) struct LoadScale {
    resistance: Ohm,
    drop: Volt,
}

impl LoadScale {
    /// That of an operating point which so many phases share.
    pub(super) fn new(point: &OperatingPoint, phases: usize) -> Self {
        let share = point.output_current.0 / phases as f64;
        Self { resistance: Ohm(point.output_voltage.0 / share), drop: point.output_voltage }
    }

    pub(super) fn numbers(&self, loads: &TankLoads) -> LoadNumbers {
        let of_load =
            |load: &TankLoad| [load.resistance.0 / self.resistance.0, load.drop.0 / self.drop.0];
        loads.iter().flat_map(of_load).collect()
    }

    /// The resistances and drops that numbers stand for; none is below zero.
    pub(super) fn loads(&self, numbers: &[f64]) -> TankLoads {
        let load = |pair: &[f64]| TankLoad {
            resistance: Ohm(self.resistance.0 * pair[0].max(0.0)),
            drop: Volt(self.drop.0 * pair[1].max(0.0)),
        };
        numbers.chunks_exact(2).map(load).collect()
    }
}
