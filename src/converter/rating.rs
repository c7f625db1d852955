//! What a part must be rated for: the parts that one orders, and what loads them.

use super::{Arrangement, Drive, UsedDrives};

/// Parts of a converter that one orders as one type, with one rating each.
///
/// In a chain the place of a switch decides what it carries and blocks. Where both legs switch, the same
/// places of both legs belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatedPart {
    /// The high switch of phase 1 of a chain, at the input.
    FirstHighSwitch,
    /// The high switches of the other phases of a chain.
    OtherHighSwitch,
    /// The low switches of a chain but the last.
    InnerLowSwitch,
    /// The low switch of the last phase of a chain.
    LastLowSwitch,
    /// The high switches of paralleled phases.
    HighSwitch,
    /// The low switches of paralleled phases.
    LowSwitch,
    /// The low switches of a leg that does not switch: half-bridge drive holds them on.
    HeldLowSwitch,
    /// The low switches of a return leg that some operating points hold on and others switch, at all of
    /// them.
    ReturnLowSwitch,
    /// The resonant inductors.
    ResonantInductor,
    /// The resonant capacitors.
    ResonantCapacitor,
    /// The flying capacitors after the phase with this index, counted from 0.
    FlyingCapacitor(usize),
    /// The transformers.
    Transformer,
    /// The rectifier diodes, one by one.
    Rectifier,
    /// The output capacitors; of a voltage doubler each of the two.
    OutputCapacitor,
}

/// A kind of parts: what its ratings are told by, and which derating factors it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartKind {
    /// Switches.
    Switch,
    /// Resonant inductors.
    ResonantInductor,
    /// Resonant capacitors.
    ResonantCapacitor,
    /// Flying capacitors.
    FlyingCapacitor,
    /// Transformers.
    Transformer,
    /// Rectifier diodes.
    Rectifier,
    /// Output capacitors.
    OutputCapacitor,
}

/// What loads a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stress {
    /// Root mean square of the current.
    RmsCurrent,
    /// Mean of the absolute current.
    MeanCurrent,
    /// Highest absolute current.
    PeakCurrent,
    /// Current that a switch interrupts.
    TurnOffCurrent,
    /// Highest voltage across a switch that blocks.
    BlockingVoltage,
    /// Mean voltage.
    MeanVoltage,
    /// Highest absolute voltage.
    PeakVoltage,
    /// From the lowest to the highest voltage.
    RippleVoltage,
    /// Highest absolute magnetising current.
    PeakMagnetisingCurrent,
    /// Highest flux linkage of the primary winding: magnetising inductance times magnetising current.
    VoltSeconds,
    /// Root mean square of the primary winding's current.
    PrimaryRmsCurrent,
    /// The same of the secondary winding; of a tapped one, of each half.
    SecondaryRmsCurrent,
    /// Voltage across a diode that blocks.
    ReverseVoltage,
    /// From the lowest to the highest current.
    PeakToPeakCurrent,
}

/// The physical quantity of a stress.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StressQuantity {
    /// In ampere.
    Current,
    /// In volt.
    Voltage,
    /// In volt-seconds.
    VoltSeconds,
}

/// One line of what to order: a part and what loads it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rating {
    /// The part.
    pub part: RatedPart,
    /// What loads it.
    pub stress: Stress,
}

const SWITCH: &[Stress] = &[
    Stress::RmsCurrent,
    Stress::MeanCurrent,
    Stress::PeakCurrent,
    Stress::TurnOffCurrent,
    Stress::BlockingVoltage,
];

