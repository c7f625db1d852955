//! The parts that tell losses apart: resistances of single parts, and how warm their losses make them.

use super::{Arrangement, Leg, Parameter, PartNumbers, SWITCHES_OF_PHASE};

/// A switch of a phase, in the order in which parts of switches are counted: those of all phases in one
/// place, then in the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SwitchPlace {
    /// High side of the driven leg.
    High,
    /// Low side of the driven leg.
    Low,
    /// Low side of the return leg, on all the time in half-bridge drive.
    ReturnLow,
    /// High side of the return leg, never on in half-bridge drive.
    ReturnHigh,
}

impl SwitchPlace {
    /// All of them.
    pub const ALL: [Self; SWITCHES_OF_PHASE] =
        [Self::High, Self::Low, Self::ReturnLow, Self::ReturnHigh];

    /// Its leg.
    pub fn leg(self) -> Leg {
        match self {
            Self::High | Self::Low => Leg::Driven,
            Self::ReturnLow | Self::ReturnHigh => Leg::Return,
        }
    }

    /// Whether it is on the high side.
    pub fn is_high(self) -> bool {
        matches!(self, Self::High | Self::ReturnHigh)
    }

    /// The index of its part in a phase, counted from 0.
    pub fn part(self, phase: usize, phases: usize) -> usize {
        self as usize * phases + phase
    }
}

/// How the switches of the paralleled reference compare with those of the chain. They block N times the
/// voltage and carry an N-th of the current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParalleledSwitches {
    /// On-resistance, as a multiple of the chain's.
    pub on_resistance: f64,
    /// Thermal resistance, as a multiple of the chain's.
    pub thermal_resistance: f64,
}

impl ParalleledSwitches {
    /// Switches that lose as much at an N-th of the current, and are cooled as well: N² times the
    /// resistance.
    pub fn with_equal_loss(phases: usize) -> Self {
        Self { on_resistance: (phases * phases) as f64, thermal_resistance: 1.0 }
    }
}

/// The parts that tell losses apart; parameters that are not told have no parts.
#[derive(Debug, Clone, PartialEq)]
pub struct LossParts {
    values: [PartNumbers; Parameter::OF_LOSSES.len()],
    /// The switches of the paralleled reference.
    pub paralleled: ParalleledSwitches,
}

impl LossParts {
    /// Equal parts, with the values of [`Parameter::OF_LOSSES`] that are told.
    pub fn uniform(
        phases: usize,
        nominal: &[Option<f64>; Parameter::OF_LOSSES.len()],
        paralleled: ParalleledSwitches,
    ) -> Self {
        let mut values = std::array::from_fn(|_| PartNumbers::new());
        for ((parts, nominal), parameter) in
            values.iter_mut().zip(nominal).zip(Parameter::OF_LOSSES)
        {
            let count = Self::count(parameter, phases);
            if let Some(nominal) = nominal {
                *parts = std::iter::repeat_n(*nominal, count).collect();
            }
        }
        Self { values, paralleled }
    }

    /// Those of some of the phases.
    pub(super) fn of_phases(&self, kept: &[usize], phases: usize) -> Self {
        Self {
            values: self.values.each_ref().map(|values| of_phases(values, kept, phases)),
            paralleled: self.paralleled,
        }
    }

    /// Parts of a converter with these phases, where the parameter is told: those that are never on in
    /// half-bridge drive among them.
    pub fn count(parameter: Parameter, phases: usize) -> usize {
        if parameter.is_of_switches() { SWITCHES_OF_PHASE * phases } else { phases }
    }

    /// All parts of a parameter, in SI units; none where it is not told, or not of losses.
    pub fn values(&self, parameter: Parameter) -> &[f64] {
        parameter.index_of_losses().map_or(&[], |index| &self.values[index])
    }

    /// The same, to be changed.
    pub fn values_mut(&mut self, parameter: Parameter) -> &mut [f64] {
        match parameter.index_of_losses() {
            Some(index) => &mut self.values[index],
            None => &mut [],
        }
    }

    /// Whether a parameter is told.
    pub fn tells(&self, parameter: Parameter) -> bool {
        !self.values(parameter).is_empty()
    }

    /// One part in an arrangement; none where it is not told. Switches of the paralleled reference are
    /// those on tanks rescaled to the whole input.
    pub fn in_arrangement(
        &self,
        parameter: Parameter,
        index: usize,
        arrangement: Arrangement,
    ) -> Option<f64> {
        let value = *self.values(parameter).get(index)?;
        Some(match (parameter, arrangement) {
            (Parameter::OnResistance, Arrangement::Paralleled) => {
                value * self.paralleled.on_resistance
            }
            (Parameter::SwitchThermalResistance, Arrangement::Paralleled) => {
                value * self.paralleled.thermal_resistance
            }
            _ => value,
        })
    }
}

/// Of values that follow each other phase by phase, once or several times, those of some phases.
pub(super) fn of_phases(values: &PartNumbers, kept: &[usize], phases: usize) -> PartNumbers {
    let rounds = values.chunks(phases.max(1));
    rounds.flat_map(|round| kept.iter().filter_map(|k| round.get(*k)).copied()).collect()
}
