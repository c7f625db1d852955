//! The probabilities that a sample is built from, before shapes, lots and bands make values of
//! them.

use arrayvec::ArrayVec;
use rand::{Rng, rngs::ChaCha8Rng};

use crate::converter::{Converter, Influence, MAX_PARTS, Parameter, Property};

/// Where the draws of the responses to temperature and age begin, in words of 32 bits. The stream
/// holds 2⁶⁸; those of the sensors begin at 2⁴⁰.
const RESPONSES: u128 = 1 << 41;

/// The probabilities of one property, each strictly between 0 and 1.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PropertyScores {
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
pub struct Scores {
    values: [PropertyScores; Parameter::ALL.len()],
    /// Of the responses to temperature, then to age, parameter by parameter; empty where no response
    /// scatters.
    responses: Vec<PropertyScores>,
}

impl PropertyScores {
    fn draw(converter: &Converter, parameter: Parameter, rng: &mut ChaCha8Rng) -> Self {
        let common = probability(rng);
        let parts = (0..converter.parts(parameter)).map(|_| probability(rng)).collect();
        Self { common, parts }
    }
}

impl Scores {
    /// Draws them in a fixed order: parameter by parameter, what is common first. A parameter
    /// without a tolerance takes its draws too: the others must not depend on it. The responses have
    /// a place of their own in the stream.
    pub(super) fn draw(converter: &Converter, with_responses: bool, rng: &mut ChaCha8Rng) -> Self {
        let values =
            Parameter::ALL.map(|parameter| PropertyScores::draw(converter, parameter, rng));
        let mut responses = Vec::new();
        if with_responses {
            rng.set_word_pos(RESPONSES);
            for _ in [Influence::Temperature, Influence::Age] {
                let all = Parameter::ALL.into_iter();
                responses.extend(all.map(|p| PropertyScores::draw(converter, p, rng)));
            }
        }
        Self { values, responses }
    }

    /// Those of a parameter's values.
    pub(super) fn of_parameter(&self, parameter: Parameter) -> &PropertyScores {
        &self.values[parameter.index()]
    }

    /// Those of a property; none of a response where no response scatters.
    pub(super) fn of_property(&self, property: Property) -> Option<&PropertyScores> {
        match response_place(property) {
            None => Some(self.of_parameter(property.parameter)),
            Some(place) => self.responses.get(place),
        }
    }

    fn of_property_mut(&mut self, property: Property) -> Option<&mut PropertyScores> {
        match response_place(property) {
            None => Some(&mut self.values[property.parameter.index()]),
            Some(place) => self.responses.get_mut(place),
        }
    }

    /// Takes what the parts have in common in a property from another sample of the same population.
    pub fn take_common(&mut self, property: impl Into<Property>, from: &Self) {
        let property = property.into();
        if let (Some(own), Some(other)) =
            (self.of_property_mut(property), from.of_property(property))
        {
            own.common = other.common;
        }
    }

    /// Takes what the parts have each by itself in a property from another sample of the same
    /// population.
    pub fn take_parts(&mut self, property: impl Into<Property>, from: &Self) {
        let property = property.into();
        if let (Some(own), Some(other)) =
            (self.of_property_mut(property), from.of_property(property))
        {
            own.parts.clone_from(&other.parts);
        }
    }

    /// Takes what the parts have in common in all properties from another sample.
    pub(super) fn take_all_commons(&mut self, from: &Self) {
        let own = self.values.iter_mut().chain(&mut self.responses);
        let other = from.values.iter().chain(&from.responses);
        own.zip(other).for_each(|(own, other)| own.common = other.common);
    }
}

/// The place of a property among the responses; none of a value.
fn response_place(property: Property) -> Option<usize> {
    let index = property.parameter.index();
    match property.influence? {
        Influence::Temperature | Influence::AnyTemperature => Some(index),
        Influence::Age => Some(Parameter::ALL.len() + index),
    }
}

/// A probability strictly between 0 and 1: the middle of one of 2⁵³ equal cells.
pub(super) fn probability(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}
