//! Numbers as the sentences write them; those of other verbs too live in `report::format::numbers`.

use crate::report::format::numbers::{decimals, decimals_or_three, three_up, yield_percent};
use crate::scenario::PerPart;
use crate::statistics::Yield;

/// The smallest share that one decimal of a percentage shows; half of it rounds to nothing.
const SMALLEST: f64 = 0.001;

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

/// A relative difference with the word for more or for less: `60.1 % lower`. What rounds to nothing
/// says so: `less than 0.1 % lower`.
pub(super) fn difference(fraction: f64, [more, less]: [&str; 2]) -> String {
    let word = if fraction > 0.0 { more } else { less };
    let share = fraction.abs();
    if share < 0.5 * SMALLEST {
        format!("less than {} {word}", compared_percent(SMALLEST))
    } else {
        format!("{} {word}", compared_percent(share))
    }
}

/// A current with two decimals, or three digits of a small one.
pub(in crate::report::sensors) fn ampere(current: f64) -> String {
    format!("{}\u{a0}A", decimals_or_three(current, 2))
}

/// An RMS and a peak current that must do: rounded up.
pub(in crate::report::sensors) fn ratings(both: [f64; 2]) -> String {
    format!("{}\u{a0}A", both.map(three_up).join("; "))
}

/// A voltage without decimals that must do: rounded up.
pub(in crate::report::sensors) fn volt(voltage: f64) -> String {
    // What rounding left is no volt more.
    format!("{}\u{a0}V", decimals(libm::ceil(voltage - 1e-6), 0))
}

/// A price or a rate of every kind of part.
pub(in crate::report::sensors) fn per_part(parts: &PerPart) -> String {
    let own = [("own parts of the chain", parts.chain), ("of paralleled", parts.paralleled)];
    let own = own.into_iter().filter(|(_, number)| *number > 0.0);
    let own: Vec<String> = own.map(|(name, number)| format!("{name} {number}, ")).collect();
    let own = own.concat();
    format!(
        "converter {}, {own}flying capacitor {}, sensor {}, trim element {}",
        parts.converter, parts.flying_capacitor, parts.sensor, parts.trim_element
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_is_never_one_of_nothing() {
        let words = |x| difference(x, ["higher", "lower"]).replace('\u{a0}', " ");
        assert_eq!(words(-0.601), "60.1 % lower");
        assert_eq!(words(0.001), "0.1 % higher");
        assert_eq!(words(-0.000_4), "less than 0.1 % lower");
        assert_eq!(words(0.000_499), "less than 0.1 % higher");
    }

    #[test]
    fn shares_that_are_compared_have_one_decimal() {
        assert_eq!(compared_percent(-0.0612), "−6.1\u{a0}%");
        assert_eq!(ratings([2.474_92, 14.0]), "2.48; 14.0\u{a0}A");
        assert_eq!((ampere(7.438), volt(273.4)), ("7.44\u{a0}A".into(), "274\u{a0}V".into()));
    }
}
