//! What a failed part leaves of a chain, before anything is solved.

use arrayvec::ArrayVec;

use super::leg::LegRemainder;
use crate::converter::{Converter, Drive, FailureMode, Fault, Leg};

/// What a failed part leaves of a chain.
#[allow(clippy::large_enum_variant, reason = "it is taken apart at once, where it arises")]
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Effect {
    /// Its driven legs still pass charge.
    Passes(ArrayVec<LegRemainder, 2>),
    /// One leg passes no charge. This one drives alone, with half of the amplitude.
    OneLegDrives(Leg),
    /// One phase takes no charge: then no phase can.
    Stops,
    /// The input is shorted through switches in every period.
    ShortsInput,
}

impl Effect {
    /// Of a fault on the chain of a converter, whose parts are as they are at the operating point.
    pub(super) fn of(fault: &Fault, converter: &Converter, drive: Drive) -> Self {
        let is_last = fault.phase + 1 == converter.phases();
        match fault.failure {
            FailureMode::RectifierOpen | FailureMode::TankOpen => Self::Stops,
            FailureMode::BothGatesOff if is_last => Self::Stops,
            FailureMode::BothGatesOff
            | FailureMode::HighGateOff
            | FailureMode::FlyingCapacitorOpen => Self::without_leg(fault, drive),
            FailureMode::LowGateOff if is_last => Self::without_leg(fault, drive),
            FailureMode::HighSwitchShort if converter.phases() == 2 && is_last => Self::ShortsInput,
            _ => Self::Passes(legs(fault, converter, drive)),
        }
    }

    /// Without the legs that the fault is in.
    fn without_leg(fault: &Fault, drive: Drive) -> Self {
        let driven = &Leg::ALL[..drive.legs()];
        let left = driven.iter().find(|leg| !fault.is_in_leg(**leg));
        left.map_or(Self::Stops, |leg| Self::OneLegDrives(*leg))
    }
}

fn legs(fault: &Fault, converter: &Converter, drive: Drive) -> ArrayVec<LegRemainder, 2> {
    let flying = [&converter.flying, &converter.flying_return];
    let failed = |leg: Leg| fault.is_in_leg(leg).then_some((fault.failure, fault.phase));
    let driven = Leg::ALL.into_iter().zip(flying).take(drive.legs());
    driven.map(|(leg, flying)| LegRemainder::new(flying, failed(leg))).collect()
}
