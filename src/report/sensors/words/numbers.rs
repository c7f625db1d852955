//! Numbers as the sentences write them; those of other verbs too live in `report::format::numbers`.

use crate::report::format::numbers::{decimals, yield_percent};
use crate::statistics::Yield;

/// A yield with its interval.
pub(super) fn with_interval(good: &Yield) -> String {
    let [lower, upper] =
        [good.lower, good.upper].map(|x| yield_percent(x).trim_end_matches("\u{a0}%").to_owned());
    format!("{} ({lower} to {upper})", yield_percent(good.estimate))
}

/// A share that is compared, in percent with one decimal.
pub(super) fn compared_percent(fraction: f64) -> String {
    format!("{}\u{a0}%", decimals(100.0 * fraction, 1))
}

/// A current with two decimals.
pub(in crate::report::sensors) fn ampere(current: f64) -> String {
    format!("{}\u{a0}A", decimals(current, 2))
}

/// An RMS and a peak current, with two decimals.
pub(in crate::report::sensors) fn ratings([rms, peak]: [f64; 2]) -> String {
    format!("{}; {}", decimals(rms, 2), ampere(peak))
}

/// A voltage without decimals.
pub(in crate::report::sensors) fn volt(voltage: f64) -> String {
    format!("{}\u{a0}V", decimals(voltage, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_that_are_compared_have_one_decimal() {
        assert_eq!(compared_percent(-0.0612), "−6.1\u{a0}%");
        assert_eq!((ampere(7.438), volt(273.4)), ("7.44\u{a0}A".into(), "273\u{a0}V".into()));
    }
}
