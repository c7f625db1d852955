//! Listed converters one by one on the page: picked in a figure or a list, told without a long table.

use std::collections::BTreeMap;

use maud::{Markup, html};
use serde::Serialize;

use super::measured;
use crate::converter::Arrangement;
use crate::report::format::figures::ConverterMark;
use crate::report::format::page::parts::section;
use crate::report::format::page::picker::{PickerData, VALUE_DIGITS, digits, ends, picker};
use crate::report::format::{missed, numbers};
use crate::scenario::Scenario;
use crate::study::units::{Listed, UnitPhase, UnitResult, UnitVerdict};

/// Bytes that all converters together may take, and bytes of all currents of the phases. The page stays
/// small however many converters there are.
const BYTES: usize = 80_000;
const BYTES_OF_CURRENTS: usize = 60_000;
/// What a converter takes besides its name, and besides its currents.
const BYTES_EACH: usize = 40;
/// The currents of a phase that are told.
const CURRENTS: [fn(&UnitPhase) -> f64; 3] =
    [|own| own.output_current.0, |own| own.rms_current.0, |own| own.peak_current.0];

/// What is told of a picked converter besides its results.
#[derive(Debug, Serialize)]
struct UnitData {
    /// A current of the phases in every case.
    columns: Vec<ColumnData>,
    /// Rows of measured currents, by the place of the converter.
    measured: BTreeMap<usize, Vec<[String; 7]>>,
}

#[derive(Debug, Serialize)]
struct ColumnData {
    /// Lowest and highest value.
    range: [f64; 2],
    phases: usize,
}

/// The section; nothing for a single converter, which has nothing to be picked from.
pub(super) fn page(scenario: &Scenario, listed: &Listed) -> Markup {
    if listed.verdicts.len() < 2 {
        return html! {};
    }
    let order = shown(listed);
    let data = data(scenario, listed, &order);
    let marks: Vec<ConverterMark> =
        order.iter().filter_map(|unit| mark(&listed.verdicts[*unit][0])).collect();
    let inside = html! {
        p {
            "Each mark is one converter of the list in the chain: its largest sharing error and its largest \
             switch RMS current over all operating points. Pick one to see what it misses, its phases and \
             what was measured on it (this needs JavaScript)."
        }
        (picker(scenario, "units", &marks, &caption(listed, &order, marks.len()), &data))
    };
    section("converters", "Converters one by one", &inside)
}

/// Places of the worst converters, as many as the page holds.
fn shown(listed: &Listed) -> Vec<usize> {
    let mut order = listed.worst_first();
    let bytes = order.iter().scan(0, |bytes, unit| {
        *bytes += listed.of_unit(*unit)[0].name.len() + BYTES_EACH;
        Some(*bytes)
    });
    let number = bytes.take_while(|bytes| *bytes <= BYTES).count();
    order.truncate(number.max(1));
    order
}

fn mark(chain: &UnitVerdict) -> Option<ConverterMark> {
    let at = [chain.worst_switches.as_ref()?.rms_current.0, 100.0 * chain.sharing_error?];
    Some(ConverterMark { at, fails: !chain.meets_limits })
}

fn caption(listed: &Listed, order: &[usize], drawn: usize) -> Markup {
    let all = listed.verdicts.len();
    html! {
        b { "Single converters with balancing." }
        " Cross: misses a limit."
        @if order.len() < all {
            " Drawn are the worst " (numbers::count(order.len() as u64)) " of "
            (numbers::count(all as u64)) "."
        }
        @if drawn < order.len() {
            " " (numbers::counted((order.len() - drawn) as u64, "converter"))
            " without any steady state cannot be drawn."
        }
    }
}

fn data(scenario: &Scenario, listed: &Listed, order: &[usize]) -> PickerData<UnitData> {
    let first = listed.of_unit(order[0]);
    let values = first.len() * (3 + CURRENTS.len() * scenario.phases);
    let bytes_of_currents = values * VALUE_DIGITS as usize + 3 * BYTES_EACH;
    let whole = (BYTES_OF_CURRENTS / bytes_of_currents).clamp(1, order.len());
    let results = result_ranges(listed, &order[..whole]);
    let columns = columns(scenario, listed, &order[..whole]);
    let largest = largest_ranges(listed, order);
    let line = |(n, unit): (usize, &usize)| {
        let told = if n < whole { listed.of_unit(*unit) } else { &[] };
        let of_all = largest_values(&listed.verdicts[*unit][0]).into_iter().zip(largest);
        let of_all = of_all.map(|(value, range)| digits(value, range, VALUE_DIGITS));
        let of_all: String = of_all.collect();
        line(listed, *unit, &(of_all + &told_values(told, &results, &columns)))
    };
    let verdicts = order[..whole].iter().map(|unit| verdict(&listed.verdicts[*unit]));
    PickerData {
        points: first.iter().step_by(2).map(|own| own.point.name.clone()).collect(),
        phases: scenario.phases,
        digits: VALUE_DIGITS,
        largest: Some(largest),
        whole: Some(whole),
        verdicts: Some(verdicts.collect()),
        converters: order.iter().enumerate().map(line).collect(),
        results,
        more: UnitData { columns, measured: measured::rows_by_unit(listed, &order[..whole]) },
    }
}

