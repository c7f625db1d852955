//! Whole numbers as typed: `20000`, `20_000`, `2e4`.

/// Reads a whole number. Underscores may stand between digits, and a power of ten after them, as in
/// TOML; what is no whole number below 2⁶⁴ gives none.
pub(crate) fn parse(text: &str) -> Option<u64> {
    let (mantissa, power) = match text.split_once(['e', 'E']) {
        None => (text, 0),
        Some((mantissa, power)) => (mantissa, power.trim_start_matches('+').parse::<u8>().ok()?),
    };
    let (whole, fraction) = match mantissa.split_once('.') {
        None => (mantissa, ""),
        // A fraction is whole only by its power of ten: `2.5e4`.
        Some((whole, fraction)) if power > 0 && is_digits(fraction) => (whole, fraction),
        Some(_) => return None,
    };
    if !is_digits(whole) {
        return None;
    }
    let fraction = fraction.trim_end_matches('0');
    let zeros =
        usize::from(power).checked_sub(fraction.chars().filter(char::is_ascii_digit).count())?;
    let digits = format!("{whole}{fraction}{}", "0".repeat(zeros)).replace('_', "");
    digits.parse().ok()
}

/// Whether a text is digits, with single underscores between them.
fn is_digits(text: &str) -> bool {
    text.split('_').all(|group| !group.is_empty() && group.bytes().all(|b| b.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::parse;

    #[test]
    fn whole_numbers_by_hand() {
        for (text, value) in [
            ("0", 0),
            ("20000", 20_000),
            ("20_000", 20_000),
            ("1e5", 100_000),
            ("1E+5", 100_000),
            ("2.5e4", 25_000),
            ("2.50e1", 25),
            ("1_0.5e1", 105),
            ("0e99", 0),
            ("18446744073709551615", u64::MAX),
        ] {
            assert_eq!(parse(text), Some(value), "{text}");
        }
        for text in [
            "",
            "-1",
            "+1",
            "3.0",
            "2.55e1",
            "1e",
            "e5",
            "1e-2",
            "1e400",
            "18446744073709551616",
            "1e20",
            "_1",
            "1_",
            "1__0",
            ".5e1",
            "1.e1",
            "many",
            "1 000",
            "0x10",
            "nan",
            "١",
        ] {
            assert_eq!(parse(text), None, "{text}");
        }
    }
}
