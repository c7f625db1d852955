//! A converter whose sources rise late: their high intervals are shorter than the low ones.

use super::linear_half::starts;
use super::start::Base;
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerUnitConverter};
use super::waveform::Wave;
use crate::converter::{Converter, Drive};
use crate::solver::{Case, Effort, SteadyState};
use crate::units::Second;

/// By what the highest currents of the tanks in the high intervals of their sources grow: RMS current over the
/// period, and peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighIntervals {
    /// The highest RMS current, as a share of that with equal intervals.
    pub rms: f64,
    /// The highest peak, likewise.
    pub peak: f64,
}

/// What becomes of the currents in a steady state if all sources rise so much later, at a frequency that keeps
/// the output current. The converter holds its tanks as the steady state sees them. None where the state does
/// not tell the currents at the switching instants, and where Newton's iteration does not lead there.
pub(in crate::solver) fn rising_late(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
    late: Second,
) -> Option<HighIntervals> {
    let base = Base::of_first_phase(converter, &case.point);
    let effort = Effort::default();
    let mut system = PerUnitConverter::new(converter, case, &base, &effort);
    let at = unknowns(state, case.point.drive, &base)?;
    let [even, even_peak] = system.highest_in_high_intervals(&at)?;
    let late = late.0 / base.second;
    system.phases.iter_mut().for_each(|phase| *phase = phase.rising_late(late));
    let [rms, peak] = system.highest_in_high_intervals(&at)?;
    Some(HighIntervals { rms: rms / even, peak: peak / even_peak })
}

/// The unknowns of a solved converter.
fn unknowns(state: &SteadyState, drive: Drive, base: &Base) -> Option<ConverterUnknowns> {
    let of_phase = |phase| {
        let [first, second] = starts(phase, drive, base)?;
        Some([first.d, first.im, first.e, second.e].into())
    };
    let charge = state.phases.first().map_or(0.0, |phase| phase.charge / base.coulomb());
    Some(ConverterUnknowns {
        z: state.phases.iter().map(of_phase).collect::<Option<_>>()?,
        charge,
        h: 0.5 / (state.switching_frequency.0 * base.second),
    })
}

impl PerUnitConverter<'_> {
    /// The highest RMS current and the highest peak of all tanks in the high intervals, from a point nearby.
    fn highest_in_high_intervals(&self, from: &ConverterUnknowns) -> Option<[f64; 2]> {
        let mut linear = Linear::default();
        let found = self.newton(from, HalfPeriod::Regulated, &mut linear)?;
        let waves = self.phases.iter().zip(&linear.periods).map(|(phase, period)| {
            let [circuit, _] = phase.circuits();
            Wave { circuit, stretches: &period.stretches[0] }.integrals()
        });
        let highest = waves.fold([0.0; 2], |[square, peak], own| {
            [f64::max(square, own.square), f64::max(peak, own.peak)]
        });
        Some([(highest[0] / (2.0 * found.point.h)).sqrt(), highest[1]])
    }
}
