//! A fault at an operating point, as a question.

use super::group::{GroupPlan, GroupStart, RegulatedPoint};
use crate::converter::{
    Arrangement, ChainDrift, FailureMode, Fault, FrequencyBand, OperatingPoint, SwitchSpecification,
};
use crate::units::{Hertz, Volt};

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
    /// Forward drop of a body diode.
    pub diode_drop: Volt,
    /// How far the flying-capacitor voltages drift where charge balance does not hold them: before the fault, of
    /// whatever parts still work.
    pub drift: ChainDrift,
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
    /// The switching frequency of two groups that deliver together.
    pub(super) together: Option<Hertz>,
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
    /// A fault at an operating point, without drift and without solutions to start from.
    pub fn new(
        fault: Fault,
        point: OperatingPoint,
        band: FrequencyBand,
        arrangement: Arrangement,
        diode_drop: Volt,
    ) -> Self {
        Self {
            fault,
            point,
            band,
            arrangement,
            diode_drop,
            drift: ChainDrift::default(),
            with_stress: false,
            switch: None,
            starts: Starts::default(),
        }
    }

    /// The same, whose steady states tell what loads every tank and rectifier. Where all parts still work, or
    /// a paralleled phase is lost, these switches are warmed by their loss at turn-on
    /// ([`Case::switch`](crate::solver::Case::switch)).
    #[must_use]
    pub fn telling(self, with_stress: bool, switch: Option<SwitchSpecification>) -> Self {
        Self { with_stress, switch, ..self }
    }

    /// The same with this drift of the flying-capacitor voltages.
    #[must_use]
    pub fn with_drift(self, drift: ChainDrift) -> Self {
        Self { drift, ..self }
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
