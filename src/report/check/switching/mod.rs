//! Soft switching of the nominal converter: its part of the design table, and of the summary.

pub(super) mod json;
mod words;

use std::fmt::Write as _;

use crate::converter::{Arrangement, SwitchSpecification};
use crate::report::format::commutation::words as common;
use crate::report::format::numbers::{quantity, three};
use crate::report::format::terminal::{table, trimmed};
use crate::report::format::{names, premises};
use crate::scenario::{Scenario, SwitchSettings};
use crate::study::check::{Check, FallingFirst, NominalCase, NominalSwitching};

/// What it says of soft switching; nothing where the scenario does not describe the switches.
pub(super) fn text(scenario: &Scenario, check: &Check) -> String {
    let Some(settings) = &scenario.switch else { return String::new() };
    let cases: Vec<_> = check.cases.iter().filter_map(JudgedCase::new).collect();
    if cases.is_empty() {
        return format!("{}\n\n", common::NEEDS_EXACT);
    }
    let mut text = heading(settings);
    text.push_str(&turn_on(&cases));
    let _ = writeln!(text, "{}\n", common::rule(settings));
    text.push_str(&dead_times(scenario, settings, &cases));
    for arrangement in Arrangement::ALL {
        text.push_str(&common_window(check, arrangement));
    }
    text.push_str(&cure(&cases));
    text.push_str(&remarks(scenario, &cases));
    text + "\n"
}

/// The same in few lines: how many switches turn on softly, with which dead times, and what must be known.
pub(super) fn brief(scenario: &Scenario, check: &Check) -> String {
    if scenario.switch.is_none() {
        return String::new();
    }
    let cases: Vec<_> = check.cases.iter().filter_map(JudgedCase::new).collect();
    if cases.is_empty() {
        return format!("{}\n", common::NEEDS_EXACT);
    }
    let told =
        Arrangement::ALL.iter().map(|own| counted(&cases, *own) + &common_window(check, *own));
    told.collect::<String>() + &remarks(scenario, &cases)
}

/// How the switches of an arrangement turn on, over all operating points.
fn counted(cases: &[JudgedCase<'_>], arrangement: Arrangement) -> String {
    let own = cases.iter().filter(|judged| judged.case.arrangement() == arrangement);
    let [soft, hard, open] = own.fold([0, 0, 0], |[soft, hard, open], judged| {
        let counts = judged.switching.now.counts();
        [soft + counts.soft, hard + counts.hard, open + counts.not_decided]
    });
    format!(
        "Turn-on, {}: {soft} soft, {hard} hard, {open} not decided, over all operating points.\n",
        names::arrangement(arrangement).short
    )
}

/// A case with what is known of its switches.
struct JudgedCase<'a> {
    case: &'a NominalCase,
    switching: &'a NominalSwitching,
}

impl<'a> JudgedCase<'a> {
    fn new(case: &'a NominalCase) -> Option<Self> {
        Some(Self { case, switching: case.switching.as_ref()? })
    }

    fn point(&self) -> String {
        self.case.baseline.case.point.name.clone()
    }

    fn arrangement(&self) -> String {
        names::arrangement(self.case.arrangement()).short.into()
    }
}

fn heading(settings: &SwitchSettings) -> String {
    let specification = |switch: &SwitchSpecification| {
        let low = quantity(switch.low_capacitance);
        let high = quantity(switch.high_capacitance);
        format!(
            "dead time {}, output capacitance {low} low, {high} high",
            quantity(switch.dead_time)
        )
    };
    let (chain, paralleled) = (&settings.chain, &settings.paralleled);
    let timing = chain.timing.name();
    let mut text = format!("Soft switching: {}, timing {timing}\n", specification(chain));
    if specification(chain) != specification(paralleled) {
        let _ = writeln!(text, "Paralleled: {}", specification(paralleled));
    }
    text
}

