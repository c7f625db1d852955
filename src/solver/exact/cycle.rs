//! One whole period of one phase, as equations for its periodic steady state.
//!
//! The second half is written in mirrored signs, so that it too starts with a rising source. With
//! unknowns z = (d, im, e, e'), e at the start of the first and e' of the mirrored second half,
//!
//! - closure: d + d'(T/2) = 0, im + im'(T/2) = 0;
//! - forced by a charge Q: both halves move Q;
//! - forced by a source of amplitude W: both halves move one charge q, and
//!   W = (e + e' − q/Cr)/2.
//!
//! When both halves see the same capacitance the two are mirror images, and e' = e stands in for
//! the second half.

use nalgebra::{RowVector4, Vector4};

use super::eliminate::eliminate;
use super::half::{Final, Half, HalfCircuit, Help, Hints, StartState, Stretch};
use crate::solver::effort::Effort;

/// How many numbers make up a phase.
pub(super) const INPUTS: usize = 8;
/// Where R and Vp stand among them.
pub(super) const RESISTANCE: usize = 5;
pub(super) const CLAMP: usize = 6;

/// R and Vp of a phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct TankLoading {
    pub(super) resistance: f64,
    pub(super) clamp: f64,
}

/// The unknowns of one phase: d, im, e, e'.
pub(super) type PhaseUnknowns = Vector4<f64>;

/// One phase in per-unit quantities.
#[derive(Debug, Clone, Copy)]
pub(super) struct PerUnitPhase<'a> {
    first: HalfCircuit,
    second: HalfCircuit,
    /// Whether both halves are mirror images.
    mirrored: bool,
    /// By how much the first half is shorter than half a period, and the second one longer.
    late: f64,
    /// 1/Cr.
    resonant_elastance: f64,
    /// Output current for a mean rectified primary current of one.
    gain: f64,
    /// The work that may be taken to solve it.
    effort: &'a Effort<'a>,
}

/// What drives a phase.
#[derive(Debug, Clone, Copy)]
pub(super) enum Forcing {
    /// The charge that the chain lets through in each half period.
    Charge(f64),
    /// The amplitude of an ideal source.
    Amplitude(f64),
}

/// A quantity and its derivatives with respect to the unknowns and the half period.
#[derive(Debug, Clone, Copy)]
pub(super) struct Linearised {
    pub(super) value: f64,
    gradient: RowVector4<f64>,
    rate: f64,
}

/// One evaluated period.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle {
    closure: [Linearised; 2],
    /// Charges of the two halves (equal unknowns stand in for the second when mirrored).
    charge: [Linearised; 2],
    mirror: Option<Linearised>,
    /// Amplitude of the source, W.
    pub(super) amplitude: Linearised,
    /// Output current.
    pub(super) output: Linearised,
}

/// The equations of a phase: zero where they hold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Equations {
    rows: [Linearised; 4],
    /// How the forcing's change is taken off each.
    by_forcing: [f64; 4],
    /// Whether the last says no more than that both halves are alike.
    mirrored: bool,
}

/// The unknowns' linear response: z moves by `base + forcing·δp + period·δh`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Response {
    pub(super) base: PhaseUnknowns,
    pub(super) forcing: PhaseUnknowns,
    pub(super) period: PhaseUnknowns,
}

/// A quantity after the base step, and how it moves with the forcing and the half period.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Trend {
    pub(super) value: f64,
    pub(super) by_forcing: f64,
    pub(super) by_period: f64,
}

impl std::ops::AddAssign for Trend {
    fn add_assign(&mut self, other: Self) {
        self.value += other.value;
        self.by_forcing += other.by_forcing;
        self.by_period += other.by_period;
    }
}

impl Linearised {
    fn trend(&self, response: &Response) -> Trend {
        Trend {
            value: self.value + (self.gradient * response.base)[0],
            by_forcing: (self.gradient * response.forcing)[0],
            by_period: (self.gradient * response.period)[0] + self.rate,
        }
    }

    fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            gradient: self.gradient * factor,
            rate: self.rate * factor,
        }
    }

    fn plus(&self, other: &Self) -> Self {
        Self {
            value: self.value + other.value,
            gradient: self.gradient + other.gradient,
            rate: self.rate + other.rate,
        }
    }

    fn unknown(z: &PhaseUnknowns, n: usize) -> Self {
        let mut gradient = RowVector4::zeros();
        gradient[n] = 1.0;
        Self { value: z[n], gradient, rate: 0.0 }
    }
}

