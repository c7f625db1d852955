//! Both half periods of each phase at a known steady state, linearised: what maps of the whole circuit
//! are made of.

use super::half::{Final, HalfCircuit, StartState};
use super::solution::Part;
use super::start::Base;
use crate::converter::{Converter, Drive};
use crate::solver::{Case, Effort, PhaseState, SteadyState};

/// By how much, of the peak current, a half period may end beside where the other one begins. Where losses heat
/// the parts, samples are solved with resistances that agree with their losses to some 1e-5 of the output power.
const CLOSES: f64 = 1e-3;
/// Rectifier currents below this share of the peak current are what rounding leaves of none.
const NO_CURRENT: f64 = 1e-10;

/// How a half period's end moves with its start. Both in the signs of a rising source: rectifier
/// current, magnetising current, and source less resonant-capacitor voltage; SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solver) struct LinearHalf {
    /// Of the end with respect to the start, at a given length. Rectifier events shift with the start.
    pub(in crate::solver) jacobian: [[f64; 3]; 3],
    /// 1/farad that the tank current sees.
    pub(in crate::solver) elastance: f64,
}

/// Of every phase the first half of its own period, in which its driven leg is high, and the second.
/// The converter holds its tanks as the steady state sees them. `None` where the state does not tell
/// the currents at the switching instants, or is not that of the converter.
pub(in crate::solver) fn linear_halves(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
    effort: &Effort,
) -> Option<Vec<[LinearHalf; 2]>> {
    let base = Base::of_first_phase(converter, &case.point);
    let links = &*case.links_of(converter);
    let of_phase = |(k, phase): (usize, &PhaseState)| {
        let per_unit = Part { tank: &converter.tanks[k], case, links, k }.phase(&base, effort);
        let starts = starts(phase, case.point.drive, &base)?;
        let peak = phase.peak_current.0 / base.ampere();
        let half = |n: usize| {
            let circuit = per_unit.circuits()[n];
            let h = 0.5 / (state.switching_frequency.0 * base.second);
            let end = circuit.run(starts[n], h, effort)?;
            let other = &starts[1 - n];
            let beside = (end.d.value + other.d).abs().max((end.im.value + other.im).abs());
            let rows = [end.d, end.im, end.e];
            (beside <= CLOSES * peak).then(|| linearised(circuit, &rows, &base))
        };
        Some([half(0)?, half(1)?])
    };
    state.phases.iter().enumerate().map(of_phase).collect()
}

/// Where both halves of a phase start, per unit; the second in mirrored signs.
pub(super) fn starts(phase: &PhaseState, drive: Drive, base: &Base) -> Option<[StartState; 2]> {
    let (start, middle) = (phase.start?, phase.middle?);
    let source = phase.start_voltage.0;
    let returned = if drive == Drive::FullBridge { source } else { 0.0 };
    let state = |sign: f64, tank: crate::solver::TankState, e: f64| {
        let rectified = tank.tank_current.0 - tank.magnetising_current.0;
        let is_none = rectified.abs() < NO_CURRENT * phase.peak_current.0;
        StartState {
            d: if is_none { 0.0 } else { sign * rectified / base.ampere() },
            im: sign * tank.magnetising_current.0 / base.ampere(),
            e: e / base.volt,
        }
    };
    let first = state(1.0, start, source - start.capacitor_voltage.0);
    Some([first, state(-1.0, middle, returned + middle.capacitor_voltage.0)])
}

fn linearised(circuit: &HalfCircuit, end: &[Final; 3], base: &Base) -> LinearHalf {
    let unit = [base.ampere(), base.ampere(), base.volt];
    let jacobian =
        std::array::from_fn(|n| std::array::from_fn(|m| end[n].gradient[m] * unit[n] / unit[m]));
    LinearHalf { jacobian, elastance: circuit.elastance() / base.farad() }
}