impl PartKind {
    /// What loads parts of this kind.
    pub fn stresses(self) -> &'static [Stress] {
        match self {
            Self::Switch => SWITCH,
            Self::ResonantInductor => &[Stress::RmsCurrent, Stress::PeakCurrent],
            Self::ResonantCapacitor => &[Stress::RmsCurrent, Stress::PeakVoltage],
            Self::FlyingCapacitor => &[
                Stress::RmsCurrent,
                Stress::MeanVoltage,
                Stress::PeakVoltage,
                Stress::RippleVoltage,
            ],
            Self::Transformer => &[
                Stress::PrimaryRmsCurrent,
                Stress::SecondaryRmsCurrent,
                Stress::PeakMagnetisingCurrent,
                Stress::VoltSeconds,
            ],
            Self::Rectifier => &[
                Stress::RmsCurrent,
                Stress::MeanCurrent,
                Stress::PeakCurrent,
                Stress::ReverseVoltage,
            ],
            Self::OutputCapacitor => &[Stress::RmsCurrent, Stress::PeakToPeakCurrent],
        }
    }
}

impl RatedPart {
    /// Parts of which there is one type whatever the number of phases: all but the flying capacitors.
    pub const SINGLE: [Self; 13] = [
        Self::FirstHighSwitch,
        Self::OtherHighSwitch,
        Self::InnerLowSwitch,
        Self::LastLowSwitch,
        Self::HighSwitch,
        Self::LowSwitch,
        Self::HeldLowSwitch,
        Self::ReturnLowSwitch,
        Self::ResonantInductor,
        Self::ResonantCapacitor,
        Self::Transformer,
        Self::Rectifier,
        Self::OutputCapacitor,
    ];

    /// All parts of a converter with so many phases, in both arrangements.
    pub fn all(phases: usize) -> impl Iterator<Item = Self> {
        let flying = (1..phases).map(|k| Self::FlyingCapacitor(k - 1));
        let is_before = |part: &Self| part.kind() != PartKind::Transformer;
        let (before, after) = Self::SINGLE.split_at(
            Self::SINGLE.iter().position(|part| !is_before(part)).unwrap_or(Self::SINGLE.len()),
        );
        before.iter().copied().chain(flying).chain(after.iter().copied())
    }

    /// Its kind.
    pub fn kind(self) -> PartKind {
        match self {
            Self::FirstHighSwitch
            | Self::OtherHighSwitch
            | Self::InnerLowSwitch
            | Self::LastLowSwitch
            | Self::HighSwitch
            | Self::LowSwitch
            | Self::HeldLowSwitch
            | Self::ReturnLowSwitch => PartKind::Switch,
            Self::ResonantInductor => PartKind::ResonantInductor,
            Self::ResonantCapacitor => PartKind::ResonantCapacitor,
            Self::FlyingCapacitor(_) => PartKind::FlyingCapacitor,
            Self::Transformer => PartKind::Transformer,
            Self::Rectifier => PartKind::Rectifier,
            Self::OutputCapacitor => PartKind::OutputCapacitor,
        }
    }

    /// What loads it. A switch that is held on blocks nothing and interrupts nothing.
    pub fn stresses(self) -> &'static [Stress] {
        match self {
            Self::HeldLowSwitch => &SWITCH[..3],
            part => part.kind().stresses(),
        }
    }

    /// Whether a converter in this arrangement has it.
    pub fn is_in(self, arrangement: Arrangement) -> bool {
        match self {
            Self::FirstHighSwitch
            | Self::OtherHighSwitch
            | Self::InnerLowSwitch
            | Self::LastLowSwitch
            | Self::FlyingCapacitor(_) => arrangement == Arrangement::Chain,
            Self::HighSwitch | Self::LowSwitch => arrangement == Arrangement::Paralleled,
            _ => true,
        }
    }

    /// Whether a converter whose operating points use these drives needs a rating of its own for the part.
    fn is_rated(self, drives: UsedDrives) -> bool {
        self != Self::ReturnLowSwitch || drives.are_both()
    }

    /// Whether the paralleled reference, whose tanks are rescaled to the whole input, has the same part
    /// as the chain: what stands on the secondary side.
    pub fn is_same_when_rescaled(self) -> bool {
        matches!(self, Self::Rectifier | Self::OutputCapacitor)
    }

    /// The word used in files: `first_high_switch`, `flying_capacitor_1` …
    pub fn key(self) -> String {
        match self {
            Self::FlyingCapacitor(k) => format!("flying_capacitor_{}", k + 1),
            _ => self.table().to_owned(),
        }
    }

    /// The table of its limits in a scenario; all flying capacitors have one.
    pub fn table(self) -> &'static str {
        match self {
            Self::FirstHighSwitch => "first_high_switch",
            Self::OtherHighSwitch => "other_high_switch",
            Self::InnerLowSwitch => "inner_low_switch",
            Self::LastLowSwitch => "last_low_switch",
            Self::HighSwitch => "high_switch",
            Self::LowSwitch => "low_switch",
            Self::HeldLowSwitch => "held_low_switch",
            Self::ReturnLowSwitch => "return_low_switch",
            Self::ResonantInductor => "resonant_inductor",
            Self::ResonantCapacitor => "resonant_capacitor",
            Self::FlyingCapacitor(_) => "flying_capacitor",
            Self::Transformer => "transformer",
            Self::Rectifier => "rectifier",
            Self::OutputCapacitor => "output_capacitor",
        }
    }
}

