//! Converters one by one: a picture, and for a script the parts and results of each.

use maud::{Markup, html};
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::command::{self, UnitsOptions};
use crate::report::format::figures::ConverterMark;
use crate::report::format::page::parts::{folded_table, headings, number};
use crate::report::format::page::picker::{PickerData, VALUE_DIGITS, digits, ends, picker};
use crate::report::format::{numbers, premises};
use crate::report::run::csv::PartColumns;
use crate::scenario::Scenario;
use crate::study::run::{DrawnConverter, DrawnConverters, DrawnResult, Run};

/// What stands for the sample's number in names of files and units.
const NUMBER: &str = "{n}";
/// The file of the first sample.
const FIRST_FILE: &str = "sample-0.csv";
/// Digits of a result.
const RESULT_DIGITS: u32 = 2;
/// Rows of the table of converters.
const ROWS: usize = 10;

/// The picture, what a script fills in, and a table.
pub(super) fn section(scenario: &Scenario, run: &Run, drawn: &DrawnConverters) -> Markup {
    let data = data(scenario, run, drawn);
    html! {
        p {
            "Each mark is one converter with balancing: its largest sharing error and its largest switch RMS current over all \
             operating points. Pick one to see its parts, its results and the command that solves it again (this needs JavaScript)."
        }
        (picker(scenario, "samples", &marks(drawn), &caption(run, drawn), &data))
        (table(scenario, run, drawn))
    }
}

fn marks(drawn: &DrawnConverters) -> Vec<ConverterMark> {
    let mark = |own: &DrawnConverter| {
        let at = [own.largest.switch_rms, 100.0 * own.largest.sharing_error];
        ConverterMark { at, fails: !own.passes[0] }
    };
    drawn.converters.iter().map(mark).collect()
}

fn caption(run: &Run, drawn: &DrawnConverters) -> Markup {
    let all = run.settings.samples;
    html! {
        b { "Single converters with balancing." }
        " Cross: misses a limit. "
        @if all > drawn.first {
            "Drawn are the first " (numbers::samples(drawn.first)) " of " (numbers::count(all)) ", the "
            (drawn.extremes) " with the largest sharing errors and the " (drawn.extremes)
            " with the largest currents. The latter are over-represented. Those whose waveforms are shown are among \
             them."
        } @else {
            "Drawn are all samples."
        }
        @if drawn.unsolved > 0 {
            " " (numbers::samples(drawn.unsolved)) " of all, not solved at every operating point, are left out."
        }
    }
}

/// By their largest sharing errors.
fn worst_first(drawn: &DrawnConverters) -> Vec<&DrawnConverter> {
    let mut worst: Vec<&DrawnConverter> = drawn.converters.iter().collect();
    worst.sort_by(|a, b| b.largest.sharing_error.total_cmp(&a.largest.sharing_error));
    worst
}

/// The worst of them, for those who have no script.
fn table(scenario: &Scenario, run: &Run, drawn: &DrawnConverters) -> Markup {
    let met = if premises::has_no_limit(scenario) { "none set" } else { "meets all" };
    let head =
        headings(1, &["sample", "sharing error", "switch RMS, A", "switch peak, A", "limits"]);
    let rows = html! {
        @for own in worst_first(drawn).into_iter().take(ROWS) {
            tr {
                th scope="row" { (numbers::count(own.sample)) }
                (number(numbers::percent(own.largest.sharing_error)))
                (number(numbers::three(own.largest.switch_rms)))
                (number(numbers::three(own.largest.switch_peak)))
                (number(if own.passes[0] { met } else { "misses one" }))
            }
        }
    };
    html! {
        (folded_table("The converters with the largest sharing errors, chain", &head, &rows))
        p class="remark" {
            "The parts of the worst are in “" a href="#worst" { "Worst converters" } "”"
            @if run.has_files { ", those of every sample in " code { "population.parquet" } }
            "."
        }
    }
}

/// What a script tells of a picked sample besides its results.
#[derive(Debug, Serialize)]
struct SampleData {
    columns: Vec<ColumnData>,
    /// What a file of parts calls a converter, and its file, with `{n}` for the number; the command before
    /// and behind the number.
    unit: String,
    file: String,
    command: [String; 2],
    /// Where the parts hold that depend on temperature and age; null where they hold everywhere.
    hold_at: Option<String>,
    /// Samples whose waveforms are shown.
    waveforms: Vec<u64>,
}

/// A column of a file of parts.
#[derive(Debug, Serialize)]
struct ColumnData {
    name: String,
    label: String,
    nominal: Option<f64>,
    /// Lowest and highest value of the converters that are drawn.
    range: [f64; 2],
    /// Phases that have such a part.
    phases: usize,
    /// Of every converter, phase by phase.
    #[serde(skip)]
    values: Vec<Vec<f64>>,
}

