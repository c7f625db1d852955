//! From parts to per-unit equations, and from their solution to amperes.

use super::cycle::Phase;
use super::half::{HalfCircuit, State, Stretch};
use super::search::Found;
use super::system::{HalfPeriod, PerPhase, Point, Source, System};
use super::waveform::{Integrals, Wave};
use crate::converter::{Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Tank};
use crate::solver::{Outcome, PhaseState, SteadyState, SwitchCurrent, Switches, TankState};
use crate::units::{Ampere, Hertz, Volt};

/// A steady state to start the iteration from, of a converter with as many phases at the same
/// operating point: that of the nominal parts serves every sample.
#[derive(Debug, Clone)]
pub struct Guess {
    base: Base,
    point: Point,
}

/// Units of measure in which a phase's quantities are near one: its source's amplitude, its
/// characteristic impedance, its resonant period over 2π.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Base {
    volt: f64,
    ohm: f64,
    second: f64,
}

impl Base {
    fn new(tank: &Tank, amplitude: f64) -> Self {
        let (l, c) = (tank.resonant_inductance.0, tank.resonant_capacitance.0);
        Self { volt: amplitude, ohm: (l / c).sqrt(), second: (l * c).sqrt() }
    }

    fn ampere(&self) -> f64 {
        self.volt / self.ohm
    }

    fn henry(&self) -> f64 {
        self.ohm * self.second
    }

    fn farad(&self) -> f64 {
        self.second / self.ohm
    }

    fn coulomb(&self) -> f64 {
        self.ampere() * self.second
    }
}

/// Solves a converter at an operating point, both fully known.
///
/// With a guess the iteration starts there; without one, or where it does not lead to the
/// highest frequency that delivers the output, a search from the highest frequency down finds
/// the solution or shows that there is none in the band. Gives the guess for converters nearby.
pub fn solve(
    converter: &Converter,
    point: &OperatingPoint,
    band: &FrequencyBand,
    arrangement: Arrangement,
    guess: Option<&Guess>,
) -> (Outcome, Option<Guess>) {
    let amplitude = point.drive.amplitude() * point.input_voltage.0 / converter.phases() as f64;
    let base = guess.map_or_else(|| Base::new(&converter.tanks[0], amplitude), |g| g.base);
    let system = System::new(converter, point, band, arrangement, &base);
    let start = guess.map(|g| &g.point);
    let found = start.and_then(|at| system.solve_from(at)).unwrap_or_else(|| system.search());
    match found {
        Found::Solved(at) => match system.steady_state(&at, point.drive, arrangement, &base) {
            Some(state) => (Outcome::Solved(state), Some(Guess { base, point: *at })),
            None => (Outcome::NotSolved, None),
        },
        Found::OutOfRange => (Outcome::OutOfRange, None),
        Found::Lost => (Outcome::NotSolved, None),
    }
}

impl System {
    fn new(
        converter: &Converter,
        point: &OperatingPoint,
        band: &FrequencyBand,
        arrangement: Arrangement,
        base: &Base,
    ) -> Self {
        let amplitude = point.drive.amplitude() * point.input_voltage.0 / base.volt;
        let phases = converter.phases();
        let source = match arrangement {
            Arrangement::Paralleled => Source::Paralleled { amplitude: amplitude / phases as f64 },
            Arrangement::Chain => {
                let legs = [&converter.flying, &converter.flying_return];
                let elastance: f64 = legs[..point.drive.legs()]
                    .iter()
                    .flat_map(|l| l.iter())
                    .map(|c| 1.0 / c.0)
                    .sum();
                Source::Chain { input: amplitude, ripple: elastance * base.farad() }
            }
        };
        let half_period = |f: Hertz| 0.5 / (f.0 * base.second);
        Self {
            phases: (0..phases).map(|k| phase(converter, point, arrangement, k, base)).collect(),
            source,
            output_current: point.output_current.0 / base.ampere(),
            half_periods: (half_period(band.maximum), half_period(band.minimum)),
        }
    }

    /// The solution that a neighbour's leads to, if it is one that counts.
    fn solve_from(&self, start: &Point) -> Option<Found> {
        let point = match self.newton(start, HalfPeriod::Regulated) {
            Some(at) if at.highest => at.point,
            _ => self.solve_nearby(start)?,
        };
        self.allows(point.h).then(|| Found::Solved(Box::new(point)))
    }

    fn allows(&self, h: f64) -> bool {
        (self.half_periods.0..=self.half_periods.1).contains(&h)
    }

    /// The solution's currents and voltages.
    fn steady_state(
        &self,
        at: &Point,
        drive: Drive,
        arrangement: Arrangement,
        base: &Base,
    ) -> Option<SteadyState> {
        let traces: PerPhase<Trace> = self
            .phases
            .iter()
            .zip(&at.z)
            .map(|(phase, z)| Trace::new(phase, z, at.h))
            .collect::<Option<_>>()?;
        let phases = (0..traces.len()).map(|k| {
            let switches = match arrangement {
                Arrangement::Chain => traces[k].chained(traces.get(k + 1), drive),
                Arrangement::Paralleled => traces[k].alone(drive),
            };
            traces[k].state(drive, switches, at.h, base)
        });
        Some(SteadyState {
            switching_frequency: Hertz(0.5 / (at.h * base.second)),
            phases: phases.collect(),
        })
    }
}

