//! Two variants side by side.

use schemars::JsonSchema;
use serde::Serialize;

use crate::statistics::{Difference, PairedCounts};
use crate::study::sensors::{SensorStudy, Variant};

/// Two variants side by side, on the same samples.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Comparisons {
    /// Pairs: differences are the first less the second.
    pairs: Vec<PairSummary>,
    /// The chain as if its phases shared as unevenly as those of (a): a hypothesis.
    chain_sharing_as_unevenly_as_a: UnevenChain,
}

/// Two variants, the first less the second.
#[derive(Debug, Serialize, JsonSchema)]
struct PairSummary {
    /// Letter of the one variant.
    first: char,
    /// Letter of the other.
    second: char,
    /// How many samples are good in both, in one alone, in neither.
    samples: PairedCounts,
    /// Difference of the yields, a fraction, with its paired interval.
    #[serde(rename = "yield")]
    yield_difference: Difference,
    /// McNemar's exact p-value: the probability of a division as uneven, were the yields equal.
    mcnemar_p_value: f64,
    /// Whether the yields differ at the confidence of the scenario: a statement on this pair by itself.
    yields_differ: bool,
    /// Difference of the costs per good converter; null where one variant has no good one.
    cost_per_good_converter: Option<f64>,
    /// The same, relative to the second.
    relative_cost_per_good_converter: Option<f64>,
    /// Difference of the failure rates in FIT.
    #[serde(rename = "failure_rate_FIT")]
    failure_rate: f64,
    /// How much lower, relatively, the RMS switch current at the target is in the first; null for
    /// variants on different voltages.
    switch_rms_current_lower_by: Option<f64>,
}

/// A chain that shared as unevenly as (a).
#[derive(Debug, Serialize, JsonSchema)]
struct UnevenChain {
    /// RMS current that its worst switch would carry.
    #[serde(rename = "rms_current_A")]
    rms_current: Option<f64>,
    /// How much lower, relatively, the current of (b) is.
    switch_rms_current_lower_by: Option<f64>,
}

impl Comparisons {
    pub(super) fn new(study: &SensorStudy) -> Self {
        let pairs = [
            (Variant::ChainWithSensors, Variant::Chain),
            (Variant::ParalleledWithSensors, Variant::Chain),
            (Variant::ParalleledWithSensors, Variant::Paralleled),
            (Variant::Chain, Variant::Paralleled),
        ];
        Self {
            pairs: pairs.iter().filter_map(|(one, other)| pair(study, *one, *other)).collect(),
            chain_sharing_as_unevenly_as_a: UnevenChain {
                rms_current: study.chain_current_if_uneven(),
                switch_rms_current_lower_by: study.less_than_uneven(),
            },
        }
    }
}

/// None without samples.
fn pair(study: &SensorStudy, one: Variant, other: Variant) -> Option<PairSummary> {
    let change = study.difference(one, other).ok()?;
    let same_voltage = one.arrangement() == other.arrangement();
    Some(PairSummary {
        first: one.letter(),
        second: other.letter(),
        samples: change.counts,
        yield_difference: change.good,
        mcnemar_p_value: change.p_value,
        yields_differ: change.is_significant(),
        cost_per_good_converter: change.price_per_good,
        relative_cost_per_good_converter: change.relative_price,
        failure_rate: change.failure_rate,
        switch_rms_current_lower_by: same_voltage
            .then(|| study.current_reduction(one, other))
            .flatten(),
    })
}
