//! The probabilities that a sample is built from, before shapes, lots and bands make values of
//! them.

use rand::{Rng, rngs::ChaCha8Rng};

use crate::converter::{Converter, Influence, LossParts, Parameter, PartNumbers, Property};

/// Where the draws of the responses to temperature and age begin, in words of 32 bits. The stream
/// holds 2⁶⁸; those of the sensors begin at 2⁴⁰.
const RESPONSES: u128 = 1 << 41;
/// Where the draws of the parts that tell losses apart begin, and of their responses.
const LOSSES: u128 = 1 << 42;
/// Parameters of the circuit, and of the parts that tell losses apart.
const OF_CIRCUIT: usize = Parameter::OF_CIRCUIT.len();
const OF_LOSSES: usize = Parameter::OF_LOSSES.len();

/// What scatters beside the values of the parts that every converter has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Scattered {
    /// How these respond to temperature or age.
    pub responses: bool,
    /// The parts that tell losses apart, or how they respond.
    pub losses: bool,
}

/// The probabilities of one property, each strictly between 0 and 1. They are drawn in place: a list of them is
/// large.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct PropertyScores {
    /// What all parts of the converter have in common; without effect where no lot is shared.
    pub common: f64,
    /// One a part: of the phases, of the flying capacitors of the driven, then the return leg, or of the
    /// switches.
    pub parts: PartNumbers,
}

/// The probabilities of one sample: independent of each other, each uniform between 0 and 1.
///
/// A sample's converter is a function of them. Two samples may exchange groups of them, which is
/// how the share of the variance that a group explains is estimated.
#[derive(Debug, Clone, PartialEq)]
pub struct Scores {
    /// In the order of [`Parameter::OF_CIRCUIT`].
    values: [PropertyScores; OF_CIRCUIT],
    /// Of their responses to temperature, then to age, parameter by parameter; empty where no response
    /// scatters.
    responses: Vec<PropertyScores>,
    /// Of the parts that tell losses apart: values, responses to temperature, then to age, each in the
    /// order of [`Parameter::OF_LOSSES`]; empty where none of them scatters.
    losses: Vec<PropertyScores>,
}

impl PropertyScores {
    fn draw(&mut self, parts: usize, rng: &mut ChaCha8Rng) {
        self.common = probability(rng);
        self.parts.clear();
        self.parts.extend((0..parts).map(|_| probability(rng)));
    }
}

impl Scores {
    /// Draws them in a fixed order: parameter by parameter, what is common first. A parameter
    /// without a tolerance takes its draws too: the others must not depend on it. The responses, and the
    /// parts that tell losses apart, have places of their own in the stream.
    pub(super) fn draw(converter: &Converter, scattered: Scattered, rng: &mut ChaCha8Rng) -> Self {
        let mut own = Self {
            values: std::array::from_fn(|_| PropertyScores::default()),
            responses: Vec::new(),
            losses: Vec::new(),
        };
        for (scores, parameter) in own.values.iter_mut().zip(Parameter::OF_CIRCUIT) {
            scores.draw(converter.parts(parameter), rng);
        }
        if scattered.responses {
            rng.set_word_pos(RESPONSES);
            own.responses = vec![PropertyScores::default(); 2 * OF_CIRCUIT];
            let parameters = Parameter::OF_CIRCUIT.into_iter().cycle();
            let responses = own.responses.iter_mut().zip(parameters);
            responses.for_each(|(scores, own)| scores.draw(converter.parts(own), rng));
        }
        if scattered.losses {
            rng.set_word_pos(LOSSES);
            own.losses = vec![PropertyScores::default(); 3 * OF_LOSSES];
            let parameters = Parameter::OF_LOSSES.into_iter().cycle();
            let count = |own| LossParts::count(own, converter.phases());
            let losses = own.losses.iter_mut().zip(parameters);
            losses.for_each(|(scores, own)| scores.draw(count(own), rng));
        }
        own
    }

    /// Those of a property; none where nothing like it scatters.
    pub(super) fn of_property(&self, property: Property) -> Option<&PropertyScores> {
        match ScorePlace::of(property) {
            ScorePlace::Value(index) => self.values.get(index),
            ScorePlace::Response(index) => self.responses.get(index),
            ScorePlace::Loss(index) => self.losses.get(index),
        }
    }

    pub(super) fn of_property_mut(&mut self, property: Property) -> Option<&mut PropertyScores> {
        match ScorePlace::of(property) {
            ScorePlace::Value(index) => self.values.get_mut(index),
            ScorePlace::Response(index) => self.responses.get_mut(index),
            ScorePlace::Loss(index) => self.losses.get_mut(index),
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
        let own = self.values.iter_mut().chain(&mut self.responses).chain(&mut self.losses);
        let other = from.values.iter().chain(&from.responses).chain(&from.losses);
        own.zip(other).for_each(|(own, other)| own.common = other.common);
    }
}

/// In which list the scores of a property are, and where.
#[derive(Debug, Clone, Copy)]
enum ScorePlace {
    Value(usize),
    Response(usize),
    Loss(usize),
}

impl ScorePlace {
    fn of(property: Property) -> Self {
        let Property { parameter, influence } = property;
        // Blocks of scores: values, responses to temperature, responses to age.
        let block = match influence {
            None => 0,
            Some(Influence::Temperature | Influence::AnyTemperature) => 1,
            Some(Influence::Age) => 2,
        };
        match (parameter.index_of_losses(), block) {
            (Some(index), _) => Self::Loss(block * OF_LOSSES + index),
            (None, 0) => Self::Value(parameter.index()),
            (None, _) => Self::Response((block - 1) * OF_CIRCUIT + parameter.index()),
        }
    }
}

/// A probability strictly between 0 and 1: the middle of one of 2⁵³ equal cells.
pub(super) fn probability(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
}
