//! The four variants that are compared, and what each adds to the converter.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, ConverterSize, Parameter, TrimmedQuantity};
use crate::scenario::{PerPart, Scenario, SensorRequest};

/// A way to build the converter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Variant {
    /// (a) Paralleled bridges and nothing else.
    Paralleled,
    /// (b) A chain with charge-balancing capacitors.
    Chain,
    /// (c) Paralleled, a current sensor and a trim loop a phase.
    ParalleledWithSensors,
    /// (d) A chain with sensors and loops as well.
    ChainWithSensors,
}

impl Variant {
    /// (a) to (d).
    pub const ALL: [Self; 4] =
        [Self::Paralleled, Self::Chain, Self::ParalleledWithSensors, Self::ChainWithSensors];

    /// Its place in [`Self::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// `a` to `d`.
    pub fn letter(self) -> char {
        ['a', 'b', 'c', 'd'][self.index()]
    }

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Paralleled => "paralleled",
            Self::Chain => "chain",
            Self::ParalleledWithSensors => "paralleled-with-sensors",
            Self::ChainWithSensors => "chain-with-sensors",
        }
    }

    /// The arrangement of its phases at the input.
    pub fn arrangement(self) -> Arrangement {
        match self {
            Self::Paralleled | Self::ParalleledWithSensors => Arrangement::Paralleled,
            Self::Chain | Self::ChainWithSensors => Arrangement::Chain,
        }
    }

    /// Whether it has sensors and loops.
    pub fn has_sensors(self) -> bool {
        matches!(self, Self::ParalleledWithSensors | Self::ChainWithSensors)
    }
}

/// Hours of a year.
const HOURS_OF_A_YEAR: f64 = 8760.0;

/// How many parts of each kind a variant adds, and what all of it comes to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BillOfParts {
    /// Flying capacitors: N − 1 a driven leg.
    pub flying_capacitors: usize,
    /// Current sensors: one a phase.
    pub sensors: usize,
    /// Trim elements with their loops: one a phase, none where nothing is left to trim.
    pub trim_elements: usize,
    /// Price of the converter with them.
    pub price: f64,
    /// Failure rate of the converter with them, in FIT: the sum over all parts, each of which is
    /// taken to fail the converter (parts count; common practice, no source).
    pub failure_rate: f64,
}

impl BillOfParts {
    /// What a variant needs, with so many switching legs a phase.
    pub fn new(
        variant: Variant,
        scenario: &Scenario,
        request: &SensorRequest,
        legs: usize,
    ) -> Self {
        let size = ConverterSize { phases: scenario.phases, legs };
        let flying_capacitors = Parameter::FlyingCapacitance.parts(size, variant.arrangement());
        let sensors = if variant.has_sensors() { scenario.phases } else { 0 };
        let only_watches = request.trim == TrimmedQuantity::SwitchingFrequency
            && variant.arrangement() == Arrangement::Chain;
        let trim_elements = if only_watches { 0 } else { sensors };
        let sum = |each: &PerPart| {
            let own = match variant.arrangement() {
                Arrangement::Chain => each.chain,
                Arrangement::Paralleled => each.paralleled,
            };
            each.converter
                + own
                + flying_capacitors as f64 * each.flying_capacitor
                + sensors as f64 * each.sensor
                + trim_elements as f64 * each.trim_element
        };
        Self {
            flying_capacitors,
            sensors,
            trim_elements,
            price: sum(&request.price),
            failure_rate: sum(&request.failure_rate),
        }
    }

    /// Share of converters that fail within a year of service at this constant rate, failures in
    /// 10⁹ hours: 1 − exp(−λt).
    pub fn failing_within_a_year(&self) -> f64 {
        -libm::expm1(-self.failure_rate * 1e-9 * HOURS_OF_A_YEAR)
    }

    /// What sensor and trim element of a phase cost together; without trim elements the sensor alone.
    pub fn sensing(&self, price: &PerPart) -> f64 {
        price.sensor + if self.trim_elements > 0 { price.trim_element } else { 0.0 }
    }

    /// All parts that it adds.
    pub fn added(&self) -> usize {
        self.flying_capacitors + self.sensors + self.trim_elements
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 10⁹ h/8760 h = 114 155 FIT is once a year, of which 1 − 1/e fail within it.
    #[test]
    fn failures_a_year_by_hand() {
        let failing = |failure_rate: f64| {
            let parts = BillOfParts {
                flying_capacitors: 0,
                sensors: 0,
                trim_elements: 0,
                price: 1.0,
                failure_rate,
            };
            parts.failing_within_a_year()
        };
        assert!((failing(1e9 / 8760.0) - 0.632_120_558_8).abs() < 1e-9);
        assert!((failing(432.0) - 0.003_777_16).abs() < 1e-8, "{}", failing(432.0));
    }
}
