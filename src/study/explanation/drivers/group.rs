//! Groups of draws that are exchanged together, as one driver.

use crate::converter::{Arrangement, Condition, ConverterSize, Parameter, Property};
use crate::population::Scores;
use crate::scenario::Tolerances;

/// What is taken of the parameters of a driver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriverPart {
    /// All of it: what each part has by itself, and what the lot has in common.
    Whole,
    /// What all parts of one converter have in common because they come from one lot.
    Lot,
}

/// A group of draws that is independent of all others, so that it explains a share of the variance.
///
/// That is a parameter, or how its parts respond to temperature or age; parameters that are correlated
/// count as one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Driver {
    /// Its properties, one unless they are correlated.
    pub properties: Vec<Property>,
    /// What is taken of them.
    pub part: DriverPart,
}

impl Driver {
    /// All drivers: the properties that scatter, then the lots of those that share one.
    pub fn all(tolerances: &Tolerances) -> Vec<Self> {
        let values = independent_groups(tolerances).into_iter();
        let values = values.map(|group| group.into_iter().map(Property::from).collect());
        let responses = tolerances.scattered().map(|(property, _)| property);
        let responses = responses.filter(|p| p.influence.is_some()).map(|property| vec![property]);
        let groups: Vec<Vec<Property>> = values.chain(responses).collect();
        let has_lot = |group: &&Vec<Property>| {
            let all = tolerances.scattered().filter(|(property, _)| group.contains(property));
            all.fold(0.0, |most: f64, (_, own)| most.max(own.lot_share)) > 0.0
        };
        let whole = groups.iter().map(|group| (group, DriverPart::Whole));
        let lots = groups.iter().filter(has_lot).map(|group| (group, DriverPart::Lot));
        whole.chain(lots).map(|(group, part)| Self { properties: group.clone(), part }).collect()
    }

    /// Whether an arrangement has any of its parts, and a condition any effect on them.
    pub fn acts_on(
        &self,
        size: ConverterSize,
        arrangement: Arrangement,
        condition: &Condition,
    ) -> bool {
        self.properties.iter().any(|own| condition.acts_on(*own, size, arrangement))
    }

    /// The first draws with this group from the second.
    pub(super) fn mixed(&self, first: &Scores, second: &Scores) -> Scores {
        let mut mixed = first.clone();
        for property in &self.properties {
            mixed.take_common(*property, second);
            if self.part == DriverPart::Whole {
                mixed.take_parts(*property, second);
            }
        }
        mixed
    }
}

/// The parameters that scatter; those that are correlated with each other are together.
fn independent_groups(tolerances: &Tolerances) -> Vec<Vec<Parameter>> {
    let scatters = tolerances.iter().filter(|(_, tolerance)| tolerance.band > 0.0);
    let mut groups: Vec<Vec<Parameter>> = scatters.map(|(parameter, _)| vec![parameter]).collect();
    let correlated = tolerances.correlations().iter();
    for between in correlated.map(|correlation| correlation.between) {
        let place = |parameter| groups.iter().position(|group| group.contains(&parameter));
        if let [Some(first), Some(second)] = between.map(place)
            && first != second
        {
            let (first, second) = (first.min(second), first.max(second));
            let joined = groups.remove(second);
            groups[first].extend(joined);
            groups[first].sort_by_key(|parameter| parameter.index());
        }
    }
    groups
}
