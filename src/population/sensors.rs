//! The current sensors of a sample, drawn beside its parts.
//!
//! They come from the sample's own random stream, at a place so far behind the parts' draws that
//! neither can reach the other: parts do not depend on sensors, nor sensors on parts.

use super::scores::probability;
use super::{Population, Scatter};
use crate::converter::{Sensor, Sensors};
use crate::scenario::SensorRequest;
use crate::units::Ampere;

/// Where the sensors' draws begin, in words of 32 bits; the stream holds 2⁶⁸.
const BEGIN: u128 = 1 << 40;

/// How sensors err.
#[derive(Debug, Clone)]
pub struct SensorScatter {
    gain_error: Option<Scatter>,
    drift: Option<Scatter>,
    offset: Option<Scatter>,
    temperature_coefficient: Option<Scatter>,
    drifts_with_age: bool,
}

impl SensorScatter {
    /// The errors that a scenario states.
    pub fn new(request: &SensorRequest) -> Self {
        Self {
            gain_error: request.gain_error.as_ref().map(Scatter::new),
            drift: request.drift.as_ref().map(Scatter::new),
            offset: request.offset.as_ref().map(Scatter::new),
            temperature_coefficient: request.temperature_coefficient.as_ref().map(Scatter::new),
            drifts_with_age: request.drifts_with_age,
        }
    }
}

impl Population {
    /// Draws the sensors of sample number `sample`: gain `(1 + gain error)(1 + drift)`, where the drift
    /// waits for the end of life if there is one, an offset, and a temperature coefficient. An error
    /// that the scenario does not state takes its draws too.
    pub fn draw_sensors(&self, scatter: &SensorScatter, sample: u64) -> Sensors {
        let mut rng = self.source.generator(sample);
        rng.set_word_pos(BEGIN);
        let phases = self.nominal.phases();
        let mut sensors: Sensors = std::iter::repeat_n(Sensor::IDEAL, phases).collect();
        let mut errors = |scatter: &Option<Scatter>, take: &dyn Fn(&mut Sensor, f64)| {
            let common = probability(&mut rng);
            for sensor in &mut sensors {
                let individual = probability(&mut rng);
                take(sensor, scatter.as_ref().map_or(0.0, |s| s.deviation(common, individual)));
            }
        };
        errors(&scatter.gain_error, &|sensor, error| sensor.gain *= 1.0 + error);
        errors(&scatter.drift, &|sensor, drift| {
            if scatter.drifts_with_age {
                sensor.drift = drift;
            } else {
                sensor.gain *= 1.0 + drift;
            }
        });
        errors(&scatter.offset, &|sensor, offset| sensor.offset = Ampere(offset));
        errors(&scatter.temperature_coefficient, &|sensor, own| {
            sensor.temperature_coefficient = own;
        });
        sensors
    }
}
