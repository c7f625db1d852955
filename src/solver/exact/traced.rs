//! A known steady state traced through its period, from the closed form of each stretch.

use super::half::{HalfCircuit, Help, Hints, StartState, Stretch};
use super::linear_half::starts;
use super::solution::Part;
use super::start::Base;
use crate::converter::Converter;
use crate::solver::waveform_point::WaveformPoint;
use crate::solver::{Case, Effort, PhaseState, SteadyState};
use crate::units::{Ampere, Second, Volt};

/// Points of a half period; both ends of every stretch come on top.
const POINTS: i32 = 48;

/// Of every phase the first half of its own period, in which its driven leg is high, and the second. Times
/// count from the start of the half. The converter holds its tanks as the steady state sees them. `None`
/// where the state does not tell the currents at the switching instants.
pub(in crate::solver) fn traced_halves(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
) -> Option<Vec<[Vec<WaveformPoint>; 2]>> {
    let base = Base::of_first_phase(converter, &case.point);
    let links = &*case.links_of(converter);
    let effort = Effort::default();
    let of_phase = |(k, phase): (usize, &PhaseState)| {
        let per_unit = Part { converter, case, links, k }.phase(&base, &effort);
        let starts = starts(phase, case.point.drive, &base)?;
        let h = 0.5 / (state.switching_frequency.0 * base.second);
        let tanks = [phase.start?, phase.middle?];
        let half = |n: usize| {
            let traced = TracedHalf {
                circuit: per_unit.circuits()[n],
                resonant_elastance: per_unit.resonant_elastance(),
                start: starts[n],
                capacitor: tanks[n].capacitor_voltage.0 / base.volt,
                sign: if n == 0 { 1.0 } else { -1.0 },
                base: &base,
            };
            traced.points(h, &effort)
        };
        Some([half(0)?, half(1)?])
    };
    state.phases.iter().enumerate().map(of_phase).collect()
}

/// One half period of one phase. The second half is followed in mirrored signs.
struct TracedHalf<'a> {
    circuit: &'a HalfCircuit,
    resonant_elastance: f64,
    start: StartState,
    /// Voltage of the resonant capacitor at the start, in its own sign.
    capacitor: f64,
    sign: f64,
    base: &'a Base,
}

impl TracedHalf<'_> {
    fn points(&self, h: f64, effort: &Effort) -> Option<Vec<WaveformPoint>> {
        let mut points = Vec::new();
        let help = Help { hints: &Hints::default(), effort };
        self.circuit.trace(self.start, h, help, |stretch| {
            let steps = (f64::from(POINTS) * stretch.duration / h).ceil().max(1.0);
            let first = i32::from(!points.is_empty());
            let places = (first..=POINTS + 1).map(f64::from).take_while(|n| *n <= steps);
            points.extend(places.map(|n| self.point(&stretch, stretch.duration * n / steps)));
        })?;
        Some(points)
    }

    fn point(&self, stretch: &Stretch, time: f64) -> WaveformPoint {
        let ring = self.circuit.ring(stretch.sign);
        let basis = ring.basis(time);
        let current = ring.current(stretch.i, stretch.u).at(basis);
        let net = ring.voltage(stretch.i, stretch.u).at(basis);
        let magnetising = if stretch.sign == 0 {
            current
        } else {
            stretch.im + self.circuit.magnetising_slope(stretch.sign) * time
        };
        // Source less capacitor falls by the charge over all that is in series.
        let e = net + f64::from(stretch.sign) * self.circuit.parts()[3];
        let charge = (self.start.e - e) / self.circuit.elastance();
        let capacitor = self.capacitor + self.sign * charge * self.resonant_elastance;
        let ampere = |x: f64| Ampere(self.sign * x * self.base.ampere());
        WaveformPoint {
            time: Second((stretch.begin + time) * self.base.second),
            tank_current: ampere(current),
            magnetising_current: ampere(magnetising),
            source_voltage: Volt((self.sign * e + capacitor) * self.base.volt),
            capacitor_voltage: Volt(capacitor * self.base.volt),
        }
    }
}
