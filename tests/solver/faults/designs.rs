//! Invented random designs, each with a steady state before any fault.

use std::f64::consts::TAU;

use fairphase::converter::{
    Arrangement, Condition, Converter, Drive, Fault, FrequencyBand, OperatingPoint, Rectifier, Tank,
};
use fairphase::solver::fault::{FaultCase, FaultOutcome};
use fairphase::solver::{Case, Method, Solver, SteadyState};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

use super::DIODE_DROP;

/// A design that works.
#[derive(Debug)]
pub(super) struct RandomDesign {
    pub(super) number: u64,
    pub(super) converter: Converter,
    pub(super) point: OperatingPoint,
    pub(super) band: FrequencyBand,
    pub(super) healthy: SteadyState,
}

struct Dice(ChaCha8Rng);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.0.next_u64() >> 11) as f64 / 9_007_199_254_740_992.0)
    }

    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.between(0.0, 1.0) * all.len() as f64) as usize]
    }
}

/// So many designs with this drive and up to so many phases.
pub(super) fn designs(drive: Drive, most_phases: usize, count: usize) -> Vec<RandomDesign> {
    (0..).filter_map(|number| design(number, drive, most_phases)).take(count).collect()
}

/// Tanks about 100 kHz and some ten ohm, gains from 0.75 to 1.1, flying capacitors of 40 to 300 Cr.
fn design(number: u64, drive: Drive, most_phases: usize) -> Option<RandomDesign> {
    let mut dice = Dice(ChaCha8Rng::seed_from_u64(7000 + number));
    let phases = 2 + (dice.between(0.0, 1.0) * (most_phases - 1) as f64) as usize;
    let rectifier = dice.one_of(&Rectifier::ALL);
    let (impedance, turns) = (dice.between(5.0, 25.0), dice.between(1.0, 6.0));
    let omega = TAU * 100e3;
    let tank = Tank {
        resonant_inductance: Henry(impedance / omega),
        resonant_capacitance: Farad(1.0 / (impedance * omega)),
        magnetising_inductance: Henry(dice.between(3.5, 7.0) * impedance / omega),
        turns_ratio: turns,
        series_resistance: Ohm(dice.between(0.003, 0.015) * impedance),
        rectifier_drop: Volt(0.6),
    };
    let flying = Farad(dice.between(40.0, 300.0) * tank.resonant_capacitance.0);
    let of_phase = dice.between(120.0, 250.0);
    let clamp = dice.between(0.75, 1.1) * of_phase * drive.amplitude();
    let output = clamp / rectifier.clamp_voltage(turns, Volt(1.0), Volt(0.0));
    // Of the primary: a quality factor from 0.2 to 0.6 at resonance.
    let primary = dice.between(0.2, 0.6) * 0.81 * clamp / impedance;
    let point = OperatingPoint {
        name: "random".into(),
        input_voltage: Volt(of_phase * phases as f64),
        output_voltage: Volt(output),
        output_current: Ampere(phases as f64 * primary * rectifier.current_gain(turns)),
        drive,
        rectifier,
        condition: Condition::default(),
    };
    let band = FrequencyBand { minimum: Hertz(55e3), maximum: Hertz(500e3) };
    let converter = Converter::uniform(phases, tank, flying);
    let case = Case::new(point.clone(), band, Arrangement::Chain);
    let healthy = Method::Exact.solve(&converter, &case).solved()?.clone();
    Some(RandomDesign { number, converter, point, band, healthy })
}

impl RandomDesign {
    /// The same with flying capacitors of this share; none where it does not work with them.
    pub(super) fn with_flying(mut self, share: f64) -> Option<Self> {
        let Converter { flying, flying_return, .. } = &mut self.converter;
        flying.iter_mut().chain(flying_return).for_each(|own| own.0 *= share);
        let case = Case::new(self.point.clone(), self.band, Arrangement::Chain);
        self.healthy = Method::Exact.solve(&self.converter, &case).solved()?.clone();
        Some(self)
    }

    pub(super) fn phases(&self) -> usize {
        self.converter.phases()
    }

    pub(super) fn faults(&self) -> Vec<Fault> {
        let drive = self.point.drive;
        Fault::all(self.phases(), drive, Arrangement::Chain, &[0.5, 0.1])
    }

    pub(super) fn case(&self, fault: Fault) -> FaultCase {
        FaultCase::new(fault, self.point.clone(), self.band, Arrangement::Chain, DIODE_DROP)
    }

    pub(super) fn solve(&self, fault: Fault) -> FaultOutcome {
        self.case(fault).solve(&Solver::from(Method::Exact), &self.converter)
    }

    /// Output current of the healthy converter.
    pub(super) fn wanted(&self) -> f64 {
        self.point.output_current.0
    }
}
