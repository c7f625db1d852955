//! The parts of one converter.

use arrayvec::ArrayVec;

use super::losses::of_phases;
use super::{
    Arrangement, Drive, Influence, LossParts, MAX_PHASES, Parameter, PartResponse, Property,
};
use crate::units::{Farad, Henry, Ohm, Volt};

/// The parts of one phase: an LLC tank, its transformer and its rectifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tank {
    /// Series resonant inductance.
    pub resonant_inductance: Henry,
    /// Series resonant capacitance.
    pub resonant_capacitance: Farad,
    /// Magnetising inductance, across the primary winding.
    pub magnetising_inductance: Henry,
    /// Turns ratio, primary to secondary.
    pub turns_ratio: f64,
    /// Resistance of switches and windings, referred to the primary: all that is not told apart.
    pub series_resistance: Ohm,
    /// Forward drop of one rectifier diode.
    pub rectifier_drop: Volt,
}

impl Tank {
    /// The value of one of its parameters, in SI units; none for those that are not the tank's.
    pub fn value(mut self, parameter: Parameter) -> Option<f64> {
        self.value_mut(parameter).copied()
    }

    /// The same, to be changed.
    pub fn value_mut(&mut self, parameter: Parameter) -> Option<&mut f64> {
        match parameter {
            Parameter::ResonantInductance => Some(&mut self.resonant_inductance.0),
            Parameter::ResonantCapacitance => Some(&mut self.resonant_capacitance.0),
            Parameter::MagnetisingInductance => Some(&mut self.magnetising_inductance.0),
            Parameter::TurnsRatio => Some(&mut self.turns_ratio),
            Parameter::SeriesResistance => Some(&mut self.series_resistance.0),
            Parameter::RectifierDrop => Some(&mut self.rectifier_drop.0),
            _ => None,
        }
    }

    /// Series resonance, `f = 1 / (2π √(L_r C_r))`, in hertz.
    pub fn series_resonance(&self) -> crate::units::Hertz {
        let lc = self.resonant_inductance.0 * self.resonant_capacitance.0;
        crate::units::Hertz(1.0 / (std::f64::consts::TAU * lc.sqrt()))
    }
}

/// The flying capacitors of one driven leg: element `k` lies between phases `k + 1` and `k + 2`,
/// so a leg of N phases has N − 1.
pub type FlyingCapacitors = ArrayVec<Farad, { MAX_PHASES - 1 }>;

/// All parts of one converter.
///
/// Invariants: 2 to 12 phases; each leg has one flying capacitor fewer than there are phases.
#[derive(Debug, Clone, PartialEq)]
pub struct Converter {
    /// One tank a phase.
    pub tanks: ArrayVec<Tank, MAX_PHASES>,
    /// Flying capacitors of the driven leg.
    pub flying: FlyingCapacitors,
    /// Flying capacitors of the return leg; without effect in half-bridge drive.
    pub flying_return: FlyingCapacitors,
    /// How its parts respond to temperature and age; those that are not here keep their values. The
    /// values above hold new, at the reference temperature.
    pub responses: Vec<PartResponse>,
    /// The parts that tell losses apart; none where no losses are.
    pub losses: Option<Box<LossParts>>,
    /// Number of phases while all parts work. Tanks and switches of the paralleled reference are rescaled by
    /// it, also where a phase is lost.
    pub healthy_phases: usize,
    /// Places of its phases among those of the healthy converter, counted from 0; none where it has all of them.
    pub places: Option<Box<[usize]>>,
}

impl Converter {
    /// A converter whose phases and flying capacitors are all equal.
    ///
    /// `phases` above [`MAX_PHASES`] is cut to it.
    pub fn uniform(phases: usize, tank: Tank, flying: Farad) -> Self {
        let phases = phases.min(MAX_PHASES);
        let flying: FlyingCapacitors =
            std::iter::repeat_n(flying, phases.saturating_sub(1)).collect();
        Self {
            tanks: std::iter::repeat_n(tank, phases).collect(),
            flying_return: flying.clone(),
            flying,
            responses: Vec::new(),
            losses: None,
            healthy_phases: phases,
            places: None,
        }
    }

    /// Number of phases.
    pub fn phases(&self) -> usize {
        self.tanks.len()
    }

    /// The place of a phase in the healthy converter: it decides when it switches, and how warm it stands.
    pub fn place(&self, phase: usize) -> usize {
        self.places.as_ref().and_then(|all| all.get(phase)).copied().unwrap_or(phase)
    }

    /// Number of its parts with a parameter; flying capacitors and switches of both legs count.
    pub fn parts(&self, parameter: Parameter) -> usize {
        match parameter {
            Parameter::FlyingCapacitance => self.flying.len() + self.flying_return.len(),
            _ if parameter.index_of_losses().is_some() => {
                self.losses.as_ref().map_or(0, |own| own.values(parameter).len())
            }
            _ => self.tanks.len(),
        }
    }

