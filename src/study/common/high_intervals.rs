//! High intervals that a dead time shortens, which the steady state leaves out.

use crate::converter::{Arrangement, Converter, Drive, SwitchTiming};
use crate::scenario::SwitchSettings;
use crate::solver::exact::HighIntervals;
use crate::solver::{Case, SteadyState, high_intervals};
use crate::study::common::nominal::Baseline;
use crate::study::common::session::Session;

/// Currents that grow by less are told as they are.
const NOTEWORTHY: f64 = 1.005;

/// Short high intervals of the nominal chain at an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct ShortHighIntervals {
    /// Name of the operating point.
    pub operating_point: String,
    /// By what the currents of the high switches grow.
    pub currents: HighIntervals,
}

impl ShortHighIntervals {
    /// Where the scenario's timing makes them short and that is not small.
    pub(in crate::study) fn all(session: &Session) -> Vec<Self> {
        let Some(switch) = session.scenario().switch else { return Vec::new() };
        if switch.chain.timing != SwitchTiming::FallingFirst {
            return Vec::new();
        }
        let short = |Baseline { case, state, .. }: &Baseline| {
            let nominal = session.nominal().at(&case.point.condition);
            let currents = with_falling_first(&switch, &nominal, case, state)?;
            let is_noteworthy = currents.rms.max(currents.peak) >= NOTEWORTHY;
            let operating_point = case.point.name.clone();
            is_noteworthy.then_some(Self { operating_point, currents })
        };
        session.baselines().iter().filter_map(short).collect()
    }

    /// The one that matters most.
    pub fn largest(all: &[Self]) -> Option<&Self> {
        all.iter().max_by(|a, b| a.currents.rms.total_cmp(&b.currents.rms))
    }
}

/// By what the currents of the high switches of a chain in half bridge grow where falling phases go first; none of
/// other converters, whose intervals are equal. The parts are those under the condition of the operating point.
pub(in crate::study) fn with_falling_first(
    switch: &SwitchSettings,
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
) -> Option<HighIntervals> {
    let is_chain = case.arrangement == Arrangement::Chain;
    let applies = is_chain && case.point.drive == Drive::HalfBridge;
    applies.then(|| high_intervals(converter, case, state, switch.chain.dead_time)).flatten()
}
