//! What to order for the series.

use std::fmt::Write as _;

use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, count, money};
use crate::report::format::terminal::{table, trimmed};
use crate::report::grades::words;
use crate::scenario::Grades;
use crate::study::grades::SeriesOrder;

/// How many to build, and what the series costs.
pub(super) fn series(grades: &Grades, order: &SeriesOrder) -> String {
    let total = format!(
        "{} {} for the series, {} per good converter wanted",
        words::sum(order.total()),
        grades.currency,
        money(order.cost_per_good()),
    );
    let lots = words::measured_lots(grades, order).into_iter();
    let lots = lots.fold(String::new(), |text, lot| text + "  " + &lot + "\n");
    format!("{}\n  {total}\n{lots}", words::series(order))
}

/// The order of every part, and the parts of the cost.
pub(super) fn parts(grades: &Grades, order: &SeriesOrder) -> String {
    let mut text = series(grades, order);
    if let Some(sentence) = words::on_average(order) {
        let _ = writeln!(text, "  {sentence}");
    }
    let mut rows =
        table(&["order", "grade", "needed", "least", "pieces", "price", "spend", "surplus"]);
    for part in &order.parts {
        let least = if part.least_order > 1 { count(part.least_order) } else { NONE.into() };
        rows.add_row([
            parameter(part.parameter).short.to_owned(),
            part.grade.clone(),
            count(part.needed),
            least,
            count(part.ordered),
            money(part.price),
            words::sum(part.spend()),
            if part.surplus() > 0 { count(part.surplus()) } else { NONE.into() },
        ]);
    }
    let measured = match order.matching_cost() {
        cost if cost > 0.0 => format!(", measuring and matching {}", words::sum(cost)),
        _ => String::new(),
    };
    format!(
        "{text}{}parts {}{measured}, all else {}, failures {}\n\n",
        trimmed(&rows),
        words::sum(order.spend()),
        words::sum(order.other_cost),
        words::sum(order.failure_cost),
    )
}
