//! Converters over load: a row each on the terminal, figures on the page.

use std::fmt::Write as _;

use maud::{Markup, html};

use crate::converter::{Arrangement, Shared};
use crate::report::format::figures::{self, Name, OverLoadAxes, PhaseCurrents};
use crate::report::format::names::{self, capital};
use crate::report::format::numbers::{NONE, count, counted, given_percent, percent, quantity};
use crate::report::format::page::parts::{headings, number, section, table as page_table};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::study::units::{Listed, LoadCurrents, LoadResult, MeasuredLoad, OverLoad, UnitPhase};

/// Most rows on terminal and page.
const ROWS: usize = 40;
/// Most groups of figures on the page, one a converter and range of loads.
const GROUPS: usize = 6;
/// The currents that are drawn.
const DRAWN: [Shared; 2] = [Shared::MeanTankCurrent, Shared::RmsTankCurrent];

/// A converter over a range of loads: the chain and the paralleled reference.
struct Followed<'a> {
    over_load: &'a OverLoad,
    curves: &'a [LoadCurrents],
    measured: Vec<&'a MeasuredLoad>,
}

/// All of them: those with measured currents first, then those that share worst in the chain.
fn followed<'a>(listed: &'a Listed, over_load: &'a OverLoad) -> Vec<Followed<'a>> {
    let pairs = over_load.curves.chunks(Arrangement::ALL.len());
    let mut all: Vec<Followed<'a>> = pairs
        .map(|curves| {
            let range = &over_load.ranges[curves[0].range];
            let is_own = |load: &&MeasuredLoad| {
                load.reading.unit == curves[0].unit
                    && range.members.contains(&load.reading.operating_point)
            };
            Followed {
                over_load,
                curves,
                measured: listed.measured.iter().filter(is_own).collect(),
            }
        })
        .collect();
    all.sort_by(|a, b| {
        let is_measured = |followed: &Followed<'_>| !followed.measured.is_empty();
        let by_error = b.largest_sharing_error().total_cmp(&a.largest_sharing_error());
        is_measured(b).cmp(&is_measured(a)).then(by_error)
    });
    all
}

impl Followed<'_> {
    /// Names of the converter and of the operating point at full power.
    fn names(&self) -> [&str; 2] {
        let curves = &self.curves[0];
        [&curves.name, &self.over_load.ranges[curves.range].point.name]
    }

    /// The largest sharing error of the chain; below zero where nothing is solved.
    fn largest_sharing_error(&self) -> f64 {
        let load = self.curves.first().and_then(LoadCurrents::largest_sharing_error);
        load.and_then(|load| Some(load.solved.as_ref()?.sharing_error)).unwrap_or(-1.0)
    }

    fn measured_in(&self, arrangement: Arrangement) -> impl Iterator<Item = &MeasuredLoad> {
        self.measured.iter().copied().filter(move |load| load.arrangement() == arrangement)
    }
}

/// Where any chain shares worst over load, against the limit, and what that leaves out; none where the converters
/// are not followed so.
pub(super) fn worst(scenario: &Scenario, listed: &Listed) -> Option<String> {
    let over_load = listed.over_load.as_ref()?;
    let chains = || over_load.curves.iter().filter(|own| own.arrangement == Arrangement::Chain);
    let largest = chains().filter_map(|own| {
        let load = own.largest_sharing_error()?;
        Some((load.solved.as_ref()?.sharing_error, load, own))
    });
    let (value, load, own) = largest.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let range = match &over_load.ranges[..] {
        [_] => String::new(),
        ranges => format!(" of “{}”", ranges[own.range].point.name),
    };
    let against = scenario.limits.sharing_error.map_or_else(String::new, |limit| {
        let relation = if value > limit { "above" } else { "within" };
        format!(", {relation} the limit of {}", given_percent(limit))
    });
    let new = if scenario.service_life.is_some() { "new " } else { "" };
    let loads = chains().map(|own| own.loads.len() as u64).sum();
    let unsolved = chains().map(|own| own.unsolved().count() as u64).sum();
    let without = if unsolved == 0 {
        String::new()
    } else {
        format!(
            " Out of range or not solved, and so without an error: {} of {}.",
            count(unsolved),
            counted(loads, "load")
        )
    };
    Some(format!(
        "Over load: the largest sharing error of a {new}chain is {}, that of “{}” at a load of {}{range}{against}.{without}",
        percent(value),
        own.name,
        quantity(load.output_power)
    ))
}

