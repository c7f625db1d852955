//! What scatters from part to part: values, and how parts respond to temperature and age.

use super::{Parameter, PartNumbers};

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
pub struct PartResponse {
    /// The parameter.
    pub parameter: Parameter,
    /// What changes the parts.
    pub influence: Influence,
    /// One a part, in the order of `Converter::part`: relative change per kelvin, or relative change.
    pub values: PartNumbers,
}

impl PartResponse {
    /// The property that it is.
    pub fn property(&self) -> Property {
        Property { parameter: self.parameter, influence: Some(self.influence) }
    }
}

/// What scatters from part to part: the value of a parameter, or how it responds to temperature or age.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Property {
    /// The parameter.
    pub parameter: Parameter,
    /// What the parts respond to; none for their values.
    pub influence: Option<Influence>,
}

impl From<Parameter> for Property {
    fn from(parameter: Parameter) -> Self {
        Self { parameter, influence: None }
    }
}

impl Property {
    /// The key used in scenario files: `turns_ratio`, `ageing.turns_ratio`.
    pub fn key(self) -> String {
        match self.influence {
            None => self.parameter.key().to_owned(),
            Some(influence) => format!("{}.{}", influence.key(), self.parameter.key()),
        }
    }
}
