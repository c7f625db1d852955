//! The dead time against closed forms and limits.

use arrayvec::ArrayVec;

use super::groups::{BitSet, Groups};
use super::leg::MovingLeg;
use super::lone_node::{Hold, LoneNode};
use super::motion::Motion;
use super::nodes::{LegCapacitances, LegNodes, PerNode};
use super::response::LegResponse;
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

const CL: f64 = 300e-12;
const CH: f64 = 200e-12;
const E: f64 = 100.0;

fn capacitances(low: f64, high: f64) -> LegCapacitances {
    LegCapacitances { low: [low; MAX_PHASES], high: [high; MAX_PHASES] }
}

fn chain(phases: usize) -> LegNodes {
    LegNodes::chain(phases, capacitances(CL, CH), [E; MAX_PHASES])
}

/// One number for each of the first `phases` nodes.
fn nodes(phases: usize, value: impl Fn(usize) -> f64) -> PerNode {
    let mut all = [0.0; MAX_PHASES];
    (0..phases).for_each(|k| all[k] = value(k));
    all
}

/// Phases 1, 3, … fall.
fn falls(k: usize) -> bool {
    k.is_multiple_of(2)
}

/// A tank of this inductance whose capacitor has the voltage `holding`; its rectifier conducts all the while,
/// as its clamp is at zero volts.
fn tank(inductance: f64, holding: f64) -> HeldTank {
    HeldTank {
        resonant_inductance: inductance,
        magnetising_inductance: 1e3 * inductance,
        resistance: 0.0,
        clamp: 0.0,
        capacitor_voltage: holding,
    }
}

/// A leg with such tanks.
fn motion(leg: MovingLeg, inductance: f64, holding: f64, current: impl Fn(usize) -> f64) -> Motion {
    let (phases, tank) = (leg.circuit.phases(), tank(inductance, holding));
    let conducting = |k: usize| {
        let tank = current(k);
        TankCurrents { tank, magnetising: 0.0, rectifier: if tank > 0.0 { 1 } else { -1 } }
    };
    let currents: ArrayVec<TankCurrents, MAX_PHASES> = (0..phases).map(conducting).collect();
    let legs = std::iter::once(leg).collect();
    Motion::new(std::iter::repeat_n(tank, phases).collect(), currents, legs)
}

/// A leg at the begin of the dead time.
fn begin(circuit: LegNodes) -> MovingLeg {
    let start = nodes(circuit.phases(), |k| if falls(k) { circuit.interval(k) } else { 0.0 });
    MovingLeg::new(circuit, 1.0, start)
}

/// An inductance so large that the current is constant.
const CONSTANT: f64 = 1e9;

fn balanced(current: f64) -> impl Fn(usize) -> f64 {
    move |k| if falls(k) { current } else { -current }
}

#[track_caller]
fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} against {expected}");
}

/// A node by itself with this current out of it, on an inductance against a capacitor of voltage `holding`.
fn lone(node: f64, capacitance: f64, inductance: f64, holding: f64, current: f64) -> LoneNode {
    let tank = tank(inductance, holding);
    let rectifier = if current > 0.0 { 1 } else { -1 };
    let currents = TankCurrents { tank: current, magnetising: 0.0, rectifier };
    LoneNode::new(tank, currents, node, E, capacitance)
}

/// S = E − I t/(CL + CH), and E(t) from below.
#[test]
fn a_node_alone_swings_in_a_straight_line_under_constant_current() {
    let swing = (CL + CH) * E / 2.0;
    let falling = lone(E, CL + CH, CONSTANT, 0.0, 2.0);
    let rising = lone(0.0, CL + CH, CONSTANT, 0.0, -2.0);
    for share in [1e-3, 0.3, 0.999] {
        let (mut falls, mut rises) = (falling, rising);
        falls.advance(share * swing).unwrap();
        rises.advance(share * swing).unwrap();
        close(falls.node, (1.0 - share) * E, 1e-9 * E);
        close(rises.node, share * E, 1e-9 * E);
    }
    for (mut moved, end, hold) in [(falling, 0.0, Hold::LowDiode), (rising, E, Hold::HighDiode)] {
        moved.advance(1.5 * swing).unwrap();
        close(moved.node, end, 1e-9 * E);
        // The charge that the node did not need went through the diode.
        close(moved.carried, 0.5 * (CL + CH) * E, 1e-6 * CL * E);
        assert_eq!(moved.hold, hold);
        moved.highest.iter().for_each(|own| close(*own, E, 1e-9 * E));
    }
}

