//! The switches of the bridge legs.

use schemars::JsonSchema;
use serde::Serialize;

use crate::units::{Farad, Second};

/// A leg of a phase's bridge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Leg {
    /// The leg that is high while the phase's source is positive.
    Driven,
    /// The other one, of a full bridge.
    Return,
}

impl Leg {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Driven, Self::Return];

    /// The other leg of the bridge.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Driven => Self::Return,
            Self::Return => Self::Driven,
        }
    }

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Driven => "driven",
            Self::Return => "return",
        }
    }
}

/// In which order the phases of a chain switch at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SwitchTiming {
    /// All at once.
    #[default]
    Together,
    /// Those that go from high to low first. The low switches of the others stay on until the dead
    /// time of the first ones is over; their own dead time follows.
    FallingFirst,
}

impl SwitchTiming {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Together, Self::FallingFirst];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Together => "together",
            Self::FallingFirst => "falling-first",
        }
    }
}

/// What decides whether the switches of a leg turn on softly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchSpecification {
    /// Output capacitance of a low switch: charge over voltage of a whole swing.
    pub low_capacitance: Farad,
    /// Output capacitance of a high switch, likewise.
    pub high_capacitance: Farad,
    /// For so long both switches of a phase are off between two turns.
    pub dead_time: Second,
    /// Which phases switch first.
    pub timing: SwitchTiming,
}
