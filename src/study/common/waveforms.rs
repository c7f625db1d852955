//! The waveforms of a converter, with what one reads beside them.

use crate::converter::{Converter, Sharing};
use crate::solver::waveforms::{PhaseWaveforms, waveforms};
use crate::solver::{Case, Method};
use crate::units::Hertz;

/// The waveforms of a converter in one arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrangementWaveforms {
    /// Every phase.
    pub phases: Vec<PhaseWaveforms>,
    /// The sharing error that the limit speaks of, a fraction.
    pub sharing_error: f64,
    /// The switching frequency.
    pub switching_frequency: Hertz,
}

impl ArrangementWaveforms {
    /// Of a converter in a case, by the exact solver; none where it is not solved.
    pub fn solve(converter: &Converter, case: &Case, sharing: Sharing) -> Option<Self> {
        let outcome = Method::Exact.solve(converter, case);
        let state = outcome.solved()?;
        let shared = state.phases.iter().map(|phase| phase.shared(sharing.share).0);
        Some(Self {
            phases: waveforms(&converter.at(&case.point.condition), case, state)?,
            sharing_error: sharing.measure.error(shared),
            switching_frequency: state.switching_frequency,
        })
    }
}
