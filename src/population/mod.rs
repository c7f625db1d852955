//! Converters to be solved: whose parts are known, or drawn.
//!
//! Sample k is a function of seed and k alone: it has a random stream of its own, and within it
//! every part has its place, so that neither the number of threads nor a tolerance added or
//! dropped changes the draws of the others.

mod lot;
pub mod measurements;
pub mod parts_file;
mod random_source;
mod sensors;
mod shape;
pub mod stock;
mod tank_cells;

use rand::{Rng, rngs::ChaCha8Rng};

pub use self::random_source::RandomSource;
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
    fn new(tolerance: Tolerance) -> Self {
        let quantile = Quantile::new(tolerance.shape);
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

/// A probability strictly between 0 and 1: the middle of one of 2⁵³ equal cells.
fn probability(rng: &mut ChaCha8Rng) -> f64 {
    ((rng.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
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

    /// Draws the parts of sample number `sample`.
    pub fn draw(&self, sample: u64) -> Converter {
        let mut rng = self.source.generator(sample);
        let mut converter = self.nominal.clone();
        for parameter in Parameter::ALL {
            self.scatter_parameter(parameter, &mut converter, &mut rng);
        }
        converter
    }

    /// Draws one parameter of all phases. A parameter without a tolerance takes its draws too:
    /// the others must not depend on it.
    fn scatter_parameter(&self, p: Parameter, converter: &mut Converter, rng: &mut ChaCha8Rng) {
        let scatter = self.scatter[p.index()];
        let common = probability(rng);
        let mut factor = || {
            let individual = probability(rng);
            scatter.map_or(1.0, |s| s.factor(common, individual))
        };
        let Converter { tanks, flying, flying_return } = converter;
        if p == Parameter::FlyingCapacitance {
            flying.iter_mut().chain(flying_return).for_each(|c| c.0 *= factor());
        }
        tanks.iter_mut().filter_map(|tank| tank.value_mut(p)).for_each(|value| *value *= factor());
    }
}