/// A final value of the first half as a row: it depends on (d, im, e).
fn of_first(f: &Final) -> Linearised {
    let [a, b, c] = f.gradient;
    Linearised { value: f.value, gradient: RowVector4::new(a, b, c, 0.0), rate: f.rate }
}

impl<'a> PerUnitPhase<'a> {
    /// A phase of two halves' circuits, 1/Cr and output gain.
    pub(super) fn new(
        halves: [HalfCircuit; 2],
        resonant_elastance: f64,
        gain: f64,
        effort: &'a Effort<'a>,
    ) -> Self {
        let [first, second] = halves;
        let mirrored = first.elastance().to_bits() == second.elastance().to_bits();
        Self { first, second, mirrored, late: 0.0, resonant_elastance, gain, effort }
    }

    /// The numbers that make up a phase: Lr, Lm, 1/Ce of both halves, 1/Cr, R, Vp, output gain.
    pub(super) fn inputs(&self) -> [f64; INPUTS] {
        let [lr, lm, r, clamp] = self.first.parts();
        let elastances = [self.first.elastance(), self.second.elastance()];
        [lr, lm, elastances[0], elastances[1], self.resonant_elastance, r, clamp, self.gain]
    }

    /// A phase that these numbers make up, to be solved with the same effort.
    pub(super) fn with_inputs(&self, inputs: &[f64; INPUTS]) -> Self {
        let [lr, lm, first, second, resonant, r, clamp, gain] = *inputs;
        let half = |elastance| HalfCircuit::new(lr, lm, elastance, r, clamp);
        Self::new([half(first), half(second)], resonant, gain, self.effort)
    }

    /// Whether a phase that passes no current at half period `h` passes none at any shorter one.
    ///
    /// Without load the winding voltage of a source of amplitude W peaks at `W Lm/(Lr + Lm) / cos(ω
    /// h/2)`, with ω² = 1/((Lr + Lm) Ce). That falls with the frequency wherever ω h < π.
    pub(super) fn stays_idle_above(&self, h: f64) -> bool {
        let off = self.first.ring(0);
        (off.elastance() / off.inductance()).sqrt() * h < std::f64::consts::PI
    }

    /// Time in which the tank without load would make a whole turn, were it not damped: 2π √((Lr +
    /// Lm) Ce), of the half with the larger capacitance.
    pub(super) fn unloaded_turn(&self) -> f64 {
        let elastance = self.first.elastance().min(self.second.elastance());
        2.0 * std::f64::consts::PI * (self.first.ring(0).inductance() / elastance).sqrt()
    }

    /// Output current for a mean rectified primary current of one.
    pub(super) fn gain(&self) -> f64 {
        self.gain
    }

    /// 1/Cr.
    pub(super) fn resonant_elastance(&self) -> f64 {
        self.resonant_elastance
    }

    /// √(Lr/Ce) of the first half, in ohm.
    pub(super) fn characteristic_impedance(&self) -> f64 {
        let ring = self.first.ring(1);
        (ring.inductance() * ring.elastance()).sqrt()
    }

    /// Whether, within a relative tolerance, the phase is lossless, at its resonance, and its
    /// source as high as the clamp. Such a phase carries any current at all.
    pub(super) fn is_short(&self, amplitude: f64, h: f64, tolerance: f64) -> bool {
        let ring = self.first.ring(1);
        let [_, _, resistance, clamp] = self.first.parts();
        resistance < tolerance * self.characteristic_impedance()
            && (ring.omega() * h / std::f64::consts::PI - 1.0).abs() < tolerance
            && (amplitude / clamp - 1.0).abs() < tolerance
    }

    /// The phase with more series resistance.
    pub(super) fn damped(&self, more: f64) -> Self {
        Self { first: self.first.damped(more), second: self.second.damped(more), ..*self }
    }

    /// Takes another resistance and clamp voltage.
    pub(super) fn load(&mut self, TankLoading { resistance, clamp }: TankLoading) {
        self.first = self.first.loaded(resistance, clamp);
        self.second = self.second.loaded(resistance, clamp);
    }

    /// The resistance and the clamp voltage that it has.
    pub(super) fn loading(&self) -> TankLoading {
        let [_, _, resistance, clamp] = self.first.parts();
        TankLoading { resistance, clamp }
    }

    /// 1/Ce of the first half.
    pub(super) fn elastance(&self) -> f64 {
        self.first.elastance()
    }

