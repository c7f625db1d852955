//! Groups of draws that are exchanged together, as one driver.

use crate::converter::{Arrangement, ConverterSize, Parameter};
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
/// That is a parameter; parameters that are correlated count as one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Driver {
    /// Its parameters, one unless they are correlated.
    pub parameters: Vec<Parameter>,
    /// What is taken of them.
    pub part: DriverPart,
}

impl Driver {
    /// All drivers: the parameters that scatter, then the lots of those that share one.
    pub fn all(tolerances: &Tolerances) -> Vec<Self> {
        let groups = independent_groups(tolerances);
        let has_lot = |group: &&Vec<Parameter>| {
            let shares = group.iter().filter_map(|p| Some(tolerances.get(*p)?.lot_share));
            shares.fold(0.0, f64::max) > 0.0
        };
        let whole = groups.iter().map(|group| (group, DriverPart::Whole));
        let lots = groups.iter().filter(has_lot).map(|group| (group, DriverPart::Lot));
        whole.chain(lots).map(|(group, part)| Self { parameters: group.clone(), part }).collect()
    }

    /// Whether an arrangement has any of its parts.
    pub fn acts_on(&self, size: ConverterSize, arrangement: Arrangement) -> bool {
        self.parameters.iter().any(|parameter| parameter.parts(size, arrangement) > 0)
    }

    /// The first draws with this group from the second.
    pub(super) fn mixed(&self, first: &Scores, second: &Scores) -> Scores {
        let mut mixed = first.clone();
        for parameter in &self.parameters {
            mixed.take_common(*parameter, second);
            if self.part == DriverPart::Whole {
                mixed.take_parts(*parameter, second);
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
