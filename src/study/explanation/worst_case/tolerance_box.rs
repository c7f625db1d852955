//! The tolerance box: all converters whose parts keep to their bands.

use crate::converter::{Arrangement, Converter, ConverterSize, OperatingPoint, Property};
use crate::scenario::{Correlation, Tolerances};

/// All converters whose parts keep to their bands. Every coordinate reaches from −1, the lower end of a
/// band, to 1, the upper end.
#[derive(Debug, Clone)]
pub struct ToleranceBox {
    nominal: Converter,
    coordinates: Vec<Coordinate>,
    correlations: Vec<Correlation>,
}

/// A part, or several that are always alike.
#[derive(Debug, Clone, Copy)]
struct Coordinate {
    property: Property,
    first_part: usize,
    parts: usize,
    /// Middle and half width of the band: fractions of the nominal value, or responses.
    middle: f64,
    half_width: f64,
    lot_share: f64,
}

impl Coordinate {
    /// Moves a nominal part to a place in its band.
    fn moved(&self, nominal: f64, place: f64) -> f64 {
        let deviation = self.middle + self.half_width * place;
        match self.property.influence {
            None => nominal * (1.0 + deviation),
            Some(_) => deviation,
        }
    }

    /// The place of a part in its band.
    fn place(&self, nominal: f64, value: f64) -> f64 {
        let deviation = match self.property.influence {
            None => value / nominal - 1.0,
            Some(_) => value,
        };
        ((deviation - self.middle) / self.half_width).clamp(-1.0, 1.0)
    }

    /// Whether both move a part of the same phase.
    fn is_in_phase_of(&self, other: &Self) -> bool {
        self.all_parts().contains(&other.first_part) || other.all_parts().contains(&self.first_part)
    }

    fn all_parts(&self) -> std::ops::Range<usize> {
        self.first_part..self.first_part + self.parts
    }
}

impl ToleranceBox {
    /// The box of all parts that matter at an operating point in an arrangement. Without a band a part
    /// has no coordinate. Where the phases share the whole scatter, one coordinate moves all of them.
    pub fn new(
        nominal: &Converter,
        tolerances: &Tolerances,
        point: &OperatingPoint,
        arrangement: Arrangement,
    ) -> Self {
        let size = ConverterSize { phases: nominal.phases(), legs: point.drive.legs() };
        let mut coordinates = Vec::new();
        for (property, tolerance) in tolerances.scattered() {
            if !point.condition.acts_on(property, size, arrangement) {
                continue;
            }
            let count = property.parameter.parts(size, arrangement);
            let parts = if tolerance.lot_share < 1.0 { 1 } else { count.max(1) };
            let firsts = (0..count).step_by(parts);
            coordinates.extend(firsts.map(|first_part| Coordinate {
                property,
                first_part,
                parts,
                middle: tolerance.middle,
                half_width: tolerance.band,
                lot_share: tolerance.lot_share,
            }));
        }
        let correlations = tolerances.correlations().to_vec();
        Self { nominal: nominal.clone(), coordinates, correlations }
    }

    /// Number of coordinates.
    pub fn size(&self) -> usize {
        self.coordinates.len()
    }

    /// The converter at a point of the box; parts without a coordinate are nominal.
    pub fn converter(&self, point: &[f64]) -> Converter {
        let mut converter = self.nominal.clone();
        for (coordinate, place) in self.coordinates.iter().zip(point) {
            for part in coordinate.all_parts() {
                if let Some(value) = converter.property_mut(coordinate.property, part) {
                    *value = coordinate.moved(*value, *place);
                }
            }
        }
        converter
    }

    /// The point of a converter; what lies outside of the box is moved to its side.
    pub fn point(&self, converter: &Converter) -> Vec<f64> {
        let place = |coordinate: &Coordinate| {
            let value =
                |from: &Converter| from.property(coordinate.property, coordinate.first_part);
            let pair = value(&self.nominal).zip(value(converter));
            pair.map_or(0.0, |(nominal, value)| coordinate.place(nominal, value))
        };
        self.coordinates.iter().map(place).collect()
    }

