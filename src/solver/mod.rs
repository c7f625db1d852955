#![doc = include_str!("model.md")]

pub mod averaged;
mod bracket;
mod chain_voltages;
pub mod exact;
mod steady_state;
mod sweep;
pub mod trim;

pub use chain_voltages::{ChainVoltages, FlyingVoltage, LegVoltages, chain_voltages};
pub use steady_state::{
    Outcome, PhaseState, SteadyState, SwitchCurrent, Switches, TankState, Unsolved,
};
pub use sweep::{Load, Reached, Sweep};

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};

/// How a steady state is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// The exact periodic steady state of the model.
    Exact,
    /// The fundamental-harmonic approximation.
    Averaged,
}

impl Method {
    /// The word used on the command line and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::Averaged => "averaged",
        }
    }

    /// Solves a converter; `start` was prepared of a converter nearby, with the same method.
    pub fn solve(
        self,
        converter: &Converter,
        point: &OperatingPoint,
        band: &FrequencyBand,
        arrangement: Arrangement,
        start: Option<&Start>,
    ) -> Outcome {
        match (self, start) {
            (Self::Exact, Some(Start::Exact(guess))) => {
                exact::solve(converter, point, band, arrangement, Some(guess))
            }
            (Self::Exact, _) => exact::solve(converter, point, band, arrangement, None),
            (Self::Averaged, Some(Start::Averaged(guess))) => {
                averaged::solve(converter, point, band, arrangement, Some(guess))
            }
            (Self::Averaged, _) => averaged::solve(converter, point, band, arrangement, None),
        }
    }

    /// Solves a converter from nothing, and prepares its solution to start others from.
    pub fn prepare(
        self,
        converter: &Converter,
        point: &OperatingPoint,
        band: &FrequencyBand,
        arrangement: Arrangement,
    ) -> (Outcome, Option<Start>) {
        match self {
            Self::Exact => {
                let (outcome, guess) = exact::prepare(converter, point, band, arrangement);
                (outcome, guess.map(Start::Exact))
            }
            Self::Averaged => {
                let (outcome, guess) = averaged::prepare(converter, point, band, arrangement);
                (outcome, guess.map(Start::Averaged))
            }
        }
    }
}

/// A solution to start from.
#[allow(clippy::large_enum_variant, reason = "there is one for each case, not for each sample")]
#[derive(Debug, Clone)]
pub enum Start {
    /// Of the exact solver.
    Exact(exact::Guess),
    /// Of the averaged solver.
    Averaged(averaged::Guess),
}
