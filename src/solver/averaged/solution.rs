//! From parts to phasors, and from their solution to a steady state.

use std::borrow::Cow;
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2, TAU};

use super::harmonic::{AveragedStart, HarmonicConverter};
use super::phase::HarmonicPhase;
use crate::converter::{Arrangement, Converter, Drive, Tank};
use crate::solver::case::{Case, Start};
use crate::solver::effort::Effort;
use crate::solver::loading::{Loaded, Loading};
use crate::solver::steady_state::{
    HalfWave, Outcome, PhaseState, SteadyState, SwitchCurrent, Switches,
};
use crate::units::{Ampere, Hertz, Volt};

/// Solves a converter in a case; from its start, where it has one of this solver.
pub(in crate::solver) fn solve(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    loading: &mut dyn Loading,
) -> Outcome {
    prepare(converter, case, effort, loading).0
}

/// Solves a converter until its solution leaves its parts as they are, and makes of it the start of
/// converters nearby.
pub(in crate::solver) fn prepare(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    loading: &mut dyn Loading,
) -> (Outcome, Option<AveragedStart>) {
    let mut converter = Cow::Borrowed(converter);
    let mut start = match &case.start {
        Some(Start::Averaged(start)) => Some(start.clone()),
        _ => None,
    };
    loop {
        let harmonic = HarmonicConverter::new(&converter, case, effort);
        let found = match start.as_ref().and_then(|start| harmonic.newton(start)) {
            // It may have stepped over a peak.
            Some(at) if harmonic.delivers_above(at.w) => harmonic.search(),
            // No frequency above that one delivers the output.
            Some(at) if !harmonic.allows(at.w) => None,
            Some(at) => Some(at),
            None => harmonic.search(),
        };
        let Some(at) = found else { return (nothing(effort), None) };
        let state = steady_state(&harmonic, &at, &converter, case);
        match loading.load(&state, &mut converter) {
            Loaded::Settled => return (Outcome::Solved(state), Some(at)),
            Loaded::Failed(why) => return (Outcome::NotSolved(why), None),
            Loaded::Changed => start = Some(at),
        }
    }
}

/// What a search without a solution tells.
fn nothing(effort: &Effort) -> Outcome {
    effort.exhaustion().map_or(Outcome::OutOfRange, Outcome::NotSolved)
}

/// Output current of a converter in a case whose band is one switching frequency, above zero. It is
/// zero where no phase conducts. `None` once the effort is spent.
pub(in crate::solver) fn output_current(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
) -> Option<Ampere> {
    let harmonic = HarmonicConverter::new(converter, case, effort);
    Some(Ampere(harmonic.current(&harmonic.settle(harmonic.band.1)?)))
}

impl<'a> HarmonicConverter<'a> {
    fn new(converter: &Converter, case: &Case, effort: &'a Effort<'a>) -> Self {
        let (point, links) = (&case.point, case.links_of(converter));
        let phase = |(tank, own): (&Tank, &[f64; 2])| HarmonicPhase::new(tank, case, *own);
        Self {
            phases: converter.tanks.iter().zip(&links.elastances).map(phase).collect(),
            input: point.drive.amplitude() * point.input_voltage.0,
            output_current: point.output_current.0,
            band: (TAU * case.band.minimum.0, TAU * case.band.maximum.0),
            arrangement: case.arrangement,
            effort,
        }
    }
}

impl HarmonicPhase {
    /// A phase with this tank, which sees this elastance of flying capacitors in each half.
    fn new(tank: &Tank, case: &Case, flying: [f64; 2]) -> Self {
        let point = &case.point;
        let n = tank.turns_ratio;
        let clamp = point.rectifier.clamp_voltage(n, point.output_voltage, tank.rectifier_drop);
        Self {
            inductance: tank.resonant_inductance.0,
            elastance: 1.0 / tank.resonant_capacitance.0 + flying.iter().sum::<f64>() / 2.0,
            magnetising_inductance: tank.magnetising_inductance.0,
            resistance: tank.series_resistance.0,
            winding: 2.0 * FRAC_2_PI * clamp,
            gain: FRAC_2_PI * point.rectifier.current_gain(n),
        }
    }
}

