//! Efficiency and junction temperatures of all samples, on the terminal.

use crate::report::format::names;
use crate::report::format::names::losses_of_switching;
use crate::report::format::numbers::{BEYOND, BEYOND_MEANS, NONE, percent, quantile};
use crate::report::format::terminal::{table, trimmed};
use crate::statistics::KeyFigures;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::run::Run;

/// The figures of losses that a run tells.
pub(super) fn figures(run: &Run) -> impl Iterator<Item = LossFigure> {
    run.figures.iter().filter_map(|figure| match figure {
        Figure::Losses(own) => Some(*own),
        _ => None,
    })
}

/// Which losses of switching are included.
pub(super) fn left_out(run: &Run) -> &'static str {
    losses_of_switching(figures(run).any(|figure| figure == LossFigure::TurnOn))
}

/// Efficiency and hottest junction on the terminal; nothing where the scenario does not tell losses
/// apart.
pub(super) fn text(run: &Run) -> String {
    if figures(run).next().is_none() {
        return String::new();
    }
    let mut table = table(&[
        "operating point",
        "arrangement",
        "efficiency\nlowest",
        "p50",
        "junction\np50",
        "p99",
        "max",
    ]);
    for (n, case) in run.cases.iter().enumerate() {
        let of = |figure| run.key_figures(n, Figure::Losses(figure));
        let share = |value: fn(&KeyFigures) -> Option<f64>| {
            of(LossFigure::LostShare)
                .map_or_else(|| NONE.into(), |own| quantile(value(own), |lost| percent(1.0 - lost)))
        };
        let degrees = |x: f64| format!("{x:.1}\u{a0}°C");
        let junction = |value: fn(&KeyFigures) -> Option<f64>| {
            of(LossFigure::Junction)
                .map_or_else(|| NONE.into(), |own| quantile(value(own), degrees))
        };
        table.add_row([
            case.operating_point().to_owned(),
            names::arrangement(case.arrangement()).short.to_owned(),
            share(|own| Some(own.max)),
            share(|own| own.p50),
            junction(|own| own.p50),
            junction(|own| own.p99),
            junction(|own| Some(own.max)),
        ]);
    }
    let table = trimmed(&table);
    let beyond = if table.contains(BEYOND) { format!("{BEYOND_MEANS}\n") } else { String::new() };
    format!(
        "Losses that are told apart: efficiency, and the hottest junction\n{table}{} \
         Lowest and max are those of the solved samples.\n{beyond}\n",
        left_out(run)
    )
}
