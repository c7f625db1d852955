//! What drives the failures: the samples that would pass were one parameter exact.

use super::drivers::DriverPart;
use super::explained::Explained;
use super::retrial::{ArrangementChange, Retrial};
use super::retried::RetriedSamples;
use crate::converter::{Arrangement, Property};
use crate::population::Population;
use crate::scenario::Tolerance;
use crate::statistics::{StatisticsError, Yield};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::what_if::Change;

/// What drives the failures of one arrangement: parameters, or their lots.
#[derive(Debug, Clone)]
pub struct FailureDrivers {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The samples that were tried again.
    pub samples: RetriedSamples,
    /// One a property that scatters, in their order.
    pub parts: Vec<ExactPart>,
}

/// What a parameter does to the failures.
#[derive(Debug, Clone)]
pub struct ExactPart {
    /// The parameter, or how its parts respond to temperature or age.
    pub property: Property,
    /// What changes where all its parts are nominal in it, or all its lots alike, and all else is as
    /// before.
    pub change: ArrangementChange,
    /// Of the failing samples that were tried again, those that pass, with the interval of their share.
    pub saved_of_failing: Yield,
}

impl ExactPart {
    /// Of a change that was tried with failing samples.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`] where none failed.
    fn new(property: Property, change: ArrangementChange) -> Result<Self, StatisticsError> {
        let Change { outcomes, now, .. } = change.joint;
        let tried = outcomes.saved + outcomes.still_failing;
        let saved_of_failing = Yield::new(outcomes.saved, tried, now.confidence)?;
        Ok(Self { property, change, saved_of_failing })
    }

    /// Failing samples that pass where the part is exact, over all operating points.
    pub fn saved(&self) -> u64 {
        self.change.joint.outcomes.saved
    }
}

impl FailureDrivers {
    /// The parts, the one that saves most failing samples first. Lost samples count only among equals:
    /// far fewer samples that pass are tried, so that one of them weighs as much as many saved ones.
    pub fn by_saved(&self) -> Vec<&ExactPart> {
        let mut parts: Vec<&ExactPart> = self.parts.iter().collect();
        let difference = |part: &ExactPart| part.change.joint.difference.estimate;
        parts.sort_by(|a, b| {
            let by_saved = b.saved().cmp(&a.saved());
            by_saved.then_with(|| difference(b).total_cmp(&difference(a)))
        });
        parts
    }

    /// Whether there are several operating points.
    pub fn has_several_points(&self) -> bool {
        self.parts.iter().any(|part| part.change.points.len() > 1)
    }
}

/// Makes one property after the other exact, or its lots alone, with so many solutions at most. None where no
/// sample fails, nothing of the kind scatters, or the solutions are too few.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn failure_drivers(
    explained: Explained,
    arrangement: Arrangement,
    part: DriverPart,
    solves: u64,
    progress: &mut dyn Progress,
) -> Result<Option<FailureDrivers>, StudyError> {
    let session = explained.session;
    let tolerances = &session.scenario().tolerances;
    let acts = |property: Property| {
        let mut conditions = session.cases(arrangement).map(|case| &case.point.condition);
        conditions.any(|condition| condition.acts_on(property, session.size(), arrangement))
    };
    let is_tried = |own: &Tolerance| part == DriverPart::Whole || own.lot_share > 0.0;
    let scattered = tolerances.scattered().filter(|(_, own)| is_tried(own));
    let properties: Vec<Property> =
        scattered.map(|(property, _)| property).filter(|own| acts(*own)).collect();
    let retrial = Retrial::new(explained, arrangement, properties.len(), solves);
    let Some(retrial) = retrial.filter(Retrial::has_failures) else { return Ok(None) };
    let population = session.population(tolerances, explained.draws());
    let variant = |property: &Property| match part {
        DriverPart::Whole => population.with_exact(*property),
        DriverPart::Lot => population.with_exact_lots(*property),
    };
    let variants: Vec<Population> = properties.iter().map(variant).collect();
    let changes = retrial.changes(&variants, progress)?;
    let parts = properties.into_iter().zip(changes);
    let parts = parts.map(|(property, change)| ExactPart::new(property, change));
    Ok(Some(FailureDrivers {
        arrangement,
        samples: retrial.samples,
        parts: parts.collect::<Result<_, _>>()?,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::Parameter;
    use crate::statistics::{Confidence, Estimator, OutcomeChanges};

    /// By hand: 13 of 41 failing samples saved come before none saved, although one of the 559
    /// passing samples that were tried is lost, which counts more than 13 of 8000.
    #[test]
    fn a_lost_sample_does_not_hide_saved_ones() {
        let estimator = Estimator::Fixed(Confidence::new(0.95).unwrap());
        let part = |parameter, saved, lost| {
            let outcomes = OutcomeChanges {
                failing_among: 8000,
                saved,
                still_failing: 41 - saved,
                passing_among: 559,
                lost,
            };
            let joint = Change::new(outcomes, &estimator).unwrap();
            let property = Property::from(parameter);
            ExactPart::new(property, ArrangementChange { joint, points: Vec::new() }).unwrap()
        };
        let drivers = FailureDrivers {
            arrangement: Arrangement::Chain,
            samples: RetriedSamples {
                numbers: Vec::new(),
                failing_among: 8000,
                passing_among: 559,
            },
            parts: vec![
                part(Parameter::SeriesResistance, 0, 0),
                part(Parameter::TurnsRatio, 13, 1),
                part(Parameter::ResonantCapacitance, 37, 0),
            ],
        };
        assert!(drivers.parts[1].change.joint.difference.estimate < 0.0);
        let Yield { estimate, lower, upper, .. } = drivers.parts[1].saved_of_failing;
        assert!(lower < estimate && estimate < upper && (estimate - 13.0 / 41.0).abs() < 1e-15);
        let order: Vec<Parameter> =
            drivers.by_saved().iter().map(|own| own.property.parameter).collect();
        assert_eq!(
            order,
            [Parameter::ResonantCapacitance, Parameter::TurnsRatio, Parameter::SeriesResistance]
        );
    }
}
