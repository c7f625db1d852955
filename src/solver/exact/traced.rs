//! A known steady state traced through its period, from the closed form of each stretch.

use super::half::{HalfCircuit, Help, Hints, StartState, Stretch};
use super::linear_half::starts;
use super::solution::Part;
use super::start::Base;
use crate::converter::Converter;
use crate::solver::{Case, Effort, PhaseState, SteadyState};
use crate::units::{Ampere, Volt};

/// Of every phase the first half of its own period, in which its driven leg is high, and the second.
/// The converter holds its tanks as the steady state sees them. `None` where the state does not tell the
/// currents at the switching instants.
pub(in crate::solver) fn traced_halves(
    converter: &Converter,
    case: &Case,
    state: &SteadyState,
) -> Option<Vec<[TracedHalf; 2]>> {
    let base = Base::of_first_phase(converter, &case.point);
    let links = &*case.links_of(converter);
    let effort = Effort::default();
    let of_phase = |(k, phase): (usize, &PhaseState)| {
        let per_unit = Part { tank: &converter.tanks[k], case, links, k }.phase(&base, &effort);
        let starts = starts(phase, case.point.drive, &base)?;
        let h = 0.5 / (state.switching_frequency.0 * base.second);
        let tanks = [phase.start?, phase.middle?];
        let half = |n: usize| {
            let circuit = *per_unit.circuits()[n];
            let (start, help) = (starts[n], Help { hints: &Hints::default(), effort: &effort });
            let mut stretches = Vec::new();
            circuit.trace(start, h, help, |stretch| stretches.push(stretch))?;
            Some(TracedHalf {
                circuit,
                stretches,
                start,
                resonant_elastance: per_unit.resonant_elastance(),
                capacitor: tanks[n].capacitor_voltage.0 / base.volt,
                sign: if n == 0 { 1.0 } else { -1.0 },
                base,
            })
        };
        Some([half(0)?, half(1)?])
    };
    state.phases.iter().enumerate().map(of_phase).collect()
}

/// One half period of one phase, known at every instant. The second half is followed in mirrored signs.
pub(in crate::solver) struct TracedHalf {
    circuit: HalfCircuit,
    /// At least one.
    stretches: Vec<Stretch>,
    start: StartState,
    resonant_elastance: f64,
    /// Voltage of the resonant capacitor at the start, in its own sign.
    capacitor: f64,
    sign: f64,
    base: Base,
}

/// A phase at an instant of one of its half periods, in its own signs.
#[derive(Debug, Clone, Copy)]
pub(in crate::solver) struct TracedInstant {
    pub(in crate::solver) tank_current: Ampere,
    pub(in crate::solver) magnetising_current: Ampere,
    pub(in crate::solver) source_voltage: Volt,
    pub(in crate::solver) capacitor_voltage: Volt,
    /// Charge that the tank current moved since the start of the half period, in coulomb; counted in the
    /// direction of that half.
    pub(in crate::solver) charge: f64,
}

impl TracedHalf {
    /// Seconds after the start at which the rectifier switches, at which the tank current is zero or at an
    /// extreme, and at which the rectifier current is at a maximum; in no order.
    pub(in crate::solver) fn marked_times(&self) -> Vec<f64> {
        let mut marks = Vec::new();
        for stretch in &self.stretches {
            let ring = self.circuit.ring(stretch.sign);
            let current = stretch.current(ring);
            let mut mark = |t: f64| marks.push((stretch.begin + t) * self.base.second);
            for signal in [current, ring.derivative(current)] {
                ring.zeros(signal).take_while(|t| *t < stretch.duration).for_each(&mut mark);
            }
            if stretch.sign != 0 {
                let slope = self.circuit.magnetising_slope(stretch.sign);
                stretch.each_rectified_maximum(ring, slope, &mut mark);
            }
            mark(stretch.duration);
        }
        marks
    }

    /// The phase at so many seconds after the start.
    pub(in crate::solver) fn at(&self, time: f64) -> TracedInstant {
        let time = time / self.base.second;
        let begun = self.stretches.partition_point(|stretch| stretch.begin <= time);
        let stretch = &self.stretches[begun.saturating_sub(1)];
        let since = time - stretch.begin;
        let ring = self.circuit.ring(stretch.sign);
        let basis = ring.basis(since);
        let current = stretch.current(ring).at(basis);
        let net = ring.voltage(stretch.i, stretch.u).at(basis);
        let magnetising = if stretch.sign == 0 {
            current
        } else {
            stretch.im + self.circuit.magnetising_slope(stretch.sign) * since
        };
        // Source less capacitor falls by the charge over all that is in series.
        let e = net + f64::from(stretch.sign) * self.circuit.parts()[3];
        let charge = (self.start.e - e) / self.circuit.elastance();
        let capacitor = self.capacitor + self.sign * charge * self.resonant_elastance;
        let ampere = |x: f64| Ampere(self.sign * x * self.base.ampere());
        TracedInstant {
            tank_current: ampere(current),
            magnetising_current: ampere(magnetising),
            source_voltage: Volt((self.sign * e + capacitor) * self.base.volt),
            capacitor_voltage: Volt(capacitor * self.base.volt),
            charge: charge * self.base.coulomb(),
        }
    }
}
