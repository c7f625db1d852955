//! Shapes of measured values, on the terminal.

use std::fmt::Write as _;

use super::{MeasurementsSource, lines, words};
use crate::report::format::blocks::{self, fitted};
use crate::report::format::numbers::{count, counted, decimals, three};
use crate::report::format::screen::{Blocks, CommandWord, NextQuestion, Screen};
use crate::report::format::terminal::{left, right, table, trimmed};
use crate::study::shapes::{ColumnCorrelation, ColumnShapes, MeasuredShapes};

/// Characters of a column's name, and of its histogram.
const LABEL: usize = 26;
const BINS: usize = 20;

/// The answer in a screenful, with the lines to paste, and all tables behind it.
pub(super) fn screen(source: &MeasurementsSource, found: &MeasuredShapes) -> Screen {
    let columns = &found.columns;
    let blocks = Blocks {
        title: format!(
            "Shapes of the values in {}: {}",
            source.name,
            counted(columns.len() as u64, "column")
        ),
        before: words::left_out(source).unwrap_or_default(),
        answer: columns.iter().map(answer).collect(),
        figure: histograms(columns),
        notes: pasted(source, found),
    };
    let next = NextQuestion {
        question: if blocks.notes.is_empty() {
            "a scenario to begin from:"
        } else {
            "paste the lines into a scenario. For one to begin from:"
        },
        words: ["draft", "my.toml"].map(|word| CommandWord::Plain(word.to_owned())).into(),
    };
    blocks.screen_of_values(&tables(source, found), next)
}

/// What fits the values of a column, and what to know before it is used.
fn answer(column: &ColumnShapes) -> String {
    let first = format!("{}: {}\n", words::name(&column.name), words::answer(column));
    let notes = words::warnings(column).into_iter().map(|own| format!("  Note: {own}"));
    let told = notes.chain(words::inspection(column).map(|own| format!("  {own}")));
    told.fold(first, |text, line| text + &line + "\n")
}

/// A histogram of each column in a line.
fn histograms(columns: &[ColumnShapes]) -> String {
    let mut table =
        table(&["column", "values", "nominal", "mean", "sigma", "deviations from nominal"]);
    right(&mut table, 1..5);
    left(&mut table, 5);
    for column in columns {
        let relative = |x: f64| x / column.nominal.value;
        let counts = blocks::joined(&column.histogram().counts, BINS);
        let most = counts.iter().copied().max().unwrap_or(0);
        table.add_row([
            fitted(&words::name(&column.name), LABEL),
            count(column.count() as u64),
            words::value(column, column.nominal.value),
            words::deviation(relative(column.mean.estimate) - 1.0),
            format!("{}\u{a0}%", decimals(100.0 * relative(column.sd.estimate), 2)),
            blocks::histogram(&counts, most),
        ]);
    }
    trimmed(&table)
}

/// The lines to paste: of the shape that fits best, else of the measured values.
fn pasted(source: &MeasurementsSource, found: &MeasuredShapes) -> String {
    let of_column = |column: &ColumnShapes| {
        let closest = column.possible().next();
        let of_shape = closest.map(|closest| lines::of_shape(column, closest));
        of_shape.or_else(|| lines::of_measured(column, source))
    };
    let correlations = found.correlations.iter().filter_map(lines::of_correlation);
    let all: Vec<String> = found.columns.iter().filter_map(of_column).chain(correlations).collect();
    if all.is_empty() { String::new() } else { format!("For the scenario:\n{}", all.concat()) }
}

/// Figures and shapes of every column, and all correlations.
fn tables(source: &MeasurementsSource, found: &MeasuredShapes) -> String {
    let about = |column: &ColumnShapes| {
        let heading = format!("{}: {}\n", words::name(&column.name), words::counts(column));
        heading + &figures(column) + &shapes(column)
    };
    let mut text: String = found.columns.iter().map(about).collect();
    text.push_str(&correlations(&found.correlations));
    let _ = writeln!(text, "\n{}", words::meaning());
    if let Some(told) = words::left_out(source) {
        let _ = writeln!(text, "{told}");
    }
    let has_shapes = found.columns.iter().any(|column| !column.fits.is_empty());
    let more = "The page has a probability plot and the lines of every shape.\n";
    text + if has_shapes { more } else { "" }
}

/// The correlations.
fn correlations(all: &[ColumnCorrelation]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut table = table(&["correlation of", "and", "rows", "coefficient", "95 % interval"]);
    for correlation in all {
        let [first, second] = words::names_of(correlation);
        table.add_row([
            first,
            second,
            count(correlation.found.pairs as u64),
            words::coefficient(correlation),
            words::coefficient_interval(correlation),
        ]);
    }
    format!("\n{}{}\n", trimmed(&table), words::CORRELATIONS)
}

fn figures(column: &ColumnShapes) -> String {
    let relative = |x: f64| x / column.nominal.value;
    let rows = [
        ["nominal".to_owned(), words::nominal(column), String::new()],
        [
            "mean".to_owned(),
            format!(
                "{} (95 % interval {})",
                words::value(column, column.mean.estimate),
                words::interval(column, &column.mean)
            ),
            words::deviation(relative(column.mean.estimate) - 1.0),
        ],
        [
            "sigma".to_owned(),
            format!(
                "{} (95 % interval {})",
                words::value(column, column.sd.estimate),
                words::interval(column, &column.sd)
            ),
            format!("{} %", decimals(100.0 * relative(column.sd.estimate), 2)),
        ],
        [
            "range".to_owned(),
            format!(
                "{} to {}, median {}",
                words::value(column, column.ratios.smallest() * column.nominal.value),
                words::value(column, column.ratios.largest() * column.nominal.value),
                words::value(column, column.median)
            ),
            format!(
                "{} to {}",
                words::deviation(column.ratios.smallest() - 1.0),
                words::deviation(column.ratios.largest() - 1.0)
            ),
        ],
    ];
    let mut table = table(&["", "", "of nominal"]);
    for row in rows {
        table.add_row(row);
    }
    format!("{}\n", trimmed(&table))
}

fn shapes(column: &ColumnShapes) -> String {
    let mut table = table(&["shape", "fits", "A²", "p", "D", "p"]);
    for fit in &column.fits {
        table.add_row([
            fit.shape.family().name().to_owned(),
            words::fits(fit).to_owned(),
            three(fit.distances.anderson_darling),
            words::probability(fit.probabilities.anderson_darling),
            three(fit.distances.kolmogorov_smirnov),
            words::probability(fit.probabilities.kolmogorov_smirnov),
        ]);
    }
    let mut text = if column.fits.is_empty() { String::new() } else { trimmed(&table) };
    for family in column.without_fit.iter().copied() {
        let _ = writeln!(text, "{}.", words::without_fit(family));
    }
    text.push('\n');
    text
}
