//! Shapes of measured values, on the terminal.

use std::fmt::Write as _;

use super::{MeasurementsSource, lines, words};
use crate::report::format::numbers::{count, counted, decimals, three};
use crate::report::format::terminal::{folded, table, trimmed};
use crate::study::shapes::{ColumnCorrelation, ColumnShapes, MeasuredShapes};

/// The answer for every column, with the lines to paste.
pub(super) fn text(source: &MeasurementsSource, found: &MeasuredShapes) -> String {
    let columns = &found.columns;
    let mut text = format!(
        "Shapes of the values in {}: {}\n",
        source.name,
        counted(columns.len() as u64, "column")
    );
    for column in columns {
        text.push('\n');
        text.push_str(&about(column, source));
    }
    text.push_str(&correlations(&found.correlations));
    let _ = writeln!(text, "\n{}", words::meaning());
    if let Some(told) = words::left_out(source) {
        let _ = writeln!(text, "{told}");
    }
    text.push_str("The page has a probability plot and the lines of every shape.\n");
    folded(&text)
}

/// The correlations, with the lines of those that the values show.
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
    let lines: Vec<String> = all.iter().filter_map(lines::of_correlation).collect();
    let pasted = if lines.is_empty() {
        String::new()
    } else {
        format!("{}\nFor the scenario:\n{}", words::CORRELATIONS, lines.join("\n"))
    };
    format!("\n{}{pasted}", trimmed(&table))
}

fn about(column: &ColumnShapes, source: &MeasurementsSource) -> String {
    let mut text = format!("{}: {}\n", words::name(&column.name), words::counts(column));
    text.push_str(&figures(column));
    text.push_str(&shapes(column));
    let _ = writeln!(text, "{}", words::answer(column));
    for warning in words::warnings(column) {
        let _ = writeln!(text, "Note: {warning}");
    }
    text.extend(words::inspection(column).map(|told| told + "\n"));
    let pasted = column.possible().next().map_or_else(
        || lines::of_measured(column, &source.name),
        |closest| lines::of_shape(column, closest),
    );
    let _ = writeln!(text, "\nFor the scenario:\n{pasted}");
    text.trim_end().to_owned() + "\n"
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
    let mut text = trimmed(&table);
    for family in column.without_fit.iter().copied() {
        let _ = writeln!(text, "{}.", words::without_fit(family));
    }
    text.push('\n');
    text
}
