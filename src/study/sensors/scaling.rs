//! Tolerance bands and errors of sensors, multiplied by a factor.

use crate::scenario::{SensorRequest, Tolerance};

/// Widest band: none may reach the nominal value itself.
const WIDEST_BAND: f64 = 0.95;

/// The sensors with all their errors multiplied by a factor.
pub(super) fn with_scaled_errors(request: &SensorRequest, factor: f64) -> SensorRequest {
    let scale = |error: &Option<Tolerance>| error.as_ref().map(|error| error.scaled(factor));
    SensorRequest {
        gain_error: scale(&request.gain_error),
        drift: scale(&request.drift),
        offset: scale(&request.offset),
        temperature_coefficient: scale(&request.temperature_coefficient),
        ..request.clone()
    }
}

/// The greatest factor at which each of these bands stays below the nominal value; 1, and so no
/// search upwards, where one of them is wider than that by itself.
pub(super) fn greatest_factor(bands: impl Iterator<Item = f64>) -> f64 {
    (WIDEST_BAND / bands.fold(0.0, f64::max)).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.95/0.5. A band that is wider by itself leaves no factor above 1.
    #[test]
    fn bands_stay_below_the_nominal_value() {
        for (band, factor) in [(0.97, 1.0), (0.95, 1.0), (0.5, 1.9)] {
            let found = greatest_factor([0.0, band].into_iter());
            assert!((found - factor).abs() < 1e-12, "{band}: {found}");
        }
        assert!(greatest_factor(std::iter::empty()).is_infinite());
    }
}
