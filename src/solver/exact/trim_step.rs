//! Newton's step with trims among the unknowns, and how currents answer the trims.
//!
//! Phase k's unknowns and trends are linear in the steps of its forcing δQ, of the half period δh and of
//! its trim δx(k). With its sensor's reading `g i + o` of its output current i, a phase that is at no end of
//! its range asks for
//!
//! ```text
//! g (i + i_Q δQ + i_h δh + i_x δx(k)) + o = c
//! ```
//!
//! The common reading c, δQ and δh follow from three sums: the trims', which is zero; the output currents'; in a
//! chain the amplitudes'.

use arrayvec::ArrayVec;

use super::cycle::PhaseUnknowns;
use super::eliminate::eliminate;
use super::phase_response::Move;
use super::system::{ChainSource, ConverterUnknowns, Linear, PerUnitConverter, Source};
use crate::converter::MAX_PHASES;

/// A sensor, per unit.
#[derive(Debug, Clone, Copy)]
pub(super) struct PerUnitSensor {
    pub(super) gain: f64,
    pub(super) offset: f64,
}

/// The loops about a point that was linearised.
pub(super) struct LinearLoops<'a> {
    pub(super) system: &'a PerUnitConverter<'a>,
    pub(super) point: &'a ConverterUnknowns,
    pub(super) linear: &'a Linear,
    /// How each phase moves with its trim.
    pub(super) responses: &'a [Move],
    pub(super) sensors: &'a [PerUnitSensor],
}

/// A step of all unknowns.
pub(super) struct TrimStep {
    pub(super) charge: f64,
    pub(super) h: f64,
    trims: ArrayVec<f64, MAX_PHASES>,
    /// Relative to the unknowns.
    pub(super) size: f64,
}

/// A linear function of the common reading and the steps of charge and half period.
#[derive(Clone, Copy, Default)]
struct Affine {
    by: [f64; 3],
    value: f64,
}

impl Affine {
    fn add(&mut self, other: &Self, times: f64) {
        self.by.iter_mut().zip(other.by).for_each(|(own, by)| *own += times * by);
        self.value += times * other.value;
    }

    fn at(&self, x: &[f64; 3]) -> f64 {
        self.value + self.by.iter().zip(x).map(|(by, x)| by * x).sum::<f64>()
    }
}

