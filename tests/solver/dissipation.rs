//! Losses of single parts and junction temperatures, against the power balance, by hand, and against a
//! circuit in which every resistance stands where it is.

use fairphase::converter::{
    Arrangement, Condition, Converter, Drive, FrequencyBand, Influence, LossParts, OperatingPoint,
    ParalleledSwitches, Parameter, PartResponse, Rectifier, SelfHeating, SwitchPlace, Tank,
};
use fairphase::population::RandomSource;
use fairphase::solver::dissipation::Dissipation;
use fairphase::solver::{Case, Method, Outcome, SteadyState, Unsolved, chain_voltages};
use fairphase::units::{Ampere, Celsius, Farad, Henry, Hertz, Ohm, Volt};

/// Ambient and reference temperature of all designs, °C.
const AMBIENT: f64 = 45.0;
const REFERENCE: f64 = 25.0;

/// A converter in a case, with the numbers that it was made from.
struct Design {
    converter: Converter,
    case: Case,
}

/// Invented nominal losses: on-resistance, primary and secondary winding, diode slope, thermal
/// resistances of a switch and of a diode.
const NOMINAL: [Option<f64>; 6] =
    [Some(0.040), Some(0.012), Some(0.002), Some(0.003), Some(1.5), Some(2.0)];

/// An invented tank.
fn tank() -> Tank {
    Tank {
        resonant_inductance: Henry(5.0e-6),
        resonant_capacitance: Farad(250e-9),
        magnetising_inductance: Henry(28e-6),
        turns_ratio: 2.2,
        series_resistance: Ohm(0.010),
        rectifier_drop: Volt(0.7),
    }
}

fn point(drive: Drive, rectifier: Rectifier, output: (f64, f64)) -> OperatingPoint {
    OperatingPoint {
        name: "test".to_owned(),
        input_voltage: Volt(380.0),
        output_voltage: Volt(output.0),
        output_current: Ampere(output.1),
        drive,
        rectifier,
        condition: Condition {
            self_heating: Some(SelfHeating {
                reference: Celsius(REFERENCE),
                ambient: Celsius(AMBIENT),
                of_switches: true,
                of_rectifiers: true,
            }),
            ..Condition::default()
        },
    }
}

fn coefficient(converter: &Converter, parameter: Parameter, value: f64) -> PartResponse {
    let values = std::iter::repeat_n(value, converter.parts(parameter)).collect();
    PartResponse { parameter, influence: Influence::Temperature, values }
}

/// A converter with these losses, whose switches have 0.7 %/K, diodes −0.2 %/K and 0.3 %/K.
fn heated(phases: usize, losses: &[Option<f64>; 6]) -> Converter {
    let mut converter = Converter::uniform(phases, tank(), Farad(40e-6));
    let equal = ParalleledSwitches::with_equal_loss(phases);
    converter.losses = Some(Box::new(LossParts::uniform(phases, losses, equal)));
    converter.responses = [
        (Parameter::RectifierDrop, -0.002),
        (Parameter::OnResistance, 0.007),
        (Parameter::RectifierResistance, 0.003),
    ]
    .map(|(parameter, value)| coefficient(&converter, parameter, value))
    .into();
    converter
}

const BAND: FrequencyBand = FrequencyBand { minimum: Hertz(70e3), maximum: Hertz(400e3) };

