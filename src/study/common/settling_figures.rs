//! Figures of how fast a chain settles after a small disturbance of its flying capacitors.

use crate::converter::{Converter, OperatingPoint};
use crate::solver::SteadyState;
use crate::solver::settling::PeriodMap;
use crate::units::Second;

/// Share of a disturbance that is left when it counts as settled.
pub const SETTLED: f64 = 0.01;
/// By how much earlier than a limit, relatively, a chain must settle for the limit to stand for its time.
const WITHIN: f64 = 1e-9;

/// A figure of the slowest mode that moves flying capacitors and decays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SettlingFigure {
    /// Switching periods until it is below 1 %.
    Periods,
    /// The same as a time, s.
    Time,
}

/// How long the slowest mode of a solved chain lasts.
#[derive(Debug, Clone, Copy)]
pub(super) struct SlowestMode {
    period: Second,
    /// Switching periods until it is settled.
    periods: f64,
}

impl SlowestMode {
    /// Where a limit is given and the chain settles within it for certain, the limit stands for its time. None
    /// where the steady state does not tell the currents at the switching instants.
    pub(super) fn new(
        state: &SteadyState,
        converter: &Converter,
        point: &OperatingPoint,
        limit: Option<Second>,
    ) -> Option<Self> {
        let map = PeriodMap::new(state, converter, point)?;
        let period = map.period();
        let limit = limit.map(|limit| (1.0 - WITHIN) * limit.0 / period.0);
        if let Some(periods) = limit.filter(|periods| map.settles_within(*periods, SETTLED)) {
            return Some(Self { period, periods });
        }
        Some(Self { period, periods: map.settling()?.slowest.periods_until(SETTLED) })
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
        match self {
            Self::Periods => slowest.periods,
            Self::Time => slowest.periods * slowest.period.0,
        }
    }
}
