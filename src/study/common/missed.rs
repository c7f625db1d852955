//! Limits that a solved converter misses.

use crate::converter::{Arrangement, ChainDrift, Drive};
use crate::scenario::{Limits, Scenario};
use crate::study::common::demand::Demand;
use crate::study::common::drift::DriftingChain;
use crate::study::common::figures::SolvedConverter;
use crate::study::common::nominal::Baseline;

/// A demand that a converter misses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MissedDemand {
    /// What it must meet.
    pub demand: Demand,
    /// The value of the limited figure, in its unit; none where the converter does not deliver the
    /// output, or the figure is not known.
    pub value: Option<f64>,
}

impl MissedDemand {
    /// All demands that a solved converter misses. A figure that is not known misses its limit; one that
    /// does not apply with this drive has none.
    pub fn all(
        limits: &Limits,
        solved: &SolvedConverter<'_>,
        arrangement: Arrangement,
        drive: Drive,
    ) -> Vec<Self> {
        let missed = |demand: Demand| {
            let figure = demand.figure.filter(|figure| figure.applies(arrangement, drive))?;
            let value = Some(solved.value(figure)).filter(|value| !value.is_nan());
            let is_met = value.is_some_and(|value| value <= demand.limit);
            (!is_met).then_some(Self { demand, value })
        };
        Demand::all(limits, arrangement).into_iter().filter_map(missed).collect()
    }

    /// Regulation, the one demand that a converter misses of which no steady state is known.
    pub fn regulation(limits: &Limits, arrangement: Arrangement) -> Vec<Self> {
        let demands = Demand::all(limits, arrangement).into_iter();
        let regulation = demands.filter(|demand| demand.figure.is_none());
        regulation.map(|demand| Self { demand, value: None }).collect()
    }

    /// How far it is missed: value over limit, above 1. Infinite where no value is known, or the limit
    /// is zero.
    pub fn ratio(&self) -> f64 {
        self.value.map_or(f64::INFINITY, |value| self.demand.use_of(value))
    }
}

/// A limit that the nominal converter misses.
#[derive(Debug, Clone, PartialEq)]
pub struct NominalMiss {
    /// The operating point's name.
    pub operating_point: String,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The limit, with the value there.
    pub missed: MissedDemand,
}

impl NominalMiss {
    /// All limits that the nominal converter misses in these cases, in their order.
    pub fn all(scenario: &Scenario, baselines: &[Baseline]) -> Vec<Self> {
        Self::all_with_drift(scenario, baselines, |chain| chain.drift(&scenario.drift))
    }

    /// The same where every flying capacitor may lie anywhere within its band, as far as that lets voltages drift.
    pub fn all_at_worst_drift(scenario: &Scenario, baselines: &[Baseline]) -> Vec<Self> {
        Self::all_with_drift(scenario, baselines, |chain| chain.worst_drift(scenario))
    }

    fn all_with_drift(
        scenario: &Scenario,
        baselines: &[Baseline],
        drift: impl Fn(DriftingChain<'_>) -> ChainDrift,
    ) -> Vec<Self> {
        let nominal = scenario.nominal_converter();
        let misses = baselines.iter().flat_map(|baseline| {
            let Baseline { case, state, .. } = baseline;
            let (point, arrangement) = (&case.point, case.arrangement);
            let solved = SolvedConverter::new(state, &nominal, point, arrangement, &scenario.drift)
                .with_switches(scenario.switch.as_ref());
            let converter = nominal.at(&point.condition);
            let solved = match arrangement {
                Arrangement::Paralleled => solved,
                Arrangement::Chain => {
                    solved.with_drift(drift(DriftingChain { converter: &converter, state, point }))
                }
            };
            let missed =
                MissedDemand::all(&scenario.limits, &solved, arrangement, point.drive).into_iter();
            missed.map(move |missed| Self {
                operating_point: point.name.clone(),
                arrangement,
                missed,
            })
        });
        misses.collect()
    }
}
