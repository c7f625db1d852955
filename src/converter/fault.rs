//! One part of a converter that has failed.

use std::borrow::Cow;

use schemars::JsonSchema;
use serde::Serialize;

use super::{Arrangement, Converter, Drive, Leg};

/// How a part fails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FailureMode {
    /// A flying capacitor conducts.
    FlyingCapacitorShort,
    /// A flying capacitor is interrupted.
    FlyingCapacitorOpen,
    /// A flying capacitor has this share of its capacitance left.
    FlyingCapacitorAged(f64),
    /// The rectifier of a phase does not conduct.
    RectifierOpen,
    /// The current path of a tank is interrupted.
    TankOpen,
    /// Both switches of a leg stay off; their body diodes work.
    BothGatesOff,
    /// A high switch stays off; its body diode works.
    HighGateOff,
    /// A low switch stays off; its body diode works.
    LowGateOff,
    /// A high switch conducts all the time.
    HighSwitchShort,
    /// A low switch conducts all the time.
    LowSwitchShort,
    /// A phase takes no charge, and its low switches are held on as the remedy.
    Bypassed,
}

/// The legs in which a part has failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FailedLegs {
    /// The driven leg alone.
    Driven,
    /// The return leg alone.
    Return,
    /// Every driven leg.
    All,
}

/// A part that has failed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// How.
    pub failure: FailureMode,
    /// Its phase, counted from 0; a flying capacitor is the one after this phase.
    pub phase: usize,
    /// Its legs; none where the part belongs to no leg.
    pub legs: Option<FailedLegs>,
}

impl FailureMode {
    /// All of them, with flying capacitors that have these shares of their capacitance left.
    pub fn all(remaining: &[f64]) -> Vec<Self> {
        let aged = remaining.iter().map(|share| Self::FlyingCapacitorAged(*share));
        let first = [Self::FlyingCapacitorShort, Self::FlyingCapacitorOpen].into_iter();
        let last = [
            Self::RectifierOpen,
            Self::TankOpen,
            Self::BothGatesOff,
            Self::HighGateOff,
            Self::LowGateOff,
            Self::HighSwitchShort,
            Self::LowSwitchShort,
            Self::Bypassed,
        ];
        first.chain(aged).chain(last).collect()
    }

    /// The words used in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::FlyingCapacitorShort => "flying capacitor short",
            Self::FlyingCapacitorOpen => "flying capacitor open",
            Self::FlyingCapacitorAged(_) => "flying capacitor aged",
            Self::RectifierOpen => "rectifier open",
            Self::TankOpen => "tank open",
            Self::BothGatesOff => "both gates off",
            Self::HighGateOff => "high gate off",
            Self::LowGateOff => "low gate off",
            Self::HighSwitchShort => "high switch short",
            Self::LowSwitchShort => "low switch short",
            Self::Bypassed => "bypassed",
        }
    }

    /// Whether the part is a flying capacitor.
    pub fn is_of_capacitor(self) -> bool {
        matches!(
            self,
            Self::FlyingCapacitorShort | Self::FlyingCapacitorOpen | Self::FlyingCapacitorAged(_)
        )
    }

    /// Share of the capacitance that is left; none where that says nothing.
    pub fn remaining(self) -> Option<f64> {
        match self {
            Self::FlyingCapacitorAged(share) => Some(share),
            _ => None,
        }
    }

    /// Whether converters in an arrangement have such a part.
    pub fn is_in(self, arrangement: Arrangement) -> bool {
        arrangement == Arrangement::Chain || !(self.is_of_capacitor() || self == Self::Bypassed)
    }

    /// The legs in which it can be told apart with a drive. A dead gate driver and a bypass take the
    /// legs of their phase together.
    fn legs(self, drive: Drive) -> &'static [Option<FailedLegs>] {
        const EITHER: &[Option<FailedLegs>] = &[Some(FailedLegs::Driven), Some(FailedLegs::Return)];
        const ALL: &[Option<FailedLegs>] =
            &[Some(FailedLegs::Driven), Some(FailedLegs::Return), Some(FailedLegs::All)];
        match (self, drive) {
            (Self::RectifierOpen | Self::TankOpen, _) => &[None],
            (Self::Bypassed, _) | (Self::BothGatesOff, Drive::HalfBridge) => &ALL[2..],
            (Self::BothGatesOff, Drive::FullBridge) => ALL,
            (_, Drive::HalfBridge) => &EITHER[..1],
            (_, Drive::FullBridge) => EITHER,
        }
    }
}