    /// Pearson's correlation of the parts of two coordinates. That of different parameters in different
    /// phases, where the scenario leaves it open, is the part of their correlation in one phase that
    /// their lots have, as far as the scores tell.
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        let (a, b) = (&self.coordinates[i], &self.coordinates[j]);
        if i == j {
            return 1.0;
        }
        if a.property == b.property {
            return a.lot_share;
        }
        // Responses are independent of all else.
        if a.property.influence.is_some() || b.property.influence.is_some() {
            return 0.0;
        }
        let is_pair = |c: &&Correlation| {
            let between = |own: &Coordinate| c.between.contains(&own.property.parameter);
            between(a) && between(b)
        };
        let Some(pair) = self.correlations.iter().find(is_pair) else { return 0.0 };
        let shared = (a.lot_share * b.lot_share).sqrt();
        let alone = ((1.0 - a.lot_share) * (1.0 - b.lot_share)).sqrt();
        match pair.across {
            _ if a.is_in_phase_of(b) => pair.coefficient,
            Some(across) => across,
            None if shared > 0.0 => pair.coefficient * shared / (shared + alone),
            None => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::Parameter;
    use crate::scenario::Scenario;

    /// An invented converter: Lr scatters, Cr is exact, the flying capacitors share their whole scatter.
    fn scenario() -> Scenario {
        let shelf = include_str!("../../../../scenarios/telecom-shelf.toml");
        let mut scenario = Scenario::parse("shelf.toml", shelf).unwrap();
        for parameter in Parameter::ALL {
            let band = match parameter {
                Parameter::ResonantInductance => 0.05,
                Parameter::FlyingCapacitance => 0.1,
                _ => 0.0,
            };
            scenario.tolerances = scenario.tolerances.with_band(parameter, band);
        }
        let mut alike = scenario.tolerances.get(Parameter::FlyingCapacitance).unwrap().clone();
        alike.lot_share = 1.0;
        scenario.tolerances = scenario.tolerances.with(Parameter::FlyingCapacitance, Some(alike));
        scenario
    }

    fn box_of(scenario: &Scenario, arrangement: Arrangement) -> ToleranceBox {
        let nominal = scenario.nominal_converter();
        let point =
            crate::study::common::nominal::baselines(scenario, crate::solver::Method::Averaged)
                .unwrap()[0]
                .case
                .point
                .clone();
        ToleranceBox::new(&nominal, &scenario.tolerances, &point, arrangement)
    }

    #[test]
    fn every_part_with_a_band_has_a_coordinate() {
        let scenario = scenario();
        assert_eq!(box_of(&scenario, Arrangement::Chain).size(), 3 + 1);
        assert_eq!(box_of(&scenario, Arrangement::Paralleled).size(), 3);
    }

    #[test]
    fn a_point_makes_a_converter_and_the_converter_a_point() {
        let scenario = scenario();
        let chain = box_of(&scenario, Arrangement::Chain);
        let point = [1.0, -1.0, 0.5, -0.25];
        let converter = chain.converter(&point);
        let part = |parameter, index| converter.part(parameter, index);
        assert_eq!(part(Parameter::ResonantInductance, 0), Some(4.56e-6 * 1.05));
        assert_eq!(part(Parameter::ResonantInductance, 1), Some(4.56e-6 * 0.95));
        assert_eq!(part(Parameter::ResonantCapacitance, 0), Some(247e-9));
        for index in 0..4 {
            let flying = part(Parameter::FlyingCapacitance, index).unwrap();
            assert!((flying - 48.75e-6).abs() < 1e-18);
        }
        assert_eq!(converter.part(Parameter::FlyingCapacitance, 4), None);
        for (back, place) in chain.point(&converter).iter().zip(point) {
            assert!((back - place).abs() < 1e-12);
        }
        let correlations = [[0, 0], [0, 1], [0, 3], [3, 3]].map(|[i, j]| chain.correlation(i, j));
        for (correlation, wanted) in correlations.iter().zip([1.0, 0.3, 0.0, 1.0]) {
            assert!((correlation - wanted).abs() < 1e-15);
        }
    }

    /// By hand: lot shares 0.3 and 0.5 leave √0.15/(√0.15 + √0.35) of 0.8 between different phases.
    #[test]
    fn correlated_parameters_follow_the_scenario() {
        let (lr, cr) = (Parameter::ResonantInductance, Parameter::ResonantCapacitance);
        let mut scenario = scenario();
        let pair = Correlation { between: [lr, cr], coefficient: 0.8, across: None };
        let tolerances = scenario.tolerances.with_band(cr, 0.05);
        let across = (0.15_f64).sqrt() / ((0.15_f64).sqrt() + (0.35_f64).sqrt()) * 0.8;
        for (given, wanted) in [(None, across), (Some(0.1), 0.1)] {
            let pair = Correlation { across: given, ..pair };
            scenario.tolerances = tolerances.with_correlation(pair);
            let chain = box_of(&scenario, Arrangement::Chain);
            // Lr of three phases, then Cr of three phases.
            assert!((chain.correlation(1, 4) - 0.8).abs() < 1e-15);
            assert!((chain.correlation(1, 3) - wanted).abs() < 1e-12);
            assert!((chain.correlation(3, 2) - wanted).abs() < 1e-12);
        }
    }

    /// By hand: a band from −3 % to +8 %.
    #[test]
    fn an_unequal_band_has_its_own_ends() {
        let lr = Parameter::ResonantInductance;
        let mut scenario = scenario();
        let mut unequal = scenario.tolerances.get(lr).unwrap().clone();
        (unequal.middle, unequal.band) = (0.025, 0.055);
        scenario.tolerances = scenario.tolerances.with(lr, Some(unequal));
        let chain = box_of(&scenario, Arrangement::Chain);
        let converter = chain.converter(&[-1.0, 1.0, 0.0, 0.0]);
        for (index, factor) in [0.97, 1.08, 1.025].into_iter().enumerate() {
            let value = converter.part(lr, index).unwrap();
            assert!((value / 4.56e-6 - factor).abs() < 1e-12);
        }
    }
}
