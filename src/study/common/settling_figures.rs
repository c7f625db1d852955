//! Figures of how fast a chain settles after a small disturbance of its flying capacitors.

use crate::converter::{Converter, OperatingPoint};
use crate::solver::SteadyState;
use crate::solver::settling::{PeriodMap, SettlingMode};
use crate::units::Second;

/// Share of a disturbance that is left when it counts as settled.
pub const SETTLED: f64 = 0.01;

/// A figure of the slowest mode that moves flying capacitors and decays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SettlingFigure {
    /// Switching periods until it is below 1 %.
    Periods,
    /// The same as a time, s.
    Time,
}

/// The slowest mode of a solved chain.
#[derive(Debug, Clone)]
pub(super) struct SlowestMode {
    period: Second,
    mode: SettlingMode,
}

impl SlowestMode {
    /// None where the steady state does not tell the currents at the switching instants.
    pub(super) fn new(
        state: &SteadyState,
        converter: &Converter,
        point: &OperatingPoint,
    ) -> Option<Self> {
        let map = PeriodMap::new(state, converter, point)?;
        let mode = map.settling()?.slowest;
        Some(Self { period: map.period(), mode })
    }
}

impl SettlingFigure {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Periods, Self::Time];

    /// The name used in result files, with the unit.
    pub fn name(self) -> &'static str {
        match self {
            Self::Periods => "settling_periods",
            Self::Time => "settling_time_s",
        }
    }

    /// Its value.
    pub(super) fn value(self, slowest: &SlowestMode) -> f64 {
        let periods = slowest.mode.periods_until(SETTLED);
        match self {
            Self::Periods => periods,
            Self::Time => periods * slowest.period.0,
        }
    }
}