/// S − V = (E − V) cos ωt − i₀ Z sin ωt, with ω = 1/√(L C), Z = √(L/C), V the capacitor's voltage.
#[test]
fn a_node_alone_rings_with_its_inductance() {
    let (inductance, current, holding) = (5e-6_f64, 0.4, 60.0);
    let omega = 1.0 / (inductance * (CL + CH)).sqrt();
    let impedance = (inductance / (CL + CH)).sqrt();
    for angle in [0.2_f64, 0.6, 1.0] {
        let mut moved = lone(E, CL + CH, inductance, holding, current);
        moved.advance(angle / omega).unwrap();
        let (cos, sin) = (libm::cos(angle), libm::sin(angle));
        let expected = holding + (E - holding) * cos - current * impedance * sin;
        assert!(expected > 0.0, "before the diode conducts");
        close(moved.node, expected, 1e-12 * E);
    }
}

/// With so small a current it turns at tan ωt = −i₀ Z/(S₀ − V), at V + √((S₀ − V)² + (i₀ Z)²).
#[test]
fn a_node_that_turns_leaves_its_height_behind() {
    let (inductance, current, holding) = (5e-6_f64, -0.05, 30.0);
    let impedance = (inductance / (CL + CH)).sqrt();
    let mut moved = lone(10.0, CL + CH, inductance, holding, current);
    let omega = 1.0 / (inductance * (CL + CH)).sqrt();
    moved.advance(4.0 / omega).unwrap();
    let top = holding + ((10.0 - holding).powi(2) + (current * impedance).powi(2)).sqrt();
    assert!(moved.node < top && top < E);
    close(moved.highest[0], top, 1e-9 * E);
}

/// How far the tied pairs stay behind under balanced constant currents, the last pair first. Adding
/// the equations of both nodes of a pair, with x its own and x′ the residuals of the pairs beside
/// it, leaves
///
/// `(2 CL + 2 CH) x − CH x′ − CH x″ = 0`, and for the last pair `(2 CL + CH) x − CH x′ = 2 CH E`.
///
/// A pair of phases 1 and 2 needs less than no charge and arrives. For two phases alone
/// `(2 CL + CH) x = CH E`.
fn residuals(phases: usize) -> Vec<f64> {
    if phases == 2 {
        return vec![CH * E / (2.0 * CL + CH)];
    }
    let mut x = vec![0.0; phases / 2];
    for _ in 0..200 {
        for n in 0..x.len() {
            let is_first_of_all = 2 * (n + 1) == phases;
            let below = if n == 0 { 2.0 * E } else { x[n - 1] };
            let own = 2.0 * CL + if n == 0 { CH } else { 2.0 * CH };
            let above = x.get(n + 1).copied().unwrap_or(0.0);
            x[n] = if is_first_of_all { 0.0 } else { CH * (below + above) / own };
        }
    }
    x
}

/// With balanced constant currents low switch N − 1 never reaches zero, whatever the current and
/// the dead time: its node stops at 2 CH E/(2 CL + CH) for three and four phases, at half of that
/// for two. Node N stands at E above it. In longer chains the pairs above stay behind as well.
#[test]
fn balanced_constant_currents_leave_pairs_half_way() {
    close(residuals(2)[0], CH * E / (2.0 * CL + CH), 1e-9);
    close(residuals(3)[0], 2.0 * CH * E / (2.0 * CL + CH), 1e-9);
    close(residuals(4)[0], 2.0 * CH * E / (2.0 * CL + CH), 1e-9);
    for phases in 2..=MAX_PHASES {
        // The phase before the last one has to fall for the pair to tie at its end.
        let falling = |k: usize| falls(k) == falls(phases - 2);
        let start = nodes(phases, |k| if falling(k) { E } else { 0.0 });
        let leg = MovingLeg::new(chain(phases), 1.0, start);
        let mut moved = motion(leg, CONSTANT, 0.0, |k| if falling(k) { 3.0 } else { -3.0 });
        for time in [1e-6, 100e-6] {
            moved.advance(time).unwrap();
            let at = &moved.legs[0].nodes;
            for (n, residual) in residuals(phases).into_iter().enumerate() {
                let k = phases - 2 - 2 * n;
                close(at[k], residual, 1e-5 * E);
                close(at[k + 1], E + residual, 1e-5 * E);
            }
        }
    }
}

