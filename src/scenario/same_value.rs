//! Values of scenario files that mean the same in other words.

use crate::input::quantity;

/// Whether two values of a scenario file mean the same: `150 ns` and `0.15 us`, `0.50` and `0.5`.
///
/// Texts that are neither a quantity nor a number are the same if all their characters are.
pub fn is_same_value(first: &str, second: &str) -> bool {
    let number = |text: &str| text.parse::<f64>().ok();
    let both =
        |a: Option<f64>, b: Option<f64>| a.zip(b).is_some_and(|(a, b)| a.total_cmp(&b).is_eq());
    let quantities = [first, second].map(quantity::of_any_kind);
    first == second
        || both(number(first), number(second))
        || quantities[0].is_some() && quantities[0] == quantities[1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_the_same_whatever_prefix_they_have() {
        for [first, second] in [
            ["150 ns", "0.15 us"],
            ["0.15 µs", "0.15 μs"],
            ["1 kΩ", "1000 ohm"],
            ["5 %", "50000 ppm"],
            ["0.50", "0.5"],
            ["falling-first", "falling-first"],
        ] {
            assert!(is_same_value(first, second), "{first} {second}");
        }
        for [first, second] in [
            ["150 ns", "0.15 ms"],
            ["150 nF", "150 nH"],
            ["5 %", "5"],
            ["1 K", "1 °C"],
            ["falling-first", "together"],
            ["5 apples", "5.0 apples"],
        ] {
            assert!(!is_same_value(first, second), "{first} {second}");
        }
    }
}