impl Stress {
    /// The key in scenario files.
    pub fn key(self) -> &'static str {
        match self {
            Self::RmsCurrent => "rms_current",
            Self::MeanCurrent => "mean_current",
            Self::PeakCurrent => "peak_current",
            Self::TurnOffCurrent => "turn_off_current",
            Self::BlockingVoltage => "blocking_voltage",
            Self::MeanVoltage => "mean_voltage",
            Self::PeakVoltage => "peak_voltage",
            Self::RippleVoltage => "ripple_voltage",
            Self::PeakMagnetisingCurrent => "peak_magnetising_current",
            Self::VoltSeconds => "volt_seconds",
            Self::PrimaryRmsCurrent => "primary_rms_current",
            Self::SecondaryRmsCurrent => "secondary_rms_current",
            Self::ReverseVoltage => "reverse_voltage",
            Self::PeakToPeakCurrent => "peak_to_peak_current",
        }
    }

    /// Its quantity.
    pub fn quantity(self) -> StressQuantity {
        match self {
            Self::BlockingVoltage
            | Self::MeanVoltage
            | Self::PeakVoltage
            | Self::RippleVoltage
            | Self::ReverseVoltage => StressQuantity::Voltage,
            Self::VoltSeconds => StressQuantity::VoltSeconds,
            _ => StressQuantity::Current,
        }
    }

    /// The key with its unit, as in the columns of result files: `rms_current_A`.
    pub fn column(self) -> String {
        let unit = match self.quantity() {
            StressQuantity::Current => "A",
            StressQuantity::Voltage => "V",
            StressQuantity::VoltSeconds => "Vs",
        };
        format!("{}_{unit}", self.key())
    }
}

impl Rating {
    /// All ratings of a converter with so many phases, in both arrangements.
    pub fn all(phases: usize) -> impl Iterator<Item = Self> {
        RatedPart::all(phases).flat_map(|part| {
            part.stresses().iter().map(move |stress| Self { part, stress: *stress })
        })
    }

    /// Those of a converter whose operating points use these drives.
    pub fn all_for(phases: usize, drives: UsedDrives) -> impl Iterator<Item = Self> {
        Self::all(phases).filter(move |rating| rating.part.is_rated(drives))
    }

    /// Whether anything loads the part so with this drive.
    pub fn is_used(self, drive: Drive) -> bool {
        match self.part {
            RatedPart::HeldLowSwitch => drive == Drive::HalfBridge,
            RatedPart::ReturnLowSwitch => {
                drive == Drive::FullBridge
                    || RatedPart::HeldLowSwitch.stresses().contains(&self.stress)
            }
            _ => true,
        }
    }

    /// The name in result files: `first_high_switch_rms_current_A`.
    pub fn name(self) -> String {
        format!("{}_{}", self.part.key(), self.stress.column())
    }
}