/// The charge for a full swing while both neighbours move the other way:
/// `q(k) = (CL(k) + CH(k) + CH(k+1)) E(k) + CH(k) E(k−1) + CH(k+1) E(k+1)`. It is what the nodes take
/// when all of them swing.
#[test]
fn full_swings_take_the_charges_of_the_closed_form() {
    for phases in 1..=MAX_PHASES {
        let low = nodes(phases, |k| CL * (1.0 + 0.1 * k as f64));
        let high = nodes(phases, |k| CH * (1.3 - 0.05 * k as f64));
        let interval = nodes(phases, |k| E * (1.0 + 0.02 * (k * k % 5) as f64));
        let circuit = LegNodes::chain(phases, LegCapacitances { low, high }, interval);
        let swing = nodes(phases, |k| if falls(k) { -interval[k] } else { interval[k] });
        for k in 0..phases {
            let above = if k > 0 { high[k] * interval[k - 1] } else { 0.0 };
            let next = if k + 1 < phases { high[k + 1] } else { 0.0 };
            let below = if k + 1 < phases { next * interval[k + 1] } else { 0.0 };
            let whole = (low[k] + high[k] + next) * interval[k] + above + below;
            let expected = if falls(k) { -whole } else { whole };
            close(circuit.charge(k, &swing), expected, 1e-12 * whole);
        }
    }
}

/// After no time at all nothing has moved: a low switch turns on at E, the first high switch at E
/// and the others at 2 E, of which the neighbour's fall takes one half.
#[test]
fn without_dead_time_the_switches_turn_on_at_full_voltage() {
    let mut moved = motion(begin(chain(3)), 5e-6, 0.0, balanced(3.0));
    moved.advance(1e-15).unwrap();
    let leg = &moved.legs[0];
    for (switch, expected) in [(0, E), (2, E), (LegNodes::<MAX_PHASES>::high_switch(1), 2.0 * E)] {
        close(leg.voltage(switch), expected, 1e-3 * E);
    }
    // r = E, −E, E: low switches 1, 2, 3 and high switch 1 change by E, high switches 2 and 3 by 2 E.
    let residual = nodes(3, |k| if falls(k) { E } else { -E });
    let expected = 0.5 * E * E * (3.0 * CL + CH + 2.0 * 4.0 * CH);
    close(leg.circuit.energy(&residual), expected, 1e-12 * expected);
}

/// Nodes that discharge through switches, one resistance for each phase, on from a time of its own.
struct Discharge {
    circuit: LegNodes,
    resistances: [f64; 4],
    on: [f64; 4],
}

impl Discharge {
    /// Lets the nodes go on in small steps, and gives the heat of each resistance.
    fn heats(&self, nodes: &mut PerNode, until: f64) -> [f64; 4] {
        let phases = self.circuit.phases();
        let mut free = LegResponse::NONE;
        free.set(&self.circuit, &Groups::new(&self.circuit, BitSet::default()));
        let (step, mut heats, mut time) = (2e-14, [0.0; 4], 0.0);
        while time < until {
            let mut drawn = [0.0; MAX_PHASES];
            for k in (0..phases).filter(|k| time >= self.on[*k]) {
                let switch = if falls(k) { k } else { LegNodes::<MAX_PHASES>::high_switch(k) };
                let voltage = self.circuit.voltage(switch, nodes);
                let current = voltage / self.resistances[k];
                heats[k] += voltage * current * step;
                // A low switch draws it from its node, a high one from the node before.
                drawn[k] += if falls(k) { current } else { -current };
                if !falls(k) && k > 0 {
                    drawn[k - 1] += current;
                }
            }
            let velocities = free.velocities(&drawn);
            nodes.iter_mut().zip(velocities).for_each(|(node, v)| *node += v * step);
            time += step;
        }
        heats
    }
}