/// Random designs: parts within ±5 %, losses within ±40 %, all drives and rectifiers, both arrangements.
fn designs(count: u64) -> Vec<Design> {
    let mut next = RandomSource::from(20_261_126).numbers(0);
    let mut all = Vec::new();
    for n in 0..count {
        let phases = 2 + (n % 4) as usize;
        let drive = Drive::ALL[(n / 2 % 2) as usize];
        let rectifier = Rectifier::ALL[(n / 3 % 3) as usize];
        let mut converter = heated(phases, &NOMINAL);
        for parameter in Parameter::ALL {
            let width = if parameter.index_of_losses().is_some() { 0.4 } else { 0.05 };
            for index in 0..converter.parts(parameter) {
                if let Some(value) = converter.part_mut(parameter, index) {
                    *value *= 1.0 + width * (2.0 * next() - 1.0);
                }
            }
        }
        let full = if drive == Drive::FullBridge { 1.0 } else { 0.5 };
        let gain = rectifier.clamp_voltage(tank().turns_ratio, Volt(1.0), Volt(0.0));
        let voltage = 380.0 / phases as f64 * full / gain * (0.85 + 0.3 * next());
        let current = phases as f64 * (3.0 + 9.0 * next()) * rectifier.current_gain(2.2);
        let point = point(drive, rectifier, (voltage, current));
        let arrangement = Arrangement::ALL[(n % 2) as usize];
        all.push(Design { converter, case: Case::new(point, BAND, arrangement) });
    }
    all
}

fn solved(design: &Design, method: Method) -> Option<SteadyState> {
    match method.solve(&design.converter, &design.case) {
        Outcome::Solved(state) => Some(state),
        _ => None,
    }
}

fn dissipation(design: &Design, state: &SteadyState) -> Dissipation {
    let Design { converter, case } = design;
    let parts = converter.at(&case.point.condition);
    Dissipation::new(state, &parts, &case.point, case.arrangement)
        .unwrap_or_else(|| panic!("a part has no steady temperature"))
}

/// Power drawn from the input: charge of the high intervals, times voltage and frequency.
fn input_power(design: &Design, state: &SteadyState) -> f64 {
    let point = &design.case.point;
    let volts = point.input_voltage.0 * point.drive.legs() as f64 * state.switching_frequency.0;
    match design.case.arrangement {
        Arrangement::Chain => state.phases[0].charge * volts,
        Arrangement::Paralleled => {
            let all: f64 = state.phases.iter().map(|p| p.charge).sum();
            all * volts / state.phases.len() as f64
        }
    }
}

/// Conservation of energy: what the input gives and the output does not take is lost in the parts.
#[test]
fn losses_are_input_less_output() {
    let mut count = 0;
    for design in designs(160) {
        let Some(state) = solved(&design, Method::Exact) else { continue };
        count += 1;
        let output = design.case.point.output_current.0 * design.case.point.output_voltage.0;
        let input = input_power(&design, &state);
        let lost = dissipation(&design, &state).total().0;
        let miss = (input - output - lost) / input;
        assert!(miss.abs() < 1e-8, "{miss:.1e} of {input} W: {:?}", design.case);
        assert!(lost > 0.005 * output && lost < 0.2 * output, "{lost} of {output} W");
    }
    assert!(count > 120, "{count}");
}

/// A chain of which every resistance stands where it is: each switch its own, the secondary winding and
/// the diodes behind the magnetising inductance. SI units. Integrated in small steps (Runge and Kutta's
/// of fourth order), whatever the solver assumes.
struct Circuit<'a> {
    design: &'a Design,
    /// On-resistances at their temperatures, by place and phase.
    switches: [Vec<f64>; 4],
    /// Resistance beside each tank, and behind its magnetising inductance seen from the primary.
    primary: Vec<f64>,
    secondary: Vec<f64>,
    clamp: Vec<f64>,
    half_period: f64,
}

/// Tank currents, magnetising currents, capacitor voltages; then the flying capacitors of both legs.
type State = Vec<f64>;

