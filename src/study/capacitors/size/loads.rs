//! What a size does to the nominal converter: ripple, currents, voltages.

use super::prepared::PreparedCase;
use crate::converter::{Arrangement, RatedPart, Rating, Stress};
use crate::scenario::Scenario;
use crate::solver::settling::PeriodMap;
use crate::study::common::drift::DriftingChain;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::missed::MissedDemand;
use crate::units::{Ampere, Hertz, Volt};

/// The switches of a chain whose blocking voltages are told apart.
pub const BLOCKING_SWITCHES: [RatedPart; 4] = [
    RatedPart::FirstHighSwitch,
    RatedPart::OtherHighSwitch,
    RatedPart::InnerLowSwitch,
    RatedPart::LastLowSwitch,
];

/// What loads the flying capacitors after one phase; of both legs the larger value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceLoads {
    /// From the lowest to the highest voltage.
    pub ripple: Volt,
    /// Root mean square of the current.
    pub rms_current: Ampere,
    /// Mean voltage; none by the averaged solver.
    pub mean_voltage: Option<Volt>,
    /// Highest voltage, with the assumed drift.
    pub peak_voltage: Volt,
}

/// The nominal converter of a size at one operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct NominalLoads {
    /// Switching frequency.
    pub switching_frequency: Hertz,
    /// The sharing error that the limits are on.
    pub sharing_error: f64,
    /// The flying capacitors, place by place.
    pub places: Vec<PlaceLoads>,
    /// Highest blocking voltages of [`BLOCKING_SWITCHES`], with the assumed drift.
    pub blocking: [Volt; BLOCKING_SWITCHES.len()],
    /// Limits that it misses.
    pub missed: Vec<MissedDemand>,
}

/// How fast small disturbances of the chain die out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettlingSpeed {
    /// Share that the slowest mode loses in one period.
    pub decay_per_period: f64,
    /// Switching periods until 1 % of it is left; infinite where nothing damps it.
    pub periods_to_1_percent: f64,
}

impl SettlingSpeed {
    /// Of the nominal converter in a case; none where it is not solved, and by the averaged solver.
    pub(super) fn new(own: &PreparedCase) -> Option<Self> {
        let point = &own.case.point;
        let converter = own.converter.at(&point.condition);
        let map = PeriodMap::new(own.outcome.solved()?, &converter, point)?;
        let slowest = map.settling()?.slowest;
        Some(Self {
            decay_per_period: slowest.decay_per_period(),
            periods_to_1_percent: slowest.periods_until(0.01),
        })
    }
}

impl NominalLoads {
    /// Of the nominal converter in a case; none where it is not solved.
    pub(super) fn new(scenario: &Scenario, own: &PreparedCase) -> Option<Self> {
        let (state, point) = (own.outcome.solved()?, &own.case.point);
        let (chain, drift) = (Arrangement::Chain, &scenario.drift);
        let converter = own.converter.at(&point.condition);
        let worst = DriftingChain { converter: &converter, state, point }.worst_drift(scenario);
        let solved = SolvedConverter::new(state, &own.converter, point, chain, drift)
            .with_drift(worst)
            .with_switches(scenario.switch.as_ref());
        let load = |part, stress| solved.value(Figure::Rating(Rating { part, stress }));
        let place = |k: usize| {
            let load = |stress| load(RatedPart::FlyingCapacitor(k), stress);
            PlaceLoads {
                ripple: Volt(load(Stress::RippleVoltage)),
                rms_current: Ampere(load(Stress::RmsCurrent)),
                mean_voltage: Some(load(Stress::MeanVoltage)).filter(|v| v.is_finite()).map(Volt),
                peak_voltage: Volt(load(Stress::PeakVoltage)),
            }
        };
        Some(Self {
            switching_frequency: state.switching_frequency,
            sharing_error: solved.sharing_error(scenario.limits.sharing),
            places: (1..scenario.phases).map(|k| place(k - 1)).collect(),
            blocking: BLOCKING_SWITCHES.map(|part| Volt(load(part, Stress::BlockingVoltage))),
            missed: MissedDemand::all(&scenario.limits, &solved, chain, point.drive),
        })
    }

    /// Largest ripple of any flying capacitor.
    pub fn ripple(&self) -> Volt {
        Volt(self.largest(|place| place.ripple.0))
    }

    /// Largest RMS current of any flying capacitor.
    pub fn rms_current(&self) -> Ampere {
        Ampere(self.largest(|place| place.rms_current.0))
    }

    /// Highest voltage of any flying capacitor.
    pub fn peak_voltage(&self) -> Volt {
        Volt(self.largest(|place| place.peak_voltage.0))
    }

    /// Highest blocking voltage of any switch.
    pub fn highest_blocking(&self) -> Volt {
        Volt(self.blocking.iter().map(|voltage| voltage.0).fold(0.0, f64::max))
    }

    fn largest(&self, value: impl Fn(&PlaceLoads) -> f64) -> f64 {
        self.places.iter().map(value).fold(0.0, f64::max)
    }
}
