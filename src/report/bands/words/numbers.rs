//! Bands, factors and levels as text.

use crate::report::format::numbers::{percent, unbroken};
use crate::report::format::tolerance::both_ends;
use crate::scenario::{Tolerance, ToleranceLetter};
use crate::study::bands::verification::rounded_down;
use crate::study::bands::{Subject, WidestBand};

/// How wide a row is at a place: a band, or the factor of all bands.
pub(in crate::report) fn width(row: &WidestBand, at: f64) -> String {
    match row.subject {
        Subject::Together => factor(at),
        Subject::Alone(_) => band(at),
    }
}

/// A factor of all bands.
pub(in crate::report) fn factor(at: f64) -> String {
    format!("×\u{a0}{}", three_digits(at))
}

/// A factor without its sign: the three digits with which it was confirmed.
pub(in crate::report) fn three_digits(at: f64) -> String {
    let decimals = [100.0, 10.0, 1.0, 0.1, 0.01].iter().filter(|bound| at < **bound).count();
    format!("{at:.decimals$}")
}

/// A band in percent, never wider than it is.
pub(in crate::report) fn band(at: f64) -> String {
    if at > 0.0 { percent(rounded_down(at)) } else { unbroken("0 %") }
}

/// A tolerance that can be ordered: both ends of an unequal band, else the band, with its letter if it has
/// one.
pub(in crate::report) fn step(tolerance: &Tolerance) -> String {
    let known = ToleranceLetter::of_band(tolerance.band).filter(|_| tolerance.is_symmetric());
    let letter = known.map_or_else(String::new, |known| format!("\u{a0}({})", known.letter));
    format!("{}{letter}", band_of(tolerance))
}

/// A level, or an error, in percent with two decimals at most.
pub(in crate::report) fn short_percent(level: f64) -> String {
    format!("{}\u{a0}%", (1e4 * level).round() / 100.0)
}

/// The band of a tolerance: its half width, or both ends where they are unequal.
pub(in crate::report) fn band_of(tolerance: &Tolerance) -> String {
    if tolerance.is_symmetric() {
        return band(tolerance.band);
    }
    // In steps of 0.001 %, never wider than they are.
    let [low, high] = tolerance.ends().map(|end| (end * 1e5 * (1.0 + 1e-12)).trunc() * 1e-5);
    both_ends([low, high])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_confirmed_factor_is_written_with_all_its_digits() {
        for (at, written) in [
            (0.655, "0.655"),
            (1.5, "1.50"),
            (0.008_37, "0.00837"),
            (0.0456, "0.0456"),
            (12.3, "12.3"),
            (123.0, "123"),
        ] {
            assert_eq!(three_digits(rounded_down(at)), written);
        }
    }

    #[test]
    fn a_band_is_never_written_wider_than_it_is() {
        // 15 % × 1.67: to the nearest tenth it would be 25.1 %.
        for (at, written) in [(0.250_5, "25.0 %"), (0.006_126, "0.612 %"), (0.075, "7.50 %")] {
            assert_eq!(band(at).replace('\u{a0}', " "), written);
        }
    }
}