impl Circuit<'_> {
    fn phases(&self) -> usize {
        self.primary.len()
    }

    /// Whether the driven leg of phase `k` is high in this half of the period.
    fn is_high(&self, k: usize, half: usize) -> bool {
        (k + half) % 2 == 0
    }

    /// Source of each tank and the rates of the flying capacitors.
    fn sources(&self, x: &State, half: usize) -> (Vec<f64>, Vec<f64>) {
        let n = self.phases();
        let (i, flying) = (&x[..n], &x[3 * n..]);
        let converter = &self.design.converter;
        let full = self.design.case.point.drive == Drive::FullBridge;
        let (mut source, mut rates) = (vec![0.0; n], vec![0.0; 2 * (n - 1)]);
        for leg in 0..2 {
            let sense = if leg == 0 { 1.0 } else { -1.0 };
            if leg == 1 && !full {
                let held = SwitchPlace::ReturnLow as usize;
                (0..n).for_each(|k| source[k] -= self.switches[held][k] * i[k]);
                continue;
            }
            let [high, low] = [[0, 1], [3, 2]][leg];
            let v = |k: usize| flying[leg * (n - 1) + k];
            let legs = [&converter.flying, &converter.flying_return];
            let on_ground = |k: usize| {
                let next = if k + 1 < n { i[k + 1] } else { 0.0 };
                -sense * self.switches[low][k] * (i[k] + next)
            };
            for k in 0..n {
                let node = if self.is_high(k, half) == (leg == 0) {
                    let above = if k == 0 {
                        self.design.case.point.input_voltage.0
                    } else {
                        rates[leg * (n - 1) + k - 1] -= sense * i[k] / legs[leg][k - 1].0;
                        on_ground(k - 1) + v(k - 1)
                    };
                    let below = if k + 1 < n {
                        rates[leg * (n - 1) + k] += sense * i[k] / legs[leg][k].0;
                        v(k)
                    } else {
                        0.0
                    };
                    above - sense * self.switches[high][k] * i[k] - below
                } else {
                    on_ground(k)
                };
                source[k] += sense * node;
            }
        }
        (source, rates)
    }

    /// Rates of all states; `signs` tells how each rectifier conducts.
    fn rates(&self, x: &State, half: usize, signs: &[i8]) -> State {
        let n = self.phases();
        let (source, flying) = self.sources(x, half);
        let mut rates = vec![0.0; x.len()];
        rates[3 * n..].copy_from_slice(&flying);
        for k in 0..n {
            let tank = &self.design.converter.tanks[k];
            let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
            let (i, im, v) = (x[k], x[n + k], x[2 * n + k]);
            let net = source[k] - v - self.primary[k] * i;
            if signs[k] == 0 {
                rates[k] = net / (lr + lm);
                rates[n + k] = rates[k];
            } else {
                let winding = f64::from(signs[k]) * self.clamp[k] + self.secondary[k] * (i - im);
                rates[k] = (net - winding) / lr;
                rates[n + k] = winding / lm;
            }
            rates[2 * n + k] = i / tank.resonant_capacitance.0;
        }
        rates
    }

    fn step(&self, x: &State, half: usize, signs: &[i8], h: f64) -> State {
        let add = |x: &State, d: &State, s: f64| -> State {
            x.iter().zip(d).map(|(x, d)| x + s * d).collect()
        };
        let a = self.rates(x, half, signs);
        let b = self.rates(&add(x, &a, 0.5 * h), half, signs);
        let c = self.rates(&add(x, &b, 0.5 * h), half, signs);
        let d = self.rates(&add(x, &c, h), half, signs);
        let sum = |n: usize| x[n] + h / 6.0 * (a[n] + 2.0 * b[n] + 2.0 * c[n] + d[n]);
        (0..x.len()).map(sum).collect()
    }

    /// A step that is parted where a rectifier's current comes back to zero.
    fn advance(&self, x: &State, half: usize, signs: &mut [i8], h: f64) -> State {
        let n = self.phases();
        let (mut x, mut left) = (x.clone(), h);
        self.rectify(&mut x, half, signs);
        for _ in 0..2 * n {
            let next = self.step(&x, half, signs, left);
            let crossing = |k: usize| {
                let sign = f64::from(signs[k]);
                let (before, after) = (sign * (x[k] - x[n + k]), sign * (next[k] - next[n + k]));
                (signs[k] != 0 && after < 0.0).then(|| before.max(0.0) / (before.max(0.0) - after))
            };
            let first = (0..n).filter_map(|k| crossing(k).map(|share| (share, k)));
            let Some((share, k)) = first.min_by(|a, b| a.0.total_cmp(&b.0)) else { return next };
            x = self.step(&x, half, signs, share * left);
            left *= 1.0 - share;
            signs[k] = 0;
            x[n + k] = x[k];
            self.rectify(&mut x, half, signs);
        }
        self.step(&x, half, signs, left)
    }

    /// Rectifiers whose current has come back to zero block, those whose voltage suffices conduct.
    fn rectify(&self, x: &mut State, half: usize, signs: &mut [i8]) {
        let n = self.phases();
        for k in 0..n {
            let d = x[k] - x[n + k];
            if signs[k] != 0 && d * f64::from(signs[k]) < 0.0 {
                signs[k] = 0;
                x[n + k] = x[k];
            }
        }
        let (source, _) = self.sources(x, half);
        for k in 0..n {
            if signs[k] == 0 {
                let tank = &self.design.converter.tanks[k];
                let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
                let winding = (source[k] - x[2 * n + k] - self.primary[k] * x[k]) * lm / (lr + lm);
                if winding.abs() > self.clamp[k] {
                    signs[k] = if winding > 0.0 { 1 } else { -1 };
                }
            }
        }
    }
}