fn line(listed: &Listed, unit: usize, text: &str) -> String {
    let [chain, paralleled] =
        listed.verdicts[unit].each_ref().map(|own| u8::from(own.meets_limits));
    format!("{chain}{paralleled},{text},{}", listed.of_unit(unit)[0].name)
}

fn largest_values(chain: &UnitVerdict) -> [Option<f64>; 2] {
    [chain.sharing_error, chain.worst_switches.as_ref().map(|own| own.rms_current.0)]
}

fn largest_ranges(listed: &Listed, order: &[usize]) -> [[f64; 2]; 2] {
    let values = |n: usize| {
        ends(order.iter().filter_map(move |unit| largest_values(&listed.verdicts[*unit][0])[n]))
    };
    [values(0), values(1)]
}

/// Sharing error, RMS and peak current of the worst switch.
fn results_of(own: &UnitResult) -> [Option<f64>; 3] {
    let solved = own.solved.as_ref();
    [
        solved.map(|own| own.sharing_error),
        solved.map(|own| own.worst_switches.rms_current.0),
        solved.map(|own| own.worst_switches.peak_current.0),
    ]
}

fn result_ranges(listed: &Listed, order: &[usize]) -> Vec<[[f64; 2]; 3]> {
    let of_case = |case: usize| {
        let values = |n: usize| {
            ends(order.iter().filter_map(move |unit| results_of(&listed.of_unit(*unit)[case])[n]))
        };
        [values(0), values(1), values(2)]
    };
    (0..listed.of_unit(order[0]).len()).map(of_case).collect()
}

/// Columns case by case, in each a current.
fn columns(scenario: &Scenario, listed: &Listed, order: &[usize]) -> Vec<ColumnData> {
    let cases = 0..listed.of_unit(order[0]).len();
    let column = |case: usize, current: fn(&UnitPhase) -> f64| {
        let solved = order.iter().filter_map(|unit| listed.of_unit(*unit)[case].solved.as_ref());
        let range = ends(solved.flat_map(|own| own.phases.iter().map(current)));
        ColumnData { range, phases: scenario.phases }
    };
    cases.flat_map(|case| CURRENTS.map(|current| column(case, current))).collect()
}

/// The results of a converter in all cases, then its columns; nothing of one that is not told as a whole.
fn told_values(told: &[UnitResult], results: &[[[f64; 2]; 3]], columns: &[ColumnData]) -> String {
    let of_results = told.iter().zip(results).flat_map(|(own, ranges)| {
        let values = results_of(own).into_iter().zip(ranges);
        values.map(|(value, range)| digits(value, *range, VALUE_DIGITS))
    });
    let currents = told.iter().flat_map(|own| CURRENTS.map(|current| (own, current)));
    let of_columns = currents.zip(columns).flat_map(|((own, current), column)| {
        (0..column.phases).map(move |phase| {
            let value = own.solved.as_ref().map(|own| current(&own.phases[phase]));
            digits(value, column.range, VALUE_DIGITS)
        })
    });
    of_results.chain(of_columns).collect()
}

/// Both arrangements against the limits, in words.
fn verdict(of_unit: &[UnitVerdict; 2]) -> String {
    let sentence = |own: &UnitVerdict| {
        let it = match own.arrangement {
            Arrangement::Chain => "In the chain it",
            Arrangement::Paralleled => "Paralleled it",
        };
        let Some(miss) = own.worst_miss.as_ref() else { return format!("{it} meets all limits.") };
        match miss.missed.demand.figure {
            Some(_) => format!(
                "{it} misses a limit; the worst: {}, at “{}”.",
                missed::figure_and_limit(&miss.missed),
                miss.operating_point
            ),
            None => format!("{it} has no steady state at “{}”.", miss.operating_point),
        }
    };
    of_unit.each_ref().map(sentence).join(" ")
}