    /// The value of one part in SI units: of the phase with this index, of a flying capacitor, those of
    /// the driven leg first, or of a switch ([`SwitchPlace`](super::SwitchPlace)). None where there is
    /// no such part.
    pub fn part(&self, parameter: Parameter, index: usize) -> Option<f64> {
        let Self { tanks, flying, flying_return, losses, .. } = self;
        match parameter {
            Parameter::FlyingCapacitance => {
                flying.iter().chain(flying_return).nth(index).map(|c| c.0)
            }
            _ if parameter.index_of_losses().is_some() => {
                losses.as_ref()?.values(parameter).get(index).copied()
            }
            _ => tanks.get(index)?.value(parameter),
        }
    }

    /// The same, to be changed.
    pub fn part_mut(&mut self, parameter: Parameter, index: usize) -> Option<&mut f64> {
        let Self { tanks, flying, flying_return, losses, .. } = self;
        match parameter {
            Parameter::FlyingCapacitance => {
                flying.iter_mut().chain(flying_return).nth(index).map(|c| &mut c.0)
            }
            _ if parameter.index_of_losses().is_some() => {
                losses.as_mut()?.values_mut(parameter).get_mut(index)
            }
            _ => tanks.get_mut(index)?.value_mut(parameter),
        }
    }
}

impl Converter {
    /// The converter that these of its phases make, counted from 0. Its flying capacitors are taken to
    /// be without ripple: what joins the phases is to be told apart.
    #[must_use]
    pub fn of_phases(&self, kept: &[usize]) -> Self {
        let phases = self.phases();
        let joints = kept.len().saturating_sub(1);
        let flying: FlyingCapacitors = std::iter::repeat_n(Farad(f64::INFINITY), joints).collect();
        let responses =
            self.responses.iter().filter(|own| own.parameter != Parameter::FlyingCapacitance);
        Self {
            tanks: kept.iter().filter_map(|k| self.tanks.get(*k)).copied().collect(),
            flying_return: flying.clone(),
            flying,
            responses: responses
                .map(|own| PartResponse {
                    values: of_phases(&own.values, kept, phases),
                    ..own.clone()
                })
                .collect(),
            losses: self.losses.as_ref().map(|own| Box::new(own.of_phases(kept, phases))),
            healthy_phases: self.healthy_phases,
            places: Some(kept.iter().map(|k| self.place(*k)).collect()),
        }
    }

    /// A property of one part: its value, or how it responds. None where there is no such part.
    pub fn property(&self, property: Property, index: usize) -> Option<f64> {
        let Property { parameter, influence } = property;
        match influence {
            None => self.part(parameter, index),
            Some(influence) => self.response(parameter, influence).get(index).copied(),
        }
    }

    /// How the parts of a parameter respond, one a part; empty where they do not.
    pub fn response(&self, parameter: Parameter, influence: Influence) -> &[f64] {
        let mut responses = self.responses.iter();
        let own = responses.find(|r| (r.parameter, r.influence) == (parameter, influence));
        own.map_or(&[], |own| &own.values)
    }

    /// The same, to be changed.
    pub fn property_mut(&mut self, property: Property, index: usize) -> Option<&mut f64> {
        let Property { parameter, influence } = property;
        match influence {
            None => self.part_mut(parameter, index),
            Some(influence) => {
                let mut responses = self.responses.iter_mut();
                let own =
                    responses.find(|r| (r.parameter, r.influence) == (parameter, influence))?;
                own.values.get_mut(index)
            }
        }
    }
}

impl Converter {
    /// κ and κ′ in 1/farad: what the flying capacitors add to the resonant elastance of phase `k`,
    /// counted from 0. One for the first and one for the second half of its period.
    pub fn flying_elastance(&self, k: usize, arrangement: Arrangement, drive: Drive) -> [f64; 2] {
        match (arrangement, drive) {
            (Arrangement::Paralleled, _) => [0.0, 0.0],
            (Arrangement::Chain, Drive::HalfBridge) => [neighbours(&self.flying, k), 0.0],
            (Arrangement::Chain, Drive::FullBridge) => {
                [neighbours(&self.flying, k), neighbours(&self.flying_return, k)]
            }
        }
    }
}

/// Sum of 1/C, in 1/farad, of a leg's flying capacitors next to phase `k`, counted from 0.
pub fn neighbours(flying: &[Farad], k: usize) -> f64 {
    let before = k.checked_sub(1).and_then(|n| flying.get(n));
    [before, flying.get(k)].into_iter().flatten().map(|c| 1.0 / c.0).sum()
}
