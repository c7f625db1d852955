//! Converters to be solved: whose parts are known, or drawn.
//!
//! Sample k is a function of seed and k alone: it has a random stream of its own, and within it
//! every part has its place, so that neither the number of threads nor a tolerance added or
//! dropped changes the draws of the others.

pub mod columns;
pub mod current_readings;
pub mod loss_columns;
mod matched;
pub mod measured_currents;
mod measured_draws;
pub mod measurements;
pub mod parts_file;
mod random_source;
mod scores;
mod sensors;
pub mod stock;
mod tank_cells;

pub use self::measured_draws::{HeldColumn, MeasuredDraws};
pub use self::random_source::RandomSource;
pub use self::scores::Scores;
use self::scores::{PropertyScores, Scattered};
pub use self::sensors::SensorScatter;
use crate::converter::{Converter, Drive, Parameter, PartResponse, Property};
use crate::scenario::{Copula, Matching, Scenario, Tolerance, Tolerances};
use crate::statistics::{Marginal, copula, normal};

/// All converters that could be built from the scenario's parts.
#[derive(Debug, Clone)]
pub struct Population {
    nominal: Converter,
    source: RandomSource,
    scatter: [Option<Scatter>; Parameter::ALL.len()],
    /// Of the nominal converter's responses to temperature and age, in their order.
    responses: Vec<Option<Scatter>>,
    copula: Option<Copula>,
    /// Converters that share their lots; none where each has lots of its own.
    batch: Option<u64>,
    /// Legs of every bridge that are ever driven.
    legs: usize,
}

/// How one parameter scatters.
#[derive(Debug, Clone)]
struct Scatter {
    marginal: Marginal,
    middle: f64,
    band: f64,
    /// Weights of the common and the own normal score; none when nothing is shared.
    lot: Option<[f64; 2]>,
    /// Whether all lots are alike: their score is 0.
    has_exact_lots: bool,
    /// How the parts are matched; none where they are taken as they come.
    matching: Option<Matching>,
}

impl Scatter {
    fn new(tolerance: &Tolerance) -> Self {
        let marginal = tolerance.shape.marginal();
        let lot = (tolerance.lot_share > 0.0).then(|| {
            let share = copula::common_share(&marginal, tolerance.lot_share);
            [share.sqrt(), (1.0 - share).sqrt()]
        });
        let Tolerance { middle, band, matching, .. } = *tolerance;
        Self { marginal, middle, band, lot, has_exact_lots: false, matching }
    }

    /// The factor on the nominal value, from the lot's and the part's own probability.
    fn factor(&self, common: f64, own: f64) -> f64 {
        1.0 + self.deviation(common, own)
    }

    /// The deviation from the nominal value, from the lot's and the part's own probability.
    fn deviation(&self, common: f64, own: f64) -> f64 {
        match self.lot {
            None => self.deviation_at(own),
            Some(_) => self.deviation_of_scores(normal::quantile(common), normal::quantile(own)),
        }
    }

    /// The deviation from the nominal value, from the lot's and the part's own normal score.
    fn deviation_of_scores(&self, common: f64, own: f64) -> f64 {
        let [shared, alone] = self.lot.unwrap_or([0.0, 1.0]);
        let common = if self.has_exact_lots { 0.0 } else { common };
        self.deviation_at(normal::probability(shared * common + alone * own))
    }

    /// The deviation below which a share `p` of the parts lies.
    fn deviation_at(&self, p: f64) -> f64 {
        self.middle + self.band * self.marginal.quantile(p)
    }
}

impl Population {
    /// The population that a scenario describes, drawn from a seed or from any other source.
    pub fn new(scenario: &Scenario, source: impl Into<RandomSource>) -> Self {
        Self::with_tolerances(scenario.nominal_converter(), &scenario.tolerances, source)
    }

    /// Converters about a nominal one, with these tolerances.
    pub fn with_tolerances(
        nominal: Converter,
        tolerances: &Tolerances,
        source: impl Into<RandomSource>,
    ) -> Self {
        let scatter = Parameter::ALL.map(|p| tolerances.get(p).map(Scatter::new));
        let responses = tolerances.responses().iter();
        let responses =
            responses.map(|own| (own.scatter.band > 0.0).then(|| Scatter::new(&own.scatter)));
        let responses = responses.collect();
        let nominal = Converter { responses: tolerances.nominal_responses(&nominal), ..nominal };
        let (source, copula) = (source.into(), tolerances.copula());
        Self {
            nominal,
            source,
            scatter,
            responses,
            copula,
            batch: None,
            legs: Drive::FullBridge.legs(),
        }
    }

    /// The same population where so many legs of every bridge are ever driven. It decides how many flying
    /// capacitors a converter has, and so how many are matched. Both, where nobody says.
    #[must_use]
    pub fn with_driven_legs(self, legs: usize) -> Self {
        Self { legs, ..self }
    }

    /// The converter whose parts are all nominal.
    pub fn nominal(&self) -> &Converter {
        &self.nominal
    }

    /// The same population with one property exact: all others are as before.
    #[must_use]
    pub fn with_exact(&self, property: impl Into<Property>) -> Self {
        self.with_scatter(property.into(), |scatter| *scatter = None)
    }

    /// The same population with all lots of one property alike, in the middle of what they would be: what
    /// each part has by itself stays.
    #[must_use]
    pub fn with_exact_lots(&self, property: impl Into<Property>) -> Self {
        self.with_scatter(property.into(), |scatter| {
            if let Some(scatter) = scatter {
                scatter.has_exact_lots = true;
            }
        })
    }

