//! The table `[derating]`: which share of its rating a part may use.

use std::ops::Bound;

use super::reader::{Bounds, Table};
use crate::converter::{PartKind, Rating, Stress, StressQuantity};
use crate::input::quantity::Ratio;

/// Highest share of its rating that a part may use; one factor a kind of parts and quantity.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Derating([Option<f64>; FACTORS.len()]);

/// What a factor is for.
struct Factor {
    key: &'static str,
    kind: PartKind,
    quantity: StressQuantity,
}

const fn factor(key: &'static str, kind: PartKind, quantity: StressQuantity) -> Factor {
    Factor { key, kind, quantity }
}

const FACTORS: [Factor; 12] = [
    factor("switch_current", PartKind::Switch, StressQuantity::Current),
    factor("switch_voltage", PartKind::Switch, StressQuantity::Voltage),
    factor("resonant_inductor_current", PartKind::ResonantInductor, StressQuantity::Current),
    factor("resonant_capacitor_current", PartKind::ResonantCapacitor, StressQuantity::Current),
    factor("resonant_capacitor_voltage", PartKind::ResonantCapacitor, StressQuantity::Voltage),
    factor("flying_capacitor_current", PartKind::FlyingCapacitor, StressQuantity::Current),
    factor("flying_capacitor_voltage", PartKind::FlyingCapacitor, StressQuantity::Voltage),
    factor("transformer_current", PartKind::Transformer, StressQuantity::Current),
    factor("transformer_volt_seconds", PartKind::Transformer, StressQuantity::VoltSeconds),
    factor("rectifier_current", PartKind::Rectifier, StressQuantity::Current),
    factor("rectifier_voltage", PartKind::Rectifier, StressQuantity::Voltage),
    factor("output_capacitor_current", PartKind::OutputCapacitor, StressQuantity::Current),
];

const SHARE: Bounds = Bounds {
    words: "above 0 % and at most 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Included(1.0),
};

const MEANING: &str = "highest share of its rating that such a part may use";
const NONE: &str = "no derating";

impl Derating {
    /// The factor of a rating; none where the user gives none. A ripple from lowest to highest is no rating
    /// that a part has a reserve to.
    pub fn factor(&self, rating: Rating) -> Option<f64> {
        if matches!(rating.stress, Stress::RippleVoltage | Stress::PeakToPeakCurrent) {
            return None;
        }
        let is_own = |own: &Factor| {
            own.kind == rating.part.kind() && own.quantity == rating.stress.quantity()
        };
        self.0.get(FACTORS.iter().position(is_own)?).copied().flatten()
    }

    /// Whether no factor is given.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(Option::is_none)
    }
}

/// Reads `[derating]`.
pub(super) fn read(root: &mut Table<'_>) -> Option<Derating> {
    let meaning = "for the table of what to order: how far below its rating a part is used";
    let mut table = root.key("derating", meaning).table().or_empty("no derating")?;
    let factors = FACTORS
        .map(|Factor { key, .. }| table.key(key, MEANING).quantity::<Ratio>(SHARE).optional(NONE));
    table.finish();
    let factors: Vec<_> = factors.into_iter().collect::<Option<_>>()?;
    let mut derating = Derating::default();
    for (own, factor) in derating.0.iter_mut().zip(factors) {
        *own = factor.map(|share| share.0);
    }
    Some(derating)
}
