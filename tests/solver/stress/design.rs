//! Invented designs over all that is plausible and some that is not, each known by its number.

use std::f64::consts::{PI, TAU};
use std::fmt;

use fairphase::converter::{
    Converter, Drive, FlyingCapacitors, FrequencyBand, OperatingPoint, Parameter, Rectifier, Tank,
};
use fairphase::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

/// Seed of all designs; the number of a design is its stream.
const SEED: u64 = 1976;

/// A converter of equal phases, one with deviating parts, and what both are asked for.
#[derive(Debug, Clone)]
pub struct Design {
    pub number: u64,
    pub nominal: Converter,
    pub deviating: Converter,
    pub point: OperatingPoint,
    pub band: FrequencyBand,
    shape: Shape,
}

/// A design without units.
#[derive(Debug, Clone, Copy)]
pub struct Shape {
    /// Lm/Lr.
    pub ln: f64,
    /// √(Lr/Cr) over the load's resistance seen by the tank, at full load.
    pub q: f64,
    /// Clamp voltage over the source's amplitude.
    pub gain: f64,
    /// Output current over that of full load.
    pub load: f64,
    /// Series resistance over √(Lr/Cr).
    pub resistance: f64,
    /// Flying capacitance over Cr.
    pub flying: f64,
    /// Rectifier drop over output voltage.
    pub drop: f64,
    /// Lowest and highest frequency over the series resonance.
    pub band: (f64, f64),
}

/// What the shape is scaled to: series resonance, √(Lr/Cr), input and output voltage of a phase.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    pub resonance: f64,
    pub impedance: f64,
    pub input: f64,
    pub output: f64,
}

struct Dice(ChaCha8Rng);

