//! A set of grades: one grade of every part on offer, in an arrangement.

use itertools::Itertools as _;

use crate::converter::{Arrangement, Parameter};
use crate::scenario::{Grade, Grades, Offer, Scenario};
use crate::study::common::trials::ConverterVariant;

/// A set of grades in an arrangement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GradeSet {
    /// The index of a grade in every offer; 0 where the arrangement has no such parts.
    pub grades: Vec<usize>,
    /// The arrangement.
    pub arrangement: Arrangement,
}

impl GradeSet {
    /// The grades at these indices, offer by offer, in an arrangement.
    pub fn new(grades: &Grades, set: &[usize], arrangement: Arrangement) -> Self {
        let has_parts = |offer: &Offer| has_parts(offer, arrangement);
        let chosen = grades.offers.iter().zip(set);
        let chosen = chosen.map(|(offer, grade)| if has_parts(offer) { *grade } else { 0 });
        Self { grades: chosen.collect(), arrangement }
    }

    /// All sets of the scenario in an arrangement, each once.
    pub fn all(grades: &Grades, arrangement: Arrangement) -> Vec<Self> {
        let all = grades.sets.iter().map(|set| Self::new(grades, set, arrangement));
        all.unique_by(|set| set.grades.clone()).collect()
    }

    /// The grades of its parts, offer by offer.
    pub fn chosen<'a>(
        &'a self,
        grades: &'a Grades,
    ) -> impl Iterator<Item = (&'a Offer, &'a Grade)> {
        let chosen = grades.offers.iter().zip(&self.grades);
        chosen
            .filter(|(offer, _)| has_parts(offer, self.arrangement))
            .map(|(offer, grade)| (offer, &offer.grades[*grade]))
    }

    /// Longest lead time of its parts, in weeks; none where no part has one.
    pub fn lead_time(&self, grades: &Grades) -> Option<f64> {
        self.chosen(grades).filter_map(|(_, grade)| grade.lead_time).reduce(f64::max)
    }

    /// What is sampled: the scenario's tolerances, with those of the grades where there are any.
    pub fn variant(&self, scenario: &Scenario, grades: &Grades) -> ConverterVariant {
        let tolerances =
            self.chosen(grades).fold(scenario.tolerances.clone(), |all, (offer, grade)| {
                all.with(offer.parameter, Some(grade.tolerance.clone()))
            });
        ConverterVariant { tolerances, arrangement: self.arrangement }
    }
}

fn has_parts(offer: &Offer, arrangement: Arrangement) -> bool {
    arrangement == Arrangement::Chain || offer.parameter != Parameter::FlyingCapacitance
}
