//! Losses of single parts and junction temperatures, against the power balance, by hand, and against a
//! circuit in which every resistance stands where it is.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

mod circuit;
mod designs;

use self::designs::*;
use fairphase::converter::{
    Arrangement, Condition, Converter, Drive, Leg, LossParts, ParalleledSwitches, Parameter,
    Rectifier, SwitchPlace, SwitchSpecification, SwitchTiming, Tank,
};
use fairphase::solver::dissipation::Dissipation;
use fairphase::solver::{Case, Method, Outcome, Unsolved};
use fairphase::units::{Celsius, Farad, Ohm, Second};

/// Switches with such a dead time, in seconds.
fn switch(dead_time: f64, timing: SwitchTiming) -> SwitchSpecification {
    SwitchSpecification {
        low_capacitance: Farad(1.5e-9),
        high_capacitance: Farad(1.5e-9),
        dead_time: Second(dead_time),
        timing,
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

/// Of invented hard switches each is warmed by its own loss at turn-on too, and its resistance is that at the
/// temperature which both make. What the tanks lose does not hold it: the input gives it beside them.
#[test]
fn losses_at_turn_on_warm_the_switches_that_lose_them() {
    for (drive, arrangement) in
        Drive::ALL.into_iter().flat_map(|drive| Arrangement::ALL.map(|a| (drive, a)))
    {
        let mut design = chain(drive, 1.0);
        design.case = Case::new(design.case.point.clone(), BAND, arrangement);
        let cold = dissipation(&design, &solved(&design, Method::Exact).unwrap());
        design.case.switch = Some(switch(20e-9, SwitchTiming::Together));
        let state = solved(&design, Method::Exact).unwrap();
        let found = dissipation(&design, &state);
        let commutation = state.commutation.as_ref().unwrap();
        let turn_on: f64 = found.phases.iter().map(|phase| phase.turn_on().0).sum();
        assert!((turn_on / commutation.loss.0 - 1.0).abs() < 1e-12 && turn_on > 5.0, "{turn_on}");
        let losses = design.converter.losses.as_ref().unwrap();
        for (k, phase) in state.phases.iter().enumerate() {
            let own = found.phases[k].switches[SwitchPlace::High as usize];
            let junction = own.junction.unwrap().0;
            let part = |parameter| losses.in_arrangement(parameter, k, arrangement).unwrap();
            let scale = if arrangement == Arrangement::Chain { 1.0 } else { 1.0 / 3.0 };
            let rms = scale * phase.switches.high.rms.0;
            let cold = part(Parameter::OnResistance) * rms * rms;
            let warm = cold * (1.0 + 0.007 * (junction - REFERENCE)) + own.turn_on.0;
            assert!((own.loss.0 / warm - 1.0).abs() < 1e-12, "{own:?}");
            let thermal = part(Parameter::SwitchThermalResistance);
            assert!((junction - AMBIENT - thermal * warm).abs() < 1e-9, "{junction} °C");
        }
        // Warmer switches conduct worse.
        let conduction =
            |own: &Dissipation| own.phases.iter().map(|p| p.conduction().0).sum::<f64>();
        assert!(conduction(&found) > conduction(&cold) * 1.01, "{drive:?}, {arrangement:?}");
        let point = &design.case.point;
        let output = point.output_voltage.0 * point.output_current.0;
        let lost = input_power(&design, &state) - output;
        assert!((lost - (found.total().0 - turn_on)).abs() < 1e-8 * output);
    }
}

/// Closed form: where falling phases go first, a low switch of a chain loses R (I² + what it carries in dead
/// times), warm, and that comes out of the tanks to 1e-8 of the output power.
#[test]
fn low_switches_that_hold_in_dead_times_lose_it() {
    for drive in Drive::ALL {
        let mut design = chain(drive, 1.0);
        design.case.switch = Some(switch(100e-9, SwitchTiming::FallingFirst));
        let state = solved(&design, Method::Exact).unwrap();
        let found = dissipation(&design, &state);
        let commutation = state.commutation.as_ref().unwrap();
        let losses = design.converter.losses.as_ref().unwrap();
        let last = state.phases.len() - 1;
        for (k, phase) in state.phases.iter().enumerate() {
            let own = found.phases[k].switches[SwitchPlace::Low as usize];
            let held = commutation.held_load(Leg::Driven, k).unwrap().square;
            assert!(held > 0.0);
            // The last one carries its tank's current alone in any case.
            let held = if k < last { held } else { 0.0 };
            let part = SwitchPlace::Low.part(k, state.phases.len());
            let part = losses.in_arrangement(Parameter::OnResistance, part, Arrangement::Chain);
            let cold = part.unwrap() * (phase.switches.low.rms.0.powi(2) + held);
            let warm = cold * (1.0 + 0.007 * (own.junction.unwrap().0 - REFERENCE));
            assert!((own.conduction().0 / warm - 1.0).abs() < 1e-12, "{drive:?} {k}: {own:?}");
        }
        let turn_on: f64 = found.phases.iter().map(|phase| phase.turn_on().0).sum();
        let point = &design.case.point;
        let output = point.output_voltage.0 * point.output_current.0;
        let lost = input_power(&design, &state) - output;
        assert!((lost - (found.total().0 - turn_on)).abs() < 1e-8 * output);
    }
}

/// From a cold start the losses are found again until they agree to 1e-10 of the output power, from a
/// solution nearby to 5e-6: currents then differ by some 1e-6, and temperatures by millikelvins.
#[test]
fn a_start_nearby_leads_to_the_same_temperatures() {
    for method in [Method::Exact, Method::Averaged] {
        for (drive, arrangement) in
            Drive::ALL.into_iter().flat_map(|drive| Arrangement::ALL.map(|a| (drive, a)))
        {
            let design = chain(drive, 1.0);
            let nominal = heated(3, &NOMINAL);
            let case = Case::new(design.case.point.clone(), BAND, arrangement);
            let (_, near) = method.prepare(&nominal, case.clone());
            let solve = |case: Case| {
                let own = Design { case, converter: design.converter.clone() };
                let state = solved(&own, method).unwrap();
                let found = dissipation(&own, &state);
                let output = own.case.point.output_current.0 * own.case.point.output_voltage.0;
                let missing = input_power(&own, &state) - output - found.total().0;
                (state, found.hottest_switch().unwrap().0, missing / output)
            };
            let (cold, warm) = (solve(case), solve(near));
            let name = method.name();
            assert!((cold.1 - warm.1).abs() < 0.01, "{name}: {} and {} °C", cold.1, warm.1);
            if method == Method::Exact {
                assert!(cold.2.abs() < 1e-9 && warm.2.abs() < 3e-5, "{} {}", cold.2, warm.2);
            }
            for (a, b) in cold.0.phases.iter().zip(&warm.0.phases) {
                let ratio = a.rms_current.0 / b.rms_current.0;
                assert!((ratio - 1.0).abs() < 1e-5, "{name}: {ratio}");
            }
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
