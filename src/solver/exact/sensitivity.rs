//! Where the solution goes when the parts depart from the nominal ones, to first order.
//!
//! About the nominal solution, every phase's unknowns, amplitude and output current are linear in
//! its own parts, its forcing and the half period. The linear model replaces the first evaluation
//! of Newton's iteration. Its step leads close to the solution.

use super::cycle::{
    CLAMP, INPUTS, PerUnitPhase, PhaseUnknowns, RESISTANCE, Response, TankLoading, Trend,
};
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerPhase, PerUnitConverter};

/// Step of the difference quotients, relative.
const STEP: f64 = 1e-6;

/// The nominal solution's first-order response to the parts.
#[derive(Debug, Clone)]
pub(super) struct FirstOrderResponse {
    phases: PerPhase<PhaseResponse>,
}

#[derive(Debug, Clone)]
struct PhaseResponse {
    nominal: [f64; INPUTS],
    response: Response,
    amplitude: Trend,
    output: Trend,
    by_input: [Move; INPUTS],
}

/// How a phase moves with one of its inputs, what drives it and the half period being given.
#[derive(Debug, Clone, Copy, Default)]
struct Move {
    z: PhaseUnknowns,
    amplitude: f64,
    output: f64,
}

impl FirstOrderResponse {
    /// Of the solution `at` of the nominal converter.
    pub(super) fn new(nominal: &PerUnitConverter, at: &ConverterUnknowns) -> Option<Self> {
        let response = |(phase, z)| PhaseResponse::new(phase, z, nominal, at);
        Some(Self {
            phases: nominal.phases.iter().zip(&at.z).map(response).collect::<Option<_>>()?,
        })
    }

    /// Where the solution of `system`, with other parts than the nominal ones, is expected.
    pub(super) fn forecast(
        &self,
        system: &PerUnitConverter,
        nominal: &ConverterUnknowns,
    ) -> Option<ConverterUnknowns> {
        let mut linear = Linear::default();
        for (sensitivity, phase) in self.phases.iter().zip(&system.phases) {
            sensitivity.add_to(&mut linear, &phase.inputs());
        }
        let step = system.step(nominal, &linear, HalfPeriod::Regulated)?;
        let mut point = nominal.clone();
        point.advance(&linear, &step, step.trusted(nominal));
        Some(point)
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
        let ratio = linear.periods[k].output / self.phases[k].output.value;
        let as_voltage = if ratio.is_finite() { ratio } else { 1.0 };
        let changes = [
            (RESISTANCE, as_voltage * (load.resistance - before.resistance)),
            (CLAMP, load.clamp - before.clamp),
        ];
        for (input, change) in changes {
            let by = self.phases[k].by_input[input];
            linear.responses[k].base += by.z * change;
            linear.amplitude.value += by.amplitude * change;
            linear.output.value += by.output * change;
        }
    }
}

impl PhaseResponse {
    fn new(
        phase: &PerUnitPhase,
        z: &PhaseUnknowns,
        system: &PerUnitConverter,
        at: &ConverterUnknowns,
    ) -> Option<Self> {
        let observe = |phase: &PerUnitPhase| {
            let cycle = phase.evaluate(z, at.h)?;
            let response = cycle.equations(system.forcing(at), phase.elastance()).respond()?;
            Some((response, cycle.amplitude_trend(&response), cycle.output_trend(&response)))
        };
        let (response, amplitude, output) = observe(phase)?;
        let nominal = phase.inputs();
        let mut by_input = [Move::default(); INPUTS];
        for (n, slot) in by_input.iter_mut().enumerate() {
            // A resistance may be zero; per-unit quantities are near one.
            let step = STEP * nominal[n].max(STEP);
            let mut inputs = nominal;
            inputs[n] += step;
            let (r, w, i) = observe(&phase.with_inputs(&inputs))?;
            *slot = Move {
                z: (r.base - response.base) / step,
                amplitude: (w.value - amplitude.value) / step,
                output: (i.value - output.value) / step,
            };
        }
        Some(Self { nominal, response, amplitude, output, by_input })
    }

    /// Adds the phase with these inputs to the converter's linear model.
    fn add_to(&self, linear: &mut Linear, inputs: &[f64; INPUTS]) {
        let (mut response, mut amplitude, mut output) =
            (self.response, self.amplitude, self.output);
        for (by, (input, nominal)) in self.by_input.iter().zip(inputs.iter().zip(&self.nominal)) {
            let change = input - nominal;
            response.base += by.z * change;
            amplitude.value += by.amplitude * change;
            output.value += by.output * change;
        }
        linear.responses.push(response);
        linear.amplitude += amplitude;
        linear.output += output;
    }
}
