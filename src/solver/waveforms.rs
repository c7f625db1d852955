//! Currents and voltages of a solved converter over one period: exact at every point told, from the closed
//! form of the stretch that it lies in.
//!
//! All phases are told at the same instants. These are where a rectifier switches, where a current is zero or
//! at an extreme, and as many between them as the curves need: straight lines from point to point stay
//! within a thousandth of the largest current or voltage swing.

use super::dissipation::{Nearby, SelfHeated};
use super::exact::{TracedHalf, TracedInstant, traced_halves};
pub use super::waveform_point::WaveformPoint;
use super::{
    Case, FlyingVoltage, LegVoltages, PhaseState, SteadyState, bridge_mean, chain_voltages,
};
use crate::converter::{Arrangement, Converter, FlyingCapacitors};
use crate::units::{Ampere, Farad, Second, Volt};

/// How far straight lines between the points may be off: currents of the largest tank current, voltages of the
/// largest swing of a resonant capacitor.
const TOLERANCE: f64 = 1e-3;
/// Instants nearer than this part of a half period are one.
const SAME_TIME: f64 = 1e-9;
/// Shortest piece that is halved once more, in half periods.
const SHORTEST_HALVED: f64 = 1e-4;

/// The waveforms of one phase.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseWaveforms {
    /// From the start of the period of phase 1 to its end; half-way, where all sources switch, two points share
    /// the time. Phases 2, 4, … switch half a period later than phases 1, 3, …. The times are those of all
    /// phases.
    pub points: Vec<WaveformPoint>,
    /// Charge through the tank in the half period in which the phase's driven leg is high, in coulomb.
    pub charge: f64,
    /// Whether that is the second half of the period told.
    pub is_late: bool,
    /// Mean of the rectified current.
    pub output_current: Ampere,
}

impl PhaseWaveforms {
    /// The points of the first and of the second half of the period told.
    pub fn halves(&self) -> [&[WaveformPoint]; 2] {
        let switching = self.points.windows(2).position(|p| p[0].time == p[1].time);
        let (first, second) = self.points.split_at(switching.map_or(self.points.len(), |n| n + 1));
        [first, second]
    }

    /// The points of the half in which the phase's driven leg is high.
    pub fn own_half(&self) -> &[WaveformPoint] {
        self.halves()[usize::from(self.is_late)]
    }
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
    Some(TracedConverter { converter, case: &case, state, halves }.waveforms())
}

/// A converter whose steady state is known at every instant.
struct TracedConverter<'a> {
    converter: &'a Converter,
    case: &'a Case,
    state: &'a SteadyState,
    /// Of every phase both halves of its own period.
    halves: Vec<[TracedHalf; 2]>,
}

/// A flying capacitor, charged by one phase and discharged by the next.
struct ChargedCapacitor {
    capacitance: Farad,
    /// Half-way between the ends of its ripple.
    middle: Volt,
    /// The charge that comes and goes, in coulomb.
    charge: f64,
}