    /// Takes the slopes at a start without rectifier current just below it, or as they are.
    pub(super) fn look_below_rest(&mut self, below: bool) {
        self.first.look_below_rest(below);
        self.second.look_below_rest(below);
    }

    pub(super) fn circuits(&self) -> [&HalfCircuit; 2] {
        [&self.first, &self.second]
    }

    /// Whether the second half is the first one's mirror image.
    pub(super) fn is_mirrored(&self) -> bool {
        self.mirrored
    }

    /// The phase with a source that rises so much after the half period begins, which then counts from there.
    pub(super) fn rising_late(&self, late: f64) -> Self {
        Self { late, mirrored: self.mirrored && late == 0.0, ..*self }
    }

    /// Runs one period of length 2 `h` from `z`. `None` when a half period has too many events,
    /// and when the effort is spent.
    pub(super) fn evaluate(&self, z: &PhaseUnknowns, h: f64) -> Option<Cycle> {
        self.trace(z, h, &Default::default(), |_, _| {})
    }

    /// As [`evaluate`](Self::evaluate), helped by each half's hints. Shows every stretch of the
    /// first (0) and the second half (1) to `see`; of mirrored halves only those of the first.
    pub(super) fn trace(
        &self,
        z: &PhaseUnknowns,
        h: f64,
        hints: &[Hints; 2],
        mut see: impl FnMut(usize, Stretch),
    ) -> Option<Cycle> {
        let start = StartState { d: z[0], im: z[1], e: z[2] };
        let [help, second_help] = hints.each_ref().map(|hints| Help { hints, effort: self.effort });
        let first = self.first.trace(start, h - self.late, help, |stretch| see(0, stretch))?;
        if self.mirrored {
            return Some(self.mirrored_cycle(z, h, &first));
        }
        let start = StartState { d: -first.d.value, im: -first.im.value, e: z[3] };
        let second =
            self.second.trace(start, h + self.late, second_help, |stretch| see(1, stretch))?;
        Some(self.full_cycle(z, h, &first, &second))
    }

    fn mirrored_cycle(&self, z: &PhaseUnknowns, h: f64, first: &Half) -> Cycle {
        let e = Linearised::unknown(z, 2);
        let charge = Self::charge(&e, &of_first(&first.e), &self.first);
        let rectified = of_first(&first.rectified);
        Cycle {
            closure: [
                Linearised::unknown(z, 0).plus(&of_first(&first.d)),
                Linearised::unknown(z, 1).plus(&of_first(&first.im)),
            ],
            charge: [charge; 2],
            mirror: Some(Linearised::unknown(z, 3).plus(&e.scaled(-1.0))),
            amplitude: e.plus(&charge.scaled(-0.5 * self.resonant_elastance)),
            output: self.output(&rectified, h),
        }
    }

    fn full_cycle(&self, z: &PhaseUnknowns, h: f64, first: &Half, second: &Half) -> Cycle {
        let (d, im) = (of_first(&first.d), of_first(&first.im));
        let of_second = |f: &Final| {
            let [a, b, c] = f.gradient;
            let mut gradient = d.gradient * -a - im.gradient * b;
            gradient[3] += c;
            Linearised { value: f.value, gradient, rate: f.rate - a * d.rate - b * im.rate }
        };
        let (e, e_mirrored) = (Linearised::unknown(z, 2), Linearised::unknown(z, 3));
        let charge = [
            Self::charge(&e, &of_first(&first.e), &self.first),
            Self::charge(&e_mirrored, &of_second(&second.e), &self.second),
        ];
        let rectified = of_first(&first.rectified).plus(&of_second(&second.rectified)).scaled(0.5);
        Cycle {
            closure: [
                Linearised::unknown(z, 0).plus(&of_second(&second.d)),
                Linearised::unknown(z, 1).plus(&of_second(&second.im)),
            ],
            amplitude: e
                .plus(&e_mirrored)
                .plus(&charge[0].scaled(-self.resonant_elastance))
                .scaled(0.5),
            charge,
            mirror: None,
            output: self.output(&rectified, h),
        }
    }

    /// Charge moved while e went from start to end: `q = Ce (e − e_end)`.
    fn charge(start: &Linearised, end: &Linearised, circuit: &HalfCircuit) -> Linearised {
        start.plus(&end.scaled(-1.0)).scaled(1.0 / circuit.elastance())
    }

