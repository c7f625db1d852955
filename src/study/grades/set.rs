//! A converter that can be bought: a grade of every part on offer, in an arrangement.

use crate::converter::{Arrangement, Parameter};
use crate::scenario::{Grade, Grades, Offer, Scenario};
use crate::study::common::trial::Entry;

/// A set of grades in an arrangement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GradeSet {
    /// The place of a grade in every offer; 0 in those whose parts the arrangement has none of.
    pub grades: Vec<usize>,
    /// The arrangement.
    pub arrangement: Arrangement,
}

impl GradeSet {
    /// A set in an arrangement.
    pub fn new(grades: &Grades, set: &[usize], arrangement: Arrangement) -> Self {
        let paralleled = arrangement == Arrangement::Paralleled;
        let place = |(offer, grade): (&Offer, &usize)| {
            let none = paralleled && offer.parameter == Parameter::FlyingCapacitance;
            if none { 0 } else { *grade }
        };
        Self { grades: grades.offers.iter().zip(set).map(place).collect(), arrangement }
    }

    /// All sets of the scenario in an arrangement, each once.
    pub fn all(grades: &Grades, arrangement: Arrangement) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        for set in &grades.sets {
            let candidate = Self::new(grades, set, arrangement);
            if !all.contains(&candidate) {
                all.push(candidate);
            }
        }
        all
    }

    /// The grades of its parts, offer by offer.
    pub fn chosen<'a>(
        &'a self,
        grades: &'a Grades,
    ) -> impl Iterator<Item = (&'a Offer, &'a Grade)> {
        let each = grades.offers.iter().zip(&self.grades);
        let each = each.map(|(offer, place)| (offer, &offer.grades[*place]));
        each.filter(|(offer, _)| {
            self.arrangement == Arrangement::Chain
                || offer.parameter != Parameter::FlyingCapacitance
        })
    }

    /// What is tried: the scenario's tolerances, those of the grades in their places.
    pub fn entry(&self, scenario: &Scenario, grades: &Grades) -> Entry {
        let tolerances = self.chosen(grades).fold(scenario.tolerances, |all, (offer, grade)| {
            all.with(offer.parameter, Some(grade.tolerance))
        });
        Entry { tolerances, arrangement: self.arrangement }
    }
}
