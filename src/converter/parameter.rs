//! The parameters in which parts differ.

use schemars::JsonSchema;
use serde::Serialize;

use super::Arrangement;

/// A parameter of the parts that has a tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, JsonSchema, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Parameter {
    /// Series resonant inductance.
    ResonantInductance,
    /// Series resonant capacitance.
    ResonantCapacitance,
    /// Magnetising inductance.
    MagnetisingInductance,
    /// Turns ratio.
    TurnsRatio,
    /// Series resistance, referred to the primary.
    SeriesResistance,
    /// Forward drop of one rectifier diode.
    RectifierDrop,
    /// Every flying capacitor of every leg.
    FlyingCapacitance,
}

/// What decides how many parts a converter has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ConverterSize {
    /// Phases.
    pub phases: usize,
    /// Driven legs of every phase's bridge: one in half-bridge drive, two in full-bridge drive.
    pub legs: usize,
}

impl Parameter {
    /// Number of parts with this parameter in one converter: one for each phase. Of flying
    /// capacitors a chain has N − 1 in each driven leg, a paralleled converter none.
    pub fn parts(self, size: ConverterSize, arrangement: Arrangement) -> usize {
        let ConverterSize { phases, legs } = size;
        match (self, arrangement) {
            (Self::FlyingCapacitance, Arrangement::Paralleled) => 0,
            (Self::FlyingCapacitance, Arrangement::Chain) => legs * phases.saturating_sub(1),
            _ => phases,
        }
    }

    /// All of them, in the order in which they are drawn.
    pub const ALL: [Self; 7] = [
        Self::ResonantInductance,
        Self::ResonantCapacitance,
        Self::MagnetisingInductance,
        Self::TurnsRatio,
        Self::SeriesResistance,
        Self::RectifierDrop,
        Self::FlyingCapacitance,
    ];

    /// Its index in [`Self::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// Those of a tank: all but the flying capacitance.
    pub fn of_tank() -> impl Iterator<Item = Self> + Clone {
        Self::ALL.into_iter().filter(|p| *p != Self::FlyingCapacitance)
    }

    /// What follows its name in the columns of result files: the SI unit.
    pub fn unit_suffix(self) -> &'static str {
        match self {
            Self::ResonantInductance | Self::MagnetisingInductance => "_H",
            Self::ResonantCapacitance | Self::FlyingCapacitance => "_F",
            Self::TurnsRatio => "",
            Self::SeriesResistance => "_ohm",
            Self::RectifierDrop => "_V",
        }
    }

    /// The key used in scenario files.
    pub fn key(self) -> &'static str {
        match self {
            Self::ResonantInductance => "resonant_inductance",
            Self::ResonantCapacitance => "resonant_capacitance",
            Self::MagnetisingInductance => "magnetising_inductance",
            Self::TurnsRatio => "turns_ratio",
            Self::SeriesResistance => "series_resistance",
            Self::RectifierDrop => "rectifier_drop",
            Self::FlyingCapacitance => "flying_capacitance",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three phases by hand: two flying capacitors a leg of the chain.
    #[test]
    fn parts_by_hand() {
        let size = |legs| ConverterSize { phases: 3, legs };
        let flying =
            |legs, arrangement| Parameter::FlyingCapacitance.parts(size(legs), arrangement);
        assert_eq!(flying(1, Arrangement::Chain), 2);
        assert_eq!(flying(2, Arrangement::Chain), 4);
        assert_eq!(flying(2, Arrangement::Paralleled), 0);
        assert_eq!(Parameter::TurnsRatio.parts(size(2), Arrangement::Paralleled), 3);
    }

    #[test]
    fn the_index_is_the_place_in_the_list() {
        for (index, parameter) in Parameter::ALL.into_iter().enumerate() {
            assert_eq!(parameter.index(), index);
        }
    }
}
