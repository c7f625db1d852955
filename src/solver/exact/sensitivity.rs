//! Where the solution goes when the parts depart from the nominal ones, to first order, and to second
//! order where that was prepared.
//!
//! About the nominal solution, every phase's unknowns, amplitude and output current are smooth in
//! its own parts, its forcing and the half period. The model replaces the first evaluation
//! of Newton's iteration. Its step leads close to the solution.

use super::curvature::Curvature;
use super::cycle::{CLAMP, RESISTANCE, TankLoading, Trend};
use super::phase_response::{Bends, PhaseResponse};
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerPhase, PerUnitConverter};

/// Steps of charge and half period that follow the curvature.
const ROUNDS: usize = 2;

/// The nominal solution's first-order response to the parts.
#[derive(Debug, Clone)]
pub(super) struct FirstOrderResponse {
    phases: PerPhase<BentResponse>,
}

/// The response of a phase; its second order where that was prepared.
#[derive(Debug, Clone)]
struct BentResponse {
    first: PhaseResponse,
    second: Option<Box<Curvature>>,
}

impl FirstOrderResponse {
    /// Of the solution `at` of the nominal converter.
    pub(super) fn new(nominal: &PerUnitConverter, at: &ConverterUnknowns) -> Option<Self> {
        let response = |(phase, z)| {
            let first = PhaseResponse::new(phase, z, nominal.forcing(at), at.h)?;
            Some(BentResponse { first, second: None })
        };
        Some(Self {
            phases: nominal.phases.iter().zip(&at.z).map(response).collect::<Option<_>>()?,
        })
    }

    /// Takes in the second order too, phase by phase where it is told.
    pub(super) fn bend(&mut self, nominal: &PerUnitConverter, at: &ConverterUnknowns) {
        let forcing = nominal.forcing(at);
        for (own, (phase, z)) in self.phases.iter_mut().zip(nominal.phases.iter().zip(&at.z)) {
            own.second = Curvature::new(&own.first, phase, z, forcing, at.h).map(Box::new);
        }
    }

    /// Where the solution of `system`, with other parts than the nominal ones, is expected.
    pub(super) fn forecast(
        &self,
        system: &PerUnitConverter,
        nominal: &ConverterUnknowns,
    ) -> Option<ConverterUnknowns> {
        let mut linear = Linear::default();
        for (own, phase) in self.phases.iter().zip(&system.phases) {
            let changes = own.first.changes(&phase.inputs());
            let bends = own.second.as_ref().map(|second| second.of_inputs(&changes));
            own.first.add_to(&mut linear, &changes, &bends.unwrap_or_default());
        }
        let mut step = system.step(nominal, &linear, HalfPeriod::Regulated)?;
        if self.phases.iter().all(|phase| phase.second.is_some()) {
            let flat = linear;
            linear = flat.clone();
            for _ in 0..ROUNDS {
                self.follow_curvature(&flat, [step.charge, step.h], &mut linear);
                step = system.step(nominal, &linear, HalfPeriod::Regulated)?;
            }
        }
        let mut point = nominal.clone();
        point.advance(&linear, &step, step.trusted(nominal));
        Some(point)
    }

    /// Takes the linear model about steps of forcing and half period, from the one about none.
    fn follow_curvature(&self, flat: &Linear, steps: [f64; 2], linear: &mut Linear) {
        (linear.amplitude, linear.output) = (flat.amplitude, flat.output);
        let responses = flat.responses.iter().zip(&mut linear.responses);
        for (phase, (flat, response)) in self.phases.iter().zip(responses) {
            let Some(curvature) = &phase.second else { continue };
            let Bends { value, by_forcing, by_period } = curvature.along(steps);
            response.base = flat.base - value.z;
            response.forcing = flat.forcing + by_forcing.z;
            response.period = flat.period + by_period.z;
            linear.amplitude += Trend {
                value: -value.amplitude,
                by_forcing: by_forcing.amplitude,
                by_period: by_period.amplitude,
            };
            linear.output += Trend {
                value: -value.output,
                by_forcing: by_forcing.output,
                by_period: by_period.output,
            };
        }
    }

    /// Gives phase `k` another resistance and clamp voltage, and adds what they make to the linear model
    /// about a point nearby.
    pub(super) fn load(
        &self,
        system: &mut PerUnitConverter,
        linear: &mut Linear,
        k: usize,
        load: TankLoading,
    ) {
        let before = system.phases[k].loading();
        system.phases[k].load(load);
        // A resistance acts as a voltage, which rises with the current.
        let ratio = linear.periods[k].output / self.phases[k].first.output.value;
        let as_voltage = if ratio.is_finite() { ratio } else { 1.0 };
        let changes = [
            (RESISTANCE, as_voltage * (load.resistance - before.resistance)),
            (CLAMP, load.clamp - before.clamp),
        ];
        for (input, change) in changes {
            let by = self.phases[k].first.by_input[input];
            linear.responses[k].base += by.z * change;
            linear.amplitude.value += by.amplitude * change;
            linear.output.value += by.output * change;
        }
    }
}