impl LinearLoops<'_> {
    /// The step to readings that agree, trims that sum to zero, and the output current.
    pub(super) fn step(&self, trims: &[f64]) -> Option<TrimStep> {
        let (mut sum, mut output) = (Affine::default(), self.output());
        let mut amplitude = self.amplitude();
        let mut steps: ArrayVec<Affine, MAX_PHASES> = ArrayVec::new();
        for (k, (trim, response)) in trims.iter().zip(self.responses).enumerate() {
            let step = self.asked(k);
            sum.add(&step, 1.0);
            sum.value += trim;
            output.add(&step, response.output);
            amplitude.add(&step, response.amplitude);
            steps.push(step);
        }
        output.value -= self.system.output_current;
        let rows = [sum, output, amplitude];
        let found = eliminate::<3>(rows.map(|row| row.by), rows.map(|row| [-row.value, 0.0, 0.0]))?;
        let [reading, charge, h] = found.map(|columns| columns[0]);
        let trims: ArrayVec<f64, MAX_PHASES> =
            steps.iter().map(|step| step.at(&[reading, charge, h])).collect();
        let all = charge + h + trims.iter().sum::<f64>();
        let size = self.size(charge, h, &trims);
        all.is_finite().then_some(TrimStep { charge, h, trims, size })
    }

    /// The size of a step, relative to the unknowns.
    fn size(&self, charge: f64, h: f64, trims: &[f64]) -> f64 {
        let point = self.point;
        let mut size = (h / point.h).abs();
        if matches!(self.system.source, Source::Chain(_)) {
            size = size.max((charge / point.charge).abs());
        }
        trims.iter().enumerate().fold(size, |size, (k, trim)| {
            let z = self.phase_step(k, [charge, h, *trim]).amax() / (1.0 + point.z[k].amax());
            size.max(trim.abs()).max(z)
        })
    }

    /// The step of phase `k` with those of charge, half period and its trim.
    fn phase_step(&self, k: usize, [charge, h, trim]: [f64; 3]) -> PhaseUnknowns {
        let response = &self.linear.responses[k];
        response.base + response.forcing * charge + response.period * h + self.responses[k].z * trim
    }

    /// The step of its trim that phase `k` asks for.
    fn asked(&self, k: usize) -> Affine {
        let (trend, response) = (&self.linear.trends[k].output, &self.responses[k]);
        let PerUnitSensor { gain, offset } = self.sensors[k];
        let by = [1.0 / gain, -trend.by_forcing, -trend.by_period];
        let by = by.map(|own| own / response.output);
        Affine { by, value: -(offset / gain + trend.value) / response.output }
    }

    /// The output current, without steps of the trims.
    fn output(&self) -> Affine {
        let trend = &self.linear.output;
        Affine { by: [0.0, trend.by_forcing, trend.by_period], value: trend.value }
    }

    /// By how much the amplitudes are off, likewise; of paralleled phases the step of a charge that there is
    /// none of.
    fn amplitude(&self) -> Affine {
        let trend = &self.linear.amplitude;
        match self.system.source {
            Source::Paralleled { .. } => Affine { by: [0.0, 1.0, 0.0], value: 0.0 },
            Source::Chain(ChainSource { input, ripple }) => Affine {
                by: [0.0, trend.by_forcing - ripple / 2.0, trend.by_period],
                value: trend.value - input - ripple / 2.0 * self.point.charge,
            },
        }
    }

    /// How the output currents answer, at the regulated frequency, when phase `up` is trimmed up and `down`
    /// down.
    pub(super) fn answer(&self, up: usize, down: usize) -> Option<ArrayVec<f64, MAX_PHASES>> {
        let moved = |k: usize| f64::from(u8::from(k == up)) - f64::from(u8::from(k == down));
        let between = |of: fn(&Move) -> f64| of(&self.responses[up]) - of(&self.responses[down]);
        let amplitude = match self.system.source {
            Source::Paralleled { .. } => 0.0,
            Source::Chain(_) => between(|own| own.amplitude),
        };
        let rows = [self.output().by, self.amplitude().by].map(|[_, charge, h]| [charge, h]);
        let right = [[-between(|own| own.output), 0.0, 0.0], [-amplitude, 0.0, 0.0]];
        let [charge, h] = eliminate::<2>(rows, right)?.map(|columns| columns[0]);
        let phases = self.linear.trends.iter().zip(self.responses).enumerate();
        let answers = phases.map(|(k, (trends, response))| {
            let trend = &trends.output;
            trend.by_forcing * charge + trend.by_period * h + response.output * moved(k)
        });
        Some(answers.collect())
    }
}

impl TrimStep {
    /// The output currents after it.
    pub(super) fn output_currents(&self, own: &LinearLoops<'_>) -> Vec<f64> {
        let phases = own.linear.trends.iter().zip(own.responses).zip(&self.trims);
        let after = phases.map(|((trends, response), trim)| {
            let trend = &trends.output;
            let moved = trend.by_forcing * self.charge + trend.by_period * self.h;
            trend.value + moved + response.output * trim
        });
        after.collect()
    }

    /// Where it leads.
    pub(super) fn taken(&self, own: &LinearLoops<'_>) -> ConverterUnknowns {
        let mut point = own.point.clone();
        for (k, z) in point.z.iter_mut().enumerate() {
            *z += own.phase_step(k, [self.charge, self.h, self.trims[k]]);
        }
        point.charge += self.charge;
        point.h += self.h;
        point
    }

    /// The trims where it leads.
    pub(super) fn added_to(&self, trims: &[f64]) -> ArrayVec<f64, MAX_PHASES> {
        trims.iter().zip(&self.trims).map(|(own, step)| own + step).collect()
    }
}
