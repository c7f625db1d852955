//! The four laws of a chain with a failed part, on random designs.

use fairphase::converter::{Drive, FailedLegs, FailureMode, Fault, Leg};
use fairphase::solver::fault::{FaultOutcome, FaultedState, conduction_threshold};
use fairphase::solver::{Load, Method, Reached, Sweep};
use fairphase::units::{Ampere, Hertz, Volt};

use super::designs::{RandomDesign, designs};
use super::integration::{Circuit, FollowedPeriod};

/// Number of designs that only the solver is asked about.
const MANY: usize = 20;
/// Number of designs that are followed through time.
const FEW: usize = 4;

fn with_failure(design: &RandomDesign, failure: FailureMode) -> Vec<Fault> {
    design.faults().into_iter().filter(|fault| fault.failure == failure).collect()
}

/// Phases that still receive voltage in the leg of a fault.
pub(super) fn fed_phases(phases: usize, fault: &Fault) -> usize {
    match fault.failure {
        FailureMode::FlyingCapacitorShort => fault.phase + 1,
        FailureMode::HighSwitchShort if fault.phase > 0 => phases - 2,
        FailureMode::HighSwitchShort | FailureMode::LowSwitchShort | FailureMode::Bypassed => {
            phases - 1
        }
        _ => phases,
    }
}

/// Law 1: no charge passes a phase that takes none, in either drive. The solver says that all stop.
#[test]
fn a_phase_that_takes_no_charge_stops_all() {
    for drive in Drive::ALL {
        for design in designs(drive, 12, MANY) {
            for failure in [FailureMode::RectifierOpen, FailureMode::TankOpen] {
                for fault in with_failure(&design, failure) {
                    assert_eq!(
                        design.solve(fault),
                        FaultOutcome::Stops,
                        "{} {fault:?}",
                        design.number
                    );
                }
            }
            for fault in with_failure(&design, FailureMode::BothGatesOff) {
                let is_last = fault.phase + 1 == design.phases();
                let stops = fault.legs == Some(FailedLegs::All) || is_last;
                let found = design.solve(fault) == FaultOutcome::Stops;
                assert_eq!(found, stops, "{} {fault:?}", design.number);
            }
        }
    }
}

/// Law 1 in time: a tank opens, and within 300 periods at the healthy frequency less than a tenth of the
/// output is left. Before the fault the integration agrees with the solver.
#[test]
fn all_phases_stop_in_time() {
    for drive in Drive::ALL {
        for design in designs(drive, 3, FEW) {
            let frequency = design.healthy.switching_frequency.0;
            let mut circuit = Circuit::new(&design);
            let before = (0..400).map(|_| circuit.period(frequency)).last().unwrap();
            let error = before.total() / design.wanted() - 1.0;
            assert!(error.abs() < 0.05, "{}: before the fault {error}", design.number);
            circuit.fail(Fault { failure: FailureMode::TankOpen, phase: 0, legs: None });
            let after = (0..300).map(|_| circuit.period(frequency)).last().unwrap();
            let left = after.total() / design.wanted();
            assert!(left < 0.1, "{}: {left} is left", design.number);
        }
    }
}

/// Law 2: no switch of a chain that runs blocks more than the input and a diode, ripple apart. In time, no
/// capacitor leaves the range from zero to the input, whatever fails but an open capacitor.
#[test]
fn voltages_stay_between_zero_and_the_input() {
    for drive in Drive::ALL {
        for design in designs(drive, 12, MANY) {
            let input = design.point.input_voltage.0;
            let charge = design.healthy.phases[0].charge;
            for fault in design.faults() {
                if fault.failure == FailureMode::FlyingCapacitorOpen {
                    continue;
                }
                let FaultOutcome::Runs(found) = design.solve(fault) else { continue };
                let share = fault.failure.remaining().unwrap_or(1.0);
                let ripple = 4.0 * charge / (share * design.converter.flying[0].0);
                let highest = found.highest_blocking().0;
                assert!(highest < input + 2.0 + ripple, "{} {fault:?} {highest}", design.number);
                assert!(found.lowest_blocking().0 <= highest);
            }
        }
        for design in designs(drive, 3, FEW) {
            let input = design.point.input_voltage.0;
            for failure in
                [FailureMode::BothGatesOff, FailureMode::HighGateOff, FailureMode::HighSwitchShort]
            {
                let fault = with_failure(&design, failure)[0];
                let mut circuit = Circuit::new(&design);
                circuit.fail(fault);
                for _ in 0..60 {
                    let period = circuit.period(design.healthy.switching_frequency.0);
                    for voltage in period.capacitors.iter().flatten() {
                        let within = (-3.0..input + 3.0).contains(voltage);
                        assert!(within, "{} {fault:?}: {voltage}", design.number);
                    }
                }
            }
        }
    }
}

