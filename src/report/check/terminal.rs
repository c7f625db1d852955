//! The design table of the nominal converter, on the terminal.

use std::fmt::Write as _;

use super::{losses, part_loads, switching};
use crate::converter::Arrangement;
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::numbers::{NONE, decimals, percent, quantity};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::report::format::tolerance;
use crate::report::format::{conditions, missed, names};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::check::{Check, NominalCase};
use crate::study::common::demand::Demand;

/// The design table of the nominal converter.
pub(super) fn text(scenario: &Scenario, check: &Check) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    text.push_str(&answer(scenario, check));
    text.push_str(&cases(check));
    text.push_str(&switches(check));
    text.push_str(&chain(check));
    text.push_str(&part_loads::text(scenario, check));
    text.push_str(&losses::text(scenario, check));
    text.push_str(&switching::text(scenario, check));
    text.push_str(&parts(scenario, check));
    let chosen = chain_cases(check).filter_map(|case| case.baseline.choice.as_ref());
    text.push_str(&configuration::choices(chosen));
    text.push_str(&tolerance::screening(&scenario.tolerances));
    text.push_str(CAUTION);
    folded(&text)
}

/// That it works: the study gives no result otherwise.
fn answer(scenario: &Scenario, check: &Check) -> String {
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
            missed::lines(&chain)
        )
    };
    if !paralleled.is_empty() {
        let _ =
            write!(text, "The paralleled reference misses limits:\n{}", missed::lines(&paralleled));
    }
    let method = names::method(check.method).long;
    let _ = write!(text, "{} phases, {method} solver. Nothing was sampled.\n\n", scenario.phases);
    text
}

/// That the chain meets its limits; nothing where there are none.
fn met(scenario: &Scenario) -> &'static str {
    // The first is regulation, which is no limit.
    let has_limits = Demand::all(&scenario.limits, Arrangement::Chain).len() > 1;
    if has_limits { "The chain meets every limit with nominal parts.\n" } else { "" }
}

fn cases(check: &Check) -> String {
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
        "{}Averaged: the frequency by the {} solver.\nSharing: the sharing error. Loss: \
         that in resistances and rectifiers.\n\n",
        trimmed(&table),
        names::method(Method::Averaged).long
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
         flying capacitors {} ({} Cr); frequency band {} to {}\n\n",
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
