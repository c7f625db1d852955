//! What a steady state is asked of.

use std::borrow::Cow;

use super::dissipation::Nearby;
use super::links::ChainLinks;
use super::{averaged, exact};
use crate::converter::{
    Arrangement, Converter, FrequencyBand, OperatingPoint, SwitchSpecification,
};

/// The question that a solver answers of any converter. At which frequency inside the band does it
/// deliver the operating point in this arrangement? Which currents flow then?
#[derive(Debug, Clone)]
pub struct Case {
    /// The operating point.
    pub point: OperatingPoint,
    /// The switching frequencies allowed.
    pub band: FrequencyBand,
    /// The arrangement of the phases at the input.
    pub arrangement: Arrangement,
    /// The solution of a converter nearby, from which the iteration starts. Without one, the solver
    /// searches the band from its upper end. The start affects the time taken, not the solution.
    pub start: Option<Start>,
    /// The steady state of that converter, where losses change its parts: what they make of the parts
    /// of others is told from its currents to begin with.
    pub nearby: Option<Box<Nearby>>,
    /// Whether the steady state is to tell what loads every part ([`PhaseState::stress`],
    /// [`SteadyState::output_ripple`]). It costs some time.
    ///
    /// [`PhaseState::stress`]: super::PhaseState::stress
    /// [`SteadyState::output_ripple`]: super::SteadyState::output_ripple
    pub with_stress: bool,
    /// What stands in for the flying capacitors of a chain in which a part has failed; none where they
    /// are those of the converter.
    pub links: Option<Box<ChainLinks>>,
    /// The switches of this arrangement, where their loss at turn-on warms them: of a converter that tells
    /// losses apart, whose exact steady state then holds how they turn on ([`SteadyState::commutation`]).
    ///
    /// [`SteadyState::commutation`]: super::SteadyState::commutation
    pub switch: Option<SwitchSpecification>,
}

impl Case {
    /// A case without a solution to start from.
    pub fn new(point: OperatingPoint, band: FrequencyBand, arrangement: Arrangement) -> Self {
        Self {
            point,
            band,
            arrangement,
            start: None,
            nearby: None,
            with_stress: false,
            links: None,
            switch: None,
        }
    }

    /// How flying capacitors join the phases of a converter under the condition of this case.
    pub(super) fn links_of(&self, converter: &Converter) -> Cow<'_, ChainLinks> {
        match &self.links {
            Some(links) => Cow::Borrowed(links),
            None => {
                Cow::Owned(ChainLinks::of_converter(converter, self.arrangement, self.point.drive))
            }
        }
    }

    /// The same, whose steady states tell what loads every part.
    #[must_use]
    pub fn with_stress(self) -> Self {
        Self { with_stress: true, ..self }
    }
}

/// The solution of a converter, prepared so that converters nearby start from it.
///
/// It serves converters with as many phases at the same operating point in the same arrangement.
#[allow(clippy::large_enum_variant, reason = "there is one for each case, not for each sample")]
#[derive(Debug, Clone)]
pub enum Start {
    /// From the exact solver.
    Exact(exact::ExactStart),
    /// From the averaged solver.
    Averaged(averaged::AveragedStart),
}
