//! The design table of the nominal converter, on the terminal.

use std::fmt::Write as _;

use itertools::Itertools;

use super::{losses, part_loads, switching};
use crate::converter::{Arrangement, AssumedDrift};
use crate::report::format::blocks::{Scale, Strip, fitted_apart};
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::missed::{self, PARALLELED_HELP};
use crate::report::format::numbers::{NONE, counted, decimals, percent, quantity, three};
use crate::report::format::screen::{Blocks, NextQuestion, Screen, quick_look};
use crate::report::format::terminal::{folded, left, table, trimmed};
use crate::report::format::tolerance;
use crate::report::format::{conditions, names};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::check::{Check, NominalCase};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::demand::Demand;
use crate::units::Hertz;

/// Missed limits of an arrangement, and operating points, in the screenful.
const MISSES: usize = 4;
const POINTS: usize = 8;
/// Characters of the scale of frequencies, and of the name of an operating point.
const SCALE: u32 = 20;
const LABEL: usize = 14;

/// How the configurations were chosen, once for new and aged parts.
fn choices(check: &Check) -> impl Iterator<Item = &ConfigurationChoice> {
    chain_cases(check)
        .filter_map(|case| case.baseline.choice.as_ref())
        .unique_by(|choice| choice.operating_point())
}

/// The answer in a screenful, and all tables behind it.
pub(super) fn screen(scenario: &Scenario, check: &Check) -> Screen {
    let notes = [
        parts(scenario, check),
        losses::hottest(check).map_or_else(String::new, |words| words + "\n"),
        slowest(check).map_or_else(String::new, |words| words + "\n"),
        switching::brief(scenario, check),
        configuration::chosen(choices(check), POINTS),
        tolerance::screening(&scenario.tolerances),
    ];
    let blocks = Blocks {
        title: scenario.title.clone(),
        before: quick_look(check.method).to_owned(),
        answer: answer(scenario, check, MISSES),
        figure: figure(scenario, check),
        notes: notes.concat(),
    };
    let next = if scenario.exact_offers().is_empty() {
        NextQuestion::verb("run", "how many converters meet every limit with real parts?")
    } else {
        NextQuestion::verb("grades", "which part grades are the cheapest?")
    };
    blocks.screen(&tables(scenario, check), next)
}

/// The chain at every operating point, with its place in the frequency band.
fn figure(scenario: &Scenario, check: &Check) -> String {
    let [from, to] = [scenario.frequency.minimum, scenario.frequency.maximum];
    let scale = Scale::new(from.0, to.0, SCALE);
    let kilohertz = |own: Hertz| decimals(own.0 / 1e3, 0);
    let ends = [kilohertz(from), format!("{} kHz", kilohertz(to))];
    let axis = Strip::new(scale).label(from.0, &ends[0]).label(to.0, &ends[1]).text();
    let mut table =
        table(&["chain", &axis, "frequency", "tank\nRMS", "switch\nRMS", "blocking", "sharing"]);
    left(&mut table, 1);
    let names: Vec<String> =
        chain_cases(check).take(POINTS).map(|case| case.baseline.case.point.name.clone()).collect();
    for (case, name) in chain_cases(check).zip(fitted_apart(&names, LABEL)) {
        let frequency = case.baseline.state.switching_frequency;
        table.add_row([
            name,
            Strip::new(scale).interval([from.0, to.0], frequency.0).text(),
            quantity(frequency),
            three(case.tank_rms_current.0),
            three(case.switch_rms_current.0),
            three(case.blocking_voltage.0),
            percent(case.sharing_error),
        ]);
    }
    let more = chain_cases(check).count().saturating_sub(POINTS);
    let more = match more {
        0 => String::new(),
        more => format!("{} more: --tables.\n", counted(more as u64, "operating point")),
    };
    format!(
        "{}Currents in A, blocking voltage in V: the highest of any phase.\n{}{more}",
        trimmed(&table),
        no_drift(scenario)
    )
}

/// How long the chain takes to settle, where that has a limit.
fn slowest(check: &Check) -> Option<String> {
    let all = chain_cases(check).filter_map(|case| Some((case.settling_time?, case)));
    let (time, case) = all.reduce(|a, b| if b.0.0 > a.0.0 { b } else { a })?;
    Some(format!(
        "A disturbance of the flying capacitors is below 1 % after {}, at “{}”.",
        quantity(time),
        case.baseline.case.point.name
    ))
}

/// That no drift is assumed where there may be one.
fn no_drift(scenario: &Scenario) -> &'static str {
    let is_none = matches!(scenario.drift, AssumedDrift::Stated(drift) if drift.0 == 0.0);
    if is_none && scenario.may_drift() {
        "No drift of the flying-capacitor voltages is assumed (`neutral_split`).\n"
    } else {
        ""
    }
}

/// The design table of the nominal converter.
fn tables(scenario: &Scenario, check: &Check) -> String {
    let is_long =
        Arrangement::ALL.iter().any(|own| missed::nominal(&check.misses, *own).len() > MISSES);
    let mut text = if is_long { answer(scenario, check, usize::MAX) + "\n" } else { String::new() };
    text.push_str(&cases(scenario, check));
    text.push_str(&switches(check));
    text.push_str(&chain(check));
    text.push_str(&part_loads::text(scenario, check));
    text.push_str(&losses::text(scenario, check));
    text.push_str(&switching::text(scenario, check));
    text + &configuration::choices(choices(check))
}

