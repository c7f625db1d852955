//! The page of `shapes`.

use maud::{Markup, html};

use super::drawings::{STROKES, histogram, plot_name};
use super::{MeasurementsSource, brief, lines, words};
use crate::report::format::command;
use crate::report::format::figures::{self, probability_plot};
use crate::report::format::numbers::{self, counted, decimals, percent, three};
use crate::report::format::page::parts::{headings, number, section, table};
use crate::report::format::page::prose::{cautions, read_as};
use crate::report::format::page::{briefed_document, generator};
use crate::study::shapes::{
    ColumnCorrelation, ColumnShapes, LEVEL, MOST_SIMULATED, MeasuredShapes, REPLICATES,
};

/// The whole page: what each column tells, with its histogram, its probability plots and its lines.
pub(super) fn page(source: &MeasurementsSource, found: &MeasuredShapes) -> String {
    let columns = &found.columns;
    let fields = [
        source.name.clone(),
        generator(),
        counted(columns.len() as u64, "column"),
        counted(REPLICATES, "simulated file"),
    ];
    let inside = html! {
        (section("answers", "Answer in full", &answer(source, columns)))
        (section("columns", "Measured columns", &html! {
            @for (n, column) in columns.iter().enumerate() { (about(column, source, n)) }
        }))
        @if !found.correlations.is_empty() {
            (section("correlations", "Correlations", &correlations(&found.correlations)))
        }
        (section("methods", "Methods", &methods()))
        (section("cautions", "Cautions", &cautions()))
        (section("reproduce", "Making it again", &html! {
            p { "In a folder that holds the file:" }
            pre { code { (command::shapes(&source.name, &source.options)) } }
        }))
    };
    let title = format!("Shapes of the values in {}", source.name);
    briefed_document("Measured parts", &title, &fields, &brief::sheet(source, found), inside)
}

fn answer(source: &MeasurementsSource, columns: &[ColumnShapes]) -> Markup {
    html! {
        @for column in columns {
            p class="lead" { b { (words::name(&column.name)) } ": " (words::answer(column)) }
        }
        p { "To draw a shape, copy its lines into the scenario." }
        (read_as(&source.name, source.read_as.as_deref()))
        @if let Some(told) = words::left_out(source) { p class="remark" { (told) } }
    }
}

fn about(column: &ColumnShapes, source: &MeasurementsSource, n: usize) -> Markup {
    html! {
        h3 { (words::name(&column.name)) ": " (words::counts(column)) }
        (figures_of(column))
        @if let Some(told) = words::inspection(column) { p { (told) } }
        @for warning in words::warnings(column) { p class="notice" { (warning) } }
        (shapes(column))
        p class="remark" { (words::meaning()) }
        (drawings(column, n))
        (pasted(column, source))
    }
}

fn figures_of(column: &ColumnShapes) -> Markup {
    let relative = |x: f64| x / column.nominal.value;
    let row = |name: &str, value: String, interval: String, of_nominal: String| {
        html! {
            tr {
                th scope="row" { (name) }
                (number(value)) (number(interval)) (number(of_nominal))
            }
        }
    };
    let none = || numbers::NONE.to_owned();
    let end = |ratio: f64| words::value(column, ratio * column.nominal.value);
    let (smallest, largest) = (column.ratios.smallest(), column.ratios.largest());
    let rows = html! {
        (row("nominal", words::nominal(column), none(), none()))
        (row(
            "mean",
            words::value(column, column.mean.estimate),
            words::interval(column, &column.mean),
            words::deviation(relative(column.mean.estimate) - 1.0),
        ))
        (row(
            "standard deviation σ",
            words::value(column, column.sd.estimate),
            words::interval(column, &column.sd),
            percent(relative(column.sd.estimate)),
        ))
        (row("median", words::value(column, column.median), none(), words::deviation(relative(column.median) - 1.0)))
        (row("smallest", end(smallest), none(), words::deviation(smallest - 1.0)))
        (row("largest", end(largest), none(), words::deviation(largest - 1.0)))
    };
    table("The values", &headings(1, &["statistic", "value", "95 % interval", "of nominal"]), &rows)
}

