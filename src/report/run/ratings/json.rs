//! The ratings in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::words::{limit, to_order};
use crate::converter::Arrangement;
use crate::scenario::Scenario;
use crate::study::run::{KeptTogether, PartRating, RatedLoad, Run};

/// What a part must be rated for, in the unit that ends the name of the figure.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct RatingEntry {
    /// Parts that one orders as one type: `first_high_switch`, `flying_capacitor_1` …
    pub(super) part: String,
    /// What loads them, with the unit: `rms_current_A` …
    pub(super) figure: String,
    /// Name of the operating point, or `all`.
    pub(super) operating_point: String,
    pub(super) arrangement: Arrangement,
    /// Of the nominal converter; null where it has none.
    pub(super) nominal: Option<f64>,
    /// What the target share of all converters keeps to at the confidence; null where there is none.
    pub(super) rating: Option<f64>,
    /// The largest of the solved samples; null where none is solved.
    pub(super) largest: Option<f64>,
    /// The rating over the derating factor; for `all` alone.
    pub(super) order: Option<f64>,
    /// The limit in `[[limits.part]]`; null where there is none.
    pub(super) limit: Option<f64>,
}

impl RatingEntry {
    /// All ratings: of each part over all operating points, then at each.
    pub(in crate::report::run) fn all(scenario: &Scenario, run: &Run) -> Vec<Self> {
        let of_part = |own: &PartRating| {
            let limit = limit(scenario, own);
            let entry = |point: &str, load: &RatedLoad, order| Self {
                part: own.rating.part.key(),
                figure: own.rating.stress.column(),
                operating_point: point.to_owned(),
                arrangement: own.arrangement,
                nominal: Some(load.nominal).filter(|nominal| nominal.is_finite()),
                rating: load.rating.value(),
                largest: load.largest,
                order,
                limit,
            };
            let mut entries = vec![entry("all", &own.over_all, to_order(scenario, own).value())];
            entries.extend(
                own.points
                    .iter()
                    .map(|point| entry(run.cases[point.case].operating_point(), &point.load, None)),
            );
            entries
        };
        run.ratings.iter().flat_map(of_part).collect()
    }
}

/// How many converters keep to all ratings over all operating points at once.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct KeptTogetherEntry {
    arrangement: Arrangement,
    /// At least this share of all converters does, at the confidence.
    at_least: f64,
    confidence: f64,
    /// First samples, which set limits a little below the ratings.
    first_samples: u64,
    /// Later samples, which were counted against these limits.
    counted: u64,
    /// Those of them that keep to all.
    kept: u64,
}

impl KeptTogetherEntry {
    /// Of each arrangement in which it is shown.
    pub(in crate::report::run) fn all(run: &Run) -> Vec<Self> {
        let entry = |own: &KeptTogether| Self {
            arrangement: own.arrangement,
            at_least: own.kept.lower,
            confidence: own.kept.confidence.get(),
            first_samples: own.first,
            counted: own.kept.trials,
            kept: own.kept.successes,
        };
        run.ratings_together.iter().map(entry).collect()
    }
}