fn data(scenario: &Scenario, run: &Run, drawn: &DrawnConverters) -> PickerData<SampleData> {
    let worst = worst_first(drawn);
    let columns = PartColumns::of(&scenario.nominal_converter());
    let columns = columns_of(&columns, scenario, &worst);
    let results = result_ranges(run, drawn);
    let line = |(n, own): (usize, &&DrawnConverter)| line(n, own, &results, &columns);
    PickerData {
        points: run
            .cases
            .iter()
            .step_by(Arrangement::ALL.len())
            .map(|case| case.operating_point().to_owned())
            .collect(),
        phases: scenario.phases,
        digits: RESULT_DIGITS,
        largest: None,
        whole: None,
        verdicts: None,
        converters: worst.iter().enumerate().map(line).collect(),
        results,
        more: sample_data(scenario, run, drawn, columns),
    }
}

fn sample_data(
    scenario: &Scenario,
    run: &Run,
    drawn: &DrawnConverters,
    columns: Vec<ColumnData>,
) -> SampleData {
    let point = drawn.parts_hold_in.map(|case| run.cases[case].operating_point().to_owned());
    let unit = format!("sample {NUMBER}");
    let again = UnitsOptions { parts: FIRST_FILE, ..UnitsOptions::default() };
    let command = command::units(scenario, &again, run.settings.method);
    let (before, behind) = command.rsplit_once(FIRST_FILE).unwrap_or((&command, ""));
    let waveforms = run.waveforms.iter().flat_map(|own| &own.converters);
    SampleData {
        columns,
        unit: point.as_ref().map_or_else(|| unit.clone(), |point| format!("{unit} as at {point}")),
        file: format!("sample-{NUMBER}.csv"),
        command: [format!("{before}sample-"), format!(".csv{behind}")],
        hold_at: point,
        waveforms: waveforms.filter_map(|own| own.sample).collect(),
    }
}

fn columns_of(
    columns: &PartColumns,
    scenario: &Scenario,
    drawn: &[&DrawnConverter],
) -> Vec<ColumnData> {
    let nominal = scenario.nominal_converter();
    let of_nominal: Vec<Vec<Option<f64>>> =
        (0..scenario.phases).map(|phase| columns.values(&nominal, phase)).collect();
    let rows: Vec<Vec<Vec<Option<f64>>>> = drawn
        .iter()
        .map(|own| (0..scenario.phases).map(|k| columns.values(&own.converter, k)).collect())
        .collect();
    let names = columns.names().enumerate();
    names
        .map(|(n, name)| {
            let values: Vec<Vec<f64>> =
                rows.iter().map(|own| own.iter().filter_map(|row| row[n]).collect()).collect();
            let range = ends(values.iter().flatten().copied());
            let phases = of_nominal.iter().filter(|row| row[n].is_some()).count();
            let nominal = of_nominal.first().and_then(|row| row[n]);
            let label = columns.label(n);
            ColumnData { name: name.to_owned(), label, nominal, range, phases, values }
        })
        .collect()
}

fn result_ranges(run: &Run, drawn: &DrawnConverters) -> Vec<[[f64; 2]; 3]> {
    let of_case = |case: usize| {
        let results = || drawn.converters.iter().filter_map(move |own| own.results[case]);
        [
            ends(results().map(|own| own.sharing_error)),
            ends(results().map(|own| own.switch_rms)),
            ends(results().map(|own| own.switch_peak)),
        ]
    };
    (0..run.cases.len()).map(of_case).collect()
}

/// The line of a converter: whether it passes, its results, its parts column by column and phase by phase, its
/// number.
fn line(
    n: usize,
    own: &DrawnConverter,
    results: &[[[f64; 2]; 3]],
    columns: &[ColumnData],
) -> String {
    let [chain, paralleled] = own.passes.map(u8::from);
    let values = |result: &Option<DrawnResult>| {
        [
            result.map(|own| own.sharing_error),
            result.map(|own| own.switch_rms),
            result.map(|own| own.switch_peak),
        ]
    };
    let results = own.results.iter().zip(results).flat_map(|(result, ranges)| {
        let values = values(result).into_iter().zip(ranges);
        values.map(|(value, range)| digits(value, *range, RESULT_DIGITS))
    });
    let parts = columns.iter().flat_map(|column| {
        column.values[n].iter().map(|value| digits(Some(*value), column.range, VALUE_DIGITS))
    });
    let text: String = results.chain(parts).collect();
    format!("{chain}{paralleled},{text},{}", own.sample)
}