/// For the terminal; nothing where the converters are not followed over load.
pub(super) fn text(listed: &Listed) -> String {
    let Some(over_load) = &listed.over_load else { return String::new() };
    let mut table = table(&[
        "unit",
        "operating point",
        "arrangement",
        "10 %",
        "50 %",
        "100 %",
        "largest",
        "at",
    ]);
    let all = followed(listed, over_load);
    let rows: Vec<[String; 8]> = all.iter().flat_map(rows).collect();
    for row in rows.iter().take(ROWS) {
        table.add_row(row);
    }
    let mut text =
        format!("Sharing error over load, of the full output power\n{}", trimmed(&table));
    if rows.len() > ROWS {
        let rest = count((rows.len() - ROWS) as u64);
        let _ = writeln!(text, "{rest} more rows are in summary.json.");
    }
    let _ = writeln!(text, "The currents of every phase are in over_load.csv.\n");
    text
}

/// A row an arrangement: converter, operating point, arrangement, sharing errors, and the largest.
fn rows(followed: &Followed<'_>) -> Vec<[String; 8]> {
    let [unit, point] = followed.names();
    let row = |curves: &LoadCurrents| {
        let [low, half, full] =
            [0.1, 0.5, 1.0].map(|share| curves.near(share).map_or_else(|| NONE.to_owned(), error));
        let largest = curves.largest_sharing_error();
        [
            unit.to_owned(),
            point.to_owned(),
            names::arrangement(curves.arrangement).short.to_owned(),
            low,
            half,
            full,
            largest.map_or_else(|| NONE.to_owned(), error),
            largest.map_or_else(|| NONE.to_owned(), |load| quantity(load.output_power)),
        ]
    };
    followed.curves.iter().map(row).collect()
}

/// The sharing error, or what became of the search.
fn error(load: &LoadResult) -> String {
    let solved = load.solved.as_ref();
    solved.map_or_else(|| load.outcome.status.to_owned(), |solved| percent(solved.sharing_error))
}

/// A section of the page; nothing where the converters are not followed over load.
pub(super) fn page(scenario: &Scenario, listed: &Listed) -> Markup {
    let Some(over_load) = &listed.over_load else { return html! {} };
    let all = followed(listed, over_load);
    section(
        "over-load",
        "Over load",
        &html! {
            p {
                "Each converter from a tenth of the output power to all of it. Lines are predictions, \
                 marks are measured values. Chain and paralleled reference have the same axes."
                @if scenario.service_life.is_some() { " Converters are new." }
            }
            @if let Some(worst) = worst(scenario, listed) { p { (worst) } }
            @for (n, followed) in all.iter().take(GROUPS).enumerate() { (group(n, followed)) }
            @if all.len() > GROUPS {
                p {
                    "Drawn are " (GROUPS) " of " (count(all.len() as u64)) " pairs of converter and \
                     operating point: those with measured currents, then those that share worst in the \
                     chain. All are in "
                    code { "over_load.csv" } "."
                }
            }
            (error_table(&all))
        },
    )
}

