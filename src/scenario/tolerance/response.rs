//! How the parts of one parameter respond to temperature or age.

use super::single::Tolerance;
use crate::converter::{Influence, Parameter, Property};

/// How the parts of one parameter respond to temperature or age, and how that scatters.
#[derive(Debug, Clone, PartialEq)]
pub struct ResponseTolerance {
    /// The parameter.
    pub parameter: Parameter,
    /// What changes the parts.
    pub influence: Influence,
    /// The nominal response is the middle of the band: relative change per kelvin, or relative change.
    /// Deviations are absolute, not of a nominal value.
    pub scatter: Tolerance,
    /// The code of a dielectric that states it.
    pub code: Option<String>,
}

impl ResponseTolerance {
    /// The property that it tells of.
    pub fn property(&self) -> Property {
        Property { parameter: self.parameter, influence: Some(self.influence) }
    }

    /// The response of a nominal part.
    pub fn nominal(&self) -> f64 {
        self.scatter.middle
    }
}
