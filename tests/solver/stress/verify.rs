//! What a reported steady state must hold, seen by the checker alone.

use fairphase::converter::{Arrangement, Converter, Drive, FrequencyBand, OperatingPoint};
use fairphase::solver::{PhaseState, SteadyState};

use super::checker::{Period, Phase, Tank};

/// How closely everything must hold, relative to the peak current, the source voltage, the
/// charge and the wanted output.
///
/// The solver's iteration ends at steps below 1e-11 of the unknowns, or where rounding ends it,
/// below 1e-8; at most a thousand times as much is a residual of the equations where a tank is
/// far from its characteristic size. Where brackets close instead, the solver asks for 1e-6.
pub const TOLERANCE: f64 = 1e-6;

/// The largest miss of each kind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Misses {
    /// A tank's state a period later, over peak current and source voltage.
    pub period: f64,
    /// Charges of a chain's phases, between them and between high and low interval.
    pub charge: f64,
    /// Sum of the source voltages (chain), each of them (paralleled).
    pub voltage: f64,
    /// Sum of the output currents.
    pub output: f64,
    /// Reported currents and charges of each phase.
    pub reported: f64,
    /// Frequency beyond the band.
    pub band: f64,
}

impl Misses {
    pub fn worst(&self) -> f64 {
        // NaN must not pass.
        [self.period, self.charge, self.voltage, self.output, self.reported, self.band]
            .into_iter()
            .fold(0.0, |worst, x| if x.is_nan() { f64::INFINITY } else { worst.max(x) })
    }

    /// The larger of each.
    pub fn largest(&self, other: &Self) -> Self {
        Self {
            period: self.period.max(other.period),
            charge: self.charge.max(other.charge),
            voltage: self.voltage.max(other.voltage),
            output: self.output.max(other.output),
            reported: self.reported.max(other.reported),
            band: self.band.max(other.band),
        }
    }

    fn check(slot: &mut f64, found: f64, expected: f64, size: f64) {
        let miss = (found - expected).abs() / size;
        *slot = if miss.is_nan() { f64::INFINITY } else { slot.max(miss) };
    }
}

/// Follows every phase of a reported steady state through a period. `None` where a phase's
/// rectifier switches without end or no start is reported.
pub fn verify(
    state: &SteadyState,
    converter: &Converter,
    point: &OperatingPoint,
    band: &FrequencyBand,
    arrangement: Arrangement,
) -> Option<Misses> {
    let mut misses = Misses::default();
    let f = state.switching_frequency.0;
    misses.band = (band.minimum.0 / f - 1.0).max(f / band.maximum.0 - 1.0).max(0.0);
    let n = converter.phases() as f64;
    let mut output = 0.0;
    for (k, reported) in state.phases.iter().enumerate() {
        let phase = Phase::new(converter, k, point, arrangement);
        let start = reported.start?;
        let start = Tank {
            i: start.tank_current.0,
            im: start.magnetising_current.0,
            v: start.capacitor_voltage.0,
        };
        let source = reported.start_voltage.0;
        let period = phase.run(start, source, 0.5 / f)?;
        output += phase.gain * period.rectified * f;
        periodic(&mut misses, start, &period, source, &phase);
        currents(&mut misses, reported, &period, (f, phase.gain), point.output_current.0 / n);
        let charge = match arrangement {
            Arrangement::Chain => state.phases[0].charge,
            Arrangement::Paralleled => period.charge[0],
        };
        for (q, sign) in period.charge.into_iter().zip([1.0, -1.0]) {
            Misses::check(&mut misses.charge, sign * q, charge, size_of_charge(&period, f));
        }
        if arrangement == Arrangement::Paralleled {
            let volts = point.input_voltage.0 / n;
            Misses::check(&mut misses.voltage, source, volts, volts);
        }
    }
    if arrangement == Arrangement::Chain {
        let sum: f64 = state.phases.iter().map(|p| p.start_voltage.0).sum();
        let volts = point.input_voltage.0;
        let ripple = state.phases[0].charge * ripple(converter, point.drive);
        Misses::check(&mut misses.voltage, sum, volts + ripple, volts);
    }
    Misses::check(&mut misses.output, output, point.output_current.0, point.output_current.0);
    Some(misses)
}

/// Volts by which the sum of a chain's start voltages surpasses the input a coulomb: before its
/// interval each phase's capacitor has been recharged by its neighbour.
pub fn ripple(converter: &Converter, drive: Drive) -> f64 {
    let sum = |leg: &[fairphase::units::Farad]| leg.iter().map(|c| 1.0 / c.0).sum::<f64>();
    match drive {
        Drive::HalfBridge => sum(&converter.flying),
        Drive::FullBridge => 0.5 * (sum(&converter.flying) + sum(&converter.flying_return)),
    }
}

/// Charge that passes to and fro in half a period: nothing is measured against less.
fn size_of_charge(period: &Period, f: f64) -> f64 {
    period.peak * 0.5 / f
}

fn periodic(misses: &mut Misses, start: Tank, period: &Period, source: f64, phase: &Phase) {
    let end = period.end;
    // Volts that the peak current makes across the tank, where the source is smaller.
    let volts = source.abs().max(period.peak * phase.impedance());
    Misses::check(&mut misses.period, end.i, start.i, period.peak);
    Misses::check(&mut misses.period, end.im, start.im, period.peak);
    Misses::check(&mut misses.period, end.v, start.v, volts);
}

fn currents(
    misses: &mut Misses,
    reported: &PhaseState,
    period: &Period,
    (f, gain): (f64, f64),
    share: f64,
) {
    let slot = &mut misses.reported;
    let peak = period.peak;
    Misses::check(slot, reported.output_current.0, gain * period.rectified * f, share);
    Misses::check(slot, reported.mean_abs_current.0, period.absolute * f, peak);
    Misses::check(slot, reported.rms_current.0, (period.square * f).sqrt(), peak);
    let rectified = (period.rectified_square * f).sqrt();
    Misses::check(slot, reported.rectified_rms_current().0, rectified, peak);
    Misses::check(slot, reported.peak_current.0, peak, peak);
    let size = size_of_charge(period, f);
    Misses::check(slot, reported.charge, period.charge[0], size);
    let mirrored = (-period.range[1].1, -period.range[1].0);
    for (found, expected) in reported.charge_range.into_iter().zip([period.range[0], mirrored]) {
        Misses::check(slot, found.0, expected.0, size);
        Misses::check(slot, found.1, expected.1, size);
    }
}