/// A period from which on what switches block changes no more; none where that takes long.
fn settled(circuit: &mut Circuit, frequency: f64) -> Option<FollowedPeriod> {
    let mut last = circuit.period(frequency);
    for _ in 0..10 {
        let now = (0..300).map(|_| circuit.period(frequency)).last()?;
        let pairs = now.blocking.iter().flatten().zip(last.blocking.iter().flatten());
        let changes = pairs.flat_map(|(a, b)| [(a[0] - b[0]).abs(), (a[1] - b[1]).abs()]);
        if changes.fold(0.0, f64::max) < 0.02 {
            return Some(now);
        }
        last = now;
    }
    None
}

/// Switches of a followed converter with a fault that block something else than what is told, and how many there are.
fn misplaced(design: &RandomDesign, fault: Fault, found: &FaultedState) -> (Vec<String>, usize) {
    let mut circuit = Circuit::new(design);
    circuit.fail(fault);
    let Some(period) = settled(&mut circuit, found.state.switching_frequency.0) else {
        return (Vec::new(), 0);
    };
    let charge = found.state.phases.iter().map(|own| own.charge).fold(0.0, f64::max);
    let ripple = charge / design.converter.flying[0].0;
    let margin = 0.004 * design.point.input_voltage.0 + 0.2 * ripple;
    // What floats behind a dead low gate is bounded from above alone.
    let is_bound = fault.failure == FailureMode::LowGateOff;
    let (mut all, mut compared) = (Vec::new(), 0);
    for (told, followed) in found.voltages.iter().zip(&period.blocking) {
        let ranges = told.high.iter().zip(&told.low).map(|(high, low)| [*high, *low]);
        for (k, (ranges, seen)) in ranges.zip(followed).enumerate() {
            for (side, (range, seen)) in ["high", "low"].iter().zip(ranges.iter().zip(seen)) {
                let is_above = *seen > range.highest.0 + margin;
                let is_below = *seen < range.lowest.0 - margin && !is_bound;
                compared += 1;
                if is_above || is_below {
                    let number = design.number;
                    let place = format!("{number} {fault:?}: {side} {k} of {:?}", told.leg);
                    all.push(format!("{place}: {seen:.2} {range:?}, ripple {ripple:.1}"));
                }
            }
        }
    }
    (all, compared)
}

/// What every switch blocks with large ripple: in time it lies in the range that is told, within 0.4 % of the input
/// and a fifth of the ripple of one capacitor. These margins are what this integration showed: one switch of a full
/// bridge that feeds half of its phases, with ripple beyond a drop, is 0.36 % off. Chains that settle slowly are left out.
#[test]
fn what_switches_block_lies_in_time_in_the_range_that_is_told() {
    let failures = [
        FailureMode::FlyingCapacitorShort,
        FailureMode::HighSwitchShort,
        FailureMode::LowSwitchShort,
        FailureMode::HighGateOff,
        FailureMode::LowGateOff,
    ];
    let (mut compared, mut failed) = (0, Vec::new());
    for drive in Drive::ALL {
        let rippling = designs(drive, 4, FEW).into_iter().filter_map(|own| own.with_flying(0.25));
        for design in rippling {
            for fault in failures.iter().flat_map(|own| with_failure(&design, *own)) {
                if !matches!(fault.legs, None | Some(FailedLegs::Driven)) {
                    continue;
                }
                let FaultOutcome::Runs(found) = design.solve(fault) else { continue };
                let (own, switches) = misplaced(&design, fault, &found);
                failed.extend(own);
                compared += switches;
            }
        }
    }
    assert!(failed.is_empty(), "{} of {compared}: {failed:#?}", failed.len());
    assert!(compared > 300, "{compared}");
}

