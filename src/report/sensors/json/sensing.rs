//! Sensors, trim loops, prices and failure rates as the scenario has them.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Shared;
use crate::report::format::tolerance::ToleranceInForce;
use crate::scenario::{PerPart, SensorRequest};
use crate::solver::trim::AGREEMENT;
use crate::units::{Ohm, Watt};

/// The sensors and trim loops, one of each in every phase.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Sensing {
    /// What the sensors measure.
    measured: Shared,
    /// Error of a sensor's gain, a fraction; null where there is none.
    gain_error: Option<ToleranceInForce>,
    /// Drift of that gain over the time of service, a fraction; null where there is none.
    drift: Option<ToleranceInForce>,
    /// What a sensor reads of no current, its band in ampere; null where there is none.
    #[serde(rename = "offset_A")]
    offset: Option<ToleranceInForce>,
    /// Relative change of the gain with temperature; its ends are per kelvin.
    #[serde(rename = "temperature_coefficient_1_per_K")]
    temperature_coefficient: Option<ToleranceInForce>,
    /// What the loops trim: `resonant_inductance`, `resonant_capacitance` or `switching_frequency`.
    trim: &'static str,
    /// Furthest trim to either side, a fraction of the part's own value, or of the common frequency.
    trim_range: f64,
    /// Resistance that sensor and trim element add to a phase, referred to the primary.
    #[serde(rename = "added_resistance_ohm")]
    added_resistance: Ohm,
    /// Standing loss of sensor and trim element of a phase.
    #[serde(rename = "standing_loss_W")]
    standing_loss: Watt,
    /// Prices in the currency of the scenario.
    price: PerKind,
    /// Failure rates in FIT, failures in 10⁹ hours.
    #[serde(rename = "failure_rate_FIT")]
    failure_rate: PerKind,
    /// How closely readings agree where the loops have settled, relatively.
    agreement: f64,
}

/// A price or a failure rate of every kind of part.
#[derive(Debug, Serialize, JsonSchema)]
struct PerKind {
    /// The converter without all that is compared.
    converter: f64,
    /// What a chain alone has, flying capacitors apart; 0 where the scenario tells none.
    chain: f64,
    /// What paralleled bridges alone have; 0 where the scenario tells none.
    paralleled: f64,
    /// One flying capacitor.
    flying_capacitor: f64,
    /// One current sensor.
    sensor: f64,
    /// One trim element with its share of the loop.
    trim_element: f64,
}

impl Sensing {
    pub(super) fn new(request: &SensorRequest) -> Self {
        Self {
            measured: request.measured,
            gain_error: request.gain_error.as_ref().map(ToleranceInForce::new),
            drift: request.drift.as_ref().map(ToleranceInForce::new),
            offset: request.offset.as_ref().map(ToleranceInForce::new),
            temperature_coefficient: request
                .temperature_coefficient
                .as_ref()
                .map(ToleranceInForce::new),
            trim: request.trim.key(),
            trim_range: request.trim_range,
            added_resistance: request.added_resistance,
            standing_loss: request.standing_loss,
            price: PerKind::new(&request.price),
            failure_rate: PerKind::new(&request.failure_rate),
            agreement: AGREEMENT,
        }
    }
}

impl PerKind {
    fn new(parts: &PerPart) -> Self {
        Self {
            converter: parts.converter,
            chain: parts.chain,
            paralleled: parts.paralleled,
            flying_capacitor: parts.flying_capacitor,
            sensor: parts.sensor,
            trim_element: parts.trim_element,
        }
    }
}
