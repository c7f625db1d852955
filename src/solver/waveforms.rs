//! Currents and voltages of a solved converter over one period: exact at every point told, from the closed
//! form of the stretch that it lies in.

use super::dissipation::{Nearby, SelfHeated};
use super::exact::traced_halves;
pub use super::waveform_point::WaveformPoint;
use super::{Case, SteadyState};
use crate::converter::Converter;
use crate::units::Second;

/// The waveforms of one phase.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseWaveforms {
    /// From the start of the period of phase 1 to its end; where the source switches, two points share the
    /// time. Phases 2, 4, … switch half a period later than phases 1, 3, ….
    pub points: Vec<WaveformPoint>,
    /// Charge through the tank in the half period in which the phase's driven leg is high, in coulomb.
    pub charge: f64,
    /// Whether that is the second half of the period told.
    pub is_late: bool,
}

/// The waveforms of all phases of a solved converter, whose parts are those under the condition of the
/// operating point. `None` where the steady state does not tell the currents at the switching instants: only
/// the exact solver does.
pub fn waveforms(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
) -> Option<Vec<PhaseWaveforms>> {
    let mut case = case.clone();
    let warmed = converter.losses.is_some().then(|| {
        case.nearby = Some(Box::new(Nearby::new(state.clone())));
        SelfHeated::new(converter, &case).first()
    });
    let halves = traced_halves(warmed.as_ref().unwrap_or(converter), &case, state)?;
    let half_period = 0.5 / state.switching_frequency.0;
    let phases = halves.into_iter().zip(&state.phases).enumerate();
    let joined = phases.map(|(k, ([high, low], phase))| {
        let is_late = k % 2 == 1;
        let [mut first, mut second] = if is_late { [low, high] } else { [high, low] };
        for point in &mut second {
            point.time.0 += half_period;
        }
        // Both halves meet at one instant, without what rounding leaves between them.
        for (half, end) in [(&mut first, half_period), (&mut second, 2.0 * half_period)] {
            if let Some(last) = half.last_mut() {
                last.time = Second(end);
            }
        }
        let points = first.into_iter().chain(second).collect();
        PhaseWaveforms { points, charge: phase.charge, is_late }
    });
    Some(joined.collect())
}
