//! Soft switching of listed units, on terminal and page: one row a converter, operating point and
//! arrangement. Every transition is in `commutation.csv`.

use std::fmt::Write as _;

use maud::{Markup, html};

use crate::report::format::commutation::words;
use crate::report::format::names;
use crate::report::format::numbers::{NONE, count, counted, percent, quantity, three};
use crate::report::format::page::parts::{
    folded_table, headings, number, section, table as page_table,
};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::{Scenario, SwitchSettings};
use crate::solver::commutation::Transition;
use crate::study::common::commutation::SoftSwitching;
use crate::study::units::{Listed, UnitResult};

/// The name of the file with every transition.
pub(super) const FILE: &str = "commutation.csv";

/// Most rows on terminal and page.
const ROWS: usize = 60;
/// A longer table of the page is folded away.
const OPEN_ROWS: usize = 16;
/// What the table tells.
const TRANSITIONS: &str = "Transitions that end softly, and the highest turn-on voltage";

/// Converters with what is known of their switches.
fn judged(listed: &Listed) -> impl Iterator<Item = (&UnitResult, &SoftSwitching)> {
    listed.results.iter().filter_map(|r| Some((r, r.solved.as_ref()?.switching.as_ref()?)))
}

/// Those that are shown: all in the order of the file, or those with the highest turn-on voltages.
fn shown(listed: &Listed) -> Vec<(&UnitResult, &SoftSwitching)> {
    let mut all: Vec<_> = judged(listed).collect();
    if all.len() > ROWS {
        let share =
            |switching: &SoftSwitching| switching.worst().map_or(0.0, Transition::turn_on_share);
        all.sort_by(|(_, a), (_, b)| share(b).total_cmp(&share(a)));
        all.truncate(ROWS);
    }
    all
}

/// Where the rest is.
fn rest(listed: &Listed) -> Option<String> {
    let all = judged(listed).count();
    (all > ROWS).then(|| {
        format!(
            "Shown are the {ROWS} cases with the highest turn-on voltages of {}. All are in {FILE}.",
            count(all as u64)
        )
    })
}

/// That some solved converters are not judged, if so.
fn unjudged(listed: &Listed) -> Option<String> {
    let missing =
        |result: &&UnitResult| result.solved.as_ref().is_some_and(|s| s.switching.is_none());
    let count = listed.results.iter().filter(missing).count() as u64;
    (count > 0).then(|| {
        format!(
            "Not judged: {}. There a phase has no voltage to swing over, or the dead time takes too many \
             steps.",
            counted(count, "solved case")
        )
    })
}

/// For the terminal; nothing where the scenario does not describe the switches.
pub(super) fn text(scenario: &Scenario, listed: &Listed) -> String {
    let Some(settings) = &scenario.switch else { return String::new() };
    if judged(listed).next().is_none() {
        return format!("{}\n\n", words::NEEDS_EXACT);
    }
    let mut table = table(&[
        "unit",
        "operating point",
        "arrangement",
        "soft",
        "hard",
        "not\ndecided",
        "highest\nturn-on",
        "loss",
    ]);
    for (result, switching) in shown(listed) {
        table.add_row(terminal_row(result, switching));
    }
    let mut text = format!("Soft switching\n{}{}\n", trimmed(&table), words::rule(settings));
    if let Some(sentence) = rest(listed) {
        let _ = writeln!(text, "{sentence}");
    }
    if judged(listed).any(|(_, switching)| words::has_tied_pair(switching)) {
        let _ = writeln!(text, "{}", words::PAIR);
    }
    if let Some(sentence) = unjudged(listed) {
        let _ = writeln!(text, "{sentence}");
    }
    text + "\n"
}

fn terminal_row(result: &UnitResult, switching: &SoftSwitching) -> [String; 8] {
    let counts = switching.counts();
    [
        result.name.clone(),
        result.point.name.clone(),
        names::arrangement(result.arrangement).short.into(),
        counts.soft.to_string(),
        counts.hard.to_string(),
        counts.not_decided.to_string(),
        words::highest(switching),
        words::loss(&switching.commutation),
    ]
}

/// A section of the page; nothing where the scenario does not describe the switches.
pub(super) fn page(scenario: &Scenario, listed: &Listed) -> Markup {
    let Some(settings) = &scenario.switch else { return html! {} };
    let inside = if judged(listed).next().is_some() {
        judged_section(scenario, settings, listed)
    } else {
        html! { p { (words::NEEDS_EXACT) } }
    };
    section("switching", "Soft switching", &inside)
}

