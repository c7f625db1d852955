//! Converters one by one: a picture, and for a script the parts and results of each.

use maud::{Markup, html};
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::command::{self, UnitsOptions};
use crate::report::format::figures::{
    ConverterMark, Mark, Name, ScatterAxes, converter_scatter, converter_scatter_places,
};
use crate::report::format::page::parts::{folded_table, headings, number};
use crate::report::format::{json, numbers};
use crate::report::run::csv::PartColumns;
use crate::scenario::Scenario;
use crate::study::run::{DrawnConverter, DrawnConverters, DrawnResult, Run};

/// What stands for the sample's number in names of files and units.
const NUMBER: &str = "{n}";
/// The file of the first sample.
const FIRST_FILE: &str = "sample-0.csv";
/// Rows of the table of converters.
const ROWS: usize = 10;

/// The picture, what a script fills in, and a table.
pub(super) fn section(scenario: &Scenario, run: &Run, drawn: &DrawnConverters) -> Markup {
    let axes = axes(scenario);
    let marks = marks(drawn);
    let name = Name {
        id: "converters-figure".to_owned(),
        title: "Sharing error over switch current of single converters, balanced chain".to_owned(),
        description: "A mark a converter at its largest values over all operating points; crosses miss a limit."
            .to_owned(),
    };
    html! {
        p {
            "Each mark is one converter with balancing: its largest sharing error and its largest switch RMS current over all \
             operating points. Pick one to see its parts, its results and the command that solves it again (this needs JavaScript)."
        }
        div class="figures" {
            figure class="converters-figure" data-converters=(data(scenario, run, drawn)) {
                (converter_scatter(&name, &axes, &marks))
                figcaption { (caption(run, drawn)) }
            }
            div class="picked" data-by-script {}
        }
        (table(drawn))
    }
}