/// Means over a period of the circuit.
struct Means {
    /// Output current and losses of each phase: switches by place, windings and rest, rectifier.
    output: Vec<f64>,
    switches: [Vec<f64>; 4],
}

impl Circuit<'_> {
    /// Goes through so many periods of so many steps each, and takes the means of the last ones.
    fn run(&self, mut x: State, periods: usize, steps: usize) -> Means {
        let n = self.phases();
        let averaged = 4;
        let h = 2.0 * self.half_period / steps as f64;
        let mut signs: Vec<i8> = (0..n)
            .map(|k| {
                let d: f64 = x[k] - x[n + k];
                if d.abs() < 1e-9 { 0 } else { d.signum() as i8 }
            })
            .collect();
        let mut means =
            Means { output: vec![0.0; n], switches: std::array::from_fn(|_| vec![0.0; n]) };
        let weight = 1.0 / (averaged * steps) as f64;
        let full = self.design.case.point.drive == Drive::FullBridge;
        for n_step in 0..periods * steps {
            let half = usize::from(n_step % steps >= steps / 2);
            x = self.advance(&x, half, &mut signs, h);
            if n_step < (periods - averaged) * steps {
                continue;
            }
            for k in 0..n {
                let tank = &self.design.converter.tanks[k];
                let rectifier = self.design.case.point.rectifier;
                let gain = rectifier.current_gain(tank.turns_ratio);
                means.output[k] += weight * gain * (x[k] - x[n + k]).abs();
                let next = if k + 1 < n { x[k + 1] } else { 0.0 };
                let driven = usize::from(!self.is_high(k, half));
                let of_driven = if driven == 0 { x[k] } else { x[k] + next };
                means.switches[driven][k] +=
                    weight * self.switches[driven][k] * of_driven * of_driven;
                let (back, of_back) = match (full, driven) {
                    (false, _) => (2, x[k]),
                    (true, 0) => (2, x[k] + next),
                    (true, _) => (3, x[k]),
                };
                means.switches[back][k] += weight * self.switches[back][k] * of_back * of_back;
            }
        }
        means
    }
}

