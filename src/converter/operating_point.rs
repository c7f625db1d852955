//! What a converter has to do.

use super::{Condition, Configuration, Drive, Rectifier};
use crate::units::{Ampere, Volt};

/// One operating point of the converter, fully specified.
#[derive(Debug, Clone, PartialEq)]
pub struct OperatingPoint {
    /// What the scenario calls it.
    pub name: String,
    /// Voltage at the input of the chain.
    pub input_voltage: Volt,
    /// Voltage at the common output.
    pub output_voltage: Volt,
    /// Current of the common output, all phases together.
    pub output_current: Ampere,
    /// Drive of every phase.
    pub drive: Drive,
    /// Rectifier of every phase.
    pub rectifier: Rectifier,
    /// Temperature and age of the parts.
    pub condition: Condition,
}

impl OperatingPoint {
    /// Drive and rectifier.
    pub fn configuration(&self) -> Configuration {
        Configuration { drive: self.drive, rectifier: self.rectifier }
    }
}
