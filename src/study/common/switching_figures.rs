//! Figures of how the switches turn on, where the scenario describes them.

use crate::scenario::SwitchSettings;
use crate::solver::commutation::{Transition, TurnOn};
use crate::study::common::commutation::SoftSwitching;

/// A figure of soft switching over all transitions of a converter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SwitchingFigure {
    /// Largest shortfall of a swing, as a share of its interval voltage: the turn-on voltage, or less
    /// than zero by what the swing has to spare.
    Shortfall,
    /// Highest turn-on voltage as a share of its interval voltage.
    TurnOnShare,
    /// Highest turn-on voltage, V.
    TurnOnVoltage,
    /// Number of transitions that end hard.
    Hard,
    /// Number of transitions of which that is not decided.
    NotDecided,
    /// Loss at turn-on, W.
    Loss,
}

impl SwitchingFigure {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Shortfall,
        Self::TurnOnShare,
        Self::TurnOnVoltage,
        Self::Hard,
        Self::NotDecided,
        Self::Loss,
    ];

    /// The name used in result files, with the unit.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shortfall => "swing_shortfall",
            Self::TurnOnShare => "turn_on_voltage_share",
            Self::TurnOnVoltage => "turn_on_voltage_V",
            Self::Hard => "hard_transitions",
            Self::NotDecided => "transitions_not_decided",
            Self::Loss => "commutation_loss_W",
        }
    }

    /// Its value.
    pub(super) fn value(self, switching: &SoftSwitching) -> f64 {
        let highest = |value: fn(&Transition) -> f64, least: f64| {
            switching.commutation.transitions.iter().map(value).fold(least, f64::max)
        };
        match self {
            Self::Shortfall => highest(Transition::shortfall, f64::NEG_INFINITY),
            Self::TurnOnShare => highest(Transition::turn_on_share, 0.0),
            Self::TurnOnVoltage => highest(|t| t.turn_on_voltage.0, 0.0),
            Self::Hard => switching.counts().hard as f64,
            Self::NotDecided => switching.counts().not_decided as f64,
            Self::Loss => switching.commutation.loss.0,
        }
    }

    /// What it is the largest of, transition by transition; none where it is no largest value.
    pub(super) fn components(self, switching: &SoftSwitching) -> Option<Vec<f64>> {
        let of_each: fn(&Transition) -> f64 = match self {
            Self::Shortfall => Transition::shortfall,
            Self::TurnOnShare => Transition::turn_on_share,
            Self::TurnOnVoltage => |t| t.turn_on_voltage.0,
            Self::Hard | Self::NotDecided | Self::Loss => return None,
        };
        Some(switching.commutation.transitions.iter().map(of_each).collect())
    }
}

/// The largest shortfall of a converter whose switches all turn on softly for certain, where a turn-on
/// voltage up to this share of the interval voltage is soft.
pub fn largest_soft_shortfall(soft_share: f64) -> f64 {
    TurnOn::softest(soft_share)
}

/// The verdict on a converter with this largest shortfall of a swing: hard where one transition is, and
/// not decided where one is that and none is hard.
pub fn verdict(switch: &SwitchSettings, shortfall: f64) -> TurnOn {
    TurnOn::of_shortfall(shortfall, switch.soft_share)
}
