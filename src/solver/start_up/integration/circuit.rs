//! The coupled circuit, half period by half period.

use super::leg::ChainLeg;
use super::record::{IntegratedStart, LegRecord};
use crate::converter::{Converter, OperatingPoint, Tank};
use crate::solver::Effort;
use crate::solver::exact::{TransientParts, TransientPassage, TransientState, TransientTank};
use crate::units::{Ampere, Farad, Hertz, Joule, Second, Volt};

/// Pieces of a half period, between instants at which a body diode begins or ceases to conduct, at most.
const MOST_PIECES: usize = 12;

/// How the input comes on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StartInput {
    /// At its voltage from the beginning.
    Applied,
    /// In proportion to time, for so long.
    Ramp(Second),
}

/// What the output does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StartOutput {
    /// It is shorted: the drops of the diodes alone are left.
    Shorted,
    /// It is at its voltage from the beginning.
    Held,
    /// It rises with the input, in proportion.
    Rising,
    /// It is a capacitor that begins empty, with a resistive load of this share of the rated one.
    Capacitor {
        /// The capacitance.
        capacitance: Farad,
        /// The share.
        load: f64,
    },
}

/// A start.
#[derive(Debug, Clone)]
pub struct StartPlan {
    /// How the input comes on.
    pub input: StartInput,
    /// What the output does.
    pub output: StartOutput,
    /// Switching frequency from the beginning.
    pub frequency: Hertz,
    /// Time that is followed once the input has its voltage.
    pub hold: Second,
    /// Voltages of the flying capacitors of each leg at the beginning, v(1)…v(N−1).
    pub voltages: Vec<Volt>,
    /// Factor above which time is counted.
    pub wanted_factor: f64,
}

impl StartPlan {
    /// Half periods until the input has its voltage, and of the whole start.
    fn halves(&self) -> [u64; 2] {
        let ramp = match self.input {
            StartInput::Applied => 0.0,
            StartInput::Ramp(time) => time.0,
        };
        let halves = |time: f64| 2 * whole_periods(time * self.frequency.0);
        [halves(ramp), halves(ramp) + halves(self.hold.0)]
    }

    /// Rectifier stretches that it takes for a chain of so many phases, about: three a phase and half
    /// period.
    pub fn work(&self, phases: usize) -> f64 {
        3.0 * phases as f64 * self.halves()[1] as f64
    }

    /// Share of the input voltage in the middle of a half period.
    fn input_share(&self, half: u64, time: f64) -> f64 {
        match self.input {
            StartInput::Applied => 1.0,
            StartInput::Ramp(ramp) => ((half as f64 + 0.5) * time / ramp.0).min(1.0),
        }
    }
}

/// A chain that is to start.
#[derive(Debug)]
pub struct StartCircuit<'a> {
    /// Its parts, as the operating point sees them.
    pub converter: &'a Converter,
    /// What it starts for.
    pub point: &'a OperatingPoint,
    /// Forward drop of a body diode.
    pub diode_drop: Volt,
}

impl StartCircuit<'_> {
    /// Follows a start to its end; `None` once the effort is spent.
    pub fn follow(&self, plan: &StartPlan, effort: &Effort) -> Option<IntegratedStart> {
        let mut run = Run::new(self, plan);
        let [ramp, all] = plan.halves();
        for half in 0..all {
            run.half(plan, half, effort)?;
            if half + 1 == ramp {
                run.ramp_energy = Some(run.energy);
            }
        }
        Some(run.result(all))
    }

    fn legs(&self, voltages: &[Volt]) -> Vec<ChainLeg> {
        let Converter { flying, flying_return, .. } = self.converter;
        let both = [(1.0, flying), (-1.0, flying_return)];
        let driven = &both[..self.point.drive.legs()];
        let leg = |(sign, flying): &(f64, &crate::converter::FlyingCapacitors)| {
            let capacitances = flying.iter().map(|c| c.0).collect();
            ChainLeg::new(*sign, self.diode_drop.0, capacitances, voltages)
        };
        driven.iter().map(leg).collect()
    }
}

/// One phase on its way.
struct Phase {
    tank: Tank,
    current: f64,
    magnetising: f64,
    /// Of the resonant capacitor.
    resonant: f64,
    /// Without flying capacitors, then with those of each leg.
    circuits: Vec<TransientTank>,
}

/// A start on its way.
struct Run<'a> {
    point: &'a OperatingPoint,
    phases: Vec<Phase>,
    legs: Vec<ChainLeg>,
    records: Vec<LegRecord>,
    half_period: f64,
    phase_voltage: f64,
    wanted: f64,
    output: f64,
    clamped_at: Option<f64>,
    peak: f64,
    energy: f64,
    ramp_energy: Option<f64>,
    highest_output: f64,
    periods_above: u64,
}

