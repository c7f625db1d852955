//! Numbers as the sentences write them.

use crate::report::format::numbers::yield_percent;
use crate::statistics::Yield;

/// A yield with its interval.
pub(super) fn with_interval(good: &Yield) -> String {
    let [lower, upper] =
        [good.lower, good.upper].map(|x| yield_percent(x).trim_end_matches("\u{a0}%").to_owned());
    format!("{} ({lower} to {upper})", yield_percent(good.estimate))
}

/// A percentage as typed: 5 %, 99.5 %.
pub(super) fn given(fraction: f64) -> String {
    format!("{} %", (1e10 * fraction).round() / 1e8)
}

/// A share that is compared, in percent with one decimal.
pub(super) fn percent_of(fraction: f64) -> String {
    format!("{:.1} %", 100.0 * fraction).replace('-', "−")
}

/// A number with its sign.
pub(super) fn signed(x: f64, decimals: usize) -> String {
    format!("{x:+.decimals$}").replace('-', "−")
}

/// A sum of money.
pub(in crate::report::sensors) fn money(amount: f64) -> String {
    format!("{amount:.2}").replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_they_are_told() {
        assert_eq!(
            (given(0.99), given(0.005), given(0.999)),
            ("99 %".into(), "0.5 %".into(), "99.9 %".into())
        );
        assert_eq!(
            (percent_of(-0.0612), signed(0.025, 3), signed(-1.5, 1)),
            ("−6.1 %".into(), "+0.025".into(), "−1.5".into())
        );
    }

    #[test]
    fn money_has_a_minus() {
        assert_eq!((money(-1.9), money(3.456)), ("−1.90".into(), "3.46".into()));
    }
}
