//! The tolerance box: all converters whose parts keep to their bands.

use crate::converter::{Arrangement, Converter, ConverterSize, OperatingPoint, Parameter};
use crate::scenario::Tolerances;

/// All converters whose parts keep to their bands. Every coordinate reaches from −1, the lower end of a
/// band, to 1, the upper end.
#[derive(Debug, Clone)]
pub struct ToleranceBox {
    nominal: Converter,
    coordinates: Vec<Coordinate>,
}

/// A part, or several that are always alike.
#[derive(Debug, Clone, Copy)]
struct Coordinate {
    parameter: Parameter,
    first_part: usize,
    parts: usize,
    /// Middle and half width of the band, fractions of the nominal value.
    middle: f64,
    half_width: f64,
    lot_share: f64,
}

impl Coordinate {
    fn factor(&self, place: f64) -> f64 {
        1.0 + (self.middle + self.half_width * place)
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
        for (parameter, tolerance) in tolerances.iter() {
            let range = tolerance.range();
            let half_width = 0.5 * (range.upper - range.lower);
            if half_width <= 0.0 {
                continue;
            }
            let count = parameter.parts(size, arrangement);
            let parts = if tolerance.lot_share < 1.0 { 1 } else { count.max(1) };
            let middle = 0.5 * (range.lower + range.upper);
            let firsts = (0..count).step_by(parts);
            coordinates.extend(firsts.map(|first_part| Coordinate {
                parameter,
                first_part,
                parts,
                middle,
                half_width,
                lot_share: tolerance.lot_share,
            }));
        }
        Self { nominal: nominal.clone(), coordinates }
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
                if let Some(value) = converter.part_mut(coordinate.parameter, part) {
                    *value *= coordinate.factor(*place);
                }
            }
        }
        converter
    }

    /// The point of a converter; what lies outside of the box is moved to its side.
    pub fn point(&self, converter: &Converter) -> Vec<f64> {
        let place = |coordinate: &Coordinate| {
            let value = |from: &Converter| from.part(coordinate.parameter, coordinate.first_part);
            let deviation =
                value(converter).zip(value(&self.nominal)).map_or(0.0, |(v, n)| v / n - 1.0);
            ((deviation - coordinate.middle) / coordinate.half_width).clamp(-1.0, 1.0)
        };
        self.coordinates.iter().map(place).collect()
    }

    /// The correlation of the parts of two coordinates.
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        let (a, b) = (&self.coordinates[i], &self.coordinates[j]);
        match a.parameter == b.parameter {
            _ if i == j => 1.0,
            true => a.lot_share,
            false => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
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
}