    /// The same population with another scatter of one property.
    fn with_scatter(&self, property: Property, change: impl Fn(&mut Option<Scatter>)) -> Self {
        let (mut population, Property { parameter, influence }) = (self.clone(), property);
        match influence {
            None => change(&mut population.scatter[parameter.index()]),
            Some(influence) => {
                let responses = self.nominal.responses.iter().zip(&mut population.responses);
                let is_own =
                    |r: &PartResponse| (r.parameter, r.influence) == (parameter, influence);
                responses.filter(|(own, _)| is_own(own)).for_each(|(_, scatter)| change(scatter));
            }
        }
        population
    }

    /// The same population delivered in batches of so many converters, one at least. All converters
    /// of a batch share the lots of their parts. Other random numbers are drawn.
    #[must_use]
    pub fn in_batches(&self, converters: u64) -> Self {
        Self { batch: Some(converters.max(1)), ..self.clone() }
    }

    /// Draws the parts of sample number `sample`.
    pub fn draw(&self, sample: u64) -> Converter {
        self.build(&self.scores(sample))
    }

    /// The probabilities that sample number `sample` is built from.
    pub fn scores(&self, sample: u64) -> Scores {
        let scattered = self.scattered();
        let draw = |mut rng| Scores::draw(&self.nominal, scattered, &mut rng);
        let own = || match self.batch {
            None => self.source.generator(sample),
            Some(_) => self.source.batch_generator(sample),
        };
        let mut scores = draw(own());
        if let Some(converters) = self.batch {
            scores.take_all_commons(&draw(self.source.lot_generator(sample / converters)));
        }
        self.match_parts(&mut scores, own);
        scores
    }

    /// What scatters beside the parts that every converter has.
    fn scattered(&self) -> Scattered {
        let is_of_losses = |parameter: Parameter| parameter.index_of_losses().is_some();
        let responses = self.nominal.responses.iter().zip(&self.responses);
        let mut scattered = Scattered {
            responses: false,
            losses: Parameter::OF_LOSSES.iter().any(|p| self.scatter[p.index()].is_some()),
        };
        for (response, _) in responses.filter(|(_, scatter)| scatter.is_some()) {
            if is_of_losses(response.parameter) {
                scattered.losses = true;
            } else {
                scattered.responses = true;
            }
        }
        scattered
    }

    /// The converter that these probabilities make.
    pub fn build(&self, scores: &Scores) -> Converter {
        let mut converter = self.nominal.clone();
        let scattered = Parameter::ALL.into_iter().zip(&self.scatter);
        for (parameter, scatter) in scattered.filter_map(|(p, s)| Some((p, s.as_ref()?))) {
            let member = self.copula.as_ref().and_then(|copula| {
                let place = copula.members.iter().position(|member| *member == parameter)?;
                Some(CorrelatedMember { copula, place })
            });
            let Some(own) = scores.of_property(parameter.into()) else { continue };
            let factors = (0..own.parts.len()).map(|part| match &member {
                Some(member) => member.factor(scatter, scores, part),
                None => scatter.factor(own.common, own.parts[part]),
            });
            multiply_parts(&mut converter, parameter, factors);
        }
        self.build_responses(scores, &mut converter.responses);
        converter
    }

    /// How the converter's parts respond to temperature and age.
    fn build_responses(&self, scores: &Scores, responses: &mut [PartResponse]) {
        for (response, scatter) in responses.iter_mut().zip(&self.responses) {
            let property = response.property();
            let (Some(scatter), Some(own)) = (scatter, scores.of_property(property)) else {
                continue;
            };
            let parts = response.values.iter_mut().zip(&own.parts);
            parts.for_each(|(value, part)| *value = scatter.deviation(own.common, *part));
        }
    }
}

/// Multiplies the parts of one parameter by these factors, part by part.
fn multiply_parts(
    converter: &mut Converter,
    parameter: Parameter,
    factors: impl Iterator<Item = f64>,
) {
    let Converter { tanks, flying, flying_return, losses, .. } = converter;
    if parameter == Parameter::FlyingCapacitance {
        let capacitors = flying.iter_mut().chain(flying_return);
        capacitors.zip(factors).for_each(|(capacitor, factor)| capacitor.0 *= factor);
    } else if parameter.index_of_losses().is_some() {
        let values = losses.iter_mut().flat_map(|own| own.values_mut(parameter));
        values.zip(factors).for_each(|(value, factor)| *value *= factor);
    } else {
        let values = tanks.iter_mut().filter_map(|tank| tank.value_mut(parameter));
        values.zip(factors).for_each(|(value, factor)| *value *= factor);
    }
}

/// A parameter that is correlated with others.
struct CorrelatedMember<'a> {
    copula: &'a Copula,
    /// Its place among the members.
    place: usize,
}

impl CorrelatedMember<'_> {
    /// The factor on the nominal value in a phase: the scores of the members are mixed first.
    fn factor(&self, scatter: &Scatter, scores: &Scores, phase: usize) -> f64 {
        let mixed = |factors: &[f64], probability: &dyn Fn(&PropertyScores) -> f64| {
            let terms = self.copula.members.iter().zip(factors).map(|(member, factor)| {
                let own = scores.of_property((*member).into());
                // What does not scatter has no member here.
                factor * own.map_or(0.0, |own| normal::quantile(probability(own)))
            });
            // In the order of the members, those after this one left out: their factors are zero.
            terms.take(self.place + 1).sum::<f64>()
        };
        let common = mixed(&self.copula.common[self.place], &|own| own.common);
        let own = mixed(&self.copula.own[self.place], &|own| own.parts[phase]);
        1.0 + scatter.deviation_of_scores(common, own)
    }
}
