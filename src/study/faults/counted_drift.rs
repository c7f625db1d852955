//! Which drift of the flying-capacitor voltages counts in a converter with a failed part.

use crate::converter::{ChainDrift, Converter};
use crate::scenario::Scenario;
use crate::solver::SteadyState;
use crate::solver::fault::FaultCase;
use crate::study::common::drift::DriftingChain;

/// Whose drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CountedDrift {
    /// The worst, where every flying capacitor may lie anywhere within its band about that of the converter: of
    /// the nominal one.
    Worst,
    /// That of the converter's own flying capacitors: of a drawn one.
    Own,
}

impl CountedDrift {
    /// The drift of every voltage. An aged capacitor drifts by itself: it is no longer that of the other leg.
    /// The converter is the one before the fault, under the condition of the operating point.
    pub(super) fn of(
        self,
        scenario: &Scenario,
        case: &FaultCase,
        converter: &Converter,
        state: &SteadyState,
    ) -> ChainDrift {
        let FaultCase { fault, point, .. } = case;
        let drifting = DriftingChain { converter: &fault.aged(converter), state, point };
        match self {
            Self::Worst => drifting.worst_drift(scenario),
            Self::Own => drifting.drift(&scenario.drift),
        }
    }
}
