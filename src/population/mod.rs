//! Converters to be solved: whose parts are known, or drawn.
//!
//! Sample k is a function of seed and k alone: it has a random stream of its own, and within it
//! every part has its place, so that neither the number of threads nor a tolerance added or
//! dropped changes the draws of the others.

mod lot;
pub mod parts_file;
mod random_source;
mod scores;
mod sensors;
mod shape;
pub mod stock;
mod tank_cells;

pub use self::random_source::RandomSource;
pub use self::scores::Scores;
pub use self::sensors::SensorScatter;
use self::shape::Quantile;
use crate::converter::{Converter, Parameter};
use crate::scenario::{Scenario, Tolerance, Tolerances};
use crate::statistics::normal;

/// All converters that could be built from the scenario's parts.
#[derive(Debug, Clone)]
pub struct Population {
    nominal: Converter,
    source: RandomSource,
    scatter: [Option<Scatter>; Parameter::ALL.len()],
}

/// How one parameter scatters.
#[derive(Debug, Clone, Copy)]
struct Scatter {
    quantile: Quantile,
    band: f64,
    /// Weights of the common and the own normal score; none when nothing is shared.
    lot: Option<(f64, f64)>,
}

impl Scatter {
    fn new(tolerance: &Tolerance) -> Self {
        let quantile = Quantile::new(&tolerance.shape);
        let lot = (tolerance.lot_share > 0.0).then(|| {
            let share = lot::common_share(quantile, tolerance.lot_share);
            (share.sqrt(), (1.0 - share).sqrt())
        });
        Self { quantile, band: tolerance.band, lot }
    }

    /// The factor on the nominal value, from the lot's and the part's own probability.
    fn factor(&self, common: f64, own: f64) -> f64 {
        let p = match self.lot {
            None => own,
            Some((shared, alone)) => {
                let z = shared * normal::quantile(common) + alone * normal::quantile(own);
                normal::probability(z)
            }
        };
        1.0 + self.band * self.quantile.at(p)
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
        Self { nominal, source: source.into(), scatter }
    }

    /// The converter whose parts are all nominal.
    pub fn nominal(&self) -> &Converter {
        &self.nominal
    }

    /// The same population with one parameter exact: all other parts are as before.
    #[must_use]
    pub fn with_exact(&self, parameter: Parameter) -> Self {
        let mut population = self.clone();
        population.scatter[parameter.index()] = None;
        population
    }

    /// Draws the parts of sample number `sample`.
    pub fn draw(&self, sample: u64) -> Converter {
        self.build(&self.scores(sample))
    }

    /// The probabilities that sample number `sample` is built from.
    pub fn scores(&self, sample: u64) -> Scores {
        Scores::draw(&self.nominal, &mut self.source.generator(sample))
    }

    /// The converter that these probabilities make.
    pub fn build(&self, scores: &Scores) -> Converter {
        let mut converter = self.nominal.clone();
        let scattered = Parameter::ALL.into_iter().zip(&self.scatter);
        for (parameter, scatter) in scattered.filter_map(|(p, s)| Some((p, s.as_ref()?))) {
            let scores = scores.of_parameter(parameter);
            let factors = scores.parts.iter().map(|own| scatter.factor(scores.common, *own));
            let Converter { tanks, flying, flying_return } = &mut converter;
            if parameter == Parameter::FlyingCapacitance {
                let capacitors = flying.iter_mut().chain(flying_return);
                capacitors.zip(factors).for_each(|(capacitor, factor)| capacitor.0 *= factor);
            } else {
                let values = tanks.iter_mut().filter_map(|tank| tank.value_mut(parameter));
                values.zip(factors).for_each(|(value, factor)| *value *= factor);
            }
        }
        converter
    }
}
