//! Temperature and age of the parts, and how the parts respond.
//!
//! Values of parts hold new, at the reference temperature. A converter at an operating point has
//!
//! ```text
//! value (1 + c (T − T_ref)) (1 + d)
//! ```
//!
//! with the temperature coefficient c and the drift d of each part, the latter at the end of life
//! only. Where a standard states how far a value may change anywhere in a range of temperatures and no
//! coefficient, `c (T − T_ref)` is replaced by the part's change, at any temperature but the reference.

use std::borrow::Cow;

use arrayvec::ArrayVec;
use schemars::JsonSchema;
use serde::Serialize;

use super::{Converter, MAX_PARTS, Parameter, Property};

/// The age of a converter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Age {
    /// As it is delivered.
    #[default]
    New,
    /// At the end of its service life.
    EndOfLife,
}

impl Age {
    /// Both, in the order of time.
    pub const ALL: [Self; 2] = [Self::New, Self::EndOfLife];

    /// The words used in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::EndOfLife => "end of life",
        }
    }
}

/// What changes a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Influence {
    /// Temperature; the part has a coefficient, the relative change per kelvin.
    Temperature,
    /// Temperature; the part has one relative change for all temperatures but the reference.
    AnyTemperature,
    /// Age; the part has a drift, the relative change at the end of life.
    Age,
}

impl Influence {
    /// The table of scenario files that states it.
    pub fn key(self) -> &'static str {
        match self {
            Self::Temperature | Self::AnyTemperature => "temperature_coefficient",
            Self::Age => "ageing",
        }
    }
}

/// How the parts of one parameter respond to temperature or age.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// The parameter.
    pub parameter: Parameter,
    /// What changes the parts.
    pub influence: Influence,
    /// One a part, in the order of [`Converter::part`]: relative change per kelvin, or relative change.
    pub values: ArrayVec<f64, MAX_PARTS>,
}

impl Response {
    /// The property that it is.
    pub fn property(&self) -> Property {
        Property { parameter: self.parameter, influence: Some(self.influence) }
    }
}

/// Temperatures above the reference temperature in kelvin, and the age.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Condition {
    /// One a parameter, in the order of [`Parameter::ALL`], of the parts of the first phase.
    pub above_reference: [f64; Parameter::ALL.len()],
    /// The same for the current sensor of the first phase.
    pub sensor_above_reference: f64,
    /// How much hotter the parts of each phase are than those of the phase before.
    pub phase_rise: f64,
    /// The age.
    pub age: Age,
}

impl Condition {
    /// The same temperatures at another age.
    #[must_use]
    pub fn aged(self, age: Age) -> Self {
        Self { age, ..self }
    }

    /// Kelvin above the reference temperature of a part. Flying capacitor k is as hot as the parts of
    /// phase k.
    pub fn part_above_reference(&self, parameter: Parameter, index: usize, phases: usize) -> f64 {
        let phase = match parameter {
            Parameter::FlyingCapacitance => index % phases.saturating_sub(1).max(1),
            _ => index,
        };
        self.above_reference[parameter.index()] + phase as f64 * self.phase_rise
    }

    /// What a response of one is multiplied by to give the relative change of a part.
    pub fn stress(
        &self,
        influence: Influence,
        parameter: Parameter,
        index: usize,
        phases: usize,
    ) -> f64 {
        let above = self.part_above_reference(parameter, index, phases);
        match influence {
            Influence::Temperature => above,
            Influence::AnyTemperature => f64::from(above != 0.0),
            Influence::Age => f64::from(self.age == Age::EndOfLife),
        }
    }
}

