//! Two bands of which no pair meets the target.

use super::names::listed;
use crate::report::format::numbers::yield_interval;
use crate::study::bands::map::ExcludedPair;

/// Why there is no map.
pub(in crate::report) fn no_pair(found: &ExcludedPair) -> String {
    format!(
        "No pair of these bands meets the target: {}. With both parts exact the yield is {}.",
        listed(found.pair),
        yield_interval(&found.exact)
    )
}
