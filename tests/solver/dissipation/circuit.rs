//! A circuit in which every resistance stands where it is.

use super::designs::*;
use fairphase::converter::{Drive, Parameter, SwitchPlace};
use fairphase::solver::{Method, SteadyState, chain_voltages};
use fairphase::units::{Celsius, Volt};

/// A chain of which every resistance stands where it is: each switch its own, the secondary winding and
/// the diodes behind the magnetising inductance. SI units. Integrated in small steps (Runge and Kutta's
/// of fourth order), whatever the solver assumes.
struct Circuit<'a> {
    design: &'a Design,
    /// On-resistances at their temperatures, by place and phase.
    switches: [Vec<f64>; 4],
    /// Resistance beside each tank.
    primary: Vec<f64>,
    /// Behind its magnetising inductance, for both signs of the current.
    secondary: Vec<[Secondary; 2]>,
    half_period: f64,
}

/// What one half wave meets.
#[derive(Clone, Copy)]
struct Secondary {
    /// Resistance seen from the primary.
    resistance: f64,
    /// Voltage of the winding seen from the primary, before resistances.
    clamp: f64,
    /// Drop and slope resistance of its diode.
    drop: f64,
    slope: f64,
}

fn of_sign(both: &[Secondary; 2], sign: i8) -> &Secondary {
    &both[usize::from(sign < 0)]
}

/// Whether the driven leg of phase `k` is high in this half of the period.
fn is_high(k: usize, half: usize) -> bool {
    (k + half).is_multiple_of(2)
}

/// Tank currents, magnetising currents, capacitor voltages; then the flying capacitors of both legs.
type State = Vec<f64>;

impl Circuit<'_> {
    fn phases(&self) -> usize {
        self.primary.len()
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
                let node = if is_high(k, half) == (leg == 0) {
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
                let own = of_sign(&self.secondary[k], signs[k]);
                let winding = f64::from(signs[k]) * own.clamp + own.resistance * (i - im);
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
                let sign = if winding > 0.0 { 1 } else { -1 };
                if winding.abs() > of_sign(&self.secondary[k], sign).clamp {
                    signs[k] = sign;
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
    /// One diode of either half wave.
    diodes: Vec<[f64; 2]>,
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
                if d.abs() < 1e-9 {
                    0
                } else if d > 0.0 {
                    1
                } else {
                    -1
                }
            })
            .collect();
        let mut means = Means {
            output: vec![0.0; n],
            switches: std::array::from_fn(|_| vec![0.0; n]),
            diodes: vec![[0.0; 2]; n],
        };
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
                let secondary = tank.turns_ratio * (x[k] - x[n + k]);
                let own = of_sign(&self.secondary[k], if secondary < 0.0 { -1 } else { 1 });
                means.diodes[k][usize::from(secondary < 0.0)] +=
                    weight * (own.drop + own.slope * secondary.abs()) * secondary.abs();
                let next = if k + 1 < n { x[k + 1] } else { 0.0 };
                let driven = usize::from(!is_high(k, half));
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

/// The circuit with all resistances at the temperatures that the solver found.
fn circuit<'a>(design: &'a Design, state: &SteadyState) -> Circuit<'a> {
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
    let secondary = |k: usize, half_wave: usize| {
        let temperature = above(found.phases[k].diodes[half_wave].junction);
        let slope = at(Parameter::RectifierResistance, k, 0.003, temperature);
        let ohm = losses.values(Parameter::SecondaryWindingResistance)[k]
            + point.rectifier.diodes_in_path() * slope;
        let tank = &converter.tanks[k];
        let drop = tank.rectifier_drop.0 * (1.0 - 0.002 * temperature);
        let (ratio, output) = (tank.turns_ratio, point.output_voltage);
        Secondary {
            resistance: ratio.powi(2) * ohm,
            clamp: point.rectifier.clamp_voltage(ratio, output, Volt(drop)),
            drop,
            slope,
        }
    };
    let primary = |k: usize| {
        losses.values(Parameter::PrimaryWindingResistance)[k]
            + converter.tanks[k].series_resistance.0
    };
    Circuit {
        design,
        switches,
        primary: (0..n).map(primary).collect(),
        secondary: (0..n).map(|k| [0, 1].map(|half_wave| secondary(k, half_wave))).collect(),
        half_period: 0.5 / state.switching_frequency.0,
    }
}

/// Where it starts: at the solver's steady state.
fn start_of(design: &Design, state: &SteadyState) -> State {
    let n = state.phases.len();
    let (converter, point) = (&design.converter, &design.case.point);
    // Even phases begin with their low interval: half a period later than their own start.
    let tank = |k: usize| {
        let own = if k.is_multiple_of(2) { state.phases[k].start } else { state.phases[k].middle };
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
    x
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
    /// Of diodes, relative.
    diode_loss: f64,
}

fn apart(design: &Design) -> Apart {
    let state = solved(design, Method::Exact).unwrap_or_else(|| panic!("not solved"));
    let found = dissipation(design, &state);
    let (mut circuit, start) = (circuit(design, &state), start_of(design, &state));
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
        for (loss, exact) in found.phases[k].diodes.iter().zip(means.diodes[k]) {
            apart.diode_loss = apart.diode_loss.max((loss.loss.0 / exact - 1.0).abs());
        }
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
        assert!(own.diode_loss < 3e-3, "{drive:?}: {own:?}");
        let own = apart(&chain(drive, 0.01));
        assert!(own.deviation < 2e-5 && own.switch_loss < 5e-5, "{drive:?}: {own:?}");
        assert!(own.frequency < 5e-5 && own.small_loss < 1e-5, "{drive:?}: {own:?}");
        assert!(own.diode_loss < 5e-5, "{drive:?}: {own:?}");
    }
}