    /// Output current from the mean rectified charge of a half period.
    fn output(&self, rectified: &Linearised, h: f64) -> Linearised {
        let mut output = rectified.scaled(self.gain / h);
        output.rate -= output.value / h;
        output
    }

    /// The unknowns one averaged period later: x → (x + F(x))/2, for a source of amplitude `w`.
    ///
    /// Every element is passive and the diodes are monotone. So two trajectories under the same
    /// source never move apart in the energy norm: the period map F is nonexpansive. Its averages
    /// converge, if slowly, from any start (Krasnosel'skii 1955).
    pub(super) fn average(&self, z: &PhaseUnknowns, w: f64, h: f64) -> Option<PhaseUnknowns> {
        let capacitor = w - z[2];
        let first = self.first.run(StartState { d: z[0], im: z[1], e: z[2] }, h, self.effort)?;
        let q = (z[2] - first.e.value) / self.first.elastance();
        // Mirrored: the capacitor's voltage and both currents change sign.
        let middle = -(capacitor + q * self.resonant_elastance);
        let start = StartState { d: -first.d.value, im: -first.im.value, e: w - middle };
        let second = self.second.run(start, h, self.effort)?;
        let q = (start.e - second.e.value) / self.second.elastance();
        let end = -(middle + q * self.resonant_elastance);
        let after = PhaseUnknowns::new(-second.d.value, -second.im.value, w - end, start.e);
        let mut mean = (z + after) / 2.0;
        if self.mirrored {
            mean[3] = mean[2];
        }
        Some(mean)
    }
}

impl Cycle {
    /// Charge of the first half.
    pub(super) fn charge(&self) -> f64 {
        self.charge[0].value
    }

    /// The phase's equations when it is so forced; charges count as the voltages that they make
    /// on `elastance`.
    pub(super) fn equations(&self, forcing: Forcing, elastance: f64) -> Equations {
        let [q, q_second] = self.charge;
        // So that all rows are of like size.
        let volts = |row: Linearised, given: f64| {
            Linearised { value: row.value - given, ..row }.scaled(elastance)
        };
        let (third, fourth, by) = match forcing {
            Forcing::Charge(given) => {
                let last = self.mirror.unwrap_or_else(|| volts(q_second, given));
                let by = if self.mirror.is_some() { 0.0 } else { elastance };
                (volts(q, given), last, [elastance, by])
            }
            Forcing::Amplitude(given) => {
                let w = Linearised { value: self.amplitude.value - given, ..self.amplitude };
                let last =
                    self.mirror.unwrap_or_else(|| volts(q.plus(&q_second.scaled(-1.0)), 0.0));
                (w, last, [1.0, 0.0])
            }
        };
        Equations {
            rows: [self.closure[0], self.closure[1], third, fourth],
            by_forcing: [0.0, 0.0, by[0], by[1]],
            mirrored: self.mirror.is_some(),
        }
    }

    pub(super) fn amplitude_trend(&self, response: &Response) -> Trend {
        self.amplitude.trend(response)
    }

    pub(super) fn output_trend(&self, response: &Response) -> Trend {
        self.output.trend(response)
    }
}

impl Equations {
    /// Largest amount by which one does not hold.
    pub(super) fn miss(&self) -> f64 {
        self.rows.iter().fold(0.0, |most, row| f64::max(most, row.value.abs()))
    }

    /// Linearises the steady state about this period. `None` when it is singular there.
    pub(super) fn respond(&self) -> Option<Response> {
        let rows = &self.rows;
        let right = |n: usize| [-rows[n].value, self.by_forcing[n], -rows[n].rate];
        let moves = if self.mirrored {
            let matrix = std::array::from_fn(|n| std::array::from_fn(|m| rows[n].gradient[m]));
            let [d, im, e] = eliminate::<3>(matrix, std::array::from_fn(right))?;
            // Without the last equation: e' follows e, and makes good what it was off.
            let [off, ..] = right(3);
            [d, im, e, [e[0] + off, e[1], e[2]]]
        } else {
            let matrix = std::array::from_fn(|n| std::array::from_fn(|m| rows[n].gradient[m]));
            eliminate::<4>(matrix, std::array::from_fn(right))?
        };
        let column = |n: usize| Vector4::from_fn(|row, _| moves[row][n]);
        let response = Response { base: column(0), forcing: column(1), period: column(2) };
        (response.base.sum() + response.forcing.sum() + response.period.sum())
            .is_finite()
            .then_some(response)
    }
}
