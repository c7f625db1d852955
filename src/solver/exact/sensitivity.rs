//! Where the solution goes when the parts depart from the nominal ones, to first order, and to second
//! order where that was prepared.
//!
//! About the nominal solution, every phase's unknowns, amplitude and output current are smooth in
//! its own parts, its forcing and the half period. The model replaces the first evaluation
//! of Newton's iteration. Its step leads close to the solution.

use super::curvature::Curvature;
use super::cycle::{CLAMP, INPUTS, RESISTANCE, TankLoading, Trend};
use super::phase_response::{Bends, Move, PhaseResponse};
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
        let flat = self.flat_model(system);
        let mut step = system.step(nominal, &flat, HalfPeriod::Regulated)?;
        let mut linear = flat;
        if self.is_bent() {
            let flat = linear.clone();
            for _ in 0..ROUNDS {
                self.follow_curvature(&flat, [step.charge, step.h], &mut linear);
                step = system.step(nominal, &linear, HalfPeriod::Regulated)?;
            }
        }
        let mut point = nominal.clone();
        point.advance(&linear, &step, step.trusted(nominal));
        Some(point)
    }

    /// The linear model of `system` about the nominal solution and these steps of charge and half period.
    pub(super) fn model(&self, system: &PerUnitConverter, steps: [f64; 2]) -> Linear {
        let flat = self.flat_model(system);
        if !self.is_bent() {
            return flat;
        }
        let mut linear = flat.clone();
        self.follow_curvature(&flat, steps, &mut linear);
        linear
    }

    /// How phase `k` moves along a direction of its inputs.
    pub(super) fn along(&self, k: usize, direction: &[f64; INPUTS]) -> Move {
        self.phases[k].first.along(direction)
    }

    fn is_bent(&self) -> bool {
        self.phases.iter().all(|phase| phase.second.is_some())
    }

    /// The linear model about the nominal solution.
    fn flat_model(&self, system: &PerUnitConverter) -> Linear {
        let mut linear = Linear::default();
        for (own, phase) in self.phases.iter().zip(&system.phases) {
            let changes = own.first.changes(&phase.inputs());
            let bends = own.second.as_ref().map(|second| second.of_inputs(&changes));
            own.first.add_to(&mut linear, &changes, &bends.unwrap_or_default());
        }
        linear
    }

    /// Takes the linear model about steps of forcing and half period, from the one about none.
    fn follow_curvature(&self, flat: &Linear, steps: [f64; 2], linear: &mut Linear) {
        (linear.amplitude, linear.output) = (flat.amplitude, flat.output);
        for (k, phase) in self.phases.iter().enumerate() {
            let Some(curvature) = &phase.second else { continue };
            let Bends { value, by_forcing, by_period } = curvature.along(steps);
            let (trends, flat) = (flat.trends[k], &flat.responses[k]);
            let response = &mut linear.responses[k];
            response.base = flat.base - value.z;
            response.forcing = flat.forcing + by_forcing.z;
            response.period = flat.period + by_period.z;
            let trend = |of: fn(&Move) -> f64| Trend {
                value: -of(&value),
                by_forcing: of(&by_forcing),
                by_period: of(&by_period),
            };
            let (amplitude, output) = (trend(|own| own.amplitude), trend(|own| own.output));
            linear.trends[k] = trends;
            linear.trends[k].amplitude += amplitude;
            linear.trends[k].output += output;
            linear.amplitude += amplitude;
            linear.output += output;
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