/// The circuit with all resistances at the temperatures that the solver found, and where it starts.
fn circuit<'a>(design: &'a Design, state: &SteadyState) -> (Circuit<'a>, State) {
    let n = state.phases.len();
    let (converter, point) = (&design.converter, &design.case.point);
    let losses = converter.losses.as_ref().unwrap_or_else(|| panic!("no losses"));
    let found = dissipation(design, state);
    let above = |junction: Option<Celsius>| junction.map_or(0.0, |t| t.0 - REFERENCE);
    let at = |parameter: Parameter, index: usize, slope: f64, temperature: f64| {
        losses.values(parameter)[index] * (1.0 + slope * temperature)
    };
    let switches = SwitchPlace::ALL.map(|place| {
        let of_phase = |k: usize| {
            let junction = found.phases[k].switches[place as usize].junction;
            at(Parameter::OnResistance, place.part(k, n), 0.007, above(junction))
        };
        (0..n).map(of_phase).collect()
    });
    let diode = |k: usize| above(found.phases[k].diode.junction);
    let secondary = |k: usize| {
        let slope = at(Parameter::RectifierResistance, k, 0.003, diode(k));
        let ohm = losses.values(Parameter::SecondaryWindingResistance)[k]
            + point.rectifier.diodes_in_path() * slope;
        converter.tanks[k].turns_ratio.powi(2) * ohm
    };
    let clamp = |k: usize| {
        let drop = converter.tanks[k].rectifier_drop.0 * (1.0 - 0.002 * diode(k));
        point.rectifier.clamp_voltage(
            converter.tanks[k].turns_ratio,
            point.output_voltage,
            Volt(drop),
        )
    };
    let primary = |k: usize| {
        losses.values(Parameter::PrimaryWindingResistance)[k]
            + converter.tanks[k].series_resistance.0
    };
    // Even phases begin with their low interval: half a period later than their own start.
    let tank = |k: usize| {
        let own = if k % 2 == 0 { state.phases[k].start } else { state.phases[k].middle };
        own.unwrap_or_else(|| panic!("the exact solver tells it"))
    };
    let mut x: State = (0..n).map(|k| tank(k).tank_current.0).collect();
    x.extend((0..n).map(|k| tank(k).magnetising_current.0));
    x.extend((0..n).map(|k| tank(k).capacitor_voltage.0));
    let voltages = chain_voltages(state, converter, point);
    for leg in 0..2 {
        for k in 0..n - 1 {
            let Some(own) = voltages.legs.get(leg) else {
                x.push(0.0);
                continue;
            };
            let capacitance = [&converter.flying, &converter.flying_return][leg][k].0;
            // Before phase k charges it, or after.
            let is_low = (k % 2 == 0) == (leg == 0);
            let ripple = 0.5 * state.phases[k].charge / capacitance;
            x.push(own.flying[k].middle.0 + if is_low { -ripple } else { ripple });
        }
    }
    let circuit = Circuit {
        design,
        switches,
        primary: (0..n).map(primary).collect(),
        secondary: (0..n).map(secondary).collect(),
        clamp: (0..n).map(clamp).collect(),
        half_period: 0.5 / state.switching_frequency.0,
    };
    (circuit, x)
}

/// Invented parts within ±3 %, losses within ±30 % and `share` times what they are.
fn chain(drive: Drive, share: f64) -> Design {
    let mut next = RandomSource::from(3).numbers(7);
    let mut losses = NOMINAL;
    losses.iter_mut().take(4).for_each(|own| *own = own.map(|ohm| ohm * share));
    let mut converter = heated(3, &losses);
    for parameter in Parameter::ALL {
        let width = if parameter.index_of_losses().is_some() { 0.3 } else { 0.03 };
        for index in 0..converter.parts(parameter) {
            if let Some(value) = converter.part_mut(parameter, index) {
                *value *= 1.0 + width * (2.0 * next() - 1.0);
            }
        }
    }
    let volt = if drive == Drive::FullBridge { 50.0 } else { 25.0 };
    let point = point(drive, Rectifier::FullBridge, (volt, 60.0));
    Design { converter, case: Case::new(point, BAND, Arrangement::Chain) }
}

/// How far the solver's answer lies from the circuit's at the same output current.
#[derive(Debug, Default)]
struct Apart {
    frequency: f64,
    deviation: f64,
    /// Of switches that lose more than a thousandth of the largest loss, relative.
    switch_loss: f64,
    /// Of the others, W.
    small_loss: f64,
}

