//! What becomes of a converter in which a part has failed.

use arrayvec::ArrayVec;

use crate::converter::{Leg, MAX_PHASES};
use crate::solver::steady_state::{SteadyState, Unsolved};
use crate::units::{Ampere, Hertz, Volt};

/// What becomes of a converter in which a part has failed.
#[derive(Debug, Clone, PartialEq)]
pub enum FaultOutcome {
    /// It delivers the output.
    Runs(Box<FaultedState>),
    /// No switching frequency inside the band delivers the output.
    OutOfRange,
    /// One phase takes no charge, and all of them stop.
    Stops,
    /// There is no steady state, for this reason.
    NoSteadyState(NoSteadyState),
    /// The model does not tell.
    Unknown,
    /// The solver found nothing.
    NotSolved(Unsolved),
}

/// Why there is no steady state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoSteadyState {
    /// Switches short the input in every period.
    InputShorted,
    /// The loss of a part rises faster with its temperature than it gives heat away.
    JunctionRunaway,
}

/// A converter that runs with a failed part.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultedState {
    /// Its steady state; phases without current are idle.
    pub state: SteadyState,
    /// Phases that carry current, counted from 0.
    pub carrying: ArrayVec<usize, MAX_PHASES>,
    /// Voltages across its switches; none for paralleled phases, which block the input.
    pub voltages: ArrayVec<SwitchVoltages, 2>,
}

/// The voltage across a switch, which may depend on what happened before: charge balance leaves the
/// difference of two legs open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockingRange {
    /// The lowest possible one.
    pub lowest: Volt,
    /// The highest possible one. Infinite where the switch's own breakdown alone bounds it.
    pub highest: Volt,
}

/// The highest voltage across every switch of a leg.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchVoltages {
    /// The leg.
    pub leg: Leg,
    /// High switches.
    pub high: ArrayVec<BlockingRange, MAX_PHASES>,
    /// Low switches.
    pub low: ArrayVec<BlockingRange, MAX_PHASES>,
}

/// Where the controller ends when it starts from the healthy frequency and does not find the output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trap {
    /// Switching frequency: the lower end of the band.
    pub frequency: Hertz,
    /// Output current there.
    pub current: Ampere,
}

impl FaultOutcome {
    /// The word used in tables and files.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Runs(_) => "runs",
            Self::OutOfRange => "out of range",
            Self::Stops => "stops",
            Self::NoSteadyState(_) => "no steady state",
            Self::Unknown => "unknown",
            Self::NotSolved(_) => "not solved",
        }
    }

    /// Why there is no steady state, or none is known, in words; none for other outcomes.
    pub fn cause(&self) -> Option<&'static str> {
        match self {
            Self::NoSteadyState(NoSteadyState::InputShorted) => {
                Some("switches short the input in every period")
            }
            Self::NoSteadyState(NoSteadyState::JunctionRunaway) => {
                Some(Unsolved::ThermalRunaway.reason())
            }
            Self::NotSolved(why) => Some(why.reason()),
            Self::Unknown => Some("what the model leaves out decides"),
            Self::Runs(_) | Self::OutOfRange | Self::Stops => None,
        }
    }

    /// Of a solution that was not found.
    pub(super) fn not_solved(why: Unsolved) -> Self {
        match why {
            Unsolved::ThermalRunaway => Self::NoSteadyState(NoSteadyState::JunctionRunaway),
            _ => Self::NotSolved(why),
        }
    }

    /// The steady state, if there is one.
    pub fn state(&self) -> Option<&FaultedState> {
        match self {
            Self::Runs(state) => Some(state),
            _ => None,
        }
    }
}

impl FaultedState {
    /// Currents of the phases that carry any, as a converter of their own.
    pub fn carrying_phases(&self) -> SteadyState {
        SteadyState {
            phases: self.carrying.iter().map(|k| self.state.phases[*k]).collect(),
            ..self.state.clone()
        }
    }
}

impl FaultedState {
    /// The highest voltage that any switch may see, whatever happened before.
    pub fn highest_blocking(&self) -> Volt {
        Volt(self.blocking().map(|range| range.highest.0).fold(0.0, f64::max))
    }

    /// The least that the switch that blocks most sees.
    pub fn lowest_blocking(&self) -> Volt {
        Volt(self.blocking().map(|range| range.lowest.0).fold(0.0, f64::max))
    }

    fn blocking(&self) -> impl Iterator<Item = BlockingRange> {
        self.voltages.iter().flat_map(SwitchVoltages::all)
    }
}

impl BlockingRange {
    /// A voltage that nothing leaves open.
    pub(super) fn exactly(voltage: f64) -> Self {
        Self { lowest: Volt(voltage), highest: Volt(voltage) }
    }

    /// From zero to a voltage.
    pub(super) fn up_to(voltage: f64) -> Self {
        Self { lowest: Volt(0.0), highest: Volt(voltage) }
    }

    /// With so much more. A diode that conducts blocks nothing.
    pub(super) fn plus(self, more: f64) -> Self {
        let end = |voltage: Volt| Volt((voltage.0 + more).max(0.0));
        Self { lowest: end(self.lowest), highest: end(self.highest) }
    }

    /// With an upper end that is so much higher.
    pub(super) fn up_by(self, more: f64) -> Self {
        Self { highest: Volt(self.highest.0 + more), ..self }
    }
}

impl SwitchVoltages {
    /// All switches with their names, `high_1` or `return_low_2`, the high ones first.
    pub fn named(&self) -> impl Iterator<Item = (String, BlockingRange)> {
        let leg = if self.leg == Leg::Return { "return_" } else { "" };
        let side = |name: &'static str, all: &ArrayVec<BlockingRange, MAX_PHASES>| {
            let named =
                |(k, own): (usize, &BlockingRange)| (format!("{leg}{name}_{}", k + 1), *own);
            all.iter().enumerate().map(named).collect::<Vec<_>>()
        };
        side("high", &self.high).into_iter().chain(side("low", &self.low))
    }

    /// All switches of the leg, the high ones first.
    pub fn all(&self) -> impl Iterator<Item = BlockingRange> {
        self.high.iter().chain(&self.low).copied()
    }
}
