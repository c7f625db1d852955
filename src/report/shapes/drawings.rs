//! How the values of a column and its shapes are drawn, on the brief and below it.

use maud::Markup;

use super::words;
use crate::report::format::figures::{Densities, DensityCurve, Name, densities};
use crate::study::shapes::{ColumnShapes, DeviationHistogram, ShapeFit};

/// Classes of the curves, the closest shape first.
pub(super) const STROKES: [&str; 5] = ["fit-1", "fit-2", "fit-3", "fit-4", "fit-5"];

/// The values of a column with the densities of its shapes.
pub(super) fn histogram(column: &ColumnShapes, id: &str) -> Markup {
    let histogram = column.histogram();
    let drawn = Densities {
        edges: histogram.edges.values(),
        shares: histogram.shares.clone(),
        curves: column
            .fits
            .iter()
            .zip(STROKES)
            .map(|(fit, class)| curve(fit, &histogram, class))
            .collect(),
    };
    let name = Name {
        id: id.to_owned(),
        title: format!("Values of {}", words::name(&column.name)),
        description:
            "A histogram of the deviations from nominal, with the densities of the fitted shapes."
                .to_owned(),
    };
    densities(&name, "deviation from nominal", &drawn)
}

/// What the probability plot of a shape is called.
pub(super) fn plot_name(column: &ColumnShapes, fit: &ShapeFit, id: &str) -> Name {
    let shape = fit.shape.family().name();
    Name {
        id: format!("{id}-{shape}"),
        title: format!("Probability plot of {}, {shape}", words::name(&column.name)),
        description: "Each measured deviation over the one that it should be in the fitted shape."
            .to_owned(),
    }
}

/// The share of all values that the shape expects in a bin about each place.
fn curve(fit: &ShapeFit, histogram: &DeviationHistogram, class: &'static str) -> DensityCurve {
    DensityCurve { class, name: fit.shape.family().name(), points: histogram.expected(fit) }
}
