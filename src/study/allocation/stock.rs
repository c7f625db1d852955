//! Parts in stock.

use crate::converter::Tank;
use crate::population::stock::MeasuredPart;
use crate::units::Farad;

/// Parts in stock.
#[derive(Debug, Clone, Default)]
pub struct Stock {
    /// Name of the file that lists the tanks.
    pub tanks_file: String,
    /// How it was read, where that is not the plain form of a CSV file.
    pub tanks_read_as: Option<String>,
    /// Measured tanks.
    pub tanks: Vec<MeasuredPart<Tank>>,
    /// Name of the file that lists the flying capacitors; none when all count as nominal.
    pub capacitors_file: Option<String>,
    /// How it was read, where that is not the plain form.
    pub capacitors_read_as: Option<String>,
    /// Measured flying capacitors.
    pub capacitors: Vec<MeasuredPart<Farad>>,
}

impl Stock {
    /// Whether flying capacitors are allocated; otherwise all count as nominal.
    pub fn lists_capacitors(&self) -> bool {
        self.capacitors_file.is_some()
    }

    /// The converters of so many phases, with so many flying capacitors each, that it is enough for.
    pub fn enough_for(&self, phases: usize, capacitors: usize) -> usize {
        let by_tanks = self.tanks.len() / phases;
        if self.lists_capacitors() {
            by_tanks.min(self.capacitors.len() / capacitors.max(1))
        } else {
            by_tanks
        }
    }
}
