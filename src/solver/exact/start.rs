//! What a solution leaves for converters nearby: a start of the iteration.

use super::half::Hints;
use super::sensitivity::FirstOrderResponse;
use super::system::{ConverterUnknowns, PerPhase};
use crate::converter::{Converter, OperatingPoint};

/// A steady state to start the iteration from, and how it moves with the parts. It serves
/// converters with as many phases at the same operating point: the nominal converter's serves every
/// sample.
#[derive(Debug, Clone)]
pub struct ExactStart {
    pub(super) base: Base,
    pub(super) point: ConverterUnknowns,
    pub(super) sensitivity: Option<FirstOrderResponse>,
    /// Where its rectifier events are.
    pub(super) hints: PerPhase<[Hints; 2]>,
}

/// Units of measure in which a phase's quantities are near one: its source's amplitude, its
/// characteristic impedance, its resonant period over 2π.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Base {
    pub(super) volt: f64,
    pub(super) ohm: f64,
    pub(super) second: f64,
}

impl Base {
    pub(super) fn of_first_phase(converter: &Converter, point: &OperatingPoint) -> Self {
        let (phases, tank) = (converter.phases() as f64, &converter.tanks[0]);
        let amplitude = point.drive.amplitude() * point.input_voltage.0 / phases;
        let (l, c) = (tank.resonant_inductance.0, tank.resonant_capacitance.0);
        Self { volt: amplitude, ohm: (l / c).sqrt(), second: (l * c).sqrt() }
    }

    pub(super) fn ampere(&self) -> f64 {
        self.volt / self.ohm
    }

    pub(super) fn henry(&self) -> f64 {
        self.ohm * self.second
    }

    pub(super) fn farad(&self) -> f64 {
        self.second / self.ohm
    }

    pub(super) fn coulomb(&self) -> f64 {
        self.ampere() * self.second
    }
}
