//! Whose shares are asked for, and the converters that tell them.

use std::ops::Range;

use super::exchanged::Exchanged;
use super::group::{Driver, DriverPart};
use super::linear::deviations;
use super::stand_in::StandIn;
use crate::converter::{Arrangement, Converter, Property};
use crate::population::{Population, Scores};
use crate::scenario::Tolerances;
use crate::statistics::{Confidence, MixedDraw};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::explanation::explained::Explained;
use crate::study::run::CaseResult;

/// Fewer draws say too little.
const LEAST_DRAWS: u64 = 25;

/// Whose shares are asked for, and how often they are exchanged.
pub(super) struct DriverQuestion<'a> {
    pub(super) explained: Explained<'a>,
    pub(super) population: Population,
    pub(super) drivers: Vec<Driver>,
    /// Properties whose deviations the linear models take.
    pub(super) properties: Vec<Property>,
    /// Where those of each driver stand among all deviations.
    places: Vec<Vec<Range<usize>>>,
    /// The figures asked for, one list a case.
    pub(super) figures: Vec<Vec<Figure>>,
    pub(super) draws: u64,
    pub(super) confidence: Confidence,
}

/// The parameters with a tolerance, and the responses that scatter.
fn properties(tolerances: &Tolerances) -> Vec<Property> {
    let values = tolerances.iter().map(|(parameter, _)| Property::from(parameter));
    let responses = tolerances.scattered().map(|(property, _)| property);
    values.chain(responses.filter(|property| property.influence.is_some())).collect()
}

/// Deviations of the converters of one draw.
pub(super) struct DrawDeviations {
    pub(super) draw: u64,
    first: Vec<f64>,
    second: Vec<f64>,
    /// What differs from the first with a driver from the second, one a driver.
    mixed: Vec<Exchanged>,
}

/// Where the deviations of a driver stand in a row of those of all properties.
fn places(driver: &Driver, properties: &[Property], nominal: &Converter) -> Vec<Range<usize>> {
    let mut end = 0;
    let ranges = properties.iter().map(|property| {
        let start = end;
        end += deviations(nominal, nominal, &[*property]).len();
        (property, start..end)
    });
    let own = ranges.filter(|(property, _)| driver.properties.contains(property));
    own.map(|(_, range)| range).collect()
}

impl<'a> DriverQuestion<'a> {
    pub(super) fn new(explained: Explained<'a>, solves: u64) -> Result<Option<Self>, StudyError> {
        let Explained { session, run, kept } = explained;
        let scenario = session.scenario();
        let drivers = Driver::all(&scenario.tolerances);
        let acts = |case: &CaseResult| {
            let (size, condition) = (session.size(), &case.baseline.case.point.condition);
            let act = drivers.iter().filter(|d| d.acts_on(size, case.arrangement(), condition));
            act.count()
        };
        let a_draw: usize = run.cases.iter().map(acts).sum();
        let draws = solves.checked_div(a_draw as u64).unwrap_or(0).min(kept.measured() / 2);
        if draws < LEAST_DRAWS {
            return Ok(None);
        }
        let figures = |arrangement: Arrangement| {
            let limited = Demand::all(&scenario.limits, arrangement);
            let currents = (0..scenario.phases).map(Figure::OutputCurrent);
            limited.into_iter().filter_map(|demand| demand.figure).chain(currents).collect()
        };
        let properties = properties(&scenario.tolerances);
        let places = drivers.iter().map(|own| places(own, &properties, session.nominal()));
        Ok(Some(Self {
            places: places.collect(),
            properties,
            population: session.population(&scenario.tolerances, explained.draws()),
            figures: run.cases.iter().map(|case| figures(case.arrangement())).collect(),
            confidence: Confidence::new(scenario.limits.confidence)?,
            explained,
            drivers,
            draws,
        }))
    }
}

impl DriverQuestion<'_> {
    /// Whether a driver acts on a case.
    pub(super) fn acts(&self, driver: usize, case: usize) -> bool {
        let Explained { session, run, .. } = self.explained;
        let case = &run.cases[case].baseline.case;
        self.drivers[driver].acts_on(session.size(), case.arrangement, &case.point.condition)
    }

    pub(super) fn pair(&self, first: u64, second: u64) -> ScorePair {
        let [first, second] = [first, second].map(|sample| self.population.scores(sample));
        ScorePair { first, second }
    }

    /// The first converter of a pair with a driver exchanged.
    pub(super) fn exchanged(&self, driver: usize, pair: &ScorePair) -> Converter {
        self.population.build(&self.drivers[driver].mixed(&pair.first, &pair.second))
    }

    /// The deviations of all converters of a draw.
    pub(super) fn deviations(&self, first: u64, second: u64) -> DrawDeviations {
        let pair = self.pair(first, second);
        let nominal = self.explained.session.nominal();
        let of = |converter: &Converter| deviations(converter, nominal, &self.properties);
        let [own, other] =
            [&pair.first, &pair.second].map(|scores| of(&self.population.build(scores)));
        let mixed = |driver: usize| {
            let places = self.places[driver].clone();
            match self.drivers[driver].part {
                // Parts of other drivers follow from other scores.
                DriverPart::Whole => Exchanged::of_row(&other, places),
                DriverPart::Lot => Exchanged::of_row(&of(&self.exchanged(driver, &pair)), places),
            }
        };
        let mixed = (0..self.drivers.len()).map(mixed).collect();
        DrawDeviations { draw: first, first: own, second: other, mixed }
    }
}

impl DrawDeviations {
    /// What a stand-in says for the draw, as a function of the driver that is exchanged.
    pub(super) fn values<'a>(&'a self, stand_in: &'a StandIn) -> impl Fn(usize) -> MixedDraw + 'a {
        let [first, second] = [&self.first, &self.second].map(|row| stand_in.value(row));
        let mixed = stand_in.about(&self.first);
        move |driver| MixedDraw { first, second, mixed: mixed(&self.mixed[driver]) }
    }
}

/// Scores of two independent samples.
pub(super) struct ScorePair {
    first: Scores,
    second: Scores,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;

    /// What `Exchanged::of_row` of the second converter relies on: the parts of other drivers stay as they are,
    /// correlated ones included, and so do those of a lot that is exchanged.
    #[test]
    fn a_driver_changes_its_own_parts_alone() {
        for name in ["foundry-magnet", "ferry-lighting", "pump-drive"] {
            let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
            let scenario =
                Scenario::parse(&file, &std::fs::read_to_string(&file).unwrap()).unwrap();
            let (population, nominal) =
                (Population::new(&scenario, 7), scenario.nominal_converter());
            let properties = properties(&scenario.tolerances);
            let row =
                |scores: &Scores| deviations(&population.build(scores), &nominal, &properties);
            let (first, second) = (population.scores(0), population.scores(1));
            for driver in Driver::all(&scenario.tolerances) {
                let mixed = row(&driver.mixed(&first, &second));
                let places = places(&driver, &properties, &nominal);
                assert!(!places.is_empty(), "{name}: {driver:?}");
                let from =
                    if driver.part == DriverPart::Whole { row(&second) } else { mixed.clone() };
                let mut wanted = row(&first);
                for (place, value) in Exchanged::of_row(&from, places).iter() {
                    wanted[place] = value;
                }
                assert_eq!(mixed, wanted, "{name}: {driver:?}");
            }
        }
    }
}
