//! The brief of `shapes`: which shapes fit the measured values, and what to write into a scenario.

use maud::{Markup, html};

use super::{MeasurementsSource, drawings, lines, words};
use crate::report::format::figures::probability_plot;
use crate::report::format::numbers::{self, counted, given_percent, percent};
use crate::report::format::page::brief::{Brief, Finding, brief, sentences, short_brief};
use crate::report::format::page::brief_basis::caution;
use crate::report::format::page::parts::{headings_with_text_last, key, number};
use crate::study::shapes::{ColumnShapes, LEVEL, MeasuredShapes, REPLICATES};

/// Columns that are listed and written, and warnings: more would not fit the sheet.
const LISTED: usize = 10;
const WRITTEN: usize = 3;
const WARNINGS: usize = 4;
/// So few columns leave paper empty.
const SHORT: usize = 2;

/// The first sheet.
pub(super) fn sheet(source: &MeasurementsSource, found: &MeasuredShapes) -> Markup {
    let columns = &found.columns;
    let number = counted(columns.len() as u64, "column");
    let drawn_brief = if columns.len() <= SHORT { short_brief } else { brief };
    drawn_brief(&Brief {
        question: format!("Which shapes have the measured values in {}?", source.name),
        answer: answer(columns),
        verdicts: Vec::new(),
        measure: format!("{number}, a shape fits where p is above {}", given_percent(LEVEL)),
        notice: None,
        columns: [
            std::iter::once(table(columns))
                .chain(columns.first().map(|own| drawn(own, 0)))
                .collect(),
            beside(columns).into_iter().collect(),
            vec![written(columns)],
        ],
        last: [
            list("How sure", &how_sure(source, columns)),
            list("What would change this answer", &changes(columns)),
        ],
        foot: vec![caution(
            &html! { a href="#methods" { "Methods" } " and " a href="#cautions" { "cautions" } " apply." },
        )],
    })
}

/// The answer for one column, or how many of them have a shape.
fn answer(columns: &[ColumnShapes]) -> String {
    if let [column] = columns {
        return format!("{}: {}", words::name(&column.name), words::answer(column));
    }
    let closest: Vec<String> = columns
        .iter()
        .filter_map(|column| {
            let fit = column.possible().next()?;
            Some(format!("{} for {}", fit.shape.family().name(), words::name(&column.name)))
        })
        .collect();
    let of_all = format!("{} of {} columns", closest.len(), columns.len());
    match &closest[..] {
        [] => format!("No shape fits any of the {} columns.", columns.len()),
        closest if closest.len() <= WRITTEN => {
            format!("Shapes fit {of_all}; the closest are {}.", closest.join(", "))
        }
        _ => format!("Shapes fit {of_all}."),
    }
}

fn list(heading: &str, all: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(all) }
}

/// The values of a column, with what its shapes expect.
fn drawn(column: &ColumnShapes, n: usize) -> Finding {
    let name = words::name(&column.name);
    let heading = match column.possible().next() {
        Some(fit) => format!("{name}: {} lies closest", fit.shape.family().name()),
        None => format!("{name}: no shape fits"),
    };
    Finding {
        heading,
        remark: Some("Grey: the values. Lines: what each shape expects.".to_owned()),
        inside: html! {
            div class="compact-figure" { (drawings::histogram(column, &format!("brief-values-{n}"))) }
        },
    }
}

/// The second column; where there is one alone, how its closest shape follows the values.
fn beside(columns: &[ColumnShapes]) -> Option<Finding> {
    if let Some(second) = columns.get(1) {
        return Some(drawn(second, 1));
    }
    let column = columns.first()?;
    let fit = column.fits.first()?;
    let name = drawings::plot_name(column, fit, "brief-plot");
    Some(Finding {
        heading: format!("How the values follow the {} shape", fit.shape.family().name()),
        remark: Some("Points of a shape that fits lie along the line.".to_owned()),
        inside: html! {
            div class="compact-figure" { (probability_plot(&name, &column.plotted(fit))) }
        },
    })
}