fn judged_section(scenario: &Scenario, settings: &SwitchSettings, listed: &Listed) -> Markup {
    let columns = [
        "converter",
        "operating point",
        "arrangement",
        "switch with the highest turn-on voltage",
        "soft",
        "hard",
        "not decided",
        "turn-on voltage, V",
        "interval voltage, V",
        "loss, W",
        "shift of the sharing error",
    ];
    let rows = html! { @for (result, switching) in shown(listed) { (row(result, switching)) } };
    let limit = scenario.limits.sharing_error;
    let shifts = judged(listed).any(|(_, switching)| switching.noteworthy_shift(limit).is_some());
    html! {
        p {
            "Does the voltage of a switch reach zero before it turns on? Each phase of each leg has two \
             such transitions a period. Dead time in the chain: " (quantity(settings.chain.dead_time))
            ", timing " (settings.chain.timing.name()) "; in the paralleled reference: "
            (quantity(settings.paralleled.dead_time)) "."
        }
        p class="lead" { (answer(listed)) }
        @if judged(listed).count() > OPEN_ROWS {
            (folded_table(TRANSITIONS, &headings(4, &columns), &rows))
        } @else {
            (page_table(TRANSITIONS, &headings(4, &columns), &rows))
        }
        @if let Some(sentence) = rest(listed) { p { (sentence) } }
        p { (words::rule(settings)) }
        @if let Some(sentence) = unjudged(listed) { p { (sentence) } }
        @if judged(listed).any(|(_, switching)| words::has_tied_pair(switching)) { p { (words::PAIR) } }
        p class="remark" {
            "The loss is what the capacitances lose at turn-on, with linear capacitances. The dead time \
             shifts the sharing error by about 0.3 to 0.4 times current × dead time / charge. In few chains it \
             is up to five times that. The last column gives the former, and the sharing error leaves it out."
            @if shifts { " In some converters here that is not small beside the limit." }
        }
    }
}

/// By how much the dead time shifts the sharing error of a converter at most, where that is not small.
pub(super) fn shift_told(scenario: &Scenario, listed: &Listed) -> Option<String> {
    let limit = scenario.limits.sharing_error;
    let shifts = judged(listed)
        .filter_map(|(result, switching)| Some((result, switching.noteworthy_shift(limit)?)));
    let (result, [from, to]) = shifts.reduce(|a, b| if b.1[1] > a.1[1] { b } else { a })?;
    Some(format!(
        "The dead time shifts the sharing error of “{}” at “{}” by about {} to {}, which is left out here.",
        result.name,
        result.point.name,
        percent(from),
        percent(to)
    ))
}

/// How the transitions of all converters end.
fn answer(listed: &Listed) -> String {
    let [mut all, mut hard, mut open] = [0; 3];
    for (_, switching) in judged(listed) {
        let counts = switching.counts();
        all += (counts.soft + counts.hard + counts.not_decided) as u64;
        hard += counts.hard as u64;
        open += counts.not_decided as u64;
    }
    match [hard, open] {
        [0, 0] => format!("All {} end softly.", counted(all, "transition")),
        [_, 0] => format!("{} of {} end hard.", count(hard), counted(all, "transition")),
        _ => format!(
            "{} of {} end hard; {} not decided.",
            count(hard),
            counted(all, "transition"),
            if open == 1 { "1 is".to_owned() } else { format!("{} are", count(open)) }
        ),
    }
}

fn row(result: &UnitResult, switching: &SoftSwitching) -> Markup {
    let (counts, worst) = (switching.counts(), switching.worst());
    // Where all voltages are zero none is the highest.
    let hard = worst.filter(|worst| worst.turn_on_share() > 1e-6);
    let legs = result.point.drive.legs();
    let shift = switching
        .sharing_shift
        .map_or_else(|| NONE.into(), |[from, to]| format!("{} to {}", percent(from), percent(to)));
    html! {
        tr {
            th scope="row" { (result.name) }
            td { (result.point.name) }
            td { (names::arrangement(result.arrangement).short) }
            td class="unbroken" { (hard.map_or_else(|| NONE.into(), |worst| words::switch(worst, legs))) }
            (number(counts.soft.to_string()))
            (number(counts.hard.to_string()))
            (number(counts.not_decided.to_string()))
            (number(worst.map_or_else(|| NONE.into(), |worst| three(worst.turn_on_voltage.0))))
            (number(worst.map_or_else(|| NONE.into(), |worst| three(worst.interval_voltage.0))))
            (number(three(switching.commutation.loss.0)))
            (number(shift))
        }
    }
}
