//! How the switches of a converter turn on, in a summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Leg};
use crate::solver::commutation::{Swing, Transition, TurnOn};
use crate::study::common::commutation::SoftSwitching;
use crate::units::{Ampere, Volt};

/// One phase of one leg at one of the two instants of a period at which it switches.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CommutationEntry {
    /// Name of the converter; `units` alone has it.
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<String>,
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    leg: Leg,
    /// Counts from 1.
    phase: usize,
    transition: Swing,
    /// Voltage of the switch that turns on, at that instant. In the paralleled arrangement it is that
    /// of the rescaled converter, as for all switches.
    #[serde(rename = "turn_on_voltage_V")]
    turn_on_voltage: Volt,
    /// Voltage that the phase's node swings over.
    #[serde(rename = "interval_voltage_V")]
    interval_voltage: Volt,
    /// Whether the switch turns on softly; null where that is not decided.
    soft: Option<bool>,
    /// `soft`, `hard` or `not decided`.
    verdict: TurnOn,
    /// By how much farther the node could have swung, as a share of the interval voltage; 0 where it
    /// did not arrive.
    spare: f64,
    /// Current that the other switch interrupts when it turns off.
    #[serde(rename = "turn_off_current_A")]
    turn_off_current: Ampere,
}

/// How the switches of a converter turn on at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct SoftSwitchingEntry {
    /// Transitions that end softly.
    soft: usize,
    /// Those that do not.
    hard: usize,
    /// Those too close to the limit to tell.
    not_decided: usize,
    /// Highest turn-on voltage, as a share of the interval voltage.
    highest_turn_on_share: f64,
    /// Highest voltage across a switch during the dead times, with the assumed drift of the
    /// flying-capacitor voltages.
    #[serde(rename = "highest_voltage_V")]
    highest_voltage: Volt,
    /// By how much the dead time shifts the sharing error in half of all converters, about: two
    /// fractions. Null in the paralleled arrangement, and with falling phases first.
    sharing_shift: Option<[f64; 2]>,
}

/// Whose transitions they are.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct CommutatedCase<'a> {
    /// The converter, where there are several.
    pub unit: Option<&'a str>,
    /// The operating point.
    pub operating_point: &'a str,
    /// The arrangement.
    pub arrangement: Arrangement,
}

impl CommutationEntry {
    /// All transitions of a converter in a case.
    pub(in crate::report) fn all(
        subject: CommutatedCase<'_>,
        switching: &SoftSwitching,
    ) -> Vec<Self> {
        let transitions = switching.commutation.transitions.iter();
        transitions.map(|own| Self::new(subject, switching, own)).collect()
    }

    /// One of them.
    pub(in crate::report) fn new(
        subject: CommutatedCase<'_>,
        switching: &SoftSwitching,
        own: &Transition,
    ) -> Self {
        let verdict = switching.verdict(own);
        Self {
            unit: subject.unit.map(str::to_owned),
            operating_point: subject.operating_point.to_owned(),
            arrangement: subject.arrangement,
            leg: own.leg,
            phase: own.phase + 1,
            transition: own.swing,
            turn_on_voltage: own.turn_on_voltage,
            interval_voltage: own.interval_voltage,
            soft: match verdict {
                TurnOn::Soft => Some(true),
                TurnOn::Hard => Some(false),
                TurnOn::NotDecided => None,
            },
            verdict,
            spare: own.spare,
            turn_off_current: own.turn_off_current,
        }
    }
}

impl SoftSwitchingEntry {
    pub(in crate::report) fn new(switching: &SoftSwitching) -> Self {
        let counts = switching.counts();
        Self {
            soft: counts.soft,
            hard: counts.hard,
            not_decided: counts.not_decided,
            highest_turn_on_share: switching.worst().map_or(0.0, Transition::turn_on_share),
            highest_voltage: switching.highest_voltage(),
            sharing_shift: switching.sharing_shift,
        }
    }
}