fn steady_state(
    harmonic: &HarmonicConverter,
    at: &AveragedStart,
    converter: &Converter,
    case: &Case,
) -> SteadyState {
    let mut phases: Vec<PhaseState> = (0..harmonic.phases.len())
        .map(|k| {
            let current = PhaseCurrent::new(harmonic, at, k);
            let swing = match case.arrangement {
                Arrangement::Paralleled => 0.0,
                Arrangement::Chain => {
                    let resonant = 1.0 / converter.tanks[k].resonant_capacitance.0;
                    current.charge * (harmonic.phases[k].elastance - resonant) / 2.0
                }
            };
            current.state(case.point.drive, swing)
        })
        .collect();
    if case.arrangement == Arrangement::Chain {
        cancel_low_sides(&mut phases, case.point.drive);
    }
    SteadyState {
        switching_frequency: Hertz(at.w / TAU),
        phases,
        output_ripple: None,
        commutation: None,
        dissipation: None,
    }
}

/// A phase at the solution. SI units.
struct PhaseCurrent {
    /// Amplitude of the source, W.
    amplitude: f64,
    /// Amplitude of the tank current.
    peak: f64,
    output: f64,
    /// Amplitude of what the rectifier passes on, seen from the primary.
    rectified: f64,
    /// Charge of a half period.
    charge: f64,
    /// Charge that flows back at the start of a half period.
    returned: f64,
}

impl PhaseCurrent {
    fn new(harmonic: &HarmonicConverter, at: &AveragedStart, k: usize) -> Self {
        let (phase, i) = (&harmonic.phases[k], at.i[k]);
        let z = phase.impedances(at.w);
        let amplitude = match harmonic.arrangement {
            Arrangement::Paralleled => harmonic.amplitude(),
            Arrangement::Chain if i > 0.0 => phase.demand(&z, i).power / at.q,
            Arrangement::Chain => phase.amplitude_for(&z, at.q, harmonic.input),
        };
        let (peak, power) = if i > 0.0 {
            (phase.tank_current(&z, i), phase.demand(&z, i).power)
        } else {
            (z.idle_current(amplitude), phase.power(&z, amplitude))
        };
        // Half a period moves Q = π P/(w W).
        let charge = 2.0 * FRAC_PI_2 * power / (at.w * amplitude);
        // A sine of this peak that lags by φ returns (1 − cos φ) peak/w; Q = 2 cos φ peak/w.
        let returned = (peak / at.w - charge / 2.0).max(0.0);
        Self { amplitude, peak, output: phase.gain * i, rectified: i, charge, returned }
    }

    /// Currents and voltages of the phase, whose flying capacitors swing by `swing` volts.
    fn state(&self, drive: Drive, swing: f64) -> PhaseState {
        let peak = Ampere(self.peak);
        let half = half_sine(self.peak);
        let rms_current = Ampere(self.peak * FRAC_1_SQRT_2);
        let whole = SwitchCurrent { rms: rms_current, mean: Ampere(FRAC_2_PI * self.peak), peak };
        let (return_high, return_low) = match drive {
            // Held on: it carries both halves.
            Drive::HalfBridge => (SwitchCurrent::default(), whole),
            Drive::FullBridge => (half, half),
        };
        PhaseState {
            output_current: Ampere(self.output),
            mean_abs_current: Ampere(FRAC_2_PI * self.peak),
            rms_current,
            half_waves: [HalfWave {
                mean: Ampere(0.5 * FRAC_2_PI * self.rectified),
                rms: Ampere(0.5 * self.rectified),
            }; 2],
            peak_current: peak,
            charge: self.charge,
            charge_range: [(-self.returned, self.charge); 2],
            lead: None,
            start_voltage: Volt((self.amplitude + swing) / drive.amplitude()),
            start: None,
            middle: None,
            switches: Switches { high: half, low: half, return_high, return_low },
            stress: None,
        }
    }
}

/// A sine of this peak over half of every period.
fn half_sine(peak: f64) -> SwitchCurrent {
    SwitchCurrent {
        rms: Ampere(peak / 2.0),
        mean: Ampere(0.5 * FRAC_2_PI * peak),
        peak: Ampere(peak),
    }
}

/// A low side of a chain carries the difference of its own and the next phase's current. Both
/// are sines of one frequency with equal in-phase parts, so only the reactive parts differ.
fn cancel_low_sides(phases: &mut [PhaseState], drive: Drive) {
    for k in 1..phases.len() {
        let reactive = |p: &PhaseState| {
            let peak = p.peak_current.0;
            // Q = 2 cos φ · peak/w and ∫|i| of half a period is 2 peak/w.
            let full = p.charge - 2.0 * p.charge_range[0].0;
            peak * (1.0 - (p.charge / full).powi(2)).max(0.0).sqrt()
        };
        let peak = (reactive(&phases[k - 1]) - reactive(&phases[k])).abs();
        let low = half_sine(peak);
        phases[k - 1].switches.low = low;
        if drive == Drive::FullBridge {
            phases[k - 1].switches.return_low = low;
        }
    }
}
