//! A tolerance as every medium writes it: what a summary holds of it, and how a person reads it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::numbers::given_percent;
use crate::scenario::{Shape, Tolerance, Tolerances};

/// How one parameter scatters about its nominal value.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(in crate::report) struct ToleranceInForce {
    /// `uniform`, `normal` or `triangular`.
    shape: &'static str,
    /// Half width of the band in standard deviations, of a normal shape; null for others.
    sigmas: Option<f64>,
    /// Half width of the band: a fraction of the nominal value, or, of a sensor's offset, in ampere.
    band: f64,
    /// Share of the variance that the phases of one converter have in common, from 0 to 1.
    lot_share: f64,
}

/// Tolerances by the keys of their parameters; parameters without one are left out.
pub(in crate::report) type TolerancesInForce = BTreeMap<&'static str, ToleranceInForce>;

impl ToleranceInForce {
    pub(in crate::report) fn new(tolerance: &Tolerance) -> Self {
        Self {
            shape: tolerance.shape.name(),
            sigmas: sigmas(&tolerance.shape),
            band: tolerance.band,
            lot_share: tolerance.lot_share,
        }
    }

    /// All tolerances of a set.
    pub(in crate::report) fn all(tolerances: &Tolerances) -> TolerancesInForce {
        tolerances.iter().map(|(parameter, t)| (parameter.key(), Self::new(t))).collect()
    }
}

/// Half width of the band in standard deviations, of a normal shape.
fn sigmas(shape: &Shape) -> Option<f64> {
    match shape {
        Shape::Normal { sigmas } => Some(*sigmas),
        Shape::Uniform | Shape::Triangular => None,
    }
}

/// The half width of a band: `± 5 %`.
pub(in crate::report) fn band(band: f64) -> String {
    format!("±\u{a0}{}", given_percent(band))
}

/// The shape: `normal, band at 3 σ`.
pub(in crate::report) fn shape(shape: &Shape) -> String {
    let name = shape.name();
    sigmas(shape).map_or_else(|| name.to_owned(), |n| format!("{name}, band at {n}\u{a0}σ"))
}

/// The whole tolerance: `± 5 %, normal, band at 3 σ, lot share 50 %`.
pub(in crate::report) fn tolerance(tolerance: &Tolerance) -> String {
    with_band(tolerance, &band(tolerance.band))
}

/// The whole tolerance with its band as the caller writes it, where that is no fraction.
pub(in crate::report) fn with_band(tolerance: &Tolerance, band: &str) -> String {
    let lot = match tolerance.lot_share {
        share if share > 0.0 => format!(", lot share {}", given_percent(share)),
        _ => String::new(),
    };
    format!("{band}, {}{lot}", shape(&tolerance.shape))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_normal_shape_says_where_its_band_lies() {
        let normal = Tolerance { shape: Shape::Normal { sigmas: 2.5 }, band: 0.05, lot_share: 0.5 };
        assert_eq!(
            tolerance(&normal).replace('\u{a0}', " "),
            "± 5 %, normal, band at 2.5 σ, lot share 50 %"
        );
        let uniform = Tolerance { shape: Shape::Uniform, lot_share: 0.0, ..normal.clone() };
        assert_eq!(tolerance(&uniform).replace('\u{a0}', " "), "± 5 %, uniform");
        let known = |t| serde_json::to_value(ToleranceInForce::new(t)).unwrap();
        assert_eq!(known(&normal)["sigmas"], 2.5);
        assert!(known(&uniform)["sigmas"].is_null());
    }
}
