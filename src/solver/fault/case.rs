//! A fault at an operating point, as a question.

use super::group::{GroupPlan, GroupStart, RegulatedPoint};
use crate::converter::{
    Arrangement, FailureMode, Fault, FrequencyBand, OperatingPoint, SwitchSpecification,
};
use crate::units::Volt;

/// Voltages that the scenario states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AssumedVoltages {
    /// Forward drop of a body diode.
    pub diode_drop: Volt,
    /// Assumed drift of each flying-capacitor voltage in full-bridge drive, where charge balance does not
    /// hold it.
    pub neutral_split: Volt,
}

/// A fault at an operating point: what is asked of any converter.
#[derive(Debug, Clone)]
pub struct FaultCase {
    /// The fault.
    pub fault: Fault,
    /// The operating point.
    pub point: OperatingPoint,
    /// The switching frequencies allowed.
    pub band: FrequencyBand,
    /// The arrangement of the phases.
    pub arrangement: Arrangement,
    /// What the scenario states.
    pub assumed: AssumedVoltages,
    pub(super) with_stress: bool,
    pub(super) switch: Option<SwitchSpecification>,
    pub(super) starts: Starts,
}

/// Where searches start: from the solutions of the nominal converter.
#[derive(Debug, Clone, Default)]
pub(super) struct Starts {
    /// For all phases that share the charge.
    pub(super) whole: GroupStart,
    /// For those that still receive voltage in the damaged leg.
    pub(super) fed: GroupStart,
}

/// The groups that a fault leaves.
#[derive(Debug, Default)]
pub(super) struct Plans {
    /// All phases that share the charge, if they can.
    pub(super) whole: Option<GroupPlan>,
    /// Those that still receive voltage in the damaged leg, where others do not.
    pub(super) fed: Option<GroupPlan>,
}

impl FaultCase {
    /// A fault at an operating point, without solutions to start from.
    pub fn new(
        fault: Fault,
        point: OperatingPoint,
        band: FrequencyBand,
        arrangement: Arrangement,
        assumed: AssumedVoltages,
    ) -> Self {
        let starts = Starts::default();
        Self { fault, point, band, arrangement, assumed, with_stress: false, switch: None, starts }
    }

    /// The same, whose steady states tell what loads every tank and rectifier. Where all parts still work, or
    /// a paralleled phase is lost, these switches are warmed by their loss at turn-on
    /// ([`Case::switch`](crate::solver::Case::switch)).
    #[must_use]
    pub fn telling(self, with_stress: bool, switch: Option<SwitchSpecification>) -> Self {
        Self { with_stress, switch, ..self }
    }

    /// The same with another drift of each flying-capacitor voltage.
    #[must_use]
    pub fn with_drift(&self, neutral_split: Volt) -> Self {
        Self { assumed: AssumedVoltages { neutral_split, ..self.assumed }, ..self.clone() }
    }

    pub(super) fn asked(&self) -> RegulatedPoint<'_> {
        let is_aged = matches!(self.fault.failure, FailureMode::FlyingCapacitorAged(_));
        let is_known = is_aged || self.loses_paralleled_phase();
        RegulatedPoint {
            point: &self.point,
            band: self.band,
            with_stress: self.with_stress,
            switch: self.switch.filter(|_| is_known),
        }
    }

    /// Whether one phase of the paralleled reference is lost, and the others go on as they were.
    pub fn loses_paralleled_phase(&self) -> bool {
        self.fault.loses_paralleled_phase(self.point.drive, self.arrangement)
    }

    /// The switches that their loss at turn-on warms; none where there are none.
    pub fn warmed_switch(&self) -> Option<SwitchSpecification> {
        self.switch
    }
}