impl Converter {
    /// The converter as it is under a condition: its parts have the values that they take there, and
    /// respond no further.
    pub fn at(&self, condition: &Condition) -> Cow<'_, Self> {
        if self.responses.is_empty() {
            return Cow::Borrowed(self);
        }
        let mut changed = self.clone();
        changed.responses.clear();
        let phases = self.phases();
        for Response { parameter, influence, values } in &self.responses {
            for (index, response) in values.iter().enumerate() {
                let change = response * condition.stress(*influence, *parameter, index, phases);
                if let Some(value) = changed.part_mut(*parameter, index) {
                    *value *= 1.0 + change;
                }
            }
        }
        Cow::Owned(changed)
    }

    /// Parts that nominal responses turn into what this converter has under a condition: what a file
    /// of parts holds so that the condition applied to it gives this converter again.
    #[must_use]
    pub fn as_if_nominal_at(&self, condition: &Condition, nominal: &Self) -> Self {
        let mut parts = self.at(condition).into_owned();
        let phases = self.phases();
        for Response { parameter, influence, values } in &nominal.responses {
            for (index, response) in values.iter().enumerate() {
                let change = response * condition.stress(*influence, *parameter, index, phases);
                if let Some(value) = parts.part_mut(*parameter, index) {
                    *value /= 1.0 + change;
                }
            }
        }
        parts.responses.clone_from(&nominal.responses);
        parts
    }

    /// Whether temperature or age change any of its parts.
    pub fn responds(&self) -> bool {
        !self.responses.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::Tank;
    use crate::units::{Farad, Henry, Ohm, Volt};

    fn three_phases() -> Converter {
        let tank = Tank {
            resonant_inductance: Henry(5e-6),
            resonant_capacitance: Farad(200e-9),
            magnetising_inductance: Henry(20e-6),
            turns_ratio: 2.0,
            series_resistance: Ohm(0.03),
            rectifier_drop: Volt(0.7),
        };
        Converter::uniform(3, tank, Farad(40e-6))
    }

    fn response(parameter: Parameter, influence: Influence, values: &[f64]) -> Response {
        Response { parameter, influence, values: values.iter().copied().collect() }
    }

    /// By hand: −200 ppm/K at 60, 70 and 80 K above the reference, and copper of 0.393 %/K.
    #[test]
    fn each_phase_has_its_own_temperature() {
        let mut converter = three_phases();
        let (cr, r) = (Parameter::ResonantCapacitance, Parameter::SeriesResistance);
        converter.responses = vec![
            response(cr, Influence::Temperature, &[-200e-6; 3]),
            response(r, Influence::Temperature, &[0.00393; 3]),
        ];
        let mut condition = Condition { phase_rise: 10.0, ..Condition::default() };
        condition.above_reference[cr.index()] = 60.0;
        let hot = converter.at(&condition);
        let wanted = [0.988, 0.986, 0.984];
        for (tank, factor) in hot.tanks.iter().zip(wanted) {
            assert!((tank.resonant_capacitance.0 / 200e-9 - factor).abs() < 1e-12);
        }
        assert!((hot.tanks[2].series_resistance.0 / 0.03 - 1.0786).abs() < 1e-12);
        assert!(!hot.responds());
    }

    /// By hand: −3 % of drift at the end of life alone; a change anywhere in the range is none at the
    /// reference temperature.
    #[test]
    fn age_and_range_act_where_they_apply() {
        let mut converter = three_phases();
        let (cr, cf) = (Parameter::ResonantCapacitance, Parameter::FlyingCapacitance);
        converter.responses = vec![
            response(cr, Influence::Age, &[-0.03, 0.01, 0.0]),
            response(cf, Influence::AnyTemperature, &[-0.15, 0.10, 0.05, 0.0]),
        ];
        let mut condition = Condition::default();
        assert_eq!(converter.at(&condition).tanks, converter.tanks);
        assert_eq!(converter.at(&condition).flying, converter.flying);
        condition = condition.aged(Age::EndOfLife);
        condition.above_reference[cf.index()] = -10.0;
        condition.phase_rise = 10.0;
        let changed = converter.at(&condition);
        assert!((changed.tanks[0].resonant_capacitance.0 - 194e-9).abs() < 1e-18);
        // The second flying capacitor of each leg is at the reference temperature.
        let flying: Vec<f64> = changed.flying.iter().map(|c| c.0 / 40e-6).collect();
        assert!((flying[0] - 0.85).abs() < 1e-12 && (flying[1] - 1.0).abs() < 1e-15);
        assert!((changed.flying_return[0].0 / 40e-6 - 1.05).abs() < 1e-12);
    }

    /// A file of parts tells values only: nominal responses make the same converter of them.
    #[test]
    fn parts_of_a_file_give_the_converter_again() {
        let cr = Parameter::ResonantCapacitance;
        let mut nominal = three_phases();
        nominal.responses = vec![response(cr, Influence::Age, &[-0.03; 3])];
        let mut drawn = nominal.clone();
        drawn.responses = vec![response(cr, Influence::Age, &[-0.05, -0.02, 0.0])];
        let condition = Condition::default().aged(Age::EndOfLife);
        let filed = drawn.as_if_nominal_at(&condition, &nominal);
        let (own, again) = (drawn.at(&condition), filed.at(&condition));
        for (own, again) in own.tanks.iter().zip(&again.tanks) {
            let ratio = own.resonant_capacitance.0 / again.resonant_capacitance.0;
            assert!((ratio - 1.0).abs() < 1e-14);
        }
    }
}
