//! How one settled phase moves with its parts, its forcing and the half period, to first order.

use super::cycle::{Forcing, INPUTS, PerUnitPhase, PhaseUnknowns, Response, Trend};
use super::system::{Linear, PhaseTrends};

/// Step of the difference quotients, relative.
const STEP: f64 = 1e-6;

/// The first-order response of a phase.
#[derive(Debug, Clone)]
pub(super) struct PhaseResponse {
    nominal: [f64; INPUTS],
    response: Response,
    amplitude: Trend,
    pub(super) output: Trend,
    pub(super) by_input: [Move; INPUTS],
}

/// How a phase moves with one of its inputs, what drives it and the half period being given.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Move {
    pub(super) z: PhaseUnknowns,
    pub(super) amplitude: f64,
    pub(super) output: f64,
}

impl Move {
    /// Adds so many times another one.
    pub(super) fn add(&mut self, other: &Self, times: f64) {
        self.z += other.z * times;
        self.amplitude += other.amplitude * times;
        self.output += other.output * times;
    }
}

/// What the second order adds: to the value, and to its slopes with forcing and half period.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Bends {
    pub(super) value: Move,
    pub(super) by_forcing: Move,
    pub(super) by_period: Move,
}

impl PhaseResponse {
    /// Of a phase at its steady state, so driven, at this half period.
    pub(super) fn new(
        phase: &PerUnitPhase,
        z: &PhaseUnknowns,
        forcing: Forcing,
        h: f64,
    ) -> Option<Self> {
        let observe = |phase: &PerUnitPhase| {
            let cycle = phase.evaluate(z, h)?;
            let response = cycle.equations(forcing, phase.elastance()).respond()?;
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

    /// How the phase moves with its inputs, then with its forcing and the half period.
    pub(super) fn moves(&self) -> impl Iterator<Item = Move> {
        let Self { response, amplitude, output, .. } = self;
        let by_forcing = Move {
            z: response.forcing,
            amplitude: amplitude.by_forcing,
            output: output.by_forcing,
        };
        let by_period =
            Move { z: response.period, amplitude: amplitude.by_period, output: output.by_period };
        self.by_input.iter().copied().chain([by_forcing, by_period])
    }

    /// What other inputs are off.
    pub(super) fn changes(&self, inputs: &[f64; INPUTS]) -> [f64; INPUTS] {
        std::array::from_fn(|n| inputs[n] - self.nominal[n])
    }

    /// How the phase moves along a direction of its inputs.
    pub(super) fn along(&self, direction: &[f64; INPUTS]) -> Move {
        let mut sum = Move::default();
        self.by_input.iter().zip(direction).for_each(|(by, length)| sum.add(by, *length));
        sum
    }

    /// Adds the phase with inputs that are off, and with what the second order makes of that, to the
    /// converter's linear model.
    pub(super) fn add_to(&self, linear: &mut Linear, changes: &[f64; INPUTS], bends: &Bends) {
        let (mut response, mut amplitude, mut output) =
            (self.response, self.amplitude, self.output);
        let Bends { value: mut base, by_forcing, by_period } = *bends;
        for (by, change) in self.by_input.iter().zip(changes) {
            base.add(by, *change);
        }
        response.base += base.z;
        response.forcing += by_forcing.z;
        response.period += by_period.z;
        amplitude += Trend {
            value: base.amplitude,
            by_forcing: by_forcing.amplitude,
            by_period: by_period.amplitude,
        };
        output += Trend {
            value: base.output,
            by_forcing: by_forcing.output,
            by_period: by_period.output,
        };
        linear.add(response, PhaseTrends { amplitude, output });
    }
}
