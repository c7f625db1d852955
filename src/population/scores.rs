//! The probabilities that a sample is built from, before shapes, lots and bands make values of
//! them.

use arrayvec::ArrayVec;
use rand::{Rng, rngs::ChaCha8Rng};

use crate::converter::{Converter, MAX_PHASES, Parameter};

/// Most parts of one parameter: the flying capacitors of both legs.
const MAX_PARTS: usize = 2 * (MAX_PHASES - 1);

/// The probabilities of one parameter, each strictly between 0 and 1.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ParameterScores {
    /// What all parts of the converter have in common; without effect where no lot is shared.
    pub common: f64,
    /// One a part: of the phases, or of the flying capacitors of the driven, then the return leg.
    pub parts: ArrayVec<f64, MAX_PARTS>,
}

/// The probabilities of one sample: independent of each other, each uniform between 0 and 1.
///
/// A sample's converter is a function of them. Two samples may exchange groups of them, which is
/// how the share of the variance that a group explains is estimated.
#[derive(Debug, Clone, PartialEq)]
pub struct Scores([ParameterScores; Parameter::ALL.len()]);

impl Scores {
    /// Draws them in a fixed order: parameter by parameter, what is common first. A parameter
    /// without a tolerance takes its draws too: the others must not depend on it.
    pub(super) fn draw(converter: &Converter, rng: &mut ChaCha8Rng) -> Self {
        let Converter { tanks, flying, flying_return } = converter;
        Self(Parameter::ALL.map(|parameter| {
            let count = match parameter {
                Parameter::FlyingCapacitance => flying.len() + flying_return.len(),
                _ => tanks.len(),
            };
            let common = probability(rng);
            ParameterScores { common, parts: (0..count).map(|_| probability(rng)).collect() }
        }))
    }

    /// Those of a parameter.
    pub(super) fn of_parameter(&self, parameter: Parameter) -> &ParameterScores {
        &self.0[parameter.index()]
    }

    /// Takes what a parameter's parts have in common from another sample of the same population.
    pub fn take_common(&mut self, parameter: Parameter, from: &Self) {
        self.0[parameter.index()].common = from.of_parameter(parameter).common;
    }

    /// Takes what a parameter's parts have each by itself from another sample of the same
    /// population.
    pub fn take_parts(&mut self, parameter: Parameter, from: &Self) {
        self.0[parameter.index()].parts.clone_from(&from.of_parameter(parameter).parts);
    }
}

/// A probability strictly between 0 and 1: the middle of one of 2⁵³ equal cells.
pub(super) fn probability(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}
