//! How a converter is driven and loaded.

use schemars::JsonSchema;
use serde::Serialize;

use crate::units::{Hertz, Second, Volt};

/// How a phase's bridge is driven, at duty 0.5.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drive {
    /// One leg switches, the other holds its low side on.
    HalfBridge,
    /// Both legs switch, complementary.
    FullBridge,
}

impl Drive {
    /// Both.
    pub const ALL: [Self; 2] = [Self::HalfBridge, Self::FullBridge];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::HalfBridge => "half-bridge",
            Self::FullBridge => "full-bridge",
        }
    }

    /// Number of switching legs.
    pub fn legs(self) -> usize {
        match self {
            Self::HalfBridge => 1,
            Self::FullBridge => 2,
        }
    }

    /// Half the swing of a phase's source for an input of one volt across the phase.
    ///
    /// The source swings from 0 to V in half-bridge, from −V to V in full-bridge drive; the
    /// resonant capacitor takes up the mean.
    pub fn amplitude(self) -> f64 {
        match self {
            Self::HalfBridge => 0.5,
            Self::FullBridge => 1.0,
        }
    }
}

/// How a phase's secondary is rectified.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rectifier {
    /// Four diodes, two in the path.
    FullBridge,
    /// Two diodes on a tapped winding, one in the path.
    CentreTap,
    /// Two diodes and two capacitors; each half wave charges one half of the output.
    VoltageDoubler,
}

impl Rectifier {
    /// All three.
    pub const ALL: [Self; 3] = [Self::FullBridge, Self::CentreTap, Self::VoltageDoubler];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::FullBridge => "full-bridge",
            Self::CentreTap => "centre-tap",
            Self::VoltageDoubler => "voltage-doubler",
        }
    }

    /// Voltage at which a conducting rectifier clamps the primary winding, in volt:
    /// n (Vo + 2 Vd), n (Vo + Vd) or n (Vo + 2 Vd)/2.
    pub fn clamp_voltage(self, turns_ratio: f64, output: Volt, drop: Volt) -> f64 {
        match self {
            Self::FullBridge => turns_ratio * (output.0 + 2.0 * drop.0),
            Self::CentreTap => turns_ratio * (output.0 + drop.0),
            Self::VoltageDoubler => turns_ratio * (output.0 + 2.0 * drop.0) / 2.0,
        }
    }

    /// Diodes that the current of the secondary winding passes at any time.
    pub fn diodes_in_path(self) -> f64 {
        if self == Self::FullBridge { 2.0 } else { 1.0 }
    }

    /// Mean output current for a mean absolute rectified primary current of one ampere.
    pub fn current_gain(self, turns_ratio: f64) -> f64 {
        match self {
            Self::FullBridge | Self::CentreTap => turns_ratio,
            Self::VoltageDoubler => turns_ratio / 2.0,
        }
    }

    /// How often the current into an output capacitor repeats in a switching period: each capacitor of a
    /// voltage doubler sees one of both half waves.
    pub fn pulses(self) -> f64 {
        match self {
            Self::FullBridge | Self::CentreTap => 2.0,
            Self::VoltageDoubler => 1.0,
        }
    }
}

/// Drive and rectifier together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Configuration {
    /// Drive of every phase.
    pub drive: Drive,
    /// Rectifier of every phase.
    pub rectifier: Rectifier,
}

impl Configuration {
    /// The four among which a converter with a bridge on both sides can be switched, by rising gain
    /// at resonance: ½, 1, 1 and 2.
    pub const ALL: [Self; 4] = [
        Self { drive: Drive::HalfBridge, rectifier: Rectifier::FullBridge },
        Self { drive: Drive::FullBridge, rectifier: Rectifier::FullBridge },
        Self { drive: Drive::HalfBridge, rectifier: Rectifier::VoltageDoubler },
        Self { drive: Drive::FullBridge, rectifier: Rectifier::VoltageDoubler },
    ];

    /// Drive, then rectifier: `half-bridge / voltage-doubler`.
    pub fn name(self) -> String {
        format!("{} / {}", self.drive.name(), self.rectifier.name())
    }
}

/// Which drives the operating points of a converter use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UsedDrives {
    half_bridge: bool,
    full_bridge: bool,
}

impl UsedDrives {
    /// Those of these operating points.
    pub fn of(drives: impl IntoIterator<Item = Drive>) -> Self {
        let mut used = Self { half_bridge: false, full_bridge: false };
        for drive in drives {
            match drive {
                Drive::HalfBridge => used.half_bridge = true,
                Drive::FullBridge => used.full_bridge = true,
            }
        }
        used
    }

    /// Whether both drives are used.
    pub fn are_both(self) -> bool {
        self.half_bridge && self.full_bridge
    }
}

/// Legs of the bridge chain: as many as any operating point drives, 1 without one.
pub fn driven_legs(drives: impl Iterator<Item = Drive>) -> usize {
    drives.map(Drive::legs).max().unwrap_or(1)
}

/// Voltage gain: turns ratio × output voltage over the phase's share of the input.
///
/// `M = n Vo / (Vin/N)`, so that a full bridge with a full-bridge rectifier stands at 1 at series
/// resonance, loss and diode drop apart (common practice, no source).
pub fn voltage_gain(turns_ratio: f64, output: Volt, input: Volt, phases: usize) -> f64 {
    turns_ratio * output.0 * phases as f64 / input.0
}

/// How the phases stand at the input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Arrangement {
    /// Bridges in a chain with charge-balancing (flying) capacitors.
    Chain,
    /// Every bridge across the whole input, tanks rescaled to it; no charge balancing.
    Paralleled,
}

impl Arrangement {
    /// Both, the chain first.
    pub const ALL: [Self; 2] = [Self::Chain, Self::Paralleled];

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Chain => "chain",
            Self::Paralleled => "paralleled",
        }
    }
}

/// The band in which the control loop may set the switching frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrequencyBand {
    /// Lowest switching frequency, above zero.
    pub minimum: Hertz,
    /// Highest switching frequency, above the lowest.
    pub maximum: Hertz,
}

impl FrequencyBand {
    /// Whether a frequency lies inside, its ends included.
    pub fn contains(&self, frequency: Hertz) -> bool {
        (self.minimum..=self.maximum).contains(&frequency)
    }

    /// A dead time as long as this leaves no room for the switches to conduct: a quarter of the shortest period.
    pub fn too_long_dead_time(&self) -> Second {
        Second(0.25 / self.maximum.0)
    }

    /// The longest dead time worth trying at a switching frequency: an eighth of the period, and what the band
    /// leaves room for, with enough to spare that three digits of it do too.
    pub fn longest_dead_time(&self, frequency: Hertz) -> Second {
        Second((0.125 / frequency.0).min(0.99 * self.too_long_dead_time().0))
    }

    /// The band with its lower end divided and its upper one multiplied by a factor.
    #[must_use]
    pub fn widened(&self, factor: f64) -> Self {
        Self { minimum: Hertz(self.minimum.0 / factor), maximum: Hertz(self.maximum.0 * factor) }
    }
}