/// Every column with its scatter and its closest shape.
fn table(columns: &[ColumnShapes]) -> Finding {
    let more = columns.len().saturating_sub(LISTED);
    Finding {
        heading: "Scatter and closest shape".to_owned(),
        remark: Some("Mean and σ relative to nominal.".to_owned()),
        inside: html! {
            div class="frame" tabindex="0" role="group" aria-label="Every column with its closest shape" {
                table {
                    thead { (headings_with_text_last(&["column", "values", "mean", "σ", "p", "closest shape"])) }
                    tbody { @for column in columns.iter().take(LISTED) { (row(column)) } }
                }
            }
            @if more > 0 { p class="remark" { (more) " more: " a href="#columns" { "measured columns" } "." } }
        },
    }
}

fn row(column: &ColumnShapes) -> Markup {
    let relative = |x: f64| x / column.nominal.value;
    let closest = column.fits.first();
    html! {
        tr class=[column.possible().next().is_none().then_some("limited")] {
            th scope="row" { (key(&words::name(&column.name))) }
            (number(numbers::count(column.ratios.count() as u64)))
            (number(words::deviation(relative(column.mean.estimate) - 1.0)))
            (number(percent(relative(column.sd.estimate))))
            (number(closest.map_or_else(
                || numbers::NONE.to_owned(),
                |fit| words::probability(fit.probabilities.anderson_darling),
            )))
            td {
                @match closest {
                    Some(fit) if fit.is_possible() => (fit.shape.family().name()),
                    Some(fit) => { (fit.shape.family().name()) ", " b { "does not fit" } },
                    None => b { "none" },
                }
            }
        }
    }
}

/// Lines for a scenario, of the closest shape of each column.
fn written(columns: &[ColumnShapes]) -> Finding {
    let fitting = columns.iter().filter_map(|column| Some((column, column.possible().next()?)));
    let texts: Vec<String> =
        fitting.map(|(column, fit)| lines::of_shape(column, fit)).take(WRITTEN).collect();
    Finding {
        heading: "Lines for the scenario".to_owned(),
        remark: Some(match texts.len() {
            0 if columns.iter().all(|column| column.not_drawn() > 0) => words::NOT_DRAWN.to_owned(),
            0 => "No shape fits: draw the measured values themselves.".to_owned(),
            _ => "Of the closest shape; the page has those of all shapes.".to_owned(),
        }),
        inside: html! { @for text in &texts { pre { code { (text) } } } },
    }
}

fn how_sure(source: &MeasurementsSource, columns: &[ColumnShapes]) -> Vec<String> {
    let least = columns.iter().map(|column| column.ratios.count()).min().unwrap_or(0);
    let values = match columns {
        [_] => counted(least as u64, "value"),
        _ => format!("at least {} a column", counted(least as u64, "value")),
    };
    let mut told = vec![
        format!("Based on {values}: few values fit many shapes, and that one fits proves little."),
        format!(
            "A shape is rejected in {} of the files that have it, by {} simulated files.",
            given_percent(LEVEL),
            numbers::count(REPLICATES)
        ),
    ];
    told.extend(words::left_out(source));
    told
}

/// What the file itself warns of, then what holds for every file.
fn changes(columns: &[ColumnShapes]) -> Vec<String> {
    let warnings = columns.iter().flat_map(|column| {
        words::warnings(column)
            .into_iter()
            .map(|warning| format!("{}: {warning}", words::name(&column.name)))
    });
    let mut told: Vec<String> = warnings.take(WARNINGS).collect();
    told.push("The next lot: all values here are taken as one population.".to_owned());
    if columns.iter().any(|column| column.possible().nth(1).is_some()) {
        told.push("More values: they tell shapes apart that all fit now.".to_owned());
    }
    told
}
