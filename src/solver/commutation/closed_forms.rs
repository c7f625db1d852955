//! The dead time against closed forms and limits.

use arrayvec::ArrayVec;

use super::dead_time::STEPS;
use super::motion::{Motion, MovingLeg};
use super::nodes::{LegCapacitances, LegNodes, MAX_SWITCHES, PerNode};
use super::tank::{HeldTank, TankCurrents};
use crate::converter::MAX_PHASES;

const CL: f64 = 300e-12;
const CH: f64 = 200e-12;
const E: f64 = 100.0;

fn capacitances(low: f64, high: f64) -> LegCapacitances {
    LegCapacitances { low: [low; MAX_PHASES], high: [high; MAX_PHASES] }
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

/// A chain or legs by themselves at the begin of the dead time, tank k carrying `current(k)` through
/// an inductance against a capacitor of voltage `holding`.
fn motion(
    circuit: LegNodes,
    inductance: f64,
    holding: f64,
    current: impl Fn(usize) -> f64,
) -> Motion {
    let phases = circuit.phases();
    let tank = HeldTank {
        resonant_inductance: inductance,
        magnetising_inductance: 1e3 * inductance,
        resistance: 0.0,
        clamp: 0.0,
        capacitor_voltage: holding,
    };
    // The rectifier conducts all the while: its clamp is at zero volts.
    let currents: ArrayVec<TankCurrents, MAX_PHASES> = (0..phases)
        .map(|k| {
            let tank = current(k);
            TankCurrents { tank, magnetising: 0.0, rectifier: if tank > 0.0 { 1 } else { -1 } }
        })
        .collect();
    let start = nodes(phases, |k| if falls(k) { circuit.interval(k) } else { 0.0 });
    let legs = std::iter::once(MovingLeg::new(circuit, 1.0, start)).collect();
    Motion::new(std::iter::repeat_n(tank, phases).collect(), currents, legs)
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

/// S = E − I t/(CL + CH), and E(t) from below.
#[test]
fn a_leg_alone_swings_in_a_straight_line_under_constant_current() {
    let circuit = LegNodes::alone(2, capacitances(CL, CH), [E; MAX_PHASES]);
    let swing = (CL + CH) * E / 2.0;
    for share in [1e-3, 0.3, 0.999] {
        let mut moved = motion(circuit.clone(), CONSTANT, 0.0, balanced(2.0));
        moved.advance(share * swing, share * swing / STEPS);
        close(moved.legs[0].nodes[0], (1.0 - share) * E, 1e-6 * E);
        close(moved.legs[0].nodes[1], share * E, 1e-6 * E);
    }
    let mut moved = motion(circuit, CONSTANT, 0.0, balanced(2.0));
    moved.advance(1.5 * swing, swing / STEPS);
    close(moved.legs[0].nodes[0], 0.0, 1e-9 * E);
    close(moved.legs[0].nodes[1], E, 1e-9 * E);
    // The charge that the node did not need went through the diode.
    close(moved.legs[0].carried[0], 0.5 * (CL + CH) * E, 1e-3 * CL * E);
    close(moved.diode_current(0, 0), 2.0, 1e-6);
}

/// S − V = (E − V) cos ωt − i₀ Z sin ωt, with ω = 1/√(L C), Z = √(L/C), V the capacitor's voltage.
#[test]
fn a_leg_alone_rings_with_its_inductance() {
    let (inductance, current, holding) = (5e-6_f64, 0.4, 60.0);
    let omega = 1.0 / (inductance * (CL + CH)).sqrt();
    let impedance = (inductance / (CL + CH)).sqrt();
    for angle in [0.2_f64, 0.6, 1.0] {
        let circuit = LegNodes::alone(1, capacitances(CL, CH), [E; MAX_PHASES]);
        let mut moved = motion(circuit, inductance, holding, |_| current);
        moved.advance(angle / omega, angle / omega / STEPS);
        let expected =
            holding + (E - holding) * libm::cos(angle) - current * impedance * libm::sin(angle);
        assert!(expected > 0.0, "before the diode conducts");
        close(moved.legs[0].nodes[0], expected, 1e-5 * E);
    }
}

/// With balanced constant currents low switch N − 1 never reaches zero: its node stops at
/// CH E/(2 CL + CH) for two phases and at twice that for more, node N at E above it. All others
/// arrive.
#[test]
fn balanced_constant_currents_leave_the_last_pair_half_way() {
    for phases in 2..=MAX_PHASES {
        let share = if phases == 2 { 1.0 } else { 2.0 };
        let residual = share * CH * E / (2.0 * CL + CH);
        // The phase before the last one has to fall for the pair to tie at its end.
        let sign = if falls(phases - 2) { 1.0 } else { -1.0 };
        let falling = |k: usize| (sign > 0.0) == falls(k);
        let circuit = LegNodes::chain(phases, capacitances(CL, CH), [E; MAX_PHASES]);
        let start = nodes(phases, |k| if falling(k) { E } else { 0.0 });
        let mut moved = motion(circuit.clone(), CONSTANT, 0.0, |k| sign * balanced(3.0)(k));
        moved.legs[0] = MovingLeg::new(circuit, 1.0, start);
        for time in [1e-6, 100e-6] {
            moved.advance(time, time / STEPS);
            let nodes = &moved.legs[0].nodes;
            close(nodes[phases - 2], residual, 1e-6 * E);
            close(nodes[phases - 1], E + residual, 1e-6 * E);
            for (k, node) in nodes.iter().enumerate().take(phases - 2) {
                close(*node, if falling(k) { 0.0 } else { E }, 1e-6 * E);
            }
        }
    }
}

/// The charge for a full swing while both neighbours move the other way:
/// `q(k) = (CL(k) + CH(k) + CH(k+1)) E(k) + CH(k) E(k−1) + CH(k+1) E(k+1)`. Drawn from all nodes
/// it brings all of them to their targets.
#[test]
fn the_charges_of_full_swings_move_every_node_to_its_target() {
    for phases in 1..=MAX_PHASES {
        let low = nodes(phases, |k| CL * (1.0 + 0.1 * k as f64));
        let high = nodes(phases, |k| CH * (1.3 - 0.05 * k as f64));
        let interval = nodes(phases, |k| E * (1.0 + 0.02 * (k * k % 5) as f64));
        let circuit = LegNodes::chain(phases, LegCapacitances { low, high }, interval);
        let charge = nodes(phases, |k| {
            let above = if k > 0 { high[k] * interval[k - 1] } else { 0.0 };
            let next = if k + 1 < phases { high[k + 1] } else { 0.0 };
            let below = if k + 1 < phases { next * interval[k + 1] } else { 0.0 };
            let whole = (low[k] + high[k] + next) * interval[k] + above + below;
            if falls(k) { whole } else { -whole }
        });
        let mut moved = nodes(phases, |k| if falls(k) { interval[k] } else { 0.0 });
        circuit.draw(&mut moved, &charge);
        for k in 0..phases {
            close(moved[k], if falls(k) { 0.0 } else { interval[k] }, 1e-9 * E);
        }
    }
}

/// After no time at all nothing has moved: a low switch turns on at E, the first high switch at E
/// and the others at 2 E, of which the neighbour's fall takes one half.
#[test]
fn without_dead_time_the_switches_turn_on_at_full_voltage() {
    let circuit = LegNodes::chain(3, capacitances(CL, CH), [E; MAX_PHASES]);
    let mut moved = motion(circuit, 5e-6, 0.0, balanced(3.0));
    moved.advance(1e-15, 1e-15 / STEPS);
    let leg = &moved.legs[0];
    for (switch, expected) in [(0, E), (2, E), (3 + 1, 2.0 * E)] {
        close(leg.voltage(switch), expected, 1e-3 * E);
    }
    // r = E, −E, E: low switches 1, 2, 3 and high switch 1 change by E, high switches 2 and 3 by 2 E.
    let residual = nodes(3, |k| if falls(k) { E } else { -E });
    let expected = 0.5 * E * E * (3.0 * CL + CH + 2.0 * 4.0 * CH);
    close(leg.circuit.energy(&residual), expected, 1e-12 * expected);
}

/// The energy that on-resistances turn to heat is ½ rᵀMr, in whatever order and through whatever
/// resistances the switches turn on: here each at a time of its own, with the nodes' circuit
/// integrated in small steps.
#[test]
fn resistances_of_any_order_take_the_energy_lost() {
    let phases = 4;
    let circuit = LegNodes::chain(phases, capacitances(CL, CH), [E; MAX_PHASES]);
    let target = nodes(phases, |k| if falls(k) { 0.0 } else { E });
    let off = [0.3 * E, -0.1 * E, 0.6 * E, 0.2 * E];
    let expected = circuit.energy(&nodes(phases, |k| off[k]));
    for (resistances, order) in [
        ([0.1, 0.2, 0.1, 0.3], [0.0, 0.0, 0.0, 0.0]),
        ([0.5, 0.1, 0.2, 0.1], [3e-9, 1e-9, 2e-9, 0.0]),
    ] {
        let mut at = nodes(phases, |k| target[k] + off[k]);
        let (step, mut heat, mut time) = (2e-14, 0.0, 0.0);
        while time < 8e-9 {
            for k in (0..phases).filter(|k| time >= order[*k]) {
                let switch = if falls(k) { k } else { phases + k };
                let voltage = circuit.voltage(switch, &at);
                let current = voltage / resistances[k];
                heat += voltage * current * step;
                circuit.push(&mut at, switch, -current * step);
            }
            time += step;
        }
        (0..phases).for_each(|k| close(at[k], target[k], 1e-3 * E));
        close(heat, expected, 2e-3 * expected);
    }
}

/// Whatever the currents, no switch voltage falls below zero, also in the longest chain.
#[test]
fn diodes_keep_every_switch_voltage_from_falling_below_zero() {
    for seed in 0..20_u32 {
        let circuit = LegNodes::chain(MAX_PHASES, capacitances(CL, CH), [E; MAX_PHASES]);
        // Currents without any balance, of either sign.
        let current = |k: usize| f64::from((seed * 7 + 13 * u32::try_from(k).unwrap()) % 29) - 11.5;
        let mut moved = motion(circuit, 4e-6, 40.0, current);
        for _ in 0..10 {
            moved.advance(40e-9, 40e-9 / STEPS);
            let leg = &moved.legs[0];
            let lowest = (0..MAX_SWITCHES).map(|s| leg.voltage(s)).fold(f64::INFINITY, f64::min);
            assert!(lowest > -1e-8 * E, "seed {seed}: {lowest} V");
        }
    }
}

/// Falling phases first: with constant currents each swing needs (CL + CH(k) + CH(k+1)) E and no
/// more, where all together would leave a pair behind.
#[test]
fn a_node_whose_neighbours_are_held_needs_its_own_capacitance_alone() {
    for (k, charge) in [(0, CL + 2.0 * CH), (2, CL + CH)] {
        for (enough, share) in [(false, 0.99), (true, 1.01)] {
            let mut circuit = LegNodes::chain(3, capacitances(CL, CH), [E; MAX_PHASES]);
            circuit.hold(|node| !falls(node));
            close(circuit.node_capacitance(k), charge, 1e-20);
            let time = share * charge * E / 3.0;
            let mut moved = motion(circuit, CONSTANT, 0.0, balanced(3.0));
            moved.advance(time, time / STEPS);
            close(moved.legs[0].nodes[k], if enough { 0.0 } else { 0.01 * E }, 1e-6 * E);
            close(moved.legs[0].nodes[1], 0.0, 0.0);
        }
    }
}
