//! Current sensors: what one reads of a phase's current.

use arrayvec::ArrayVec;

use super::MAX_PHASES;
use crate::units::Ampere;

/// One current sensor: it reads `gain · i + offset` of the current i that it measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// Gain, 1 for a sensor without error; above zero.
    pub gain: f64,
    /// What it reads of no current.
    pub offset: Ampere,
}

impl Sensor {
    /// A sensor without error.
    pub const IDEAL: Self = Self { gain: 1.0, offset: Ampere(0.0) };

    /// What it reads of a current.
    pub fn reading(self, current: Ampere) -> f64 {
        self.gain * current.0 + self.offset.0
    }
}

/// One sensor a phase.
pub type Sensors = ArrayVec<Sensor, MAX_PHASES>;