fn apart(design: &Design) -> Apart {
    let state = solved(design, Method::Exact).unwrap_or_else(|| panic!("not solved"));
    let found = dissipation(design, &state);
    let (mut circuit, start) = circuit(design, &state);
    let wanted = design.case.point.output_current.0;
    // Secants on the half period.
    let mut before = None;
    let mut means = circuit.run(start.clone(), 250, 1000);
    for _ in 0..4 {
        let now = (circuit.half_period, means.output.iter().sum::<f64>());
        circuit.half_period = match before {
            None => 1.001 * now.0,
            Some((h, i)) => now.0 + (wanted - now.1) * (now.0 - h) / (now.1 - i),
        };
        before = Some(now);
        means = circuit.run(start.clone(), 250, 1000);
    }
    let mean = means.output.iter().sum::<f64>() / 3.0;
    let mut apart = Apart {
        frequency: (2.0 * circuit.half_period * state.switching_frequency.0 - 1.0).abs(),
        ..Apart::default()
    };
    let largest = means.switches.iter().flatten().copied().fold(0.0, f64::max);
    for k in 0..3 {
        let by_circuit = means.output[k] / mean;
        let by_solver = state.phases[k].output_current.0 / (wanted / 3.0);
        apart.deviation = apart.deviation.max((by_circuit - by_solver).abs());
        for place in SwitchPlace::ALL {
            let loss = found.phases[k].switches[place as usize].loss.0;
            let exact = means.switches[place as usize][k];
            if exact > 1e-3 * largest {
                apart.switch_loss = apart.switch_loss.max((loss / exact - 1.0).abs());
            } else {
                apart.small_loss = apart.small_loss.max((loss - exact).abs());
            }
        }
    }
    apart
}

/// What it costs to put all resistances of a phase into one beside its tank: with 3 % of the power lost
/// 0.02 percentage points of sharing, 0.2 % of a switch's loss and of the frequency. With a hundredth of
/// these losses a hundredth of that: the rest is right.
#[test]
fn one_resistance_a_tank_does_as_well_as_each_where_it_stands() {
    for drive in Drive::ALL {
        let own = apart(&chain(drive, 1.0));
        assert!(own.deviation < 3e-4 && own.switch_loss < 3e-3, "{drive:?}: {own:?}");
        assert!(own.frequency < 3e-3 && own.small_loss < 1e-3, "{drive:?}: {own:?}");
        let own = apart(&chain(drive, 0.01));
        assert!(own.deviation < 2e-5 && own.switch_loss < 5e-5, "{drive:?}: {own:?}");
        assert!(own.frequency < 5e-5 && own.small_loss < 1e-5, "{drive:?}: {own:?}");
    }
}

/// By hand: at the reported currents each switch has the temperature that its loss makes, and the loss
/// that its temperature makes. Chain and paralleled reference.
#[test]
fn junction_temperatures_solve_their_equation() {
    for arrangement in Arrangement::ALL {
        let mut design = chain(Drive::FullBridge, 1.0);
        design.case = Case::new(design.case.point.clone(), BAND, arrangement);
        let state = solved(&design, Method::Exact).unwrap();
        let found = dissipation(&design, &state);
        let losses = design.converter.losses.as_ref().unwrap();
        for (k, phase) in state.phases.iter().enumerate() {
            let rms = phase.switches.high.rms.0;
            let own = found.phases[k].switches[SwitchPlace::High as usize];
            let junction = own.junction.unwrap().0;
            let cold = losses.values(Parameter::OnResistance)[k] * rms * rms;
            let warm = cold * (1.0 + 0.007 * (junction - REFERENCE));
            let thermal = losses.values(Parameter::SwitchThermalResistance)[k];
            assert!((own.loss.0 / warm - 1.0).abs() < 1e-12);
            assert!((junction - AMBIENT - thermal * warm).abs() < 1e-9, "{junction} °C");
            assert!(junction > AMBIENT + 1.0);
        }
    }
}

