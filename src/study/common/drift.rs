//! The drift of flying-capacitor voltages in a solved chain.

use crate::converter::{
    AssumedDrift, ChainDrift, Converter, DriftConditions, Drive, NodeCapacitors, OperatingPoint,
    Parameter,
};
use crate::scenario::{Scenario, Tolerance};
use crate::solver::{PhaseState, SteadyState};
use crate::units::{Ampere, Farad};

/// A converter's own flying capacitors: a band without width.
const OWN: [f64; 2] = [0.0, 0.0];

/// A solved chain, as far as its drift depends on it.
#[derive(Debug, Clone, Copy)]
pub struct DriftingChain<'a> {
    /// Its parts, under the condition of the operating point.
    pub converter: &'a Converter,
    /// Its steady state.
    pub state: &'a SteadyState,
    /// The operating point.
    pub point: &'a OperatingPoint,
}

impl DriftingChain<'_> {
    /// What a scenario's drift comes to with the converter's own flying capacitors.
    pub fn drift(self, assumed: &AssumedDrift) -> ChainDrift {
        self.drift_within(assumed, |_| OWN)
    }

    /// The same at worst, where every flying capacitor may lie anywhere within its band about that of the
    /// converter.
    pub fn worst_drift(self, scenario: &Scenario) -> ChainDrift {
        self.drift_within(&scenario.drift, |place| self.band(scenario, place))
    }

    /// What that worst drift depends on.
    pub fn worst_conditions(self, scenario: &Scenario) -> DriftConditions {
        self.conditions(|place| self.band(scenario, place))
    }

    /// In half-bridge drive charge balance holds every voltage, so that none drifts.
    fn drift_within(self, assumed: &AssumedDrift, band: impl Fn(usize) -> [f64; 2]) -> ChainDrift {
        let phases = self.state.phases.len();
        match (self.point.drive, assumed) {
            (Drive::HalfBridge, _) => ChainDrift::none(phases),
            (Drive::FullBridge, AssumedDrift::Stated(drift)) => {
                ChainDrift::stated(phases, *drift, self.point.input_voltage)
            }
            (Drive::FullBridge, AssumedDrift::FromCauses(causes)) => {
                ChainDrift::from_causes(causes, &self.conditions(band))
            }
        }
    }

    /// Where the solver does not tell the currents at the switching instants, the peak currents stand in for
    /// them: no current at turn-off is higher. `band` is that of the flying capacitors of a place.
    fn conditions(self, band: impl Fn(usize) -> [f64; 2]) -> DriftConditions {
        let Self { converter, state, point } = self;
        let turn_off = |phase: &PhaseState| -> Ampere {
            phase.middle.map_or(phase.peak_current, |tank| tank.tank_current)
        };
        let both = converter.flying.iter().zip(&converter.flying_return).enumerate();
        let within = |(place, (driven, returned)): (usize, (&Farad, &Farad))| {
            NodeCapacitors::within([*driven, *returned], band(place))
        };
        DriftConditions {
            capacitors: both.map(within).collect(),
            input_voltage: point.input_voltage,
            switching_frequency: state.switching_frequency,
            turn_off_currents: state.phases.iter().map(turn_off).collect(),
        }
    }

    /// The band of the flying capacitors of a place about those of the nominal converter under the condition:
    /// their tolerance, and the scatter of what temperature and age do to them.
    fn band(self, scenario: &Scenario, place: usize) -> [f64; 2] {
        let (own, phases) = (Parameter::FlyingCapacitance, self.state.phases.len());
        let tolerances = &scenario.tolerances;
        let of_values = tolerances.get(own).map_or(OWN, Tolerance::ends);
        let responses = tolerances.responses().iter().filter(|told| told.parameter == own);
        responses.fold(of_values, |band, told| {
            let stress = self.point.condition.stress(told.influence, own, place, phases);
            let changes = told.scatter.ends().map(|end| 1.0 + stress * end);
            let nominal = f64::midpoint(changes[0], changes[1]);
            let [a, b] = changes.map(|changed| changed / nominal);
            [(1.0 + band[0]) * a.min(b) - 1.0, (1.0 + band[1]) * a.max(b) - 1.0]
        })
    }
}