fn axes(scenario: &Scenario) -> ScatterAxes {
    let limits = &scenario.limits;
    let rms = limits
        .chain
        .rms_current
        .map(|limit| Mark { value: limit.0, label: format!("limit {}\u{a0}A", limit.0) });
    let error = limits.sharing_error.map(|limit| Mark {
        value: 100.0 * limit,
        label: format!("limit {}", numbers::given_percent(limit)),
    });
    ScatterAxes {
        names: ["switch RMS current, A".to_owned(), "sharing error, %".to_owned()],
        limits: [rms, error],
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

/// The worst of them, for those who have no script.
fn table(drawn: &DrawnConverters) -> Markup {
    let mut worst: Vec<&DrawnConverter> = drawn.converters.iter().collect();
    worst.sort_by(|a, b| b.largest.sharing_error.total_cmp(&a.largest.sharing_error));
    let head =
        headings(1, &["sample", "sharing error", "switch RMS, A", "switch peak, A", "limits"]);
    let rows = html! {
        @for own in worst.into_iter().take(ROWS) {
            tr {
                th scope="row" { (numbers::count(own.sample)) }
                (number(numbers::percent(own.largest.sharing_error)))
                (number(numbers::three(own.largest.switch_rms)))
                (number(numbers::three(own.largest.switch_peak)))
                (number(if own.passes[0] { "meets all" } else { "misses one" }))
            }
        }
    };
    html! {
        (folded_table("The converters with the largest sharing errors, chain", &head, &rows))
        p class="remark" {
            "The parts of the worst are in “" a href="#worst" { "Worst converters" } "”, those of every sample in "
            code { "population.parquet" } "."
        }
    }
}

/// What a script tells of a picked converter.
#[derive(Debug, Serialize)]
struct ConvertersData {
    /// Ends of both axes and their places.
    places: [f64; 8],
    points: Vec<String>,
    /// Lowest and highest of the three results of every case.
    results: Vec<[[f64; 2]; 3]>,
    columns: Vec<ColumnData>,
    phases: usize,
    /// A line a converter: sample number, whether each arrangement passes, then places between lowest and
    /// highest in base 64: two digits a result, three a part.
    converters: Vec<String>,
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

fn data(scenario: &Scenario, run: &Run, drawn: &DrawnConverters) -> String {
    let columns = PartColumns::of(&scenario.nominal_converter());
    let columns = columns_of(&columns, scenario, drawn);
    let results = result_ranges(run, drawn);
    let converters = drawn.converters.iter();
    let converters =
        converters.enumerate().map(|(n, own)| results_of(own, &results) + &parts_of(n, &columns));
    let converters = converters.collect();
    let point = drawn.parts_hold_in.map(|case| run.cases[case].operating_point().to_owned());
    let unit = format!("sample {NUMBER}");
    let file = format!("sample-{NUMBER}.csv");
    let again = UnitsOptions { parts: FIRST_FILE, ..UnitsOptions::default() };
    let command = command::units(scenario, &again, run.settings.method);
    let (before, behind) = command.rsplit_once(FIRST_FILE).unwrap_or((&command, ""));
    let command = [format!("{before}sample-"), format!(".csv{behind}")];
    let waveforms = run.waveforms.iter().flat_map(|own| &own.converters);
    let data = ConvertersData {
        places: converter_scatter_places(&axes(scenario), &marks(drawn)),
        points: run
            .cases
            .iter()
            .step_by(Arrangement::ALL.len())
            .map(|case| case.operating_point().to_owned())
            .collect(),
        results,
        columns,
        phases: scenario.phases,
        converters,
        unit: point.as_ref().map_or_else(|| unit.clone(), |point| format!("{unit} as at {point}")),
        file,
        command,
        hold_at: point,
        waveforms: waveforms.filter_map(|own| own.sample).collect(),
    };
    json::line(&data)
}

fn columns_of(
    columns: &PartColumns,
    scenario: &Scenario,
    drawn: &DrawnConverters,
) -> Vec<ColumnData> {
    let nominal = scenario.nominal_converter();
    let of_nominal: Vec<Vec<Option<f64>>> =
        (0..scenario.phases).map(|phase| columns.values(&nominal, phase)).collect();
    let rows: Vec<Vec<Vec<Option<f64>>>> = drawn
        .converters
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

/// The lowest and the highest, equal where they differ by rounding alone; zeros of nothing.
fn ends(values: impl Iterator<Item = f64>) -> [f64; 2] {
    let ends = values.fold(None, |ends: Option<[f64; 2]>, v| {
        Some(ends.map_or([v, v], |[low, high]| [low.min(v), high.max(v)]))
    });
    let [low, high] = ends.unwrap_or_default();
    if high - low > 1e-12 * high.abs() { [low, high] } else { [low, low] }
}

/// The parts of a converter, column by column and phase by phase.
fn parts_of(n: usize, columns: &[ColumnData]) -> String {
    let of_column = |own: &ColumnData| -> String {
        own.values[n].iter().map(|value| digits(*value, own.range, 3)).collect()
    };
    columns.iter().map(of_column).collect()
}

/// Its number, whether it passes, and its results.
fn results_of(own: &DrawnConverter, results: &[[[f64; 2]; 3]]) -> String {
    let passes = own.passes.map(u8::from);
    let mut text = format!("{},{}{},", own.sample, passes[0], passes[1]);
    for (result, ranges) in own.results.iter().zip(results) {
        match result {
            None => text.push_str("------"),
            Some(DrawnResult { sharing_error, switch_rms, switch_peak }) => {
                let values = [sharing_error, switch_rms, switch_peak];
                for (value, range) in values.into_iter().zip(ranges) {
                    text.push_str(&digits(*value, *range, 2));
                }
            }
        }
    }
    text
}

/// The place of a value between both ends of a range, in so many digits of base 64 (the alphabet of RFC
/// 4648); nothing where the range is a point.
fn digits(value: f64, [low, high]: [f64; 2], number: u32) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    if high <= low {
        return String::new();
    }
    let most = f64::from(64_u32.pow(number) - 1);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the range")]
    let place = (most * (value - low) / (high - low)).round().clamp(0.0, most) as u32;
    let digit = |n: u32| char::from(ALPHABET[(place / 64_u32.pow(n) % 64) as usize]);
    (0..number).rev().map(digit).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, table 1: A is 0, Z is 25, / is 63.
    #[test]
    fn values_are_places_between_both_ends() {
        let range = [1.0, 2.0];
        assert_eq!([1.0, 2.0, 1.5].map(|v| digits(v, range, 2)), ["AA", "//", "gA"]);
        assert_eq!(digits(1.0 + 25.0 / 4095.0, range, 2), "AZ");
        assert_eq!(digits(1.0, [1.0, 1.0], 3), "");
        assert_eq!(
            ends([3.0, 1.0, 2.0].into_iter()).map(f64::to_bits),
            [1.0, 3.0].map(f64::to_bits)
        );
    }
}
