//! The ratings in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::words::{limit, to_order};
use crate::converter::Arrangement;
use crate::scenario::Scenario;
use crate::study::common::ratings::{KeptTogether, PartRating, PopulationRatings, RatedLoad};

/// What a part must be rated for, in the unit that ends the name of the figure.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct RatingEntry {
    /// Parts that one orders as one type: `first_high_switch`, `flying_capacitor_1` …
    pub(in crate::report) part: String,
    /// What loads them, with the unit: `rms_current_A` …
    pub(in crate::report) figure: String,
    /// Name of the operating point, or `all`.
    pub(in crate::report) operating_point: String,
    pub(in crate::report) arrangement: Arrangement,
    /// Of the nominal converter; null where it has none.
    pub(in crate::report) nominal: Option<f64>,
    /// What the target share of all converters keeps to at the confidence; null where there is none.
    pub(in crate::report) rating: Option<f64>,
    /// The largest of the solved samples; null where none is solved.
    pub(in crate::report) largest: Option<f64>,
    /// The rating over the derating factor; for `all` alone.
    pub(in crate::report) order: Option<f64>,
    /// The limit in `[[limits.part]]`; null where there is none.
    pub(in crate::report) limit: Option<f64>,
}

impl RatingEntry {
    /// All ratings: of each part over all operating points, then at each.
    pub(in crate::report) fn all(scenario: &Scenario, ratings: &PopulationRatings) -> Vec<Self> {
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
                own.points.iter().map(|point| entry(&point.operating_point, &point.load, None)),
            );
            entries
        };
        ratings.parts.iter().flat_map(of_part).collect()
    }
}

/// How many converters keep to all ratings over all operating points at once.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct KeptTogetherEntry {
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
    pub(in crate::report) fn all(ratings: &PopulationRatings) -> Vec<Self> {
        let entry = |own: &KeptTogether| Self {
            arrangement: own.arrangement,
            at_least: own.kept.lower,
            confidence: own.kept.confidence.get(),
            first_samples: own.first,
            counted: own.kept.trials,
            kept: own.kept.successes,
        };
        ratings.together.iter().map(entry).collect()
    }
}