/// Both solvers, and both ways of the exact one: from a cold start and from a solution nearby. Thread
/// count and start must not matter; the averaged solver's currents are its own.
#[test]
fn a_start_nearby_leads_to_the_same_temperatures() {
    for method in [Method::Exact, Method::Averaged] {
        for drive in Drive::ALL {
            let design = chain(drive, 1.0);
            let nominal = heated(3, &NOMINAL);
            let (_, case) = method.prepare(&nominal, design.case.clone());
            let cold = solved(&design, method).unwrap();
            let warm = solved(&Design { case, ..chain(drive, 1.0) }, method).unwrap();
            let hottest = |state| dissipation(&design, state).hottest_switch().unwrap().0;
            assert!((hottest(&cold) - hottest(&warm)).abs() < 1e-6, "{}", method.name());
            let ratio = cold.switching_frequency.0 / warm.switching_frequency.0;
            assert!((ratio - 1.0).abs() < 1e-8, "{}", method.name());
        }
    }
}

/// Where the switches alone respond, a warmer ambient raises the loss and, above resonance, lowers the
/// frequency.
#[test]
fn a_warmer_ambient_costs() {
    let at = |ambient: f64| {
        let mut design = chain(Drive::FullBridge, 1.0);
        if let Some(own) = design.case.point.condition.self_heating.as_mut() {
            own.ambient = Celsius(ambient);
        }
        design.converter.responses.retain(|own| own.parameter == Parameter::OnResistance);
        let state = solved(&design, Method::Exact).unwrap();
        let found = dissipation(&design, &state);
        (found.hottest_switch().unwrap().0, found.total().0, state.switching_frequency.0)
    };
    let all: Vec<_> = [-20.0, 25.0, 60.0, 100.0].map(at).into();
    for pair in all.windows(2) {
        let [(t, loss, f), (warmer, more, lower)] = [pair[0], pair[1]];
        assert!(warmer > t + 35.0 && more > loss && lower < f, "{pair:?}");
    }
}

/// By hand: with Θ α R I² ≥ 1 a switch has no steady temperature. That is told, not dropped.
#[test]
fn a_switch_that_runs_away_is_not_solved() {
    let mut design = chain(Drive::FullBridge, 1.0);
    let losses = design.converter.losses.as_mut().unwrap();
    losses.values_mut(Parameter::SwitchThermalResistance)[1] = 60.0;
    let outcome = Method::Exact.solve(&design.converter, &design.case);
    assert!(matches!(outcome, Outcome::NotSolved(Unsolved::ThermalRunaway)), "{outcome:?}");
}

/// A resistance told apart is one in series where the currents are the same: two paralleled phases in
/// full bridge, whose switches are on half the time each, two at a time.
#[test]
fn switches_told_apart_are_a_series_resistance() {
    let ohm = 0.03;
    let mut apart =
        Converter::uniform(2, Tank { series_resistance: Ohm(0.0), ..tank() }, Farad(40e-6));
    let switches = ParalleledSwitches { on_resistance: 4.0, thermal_resistance: 1.0 };
    let only = [Some(ohm / 2.0), None, None, None, None, None];
    apart.losses = Some(Box::new(LossParts::uniform(2, &only, switches)));
    let tank = Tank { series_resistance: Ohm(ohm), ..tank() };
    let together = Converter::uniform(2, tank, Farad(40e-6));
    let mut point = point(Drive::FullBridge, Rectifier::FullBridge, (80.0, 20.0));
    point.condition = Condition::default();
    let case = Case::new(point, BAND, Arrangement::Paralleled);
    let [one, other] = [apart, together]
        .map(|converter| solved(&Design { converter, case: case.clone() }, Method::Exact).unwrap());
    assert!((one.switching_frequency.0 / other.switching_frequency.0 - 1.0).abs() < 1e-9);
    assert!((one.phases[0].rms_current.0 / other.phases[0].rms_current.0 - 1.0).abs() < 1e-9);
}
