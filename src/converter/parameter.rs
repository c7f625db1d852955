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
    /// On-resistance of every switch.
    OnResistance,
    /// Resistance of the primary winding.
    PrimaryWindingResistance,
    /// Resistance of the secondary winding, at the secondary; of half a winding with a centre tap.
    SecondaryWindingResistance,
    /// Slope resistance of one rectifier diode, at the secondary.
    RectifierResistance,
    /// Thermal resistance of every switch, junction to ambient.
    SwitchThermalResistance,
    /// Thermal resistance of one rectifier diode, junction to ambient.
    RectifierThermalResistance,
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
    /// capacitors a chain has N − 1 in each driven leg, a paralleled converter none. Of switches that
    /// are ever on a phase has three in half-bridge and four in full-bridge drive.
    pub fn parts(self, size: ConverterSize, arrangement: Arrangement) -> usize {
        let ConverterSize { phases, legs } = size;
        match (self, arrangement) {
            (Self::FlyingCapacitance, Arrangement::Paralleled) => 0,
            (Self::FlyingCapacitance, Arrangement::Chain) => legs * phases.saturating_sub(1),
            (Self::OnResistance | Self::SwitchThermalResistance, _) => (2 + legs) * phases,
            _ => phases,
        }
    }

    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::ResonantInductance,
        Self::ResonantCapacitance,
        Self::MagnetisingInductance,
        Self::TurnsRatio,
        Self::SeriesResistance,
        Self::RectifierDrop,
        Self::FlyingCapacitance,
        Self::OnResistance,
        Self::PrimaryWindingResistance,
        Self::SecondaryWindingResistance,
        Self::RectifierResistance,
        Self::SwitchThermalResistance,
        Self::RectifierThermalResistance,
    ];

    /// Those that every converter has, in the order in which they are drawn.
    pub const OF_CIRCUIT: [Self; 7] = [
        Self::ResonantInductance,
        Self::ResonantCapacitance,
        Self::MagnetisingInductance,
        Self::TurnsRatio,
        Self::SeriesResistance,
        Self::RectifierDrop,
        Self::FlyingCapacitance,
    ];

    /// Those that tell losses apart ([`LossParts`](super::LossParts)), in the order in which they are
    /// drawn.
    pub const OF_LOSSES: [Self; 6] = [
        Self::OnResistance,
        Self::PrimaryWindingResistance,
        Self::SecondaryWindingResistance,
        Self::RectifierResistance,
        Self::SwitchThermalResistance,
        Self::RectifierThermalResistance,
    ];

    /// Its index in [`Self::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// Its index in [`Self::OF_LOSSES`], if it is there.
    pub fn index_of_losses(self) -> Option<usize> {
        self.index().checked_sub(Self::OF_CIRCUIT.len())
    }

    /// Those of a tank: of [`Self::OF_CIRCUIT`] all but the flying capacitance.
    pub fn of_tank() -> impl Iterator<Item = Self> + Clone {
        Self::OF_CIRCUIT.into_iter().filter(|p| *p != Self::FlyingCapacitance)
    }

    /// Whether each switch has one.
    pub fn is_of_switches(self) -> bool {
        matches!(self, Self::OnResistance | Self::SwitchThermalResistance)
    }

    /// Whether a phase has one such part: it has several switches, and flying capacitors belong to no phase.
    pub fn is_one_a_phase(self) -> bool {
        !self.is_of_switches() && self != Self::FlyingCapacitance
    }

    /// What follows its name in the columns of result files: the SI unit.
    pub fn unit_suffix(self) -> &'static str {
        match self {
            Self::ResonantInductance | Self::MagnetisingInductance => "_H",
            Self::ResonantCapacitance | Self::FlyingCapacitance => "_F",
            Self::TurnsRatio => "",
            Self::SeriesResistance
            | Self::OnResistance
            | Self::PrimaryWindingResistance
            | Self::SecondaryWindingResistance
            | Self::RectifierResistance => "_ohm",
            Self::RectifierDrop => "_V",
            Self::SwitchThermalResistance | Self::RectifierThermalResistance => "_K_per_W",
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
            Self::OnResistance => "on_resistance",
            Self::PrimaryWindingResistance => "primary_winding_resistance",
            Self::SecondaryWindingResistance => "secondary_winding_resistance",
            Self::RectifierResistance => "rectifier_resistance",
            Self::SwitchThermalResistance => "switch_thermal_resistance",
            Self::RectifierThermalResistance => "rectifier_thermal_resistance",
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
        let switches = |legs| Parameter::OnResistance.parts(size(legs), Arrangement::Chain);
        assert_eq!([switches(1), switches(2)], [9, 12]);
    }

    #[test]
    fn the_index_is_the_place_in_the_list() {
        for (index, parameter) in Parameter::ALL.into_iter().enumerate() {
            assert_eq!(parameter.index(), index);
        }
        let parts = [&Parameter::OF_CIRCUIT[..], &Parameter::OF_LOSSES].concat();
        assert_eq!(parts, Parameter::ALL);
        for (index, parameter) in Parameter::OF_LOSSES.into_iter().enumerate() {
            assert_eq!(parameter.index_of_losses(), Some(index));
        }
        assert_eq!(Parameter::FlyingCapacitance.index_of_losses(), None);
    }
}