/// A half period as a phase sees it.
#[derive(Clone, Copy)]
struct HalfInput {
    is_first: bool,
    /// Input voltage.
    input: f64,
    time: f64,
}

impl Phase {
    fn new(tank: &Tank, legs: &[ChainLeg], k: usize) -> Self {
        let resonant = 1.0 / tank.resonant_capacitance.0;
        let circuit = |elastance: f64| {
            TransientTank::new(TransientParts {
                resonant_inductance: tank.resonant_inductance.0,
                magnetising_inductance: tank.magnetising_inductance.0,
                elastance: resonant + elastance,
                resistance: tank.series_resistance.0,
                clamp: 0.0,
            })
        };
        let of_legs = legs.iter().map(|leg| circuit(leg.elastance(k)));
        let circuits = std::iter::once(circuit(0.0)).chain(of_legs).collect();
        Self { tank: *tank, current: 0.0, magnetising: 0.0, resonant: 0.0, circuits }
    }

    fn state(&self, source: f64) -> TransientState {
        TransientState {
            rectifier_current: self.current - self.magnetising,
            magnetising_current: self.magnetising,
            net_voltage: source - self.resonant,
        }
    }

    fn arrive(&mut self, passage: &TransientPassage) {
        self.current = passage.end.tank_current();
        self.magnetising = passage.end.magnetising_current;
        self.resonant += passage.charge / self.tank.resonant_capacitance.0;
    }
}

/// What a phase did in a half period.
#[derive(Default)]
struct HalfResult {
    rectified: f64,
    peak: f64,
}

impl HalfResult {
    fn add(&mut self, passage: &TransientPassage) {
        self.rectified += passage.rectified;
        self.peak = self.peak.max(passage.peak);
    }
}

impl<'a> Run<'a> {
    fn new(circuit: &StartCircuit<'a>, plan: &StartPlan) -> Self {
        let legs = circuit.legs(&plan.voltages);
        let tanks = &circuit.converter.tanks;
        let phases = tanks.iter().enumerate().map(|(k, tank)| Phase::new(tank, &legs, k));
        Self {
            point: circuit.point,
            phases: phases.collect(),
            records: legs.iter().map(|_| LegRecord::new(tanks.len())).collect(),
            legs,
            half_period: 0.5 / plan.frequency.0,
            phase_voltage: circuit.point.input_voltage.0 / tanks.len() as f64,
            wanted: plan.wanted_factor,
            output: 0.0,
            clamped_at: None,
            peak: 0.0,
            energy: 0.0,
            ramp_energy: None,
            highest_output: 0.0,
            periods_above: 0,
        }
    }

    /// One half period of all phases.
    fn half(&mut self, plan: &StartPlan, half: u64, effort: &Effort) -> Option<()> {
        let (time, is_first) = (self.half_period, half.is_multiple_of(2));
        let share = plan.input_share(half, time);
        let input = share * self.point.input_voltage.0;
        self.set_output(plan.output, share);
        let own = HalfInput { is_first, input, time };
        for leg in &mut self.legs {
            leg.switch(is_first, input);
        }
        let mut charge = 0.0;
        for k in 0..self.phases.len() {
            let done = self.phase_half(k, own, effort)?;
            self.peak = self.peak.max(done.peak);
            let gain = self.point.rectifier.current_gain(self.phases[k].tank.turns_ratio);
            charge += gain * done.rectified;
        }
        for (leg, record) in self.legs.iter().zip(&mut self.records) {
            leg.note(is_first, input, record);
        }
        self.deliver(plan.output, charge);
        if !is_first {
            let present = self.records.iter_mut().map(LegRecord::take_present).fold(0.0, f64::max);
            self.periods_above += u64::from(present > self.wanted * self.phase_voltage);
        }
        Some(())
    }

    fn set_output(&mut self, output: StartOutput, share: f64) {
        match output {
            StartOutput::Shorted => self.output = 0.0,
            StartOutput::Held => self.output = self.point.output_voltage.0,
            StartOutput::Rising => self.output = share * self.point.output_voltage.0,
            StartOutput::Capacitor { .. } => {}
        }
        if self.clamped_at == Some(self.output) {
            return;
        }
        self.clamped_at = Some(self.output);
        for phase in &mut self.phases {
            let Tank { turns_ratio, rectifier_drop, .. } = phase.tank;
            let output = Volt(self.output);
            let clamp = self.point.rectifier.clamp_voltage(turns_ratio, output, rectifier_drop);
            for circuit in &mut phase.circuits {
                *circuit = circuit.clamped_at(clamp);
            }
        }
    }