impl Dice {
    fn unit(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn ratio(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    fn below(&mut self, count: u64) -> usize {
        usize::try_from(self.0.next_u64() % count).unwrap()
    }

    fn shape(&mut self) -> Shape {
        let ln = self.ratio(2.0, 20.0);
        let q = self.ratio(0.05, 2.0);
        let load = if self.unit() < 0.5 { self.between(0.1, 1.2) } else { self.ratio(0.01, 1.2) };
        let resistance = if self.unit() < 0.2 { 0.0 } else { self.ratio(1e-6, 2.0) };
        let band = match self.below(5) {
            0 => {
                let low = self.between(0.3, 1.2);
                (low, low * self.ratio(1.05, 2.0))
            }
            _ => (self.between(0.3, 0.6), self.between(1.5, 4.0)),
        };
        let loss = 1.0 / (1.0 + resistance * q * load);
        let gain = match self.below(8) {
            // Close to resonance, where a tank without loss has no impedance.
            0 => 1.0 + self.ratio(1e-6, 0.1) * if self.unit() < 0.5 { 1.0 } else { -1.0 },
            1..=4 => loss * self.between(0.4, 1.1),
            _ => loss * self.between(0.9, 1.1 * peak_gain(ln, q * load, band).clamp(1.0, 5.0)),
        };
        let drop = if self.unit() < 0.3 { 0.0 } else { self.between(0.0, 0.05) };
        Shape { ln, q, gain, load, resistance, flying: self.ratio(3.0, 1e4), drop, band }
    }

    /// Half width of a parameter's band: none, or up to 30 %.
    fn tolerance(&mut self) -> f64 {
        if self.unit() < 0.2 { 0.0 } else { self.ratio(1e-4, 0.3) }
    }

    fn scatter(&mut self, converter: &mut Converter) {
        for parameter in Parameter::of_tank() {
            let half_width = self.tolerance();
            for tank in &mut converter.tanks {
                let factor = 1.0 + half_width * self.between(-1.0, 1.0);
                tank.value_mut(parameter).into_iter().for_each(|value| *value *= factor);
            }
        }
        let half_width = self.tolerance();
        let Converter { flying, flying_return, .. } = converter;
        for c in flying.iter_mut().chain(flying_return) {
            c.0 *= 1.0 + half_width * self.between(-1.0, 1.0);
        }
    }
}

/// Highest gain of the fundamental-harmonic approximation over a band of frequencies.
/// `M = 1/√((1 + (1 − 1/f²)/Ln)² + Q² (f − 1/f)²)`: any handbook on resonant converters.
fn peak_gain(ln: f64, q: f64, band: (f64, f64)) -> f64 {
    let at = |f: f64| {
        let inverse = 1.0 / f;
        1.0 / (1.0 + (1.0 - inverse * inverse) / ln).hypot(q * (f - inverse))
    };
    (0..=200).map(|n| at(band.0 * (band.1 / band.0).powf(f64::from(n) / 200.0))).fold(0.0, f64::max)
}

impl Shape {
    /// The shape as a converter of equal phases, with its operating point and band.
    pub fn build(
        &self,
        phases: usize,
        (drive, rectifier): (Drive, Rectifier),
        scale: &Scale,
    ) -> (Converter, OperatingPoint, FrequencyBand) {
        let (output, drop) = (Volt(scale.output), Volt(scale.output * self.drop));
        let source = drive.amplitude() * scale.input;
        let turns = self.gain * source / rectifier.clamp_voltage(1.0, output, drop);
        // Q = √(Lr/Cr)/Re with Re = 8 Vp/(π² Ip).
        let primary = 8.0 * self.gain * source * self.q / (PI * PI * scale.impedance);
        let lr = scale.impedance / (TAU * scale.resonance);
        let cr = 1.0 / (TAU * scale.resonance * scale.impedance);
        let tank = Tank {
            resonant_inductance: Henry(lr),
            resonant_capacitance: Farad(cr),
            magnetising_inductance: Henry(self.ln * lr),
            turns_ratio: turns,
            series_resistance: Ohm(self.resistance * scale.impedance),
            rectifier_drop: drop,
        };
        let n = phases as f64;
        let point = OperatingPoint {
            name: String::new(),
            input_voltage: Volt(scale.input * n),
            output_voltage: output,
            output_current: Ampere(rectifier.current_gain(turns) * primary * self.load * n),
            drive,
            rectifier,
            condition: fairphase::converter::Condition::default(),
        };
        let band = FrequencyBand {
            minimum: Hertz(self.band.0 * scale.resonance),
            maximum: Hertz(self.band.1 * scale.resonance),
        };
        (Converter::uniform(phases, tank, Farad(self.flying * cr)), point, band)
    }
}

impl Design {
    /// Design number `number`.
    pub fn draw(number: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        rng.set_stream(number);
        let mut dice = Dice(rng);
        let phases = 2 + dice.below(11);
        let drive = Drive::ALL[dice.below(2)];
        let rectifier = Rectifier::ALL[dice.below(3)];
        let shape = dice.shape();
        let scale = Scale {
            resonance: dice.ratio(10e3, 2e6),
            impedance: dice.ratio(1.0, 300.0),
            input: dice.ratio(10.0, 1000.0),
            output: dice.ratio(2.0, 1000.0),
        };
        let (nominal, point, band) = shape.build(phases, (drive, rectifier), &scale);
        let mut deviating = nominal.clone();
        dice.scatter(&mut deviating);
        Self { number, nominal, deviating, point, band, shape }
    }
}

impl fmt::Display for Design {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (p, b) = (&self.point, &self.band);
        writeln!(f, "design {}: {} phases, {:?}", self.number, self.nominal.phases(), self.shape)?;
        writeln!(f, "  {p:?}, {} Hz to {} Hz", b.minimum.0, b.maximum.0)?;
        writeln!(f, "  nominal {:?}", self.nominal.tanks[0])?;
        let farads = |leg: &FlyingCapacitors| leg.iter().map(|c| c.0).collect::<Vec<_>>();
        for (k, t) in (1..).zip(&self.deviating.tanks) {
            let values: Vec<_> = Parameter::of_tank().filter_map(|p| t.value(p)).collect();
            writeln!(f, "  deviating phase {k}: Lr, Cr, Lm, n, R, drop {values:?}")?;
        }
        writeln!(f, "  flying {:?}", farads(&self.deviating.flying))?;
        write!(f, "  return {:?}", farads(&self.deviating.flying_return))
    }
}