impl FailedLegs {
    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Driven => "driven",
            Self::Return => "return",
            Self::All => "all",
        }
    }

    /// Whether a leg is one of them.
    pub fn hold(self, leg: Leg) -> bool {
        match self {
            Self::Driven => leg == Leg::Driven,
            Self::Return => leg == Leg::Return,
            Self::All => true,
        }
    }
}

impl Fault {
    /// All faults of one part of a converter with so many phases in an arrangement: failure by failure,
    /// leg by leg, from the first phase to the last.
    pub fn all(
        phases: usize,
        drive: Drive,
        arrangement: Arrangement,
        remaining: &[f64],
    ) -> Vec<Self> {
        let failures = FailureMode::all(remaining).into_iter();
        let with_legs = failures
            .filter(|failure| failure.is_in(arrangement))
            .flat_map(|failure| failure.legs(drive).iter().map(move |legs| (failure, *legs)));
        with_legs
            .flat_map(|(failure, legs)| {
                let places = if failure.is_of_capacitor() { phases - 1 } else { phases };
                (0..places).map(move |phase| Self { failure, phase, legs })
            })
            .collect()
    }

    /// The one of several faults that leave the same circuit. A paralleled phase that takes no charge drops
    /// out, whatever the reason, and either dead gate leaves it half of its amplitude. In a half-bridge
    /// chain a bypass is a shorted low switch.
    #[must_use]
    pub fn representative(self, drive: Drive, arrangement: Arrangement) -> Self {
        use FailureMode::{BothGatesOff, HighGateOff, LowGateOff, RectifierOpen, TankOpen};
        let is_half = drive == Drive::HalfBridge;
        match (arrangement, self.failure) {
            (Arrangement::Paralleled, RectifierOpen | TankOpen | BothGatesOff) => {
                Self { failure: TankOpen, legs: None, ..self }
            }
            (Arrangement::Paralleled, HighGateOff | LowGateOff) if is_half => {
                Self { failure: TankOpen, legs: None, ..self }
            }
            (Arrangement::Paralleled, HighGateOff | LowGateOff) => {
                Self { failure: HighGateOff, legs: Some(FailedLegs::Driven), ..self }
            }
            (Arrangement::Chain, FailureMode::LowSwitchShort) if is_half => {
                Self { failure: FailureMode::Bypassed, legs: Some(FailedLegs::All), ..self }
            }
            _ => self,
        }
    }

    /// Whether it takes one phase of the paralleled reference away, and leaves the others as they were.
    pub fn loses_paralleled_phase(&self, drive: Drive, arrangement: Arrangement) -> bool {
        let same = self.representative(drive, arrangement).failure;
        arrangement == Arrangement::Paralleled && same == FailureMode::TankOpen
    }

    /// Whether it leaves a chain of neighbouring phases, whose parts work as in a converter of so many: in
    /// half-bridge drive those above a shorted flying capacitor, or below a shorted first high switch.
    pub fn leaves_shorter_chain(&self, drive: Drive, arrangement: Arrangement) -> bool {
        let is_at_end = match self.failure {
            FailureMode::FlyingCapacitorShort => true,
            FailureMode::HighSwitchShort => self.phase == 0,
            _ => false,
        };
        is_at_end && drive == Drive::HalfBridge && arrangement == Arrangement::Chain
    }

    /// Whether capacitors of a chain meet hard through switches in each period: those beside a low switch that
    /// stays on, and beside a high switch that does, but for the first one, which has the input beside it.
    pub fn joins_capacitors(&self, arrangement: Arrangement) -> bool {
        let meet = match self.failure {
            FailureMode::LowSwitchShort | FailureMode::Bypassed => true,
            FailureMode::HighSwitchShort => self.phase > 0,
            _ => false,
        };
        meet && arrangement == Arrangement::Chain
    }

    /// The converter with its aged capacitors; as it is where none is aged.
    pub fn aged<'a>(&self, converter: &'a Converter) -> Cow<'a, Converter> {
        let FailureMode::FlyingCapacitorAged(share) = self.failure else {
            return Cow::Borrowed(converter);
        };
        let mut aged = converter.clone();
        for (leg, flying) in Leg::ALL.into_iter().zip([&mut aged.flying, &mut aged.flying_return]) {
            if self.is_in_leg(leg) {
                flying[self.phase].0 *= share;
            }
        }
        Cow::Owned(aged)
    }

    /// Whether the part belongs to a leg, or its failure acts on all legs.
    pub fn is_in_leg(&self, leg: Leg) -> bool {
        self.legs.is_none_or(|legs| legs.hold(leg))
    }
}
