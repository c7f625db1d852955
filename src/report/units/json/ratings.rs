//! What every part of listed converters carries, in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::part_loads::{derated, limit};
use crate::scenario::Scenario;
use crate::study::common::loaded_parts::HighestLoad;
use crate::study::units::Listed;

/// The highest load of a part among all listed converters, in the unit that ends the name of the figure.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct UnitRatingEntry {
    /// Parts that one orders as one type: `first_high_switch`, `flying_capacitor_1` …
    part: String,
    /// What loads them, with the unit: `rms_current_A` …
    figure: String,
    /// Name of the operating point, or `all`.
    operating_point: String,
    arrangement: Arrangement,
    /// The highest of all solved converters.
    largest: f64,
    /// The converter that has it.
    unit: String,
    /// The load over the derating factor; for `all` alone.
    order: Option<f64>,
    /// The limit in `[[limits.part]]`; null where there is none.
    limit: Option<f64>,
}

impl UnitRatingEntry {
    /// Of the chain, then of the paralleled reference: over all operating points, then at each. None by
    /// the averaged solver, which does not tell what loads every part.
    pub(super) fn all(scenario: &Scenario, listed: &Listed) -> Vec<Self> {
        let of_arrangement = |arrangement: Arrangement| {
            let over_all = listed.highest_loads(arrangement).into_iter().map(move |own| {
                let order = Some(derated(scenario, own.rating, own.value));
                Self { order, ..Self::new(scenario, listed, "all", own) }
            });
            let points = listed.statistics.iter().enumerate();
            let points = points.filter(move |(_, point)| point.arrangement == arrangement);
            let at_points = points.flat_map(move |(case, point)| {
                let loads = listed.highest_loads_in_case(case).into_iter();
                loads.map(|own| Self::new(scenario, listed, &point.operating_point, own))
            });
            over_all.chain(at_points)
        };
        Arrangement::ALL.into_iter().flat_map(of_arrangement).collect()
    }

    fn new(scenario: &Scenario, listed: &Listed, point: &str, own: HighestLoad) -> Self {
        let result = &listed.results[own.place];
        Self {
            part: own.rating.part.key(),
            figure: own.rating.stress.column(),
            operating_point: point.to_owned(),
            arrangement: result.arrangement,
            largest: own.value,
            unit: result.name.clone(),
            order: None,
            limit: limit(scenario, result.arrangement, own.rating),
        }
    }
}