/// That it works: the study gives no result otherwise.
fn answer(scenario: &Scenario, check: &Check, most: usize) -> String {
    let points = match scenario.operating_points.len() {
        1 => "its operating point".to_owned(),
        n => format!("all {n} operating points"),
    };
    let reached = format!("reaches {points}, in both arrangements");
    let [chain, paralleled] =
        Arrangement::ALL.map(|arrangement| missed::nominal(&check.misses, arrangement));
    let mut text = if chain.is_empty() {
        format!("The nominal converter {reached}.\n{}", met(scenario))
    } else {
        format!(
            "The nominal chain misses limits of the scenario:\n{}It {reached}.\n",
            missed::first_lines(&chain, most)
        )
    };
    if !paralleled.is_empty() {
        let misses = missed::first_lines(&paralleled, most);
        let is_helped = missed::blocks_too_much(&check.misses);
        let help =
            if is_helped { folded(&format!("  {PARALLELED_HELP}\n")) } else { String::new() };
        let _ = write!(text, "The paralleled reference misses limits:\n{misses}{help}");
    }
    let method = names::method(check.method).long;
    let _ = writeln!(text, "{} phases, {method} solver. Nothing was sampled.", scenario.phases);
    text
}

/// That the chain meets its limits; nothing where there are none.
fn met(scenario: &Scenario) -> &'static str {
    // The first is regulation, which is no limit.
    let has_limits = Demand::all(&scenario.limits, Arrangement::Chain).len() > 1;
    if has_limits { "The chain meets every limit with nominal parts.\n" } else { "" }
}

fn cases(scenario: &Scenario, check: &Check) -> String {
    let mut table = table(&[
        "operating point",
        "arrangement",
        "frequency",
        "averaged",
        "tank\nRMS",
        "tank\npeak",
        "sharing",
        "loss",
    ]);
    for case in &check.cases {
        table.add_row([
            case.baseline.case.point.name.clone(),
            names::arrangement(case.arrangement()).short.into(),
            quantity(case.baseline.state.switching_frequency),
            case.averaged_frequency.map_or_else(|| NONE.into(), quantity),
            quantity(case.tank_rms_current),
            quantity(case.tank_peak_current),
            percent(case.sharing_error),
            quantity(case.loss),
        ]);
    }
    format!(
        "{}Averaged: the frequency by the {} solver. Sharing: the sharing error. Loss: that {}.\n\n",
        trimmed(&table),
        names::method(Method::Averaged).long,
        names::loss(scenario)
    )
}

fn chain_cases(check: &Check) -> impl Iterator<Item = &NominalCase> {
    check.cases.iter().filter(|case| case.arrangement() == Arrangement::Chain)
}

/// What the worst switches carry and block. The RMS current of a switch is not that of a tank.
fn switches(check: &Check) -> String {
    let mut table =
        table(&["operating point", "arrangement", "switch\nRMS", "switch\npeak", "blocking"]);
    for case in &check.cases {
        table.add_row([
            case.baseline.case.point.name.clone(),
            names::arrangement(case.arrangement()).short.into(),
            quantity(case.switch_rms_current),
            quantity(case.switch_peak_current),
            quantity(case.blocking_voltage),
        ]);
    }
    format!("Switches: highest currents and blocking voltage of any one\n{}\n", trimmed(&table))
}

/// Flying capacitors of the nominal chain.
fn chain(check: &Check) -> String {
    let mut table = table(&["operating point", "configuration", "flying capacitors"]);
    for case in chain_cases(check) {
        let point = &case.baseline.case.point;
        let flying: Vec<_> = case.flying_voltages.iter().map(|v| decimals(v.0, 1)).collect();
        let chosen = if case.baseline.choice.is_some() { " (chosen)" } else { "" };
        table.add_row([
            point.name.clone(),
            format!("{} / {}{chosen}", point.drive.name(), point.rectifier.name()),
            format!("{}\u{a0}V", flying.join(", ")),
        ]);
    }
    format!("Chain: drive / rectifier, flying-capacitor voltages\n{}\n", trimmed(&table))
}

fn parts(scenario: &Scenario, check: &Check) -> String {
    let (tank, design) = (&scenario.nominal, &check.design);
    format!(
        "Nominal parts of one tank{}\n  Lr {}  Cr {}  Lm {}  n {}  R {}\n  \
         series resonance {}, characteristic impedance {}, Lm/Lr {}\n  \
         flying capacitors {} ({} Cr); frequency band {} to {}\n",
        conditions::hold_at(scenario),
        quantity(tank.resonant_inductance),
        quantity(tank.resonant_capacitance),
        quantity(tank.magnetising_inductance),
        tank.turns_ratio,
        quantity(tank.series_resistance),
        quantity(design.series_resonance),
        quantity(design.characteristic_impedance),
        decimals(design.inductance_ratio, 2),
        quantity(scenario.flying_capacitance),
        decimals(design.capacitance_ratio, 0),
        quantity(scenario.frequency.minimum),
        quantity(scenario.frequency.maximum),
    )
}