fn error_table(all: &[Followed<'_>]) -> Markup {
    let names = [
        "converter",
        "operating point",
        "arrangement",
        "at 10 % of the power",
        "at 50 %",
        "at 100 %",
        "largest",
        "at",
    ];
    let rows: Vec<[String; 8]> = all.iter().flat_map(self::rows).collect();
    let body = html! {
        @for [unit, point, arrangement, rest @ ..] in rows.iter().take(ROWS) {
            tr {
                th scope="row" { (unit) }
                td { (point) }
                td { (arrangement) }
                @for cell in rest { (number(cell)) }
            }
        }
    };
    html! {
        (page_table("Sharing error over load", &headings(3, &names), &body))
        @if rows.len() > ROWS {
            p { (count((rows.len() - ROWS) as u64)) " more rows are in " code { "summary.json" } "." }
        }
    }
}

/// The figures of a converter over a range of loads, the chain beside the paralleled reference.
fn group(index: usize, followed: &Followed<'_>) -> Markup {
    let range = &followed.over_load.ranges[followed.curves[0].range];
    let [unit, _] = followed.names();
    html! {
        h3 {
            (unit) ": " (quantity(range.point.input_voltage)) " to "
            (quantity(range.point.output_voltage)) ", up to " (quantity(range.full_power()))
        }
        div class="figures" {
            @for current in DRAWN {
                @for curves in followed.curves { (drawing(index, followed, curves, current)) }
            }
        }
    }
}

fn drawing(
    index: usize,
    followed: &Followed<'_>,
    curves: &LoadCurrents,
    current: Shared,
) -> Markup {
    let [unit, point] = followed.names();
    let arrangement = names::arrangement(curves.arrangement);
    let what = names::shared(current).long;
    let name = Name {
        id: format!("over-load-{index}-{}-{}", arrangement.short, current.name()),
        title: format!("{unit}, {point}, {}: {what} over output power", arrangement.long),
        description: "A line for each phase, with the name of the phase at its end. Marks are \
                      measured values."
            .into(),
    };
    let phases = lines(followed, curves, current);
    let unsolved = curves.unsolved().count();
    html! {
        figure {
            (figures::over_load(&name, curves.arrangement.name(), axes(followed, current), &phases))
            figcaption {
                b { (capital(arrangement.long)) "." } " " (capital(what)) "."
                @if unsolved > 0 {
                    " Out of range or not solved at " (unsolved) " of " (curves.loads.len()) " loads."
                }
            }
        }
    }
}

/// Axes that hold all lines and marks of both arrangements.
fn axes(followed: &Followed<'_>, current: Shared) -> OverLoadAxes {
    let all: Vec<PhaseCurrents> =
        followed.curves.iter().flat_map(|curves| lines(followed, curves, current)).collect();
    let places =
        || all.iter().flat_map(|phase| phase.pieces.iter().flatten().chain(&phase.measured));
    OverLoadAxes {
        power: places().map(|(power, _)| *power).fold(0.0, f64::max),
        current: places().map(|(_, current)| *current).fold(0.0, f64::max),
    }
}

/// One current of every phase: the predictions in unbroken pieces, and the measured values.
fn lines(followed: &Followed<'_>, curves: &LoadCurrents, current: Shared) -> Vec<PhaseCurrents> {
    let solved = curves.loads.iter().filter_map(|load| load.solved.as_ref());
    let measured = followed.measured_in(curves.arrangement).map(|load| load.reading.phases.len());
    let phases = solved.map(|solved| solved.phases.len()).chain(measured).max().unwrap_or(0);
    let value = |phase: &UnitPhase| phase.shared(current).0;
    let phase = |k: usize| {
        let pieces = curves.loads.chunk_by(|a, b| a.solved.is_some() == b.solved.is_some());
        let piece = |loads: &[LoadResult]| -> Vec<(f64, f64)> {
            let at = |load: &LoadResult| {
                Some((load.output_power.0, value(&load.solved.as_ref()?.phases[k])))
            };
            loads.iter().filter_map(at).collect()
        };
        let measured = followed.measured_in(curves.arrangement).filter_map(|load| {
            Some((load.output_power().0, load.comparison(k, current)?.measured.0))
        });
        PhaseCurrents {
            pieces: pieces.map(piece).filter(|piece| !piece.is_empty()).collect(),
            measured: measured.collect(),
        }
    };
    (0..phases).map(phase).collect()
}
