//! Parts in stock.

use super::plan::PartExchange;
use crate::converter::{Parameter, Tank};
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

    /// The serial of the tank that holds a part to be exchanged, or of the flying capacitor.
    pub fn serial_of(&self, exchange: PartExchange) -> &str {
        let PartExchange { parameter, stocked, .. } = exchange;
        let capacitor = || self.capacitors.get(stocked).map(|own| &own.serial);
        let tank = || self.tanks.get(stocked).map(|own| &own.serial);
        let is_capacitor = parameter == Parameter::FlyingCapacitance;
        (if is_capacitor { capacitor() } else { tank() }).map_or("", String::as_str)
    }

    /// How many converters of so many phases, with so many flying capacitors each, it is enough for.
    pub fn reach(&self, phases: usize, capacitors: usize) -> StockReach {
        StockReach {
            tanks: self.tanks.len() / phases,
            capacitors: (self.lists_capacitors() && capacitors > 0)
                .then(|| self.capacitors.len() / capacitors),
        }
    }
}

/// How many converters the parts of each kind are enough for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StockReach {
    /// The tanks.
    pub tanks: usize,
    /// The flying capacitors; none where they count as nominal.
    pub capacitors: Option<usize>,
}

impl StockReach {
    /// Converters that all of them together are enough for.
    pub fn converters(self) -> usize {
        self.capacitors.map_or(self.tanks, |capacitors| capacitors.min(self.tanks))
    }
}
