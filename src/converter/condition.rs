//! Temperature and age of the parts at an operating point.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Arrangement, ConverterSize, Influence, Parameter, Property};
use crate::units::Celsius;

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
    /// Which parts are as warm as their losses make them; none where all temperatures are given.
    pub self_heating: Option<SelfHeating>,
}

/// Parts whose temperatures follow from their losses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SelfHeating {
    /// Temperature at which values hold.
    pub reference: Celsius,
    /// Ambient temperature of the parts of the first phase.
    pub ambient: Celsius,
    /// Whether those of switches do.
    pub of_switches: bool,
    /// Whether those of rectifiers do.
    pub of_rectifiers: bool,
}

impl SelfHeating {
    /// Whether the temperature of a parameter's parts follows from their losses.
    pub fn heats(self, parameter: Parameter) -> bool {
        match parameter {
            Parameter::OnResistance => self.of_switches,
            Parameter::RectifierDrop | Parameter::RectifierResistance => self.of_rectifiers,
            _ => false,
        }
    }
}

impl Condition {
    /// Whether a part's response depends on a temperature that follows from its losses.
    pub fn is_self_heated(&self, property: Property) -> bool {
        let is_thermal = property.influence == Some(Influence::Temperature);
        is_thermal && self.self_heating.is_some_and(|own| own.heats(property.parameter))
    }

    /// Ambient temperature of a phase, above the reference; of parts that heat themselves.
    pub fn ambient_above_reference(&self, phase: usize) -> f64 {
        let first = self.self_heating.map_or(0.0, |own| own.ambient.0 - own.reference.0);
        first + phase as f64 * self.phase_rise
    }

    /// The same temperatures at another age.
    #[must_use]
    pub fn aged(self, age: Age) -> Self {
        Self { age, ..self }
    }

    /// Kelvin above the reference temperature of a part. Flying capacitor k is as hot as the parts of
    /// phase k. Of parts that heat themselves it is not their temperature.
    pub fn part_above_reference(&self, parameter: Parameter, index: usize, phases: usize) -> f64 {
        let phase = match parameter {
            Parameter::FlyingCapacitance => index % phases.saturating_sub(1).max(1),
            _ => index % phases.max(1),
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

    /// Whether an arrangement has any parts of a property's parameter, and the condition any effect on
    /// them.
    pub fn acts_on(
        &self,
        property: Property,
        size: ConverterSize,
        arrangement: Arrangement,
    ) -> bool {
        let Property { parameter, influence } = property;
        let heats_itself = self.is_self_heated(property);
        let stressed = |index| {
            heats_itself
                || influence
                    .is_none_or(|own| self.stress(own, parameter, index, size.phases) != 0.0)
        };
        (0..parameter.parts(size, arrangement)).any(stressed)
    }
}