/// Law 3: at the threshold the exact solver finds the output at which a nearly unloaded converter just
/// rectifies, within 2 %.
#[test]
fn the_threshold_is_where_rectification_begins() {
    let mut compared = 0;
    for drive in Drive::ALL {
        for design in designs(drive, 6, MANY) {
            let load = Load::Current(Ampere(1e-3 * design.wanted()));
            for frequency in [75e3, 100e3, 140e3].map(Hertz) {
                let mut sweep = Sweep::new(
                    Method::Exact,
                    &design.converter,
                    &design.point,
                    fairphase::converter::Arrangement::Paralleled,
                    load,
                );
                let Reached::Voltage(output) = sweep.at(frequency) else { continue };
                let mut point = design.point.clone();
                point.output_voltage = output;
                let tank = &design.converter.tanks[0];
                let Some(Volt(threshold)) = conduction_threshold(tank, &point, frequency) else {
                    continue;
                };
                let of_phase = design.point.input_voltage.0 / design.phases() as f64;
                let ratio = threshold / of_phase;
                assert!((ratio - 1.0).abs() < 0.02, "{} {frequency}: {ratio}", design.number);
                compared += 1;
            }
        }
    }
    assert!(compared > 75, "{compared}");
}

/// Law 4: with one damaged leg in full-bridge drive all phases share while more than half of them receive
/// voltage in that leg. Else those that do carry most. At exactly half they share while the ripple x = Q/C
/// leaves the diodes of the sound leg off: behind a shorted capacitor, by hand, m d ≥ (N − 1) x/2. That holds
/// for x ≤ d; above it nothing is asked here.
#[test]
fn one_damaged_leg_keeps_the_sharing_from_half_of_the_phases_on() {
    let (mut shared, mut lost) = (0, 0);
    for design in designs(Drive::FullBridge, 12, MANY) {
        let phases = design.phases();
        let failures = [
            FailureMode::FlyingCapacitorShort,
            FailureMode::HighSwitchShort,
            FailureMode::LowSwitchShort,
        ];
        for fault in failures.iter().flat_map(|failure| with_failure(&design, *failure)) {
            let fed = fed_phases(phases, &fault);
            let found = design.solve(fault);
            let context = format!("{} {fault:?} of {phases}: {}", design.number, found.name());
            let ripple = design.healthy.phases[0].charge / design.converter.flying[0].0;
            if 2 * fed == phases && fed > 0 && ripple > super::DIODE_DROP.0 {
                continue;
            }
            if fed == 0 {
                assert_eq!(found.name(), "no steady state", "{context}");
                continue;
            }
            let FaultOutcome::Runs(state) = found else {
                assert!(2 * fed < phases, "{context}");
                continue;
            };
            if 2 * fed >= phases {
                let frequency =
                    state.state.switching_frequency.0 / design.healthy.switching_frequency.0;
                assert!((frequency - 1.0).abs() < 0.02, "{context} {frequency}");
                let mean = design.wanted() / phases as f64;
                for phase in &state.state.phases {
                    let error = phase.output_current.0 / mean - 1.0;
                    assert!(error.abs() < 0.04, "{context} {error}");
                }
                shared += 1;
            } else {
                let currents = |k: &usize| state.state.phases[*k].output_current.0;
                let fed_phases: Vec<usize> = match fault.failure {
                    FailureMode::FlyingCapacitorShort => (0..fed).collect(),
                    _ => state.carrying.iter().copied().collect(),
                };
                let share = fed_phases.iter().map(currents).sum::<f64>() / design.wanted();
                assert!(share > fed as f64 / phases as f64, "{context} {share}");
                lost += 1;
            }
        }
    }
    assert!(shared > 100 && lost > 5, "{shared} {lost}");
}

/// Both legs of a full bridge are alike: a fault in one does what it does in the other.
#[test]
fn the_legs_are_alike() {
    for design in designs(Drive::FullBridge, 6, MANY / 2) {
        let of_leg = |own: Leg| {
            let is_own = move |fault: &Fault| match fault.legs {
                Some(FailedLegs::Driven) => own == Leg::Driven,
                Some(FailedLegs::Return) => own == Leg::Return,
                _ => false,
            };
            design.faults().into_iter().filter(is_own).collect::<Vec<_>>()
        };
        for (one, other) in of_leg(Leg::Driven).into_iter().zip(of_leg(Leg::Return)) {
            let (a, b) = (design.solve(one), design.solve(other));
            assert_eq!(a.name(), b.name(), "{} {one:?}", design.number);
            let (Some(a), Some(b)) = (a.state(), b.state()) else { continue };
            let frequency = a.state.switching_frequency.0 / b.state.switching_frequency.0;
            assert!((frequency - 1.0).abs() < 1e-6, "{} {one:?}", design.number);
        }
    }
}