/// The energy that on-resistances turn to heat is ½ rᵀMr, in whatever order and through whatever
/// resistances the switches turn on.
#[test]
fn resistances_of_any_order_take_the_energy_lost() {
    let off = [0.3 * E, -0.1 * E, 0.6 * E, 0.2 * E];
    let target = |k: usize| if falls(k) { 0.0 } else { E };
    let expected = chain(4).energy(&nodes(4, |k| off[k]));
    for (resistances, on) in
        [([0.1, 0.2, 0.1, 0.3], [0.0; 4]), ([0.5, 0.1, 0.2, 0.1], [3e-9, 1e-9, 2e-9, 0.0])]
    {
        let mut at = nodes(4, |k| target(k) + off[k]);
        let heats = Discharge { circuit: chain(4), resistances, on }.heats(&mut at, 8e-9);
        let heat = heats.iter().sum();
        (0..4).for_each(|k| close(at[k], target(k), 1e-3 * E));
        close(heat, expected, 2e-3 * expected);
    }
}

/// Where the resistances make all switches close alike, each turns the share into heat that it is told to
/// lose. By hand: R = V τ/q, with the charge q that its node, and a high switch behind it, give off.
#[test]
fn switches_that_close_alike_lose_what_they_are_told_to() {
    let off = [0.5 * E, -0.1 * E, 0.6 * E, -0.2 * E];
    let target = |k: usize| if falls(k) { 0.0 } else { E };
    let (circuit, off_target) = (chain(4), nodes(4, |k| off[k]));
    let switch = |k: usize| if falls(k) { k } else { LegNodes::<MAX_PHASES>::high_switch(k) };
    let told = circuit.energies(&off_target, switch);
    let at = nodes(4, |k| target(k) + off[k]);
    let tau = 1e-9;
    let resistance = |k: usize| {
        let drawn = if falls(k) && k < 3 { circuit.charge(k + 1, &off_target) } else { 0.0 };
        let charge = circuit.charge(k, &off_target) + drawn;
        circuit.voltage(switch(k), &at) * tau / charge * if falls(k) { 1.0 } else { -1.0 }
    };
    let resistances = [0, 1, 2, 3].map(resistance);
    assert!(resistances.iter().all(|ohm| *ohm > 0.0), "{resistances:?}");
    let discharge = Discharge { circuit: chain(4), resistances, on: [0.0; 4] };
    let heats = discharge.heats(&mut at.clone(), 8e-9);
    let all: f64 = told.iter().sum();
    close(all, circuit.energy(&off_target), 1e-12 * all);
    (0..4).for_each(|k| close(told[k], heats[k], 2e-3 * all));
    assert!(told[..4].iter().all(|own| *own > 1e-3 * all), "each has a part: {told:?}");
}

/// Whatever the currents, no switch voltage falls below zero, also in the longest chain.
#[test]
fn diodes_keep_every_switch_voltage_from_falling_below_zero() {
    for seed in 0..20_u32 {
        // Currents without any balance, of either sign.
        let current = |k: usize| f64::from((seed * 7 + 13 * u32::try_from(k).unwrap()) % 29) - 11.5;
        let mut moved = motion(begin(chain(MAX_PHASES)), 4e-6, 40.0, current);
        for _ in 0..40 {
            moved.advance(10e-9).unwrap();
            let leg = &moved.legs[0];
            let lowest = leg.switches().map(|s| leg.voltage(s)).fold(f64::INFINITY, f64::min);
            assert!(lowest > -1e-8 * E, "seed {seed}: {lowest} V");
            assert!(leg.switches().all(|s| leg.diode_currents[s] > -1e-6), "seed {seed}");
        }
    }
}

/// Falling phases first: with constant currents each swing needs (CL + CH(k) + CH(k+1)) E and no
/// more, where all together would leave a pair behind.
#[test]
fn a_node_whose_neighbours_are_held_needs_its_own_capacitance_alone() {
    for charge in [CL + 2.0 * CH, CL + CH] {
        for (enough, share) in [(false, 0.99), (true, 1.01)] {
            let mut moved = lone(E, charge, CONSTANT, 0.0, 3.0);
            moved.advance(share * charge * E / 3.0).unwrap();
            close(moved.node, if enough { 0.0 } else { 0.01 * E }, 1e-6 * E);
        }
    }
}