impl TracedConverter<'_> {
    fn waveforms(&self) -> Vec<PhaseWaveforms> {
        let times = [0, 1].map(|half| self.instants(half));
        let legs = self.flying_capacitors();
        let phases = self.state.phases.iter().enumerate();
        let of_phase = |(k, phase): (usize, &PhaseState)| {
            let of_half =
                |half: usize| times[half].iter().map(move |time| Moment { half, time: *time });
            let moments = of_half(0).chain(of_half(1));
            PhaseWaveforms {
                points: moments.map(|moment| self.point(k, moment, &legs)).collect(),
                charge: phase.charge,
                is_late: k % 2 == 1,
                output_current: phase.output_current,
            }
        };
        phases.map(of_phase).collect()
    }

    fn half_period(&self) -> f64 {
        0.5 / self.state.switching_frequency.0
    }

    /// What a phase does in one half of the period told.
    fn traced(&self, k: usize, half: usize) -> &TracedHalf {
        &self.halves[k][(half + k) % 2]
    }

    /// Seconds after the start of a half of the period told, from 0 to its end.
    fn instants(&self, half: usize) -> Vec<f64> {
        let h = self.half_period();
        let phases: Vec<&TracedHalf> =
            (0..self.halves.len()).map(|k| self.traced(k, half)).collect();
        let mut marks: Vec<f64> = phases.iter().flat_map(|phase| phase.marked_times()).collect();
        marks.retain(|t| (SAME_TIME * h..(1.0 - SAME_TIME) * h).contains(t));
        marks.extend([0.0, h]);
        marks.sort_by(f64::total_cmp);
        marks.dedup_by(|next, last| *next - *last < SAME_TIME * h);
        let scale = Scale::of(&phases, &marks);
        let mut times = vec![0.0];
        for (from, to) in marks.iter().zip(&marks[1..]) {
            scale.refine(&phases, [*from, *to], SHORTEST_HALVED * h, &mut times);
        }
        times
    }

    /// Those of every driven leg; none without a chain.
    fn flying_capacitors(&self) -> Vec<Vec<ChargedCapacitor>> {
        if self.case.arrangement == Arrangement::Paralleled {
            return Vec::new();
        }
        let voltages = chain_voltages(self.state, self.converter, &self.case.point);
        let capacitances = [&self.converter.flying, &self.converter.flying_return];
        let of_leg = |(leg, capacitances): (&LegVoltages, &FlyingCapacitors)| {
            let all = leg.flying.iter().zip(capacitances).zip(&self.state.phases);
            let one = |((voltage, capacitance), phase): ((&FlyingVoltage, &Farad), &PhaseState)| {
                let FlyingVoltage { middle, .. } = *voltage;
                ChargedCapacitor { capacitance: *capacitance, middle, charge: phase.charge }
            };
            all.map(one).collect()
        };
        voltages.legs.iter().zip(capacitances).map(of_leg).collect()
    }

    fn point(&self, k: usize, moment: Moment, legs: &[Vec<ChargedCapacitor>]) -> WaveformPoint {
        let now = self.traced(k, moment.half).at(moment.time);
        let turns_ratio = self.converter.tanks[k].turns_ratio;
        let gain = self.case.point.rectifier.current_gain(turns_ratio);
        let rectified = (now.tank_current.0 - now.magnetising_current.0).abs();
        let mean = match self.case.arrangement {
            Arrangement::Chain => bridge_mean(self.state, self.converter, &self.case.point, k).0,
            Arrangement::Paralleled => 0.0,
        };
        WaveformPoint {
            time: Second(self.half_period() * moment.half as f64 + moment.time),
            tank_current: now.tank_current,
            magnetising_current: now.magnetising_current,
            rectified_current: Ampere(gain * rectified),
            bridge_voltage: Volt(now.source_voltage.0 + mean),
            capacitor_voltage: Volt(now.capacitor_voltage.0 + mean),
            flying_voltages: [0, 1].map(|leg| {
                let flying = legs.get(leg)?.get(k)?;
                Some(self.flying_voltage(k, moment, leg, flying))
            }),
        }
    }

    /// Charged by this phase while its high side of the leg is on, then discharged by the next one.
    fn flying_voltage(
        &self,
        k: usize,
        moment: Moment,
        leg: usize,
        flying: &ChargedCapacitor,
    ) -> Volt {
        let Moment { half, time } = moment;
        let is_charged = (half + k) % 2 == leg;
        let (direction, by) = if is_charged { (1.0, k) } else { (-1.0, k + 1) };
        let moved = self.traced(by, half).at(time).charge - 0.5 * flying.charge;
        Volt(flying.middle.0 + direction * moved / flying.capacitance.0)
    }
}

/// An instant of the period told: so many seconds after the start of its first or second half.
#[derive(Debug, Clone, Copy)]
struct Moment {
    half: usize,
    time: f64,
}

/// What curves are measured by.
struct Scale {
    current: f64,
    voltage: f64,
}

impl Scale {
    /// The largest tank current and the largest swing of a resonant capacitor among instants that hold all
    /// extremes.
    fn of(phases: &[&TracedHalf], times: &[f64]) -> Self {
        let mut scale = Self { current: 0.0, voltage: 0.0 };
        for phase in phases {
            let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
            for now in times.iter().map(|time| phase.at(*time)) {
                scale.current = scale.current.max(now.tank_current.0.abs());
                lowest = lowest.min(now.capacitor_voltage.0);
                highest = highest.max(now.capacitor_voltage.0);
            }
            scale.voltage = scale.voltage.max(highest - lowest);
        }
        scale
    }

    /// Adds the instants after `from`, up to `to`, between which straight lines do.
    fn refine(
        &self,
        phases: &[&TracedHalf],
        [from, to]: [f64; 2],
        shortest: f64,
        times: &mut Vec<f64>,
    ) {
        let is_bent = |phase: &&TracedHalf| {
            let ends = [from, to].map(|time| phase.at(time));
            [0.25, 0.5, 0.75].into_iter().any(|part| {
                let now = phase.at(from + part * (to - from));
                let beside = |value: fn(&TracedInstant) -> f64| {
                    let [first, last] = ends.each_ref().map(value);
                    (value(&now) - first - part * (last - first)).abs()
                };
                beside(|now| now.tank_current.0) > TOLERANCE * self.current
                    || beside(|now| now.capacitor_voltage.0) > TOLERANCE * self.voltage
            })
        };
        if to - from > shortest && phases.iter().any(is_bent) {
            let middle = f64::midpoint(from, to);
            self.refine(phases, [from, middle], shortest, times);
            self.refine(phases, [middle, to], shortest, times);
        } else {
            times.push(to);
        }
    }
}
