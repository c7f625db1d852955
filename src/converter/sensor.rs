//! Current sensors: what one reads of a phase's current.

use arrayvec::ArrayVec;

use super::{Age, Condition, MAX_PHASES, Parameter};
use crate::units::Ampere;

/// What a loop adjusts in every phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrimmedQuantity {
    /// The value of a part.
    Part(Parameter),
    /// The switching frequency of a paralleled phase. In a chain all phases run at one frequency: there
    /// nothing is left to adjust.
    SwitchingFrequency,
}

impl TrimmedQuantity {
    /// Those that a scenario may name.
    pub const ALL: [Self; 3] = [
        Self::Part(Parameter::ResonantInductance),
        Self::Part(Parameter::ResonantCapacitance),
        Self::SwitchingFrequency,
    ];

    /// The word used in scenario files and results.
    pub fn key(self) -> &'static str {
        match self {
            Self::Part(parameter) => parameter.key(),
            Self::SwitchingFrequency => "switching_frequency",
        }
    }
}

/// One current sensor: it reads `gain · i + offset` of the current i that it measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// Gain, 1 for a sensor without error; above zero.
    pub gain: f64,
    /// What it reads of no current.
    pub offset: Ampere,
    /// Relative change of the gain per kelvin away from the reference temperature.
    pub temperature_coefficient: f64,
    /// Relative change of the gain at the end of life.
    pub drift: f64,
}

impl Sensor {
    /// A sensor without error.
    pub const IDEAL: Self =
        Self { gain: 1.0, offset: Ampere(0.0), temperature_coefficient: 0.0, drift: 0.0 };

    /// The sensor of a phase, counted from 0, as it is under a condition: it changes no further.
    #[must_use]
    pub fn at(self, condition: &Condition, phase: usize) -> Self {
        let above = condition.sensor_above_reference + phase as f64 * condition.phase_rise;
        let drift = if condition.age == Age::EndOfLife { self.drift } else { 0.0 };
        let gain = self.gain * (1.0 + self.temperature_coefficient * above) * (1.0 + drift);
        Self { gain, temperature_coefficient: 0.0, drift: 0.0, ..self }
    }

    /// What it reads of a current.
    pub fn reading(self, current: Ampere) -> f64 {
        self.gain * current.0 + self.offset.0
    }
}

/// One sensor a phase.
pub type Sensors = ArrayVec<Sensor, MAX_PHASES>;

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 ppm/K at 40 and 50 K, then a drift of 1 % at the end of life.
    #[test]
    fn gain_follows_temperature_and_age() {
        let sensor = Sensor { temperature_coefficient: 1e-4, drift: 0.01, ..Sensor::IDEAL };
        let hot =
            Condition { sensor_above_reference: 40.0, phase_rise: 10.0, ..Condition::default() };
        assert!((sensor.at(&hot, 0).gain - 1.004).abs() < 1e-15);
        assert!((sensor.at(&hot, 1).gain - 1.005).abs() < 1e-15);
        let old = hot.aged(Age::EndOfLife);
        assert!((sensor.at(&old, 1).gain - 1.005 * 1.01).abs() < 1e-15);
        assert_eq!(sensor.at(&old, 1).at(&old, 1), sensor.at(&old, 1));
    }
}
