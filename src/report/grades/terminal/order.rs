//! What to order for the series.

use std::fmt::Write as _;

use crate::report::format::names::parameter;
use crate::report::format::numbers::{NONE, count, money};
use crate::report::format::terminal::{table, trimmed};
use crate::report::grades::words;
use crate::scenario::Grades;
use crate::study::grades::{NextOrder, SeriesOrder};

/// How many to build, and what the series costs; also where the next set makes it cheaper.
pub(super) fn series(grades: &Grades, order: &SeriesOrder, next: Option<&NextOrder<'_>>) -> String {
    let total = format!(
        "{} {} for the series, {} per good converter wanted",
        words::sum(order.total()),
        grades.currency,
        money(order.cost_per_good()),
    );
    let lots = words::measured_lots(grades, order).into_iter();
    let lots = lots.fold(String::new(), |text, lot| text + "  " + &lot + "\n");
    let cheaper = words::cheaper_series(grades, order, next);
    let cheaper = cheaper.map_or_else(String::new, |told| told + "\n");
    format!("{}\n  {total}\n{lots}{cheaper}", words::series(order))
}

/// The order of every part, and the parts of the cost.
pub(super) fn parts(grades: &Grades, order: &SeriesOrder, next: Option<&NextOrder<'_>>) -> String {
    let mut text = series(grades, order, next);
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