/// How many switches turn on softly, and what the others cost.
fn turn_on(cases: &[JudgedCase<'_>]) -> String {
    let mut table = table(&[
        "operating point",
        "arrangement",
        "soft",
        "hard",
        "not\ndecided",
        "highest\nturn-on",
        "loss",
    ]);
    for judged in cases {
        let now = &judged.switching.now;
        let counts = now.counts();
        table.add_row([
            judged.point(),
            judged.arrangement(),
            counts.soft.to_string(),
            counts.hard.to_string(),
            counts.not_decided.to_string(),
            common::highest(now),
            common::loss(&now.commutation),
        ]);
    }
    trimmed(&table)
}

/// Which dead times do, and which magnetising inductance still does.
fn dead_times(scenario: &Scenario, settings: &SwitchSettings, cases: &[JudgedCase<'_>]) -> String {
    let mut table = table(&[
        "operating point",
        "arrangement",
        "soft with dead times of",
        "",
        "largest\nLm",
        "at dead\ntime",
    ]);
    for judged in cases {
        let now = settings.specification(judged.case.arrangement()).dead_time;
        let switching = judged.switching;
        table.add_row([
            judged.point(),
            judged.arrangement(),
            words::window(&switching.dead_times),
            words::judged(&switching.dead_times, now).to_owned(),
            words::magnetising(switching),
            format!("{}\u{a0}ns", three(1e9 * switching.magnetising.dead_time.0)),
        ]);
    }
    format!(
        "{}Largest Lm: the largest magnetising inductance with which every switch still turns on \
         softly, with nominal parts otherwise. Nominal: {}.\n",
        trimmed(&table),
        quantity(scenario.nominal.magnetising_inductance)
    )
}

/// The dead times that suit all operating points.
fn common_window(check: &Check, arrangement: Arrangement) -> String {
    let name = names::arrangement(arrangement).long;
    match check.common_dead_times(arrangement) {
        None => format!("All operating points, {name}: no dead time suits all of them.\n"),
        Some(common) => {
            let range = words::range(common.window, common.longest_tried);
            format!("All operating points, {name}: soft with dead times of {range}.\n")
        }
    }
}

/// What it helps that the falling phases switch first, and its price.
fn cure(cases: &[JudgedCase<'_>]) -> String {
    let cured = || cases.iter().filter_map(|c| Some((c, c.switching.falling_first.as_ref()?)));
    if cured().next().is_none() {
        return String::new();
    }
    let mut table = table(&[
        "operating point",
        "falling first",
        "loss",
        "low switches\ninterrupt",
        "all at\nonce",
        "dead time shifts\nsharing by about",
    ]);
    for (judged, cure) in cured() {
        table.add_row(cure_row(judged, cure));
    }
    format!(
        "\nChain with timing = \"falling-first\", and its price\n{}Low switches interrupt: the highest \
         current that a low switch before the last one turns off.\nSharing: a shift that the sharing \
         error above leaves out, with all phases at once.\n{}",
        trimmed(&table),
        short_high_intervals(cured().map(|(judged, _)| judged))
    )
}

/// What short high intervals make of the currents of high switches; nothing where there are none.
fn short_high_intervals<'a>(cases: impl Iterator<Item = &'a JudgedCase<'a>>) -> String {
    let all = cases.filter_map(|c| Some((c.point(), c.switching.high_intervals?)));
    let most = all.max_by(|(_, a), (_, b)| a.rms.total_cmp(&b.rms));
    most.map_or_else(String::new, |(point, currents)| {
        format!(
            "With \"falling-first\" each high interval of a half bridge is a dead time shorter, which results leave \
             out.\n{}\n",
            common::high_switches(&point, currents)
        )
    })
}

fn cure_row(judged: &JudgedCase<'_>, cure: &FallingFirst) -> [String; 6] {
    [
        judged.point(),
        common::counts(cure.switching.counts()),
        common::loss(&cure.switching.commutation),
        format!("{}\u{a0}A", three(cure.low_turn_off_current.0)),
        format!("{}\u{a0}A", three(cure.low_turn_off_current_together.0)),
        words::sharing_shift(judged.switching),
    ]
}

/// What else must be said, once.
fn remarks(scenario: &Scenario, cases: &[JudgedCase<'_>]) -> String {
    let mut text = String::new();
    let shifts = |c: &&JudgedCase<'_>| {
        c.switching.now.noteworthy_shift(scenario.limits.sharing_error).is_some()
    };
    let shifted: Vec<String> = cases.iter().filter(shifts).map(JudgedCase::point).collect();
    if !shifted.is_empty() {
        let _ = writeln!(
            text,
            "The shift of sharing is not small beside its limit: {}.",
            shifted.join("; ")
        );
    }
    // Within a thousandth there is none: the ends of the swings are those of the steady state.
    let highest = |c: &JudgedCase<'_>| c.switching.now.highest_voltage().0;
    let overshoots = |c: &&JudgedCase<'_>| highest(c) > 1.001 * c.case.steady_blocking_voltage.0;
    let worst = cases.iter().filter(overshoots).max_by(|a, b| highest(a).total_cmp(&highest(b)));
    if let Some(worst) = worst {
        let _ = writeln!(
            text,
            "Blocking voltages include the dead times. There a switch sees {} ({}, {}), and {} otherwise.",
            quantity(worst.switching.now.highest_voltage()),
            worst.point(),
            worst.arrangement(),
            quantity(worst.case.steady_blocking_voltage)
        );
    }
    if let Some(open) = premises::open_overshoot(scenario) {
        let _ = writeln!(text, "{open}");
    }
    // With all phases at once that is part of the price of the cure.
    text += &short_high_intervals(cases.iter().filter(|c| c.switching.falling_first.is_none()));
    if cases.iter().any(|c| common::has_tied_pair(&c.switching.now)) {
        let _ = writeln!(text, "{}", common::PAIR);
    }
    text
}
