//! The table `[faults]`: what `faults` assumes of parts that fail.

use std::ops::Bound;

use super::reader::{Bounds, POSITIVE, Table};
use super::run::SAMPLES;
use crate::input::quantity::Ratio;
use crate::units::Volt;

/// What `faults` assumes.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultSettings {
    /// Forward drop of the body diode of a switch.
    pub body_diode_drop: Volt,
    /// Shares of the capacitance that aged flying capacitors have left; one at least, each above zero and
    /// below one.
    pub remaining: Vec<f64>,
    /// Converters that are drawn for the yield of what remains.
    pub samples: u64,
}

impl Default for FaultSettings {
    fn default() -> Self {
        Self { body_diode_drop: Volt(0.8), remaining: vec![0.5, 0.1, 0.01], samples: 1000 }
    }
}

/// Most shares: each is a fault of every flying capacitor.
const MOST: usize = 6;
const SHARE: Bounds = Bounds {
    words: "above 0 % and below 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Excluded(1.0),
};

/// Reads `[faults]`.
pub(super) fn read(mut table: Table<'_>) -> Option<FaultSettings> {
    let default = FaultSettings::default();
    let body_diode_drop = table
        .key("body_diode_drop", "forward drop of the body diode of a switch")
        .quantity(POSITIVE)
        .or(default.body_diode_drop);
    let field = table.key(
        "remaining",
        "shares of the capacitance that aged flying capacitors have left; at most 6",
    );
    let place = field.value_span();
    let remaining: Option<Vec<Ratio>> =
        field.quantities(SHARE).or(default.remaining.into_iter().map(Ratio).collect());
    let remaining = remaining.filter(|shares| {
        let fits = shares.len() <= MOST;
        if !fits {
            let message = format!("`remaining` has {} items", shares.len());
            table.report_at(place, message, &format!("expected at most {MOST}"));
        }
        fits
    });
    let samples = table
        .key("samples", "converters that are drawn for the yield of what remains")
        .integer(&SAMPLES)
        .or(default.samples);
    table.finish();
    Some(FaultSettings {
        body_diode_drop: body_diode_drop?,
        remaining: remaining?.into_iter().map(|share| share.0).collect(),
        samples: samples?,
    })
}