fn shapes(column: &ColumnShapes) -> Markup {
    let head = headings(2, &["shape", "fits", "A²", "p of A²", "D", "p of D", "mean", "σ", "band"]);
    let deviation =
        |value: Option<f64>| value.map_or_else(|| numbers::NONE.to_owned(), words::deviation);
    let rows = html! {
        @for (fit, stroke) in column.fits.iter().zip(STROKES) {
            @let band = fit.scatter.band;
            tr {
                th scope="row" {
                    (figures::stroke(stroke)) " " (fit.shape.family().name())
                    @if let Some([alpha, beta]) = fit.scatter.exponents {
                        " " small { "α " (three(alpha)) ", β " (three(beta)) }
                    }
                }
                td { (words::fits(fit)) }
                (number(three(fit.distances.anderson_darling)))
                (number(words::probability(fit.probabilities.anderson_darling)))
                (number(three(fit.distances.kolmogorov_smirnov)))
                (number(words::probability(fit.probabilities.kolmogorov_smirnov)))
                (number(deviation(fit.scatter.mean)))
                (number(fit.scatter.sigma.map_or_else(|| numbers::NONE.to_owned(), percent)))
                (number(format!("{} to {}", words::deviation(band.lower), words::deviation(band.upper))))
            }
        }
    };
    html! {
        (table("Fitted shapes, the closest first; mean, σ and band relative to nominal", &head, &rows))
        @for family in column.without_fit.iter().copied() { p class="remark" { (words::without_fit(family)) "." } }
    }
}

/// The histogram, and a probability plot for each shape.
fn drawings(column: &ColumnShapes, n: usize) -> Markup {
    html! {
        div class="figures" {
            figure {
                (histogram(column, &format!("values-{n}")))
                figcaption {
                    "All values, and what each shape expects in a bin."
                }
            }
            @for fit in &column.fits {
                figure {
                    (probability_plot(&plot_name(column, fit, &format!("plot-{n}")), &column.plotted(fit)))
                    figcaption {
                        b { (fit.shape.family().name()) } ": "
                        @if fit.is_possible() { "fits" } @else { "does not fit" }
                        ", p " (words::probability(fit.probabilities.anderson_darling))
                    }
                }
            }
        }
        p class="remark" { "In a probability plot the points of a shape that fits lie along the line." }
    }
}

fn pasted(column: &ColumnShapes, source: &MeasurementsSource) -> Markup {
    html! {
        h3 { "Lines for the scenario" }
        @for fit in &column.fits {
            p {
                b { (fit.shape.family().name()) }
                @if !fit.is_possible() { " (does not fit)" }
                @if let Some(told) = words::screened(fit) { ": " (told) }
            }
            pre { code { (lines::of_shape(column, fit)) } }
        }
        @if let Some(lines) = lines::of_measured(column, source) {
            p { b { "the measured values themselves" } }
            pre { code { (lines) } }
        }
    }
}

fn correlations(all: &[ColumnCorrelation]) -> Markup {
    let head = headings(2, &["column", "and column", "rows", "coefficient", "95 % interval"]);
    let rows = html! {
        @for correlation in all {
            tr {
                @let [first, second] = &correlation.names;
                th scope="row" { (words::name(first)) }
                td { (words::name(second)) }
                (number(numbers::count(correlation.found.pairs as u64)))
                (number(words::coefficient(correlation)))
                (number(words::coefficient_interval(correlation)))
            }
        }
    };
    let lines: Vec<String> = all.iter().filter_map(lines::of_correlation).collect();
    html! {
        (table("How the columns depend on each other", &head, &rows))
        p { (words::CORRELATIONS) }
        @if !lines.is_empty() { pre { code { (lines.join("\n")) } } }
    }
}

fn methods() -> Markup {
    let level = numbers::given_percent(LEVEL);
    html! {
        ul {
            li {
                "A shape is called not fitting in " (level) " of the files that really have it. \
                 That a shape fits does not prove it: few values fit many shapes."
            }
            li {
                "Uniform: ends beyond the outermost values by their distance over n − 1. Normal and \
                 lognormal: mean and standard deviation of the values. Inside a band of inspection it is the \
                 process that has them once it is cut at its ends. Triangular: likeliest middle and width. Beta: mean and \
                 standard deviation inside the band."
            }
            li {
                "Probabilities come from " (numbers::count(REPLICATES)) " files that are drawn from the \
                 fitted shape and fitted again, with at most " (numbers::count(MOST_SIMULATED as u64))
                " values each. The random numbers are always the same."
            }
            li {
                "The interval of the mean is Student’s, that of σ is Bonett’s, at "
                (decimals(95.0, 0)) "\u{a0}%; that of a correlation is Fisher’s. All of them take the rows as independent draws of one \
                 population: the next lot may differ."
            }
        }
    }
}