    /// The charge of a half period arrives at the output.
    fn deliver(&mut self, output: StartOutput, charge: f64) {
        let before = self.output;
        if let StartOutput::Capacitor { capacitance, load } = output {
            let conductance = load * self.point.output_current.0 / self.point.output_voltage.0;
            let drawn = conductance * before * self.half_period;
            self.output = (before + (charge - drawn) / capacitance.0).max(0.0);
        }
        self.energy += charge * 0.5 * (before + self.output);
        self.highest_output = self.highest_output.max(self.output);
    }

    /// One half period of a phase, in pieces between the instants at which a low body diode begins or ceases
    /// to conduct.
    fn phase_half(&mut self, k: usize, own: HalfInput, effort: &Effort) -> Option<HalfResult> {
        let mut result = HalfResult::default();
        let high = self.legs.iter().position(|leg| leg.is_high(k, own.is_first));
        let Some(n) = high else {
            let phase = &mut self.phases[k];
            let passage = phase.circuits[0].follow(phase.state(0.0), own.time, effort)?;
            phase.arrive(&passage);
            result.add(&passage);
            return Some(result);
        };
        let mut left = own.time;
        for piece in 0..MOST_PIECES {
            let is_last = piece + 1 == MOST_PIECES;
            let time = self.piece(Piece { k, leg: n, input: own.input, left, is_last }, effort)?;
            result.add(&time.passage);
            left -= time.time;
            if left <= 0.0 || is_last {
                break;
            }
        }
        Some(result)
    }

    /// Follows a phase whose high switch is on until the half period ends or a diode changes.
    fn piece(&mut self, own: Piece, effort: &Effort) -> Option<PieceResult> {
        let (phase, leg) = (&mut self.phases[own.k], &mut self.legs[own.leg]);
        let (sign, voltage) = (leg.sign(), leg.phase_voltage(own.k, own.input));
        let drop = leg.diode_drop();
        let above = voltage + drop;
        let rounding = 1e-12 * (voltage.abs() + own.input + drop);
        if above <= rounding && sign * phase.current > 0.0 && !own.is_last {
            let (circuit, state) = (&phase.circuits[0], phase.state(-sign * drop));
            let end = circuit.current_ends(state, own.left, sign, effort);
            let time = end.unwrap_or(own.left);
            let passage = circuit.follow(state, time, effort)?;
            phase.arrive(&passage);
            if end.is_some() {
                // Set to zero, so that rounding leaves no rest in the diode.
                phase.current = 0.0;
            }
            return Some(PieceResult { time, passage });
        }
        let (circuit, state) = (&phase.circuits[1 + own.leg], phase.state(sign * voltage));
        let whole = circuit.follow(state, own.left, effort)?;
        let limit = sign * above.max(rounding) / leg.elastance(own.k);
        let highest = if sign > 0.0 { whole.charge_range[1] } else { -whole.charge_range[0] };
        let is_beyond = highest > limit.abs() && !own.is_last;
        let cut =
            if is_beyond { circuit.reaches_charge(state, own.left, limit, effort) } else { None };
        let (time, passage) = match cut {
            Some(time) => (time, circuit.follow(state, time, effort)?),
            None => (own.left, whole),
        };
        phase.arrive(&passage);
        leg.pass(own.k, passage.charge, passage.charge_range);
        Some(PieceResult { time, passage })
    }

    fn result(self, halves: u64) -> IntegratedStart {
        let legs = self.legs.iter().zip(&self.records).enumerate();
        let input = self.point.input_voltage.0;
        let voltages = self.legs.iter().map(|leg| {
            let voltage = |k: usize| Volt(leg.phase_voltage(k, input));
            (0..self.phases.len()).map(voltage).collect::<Vec<_>>()
        });
        let spread =
            |own: &[Volt]| own.iter().map(|v| (v.0 - self.phase_voltage).abs()).fold(0.0, f64::max);
        let farthest = voltages.reduce(|a, b| if spread(&b) > spread(&a) { b } else { a });
        IntegratedStart {
            switches: legs
                .flat_map(|(n, (_, record))| record.switches(n > 0, self.phase_voltage))
                .collect(),
            peak_current: Ampere(self.peak),
            delivered_energy: Joule(self.ramp_energy.unwrap_or(self.energy)),
            highest_output: Volt(self.highest_output),
            time_above: Second(2.0 * self.half_period * self.periods_above as f64),
            time: Second(self.half_period * halves as f64),
            phase_voltages: farthest.unwrap_or_default(),
        }
    }
}

/// A phase, the leg that drives it, and what is left of the half period.
#[derive(Clone, Copy)]
struct Piece {
    k: usize,
    leg: usize,
    input: f64,
    left: f64,
    /// Whether it goes to the end of the half period whatever the diodes do.
    is_last: bool,
}

struct PieceResult {
    time: f64,
    passage: TransientPassage,
}

/// Whole periods that hold so many.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "not negative, and far below the largest integer"
)]
fn whole_periods(periods: f64) -> u64 {
    periods.ceil().clamp(0.0, 1e15) as u64
}