/// The per-unit equations of phase `k`.
fn phase(
    converter: &Converter,
    point: &OperatingPoint,
    arrangement: Arrangement,
    k: usize,
    base: &Base,
) -> Phase {
    let tank = &converter.tanks[k];
    let elastance = base.farad() / tank.resonant_capacitance.0;
    let kappa = converter.flying_elastance(k, arrangement, point.drive);
    let clamp =
        point.rectifier.clamp_voltage(tank.turns_ratio, point.output_voltage, tank.rectifier_drop);
    let half = |kappa: f64| {
        HalfCircuit::new(
            tank.resonant_inductance.0 / base.henry(),
            tank.magnetising_inductance.0 / base.henry(),
            elastance + kappa * base.farad(),
            tank.series_resistance.0 / base.ohm,
            clamp / base.volt,
        )
    };
    let gain = point.rectifier.current_gain(tank.turns_ratio);
    Phase::new(kappa.map(half), elastance, gain)
}

/// A phase's solved period, stretch by stretch.
struct Trace<'a> {
    phase: &'a Phase,
    first: Vec<Stretch>,
    second: Vec<Stretch>,
    halves: [Integrals; 2],
    output: f64,
    amplitude: f64,
    start: State,
}

impl<'a> Trace<'a> {
    fn new(phase: &'a Phase, z: &super::cycle::Unknowns, h: f64) -> Option<Self> {
        let cycle = phase.evaluate(z, h)?;
        let [a, b] = phase.circuits();
        let (mut first, mut second) = (Vec::new(), Vec::new());
        let start = State { d: z[0], im: z[1], e: z[2] };
        let end = a.trace(start, h, |s| first.push(s))?;
        let middle = State { d: -end.d.value, im: -end.im.value, e: z[3] };
        b.trace(middle, h, |s| second.push(s))?;
        let halves = [
            Wave { circuit: a, stretches: &first }.integrals(),
            Wave { circuit: b, stretches: &second }.integrals(),
        ];
        Some(Self {
            phase,
            first,
            second,
            halves,
            output: cycle.output.value,
            amplitude: cycle.amplitude.value,
            start,
        })
    }

    fn waves(&self) -> [Wave<'_>; 2] {
        let [a, b] = self.phase.circuits();
        [Wave { circuit: a, stretches: &self.first }, Wave { circuit: b, stretches: &self.second }]
    }

    /// Every switch carries the tank current during its own half period.
    fn alone(&self, drive: Drive) -> [(f64, f64); 4] {
        let [a, b] = self.halves.map(|x| (x.square, x.peak));
        match drive {
            Drive::HalfBridge => [a, b, (0.0, 0.0), (0.0, 0.0)],
            Drive::FullBridge => [a, b, b, a],
        }
    }

    /// In a chain a low switch also carries the next phase's current, which the mirrored signs
    /// of the two halves turn into a difference. The last one has no next.
    fn chained(&self, next: Option<&Self>, drive: Drive) -> [(f64, f64); 4] {
        let mut switches = self.alone(drive);
        if let Some(next) = next {
            let ([first, second], [next_first, next_second]) = (self.waves(), next.waves());
            switches[1] = next_first.difference(&second);
            if drive == Drive::FullBridge {
                switches[3] = next_second.difference(&first);
            }
        }
        switches
    }

    /// The source at the start of the high interval.
    fn source(&self, drive: Drive) -> f64 {
        self.amplitude / drive.amplitude()
    }

    fn state(&self, drive: Drive, switches: [(f64, f64); 4], h: f64, base: &Base) -> PhaseState {
        let [a, b] = self.halves;
        let period = 2.0 * h;
        let ampere = |x: f64| Ampere(x * base.ampere());
        let [high, low, return_high, return_low] = switches.map(|(square, peak)| SwitchCurrent {
            rms: ampere((square / period).sqrt()),
            peak: ampere(peak),
        });
        PhaseState {
            output_current: ampere(self.output),
            mean_abs_current: ampere((a.absolute + b.absolute) / period),
            rms_current: ampere(((a.square + b.square) / period).sqrt()),
            peak_current: ampere(a.peak.max(b.peak)),
            charge: a.charge * base.coulomb(),
            charge_range: [a, b].map(|x| (x.low * base.coulomb(), x.high * base.coulomb())),
            start_voltage: Volt(self.source(drive) * base.volt),
            start: Some(TankState {
                tank_current: ampere(self.start.d + self.start.im),
                magnetising_current: ampere(self.start.im),
                capacitor_voltage: Volt((self.source(drive) - self.start.e) * base.volt),
            }),
            switches: Switches { high, low, return_high, return_low },
        }
    }
}
