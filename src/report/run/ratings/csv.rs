//! `ratings.csv`.

use crate::converter::Arrangement;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::report::run::ratings::words::{limit, to_order};
use crate::scenario::Scenario;
use crate::study::run::{PartRating, RatedLoad, Run};

/// Columns of `ratings.csv`.
const COLUMNS: [&str; 9] = [
    "arrangement",
    "part",
    "figure",
    "operating_point",
    "nominal",
    "rating",
    "order",
    "largest",
    "limit",
];

/// The rating of every part: over all operating points, then at each.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(in crate::report::run) fn ratings(scenario: &Scenario, run: &Run) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COLUMNS)?;
    for own in &run.ratings {
        table.row(row(scenario, own, "all", &own.over_all))?;
        for point in &own.points {
            let name = run.cases[point.case].operating_point();
            table.row(row(scenario, own, name, &point.load))?;
        }
    }
    table.text()
}

fn row(scenario: &Scenario, own: &PartRating, point: &str, load: &RatedLoad) -> [CsvCell; 9] {
    let order = (point == "all").then(|| to_order(scenario, own).value()).flatten();
    [
        CsvCell::text(Arrangement::name(own.arrangement)),
        CsvCell::text(&own.rating.part.key()),
        CsvCell::text(&own.rating.stress.column()),
        CsvCell::text(point),
        CsvCell::number(Some(load.nominal).filter(|nominal| nominal.is_finite())),
        CsvCell::number(load.rating.value()),
        CsvCell::number(order),
        CsvCell::number(load.largest),
        CsvCell::number(limit(scenario, own)),
    ]
}
