//! Numbers as a person reads them, on the terminal and on pages: the only place that says how many
//! digits a number has.
//!
//! Blanks inside a number and before its unit are no-break spaces, so that a unit is never alone
//! on a line; the terminal prints them as blanks. Below zero there is a minus sign, not a hyphen, and
//! what rounds to zero has no sign. Names of things live in `names`; numbers in files are not
//! formatted here.

use crate::statistics::{Confidence, Interval, QuantileEnd, QuantileInterval, Yield};

/// Written where there is no number.
pub(in crate::report) const NONE: &str = "–";

/// Written for a quantile that lies above all values, among the samples without one.
pub(in crate::report) const BEYOND: &str = "beyond";

/// Written for an interval, or an end of it, that so few samples do not give.
pub(in crate::report) const TOO_FEW_SAMPLES: &str = "too few samples";

/// What those words mean beside an end of an interval.
pub(in crate::report) const TOO_FEW_SAMPLES_MEANS: &str =
    "Too few samples: so few samples do not give the interval, or the end that is missing.";

/// What [`BEYOND`] means.
pub(in crate::report) const BEYOND_MEANS: &str = "Beyond: the quantile falls among the samples that are out of range or not solved. They count \
     above all values.";

/// Units as they follow numbers and names of columns.
pub(in crate::report) const UNITS: [&str; 27] = [
    "A", "V", "W", "H", "F", "Ω", "%", "Hz", "VA", "FIT", "ppm", "kA", "mA", "kV", "mV", "kW",
    "kHz", "MHz", "mΩ", "µH", "µF", "nF", "pF", "s", "µs", "ns", "mW",
];

/// The text with blanks at which no line breaks.
pub(in crate::report) fn unbroken(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// The text with ordinary blanks, for files that programs read.
pub(in crate::report) fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

/// A number with so many decimals.
pub(in crate::report) fn decimals(value: f64, decimals: usize) -> String {
    minus(&format!("{value:.decimals$}"))
}

/// A number with its sign and so many decimals: `+1.5`, `−1.5`, `0.0`.
pub(in crate::report) fn signed(value: f64, decimals: usize) -> String {
    let text = self::decimals(value, decimals);
    let positive = value > 0.0 && text.contains(|c: char| ('1'..='9').contains(&c));
    if positive { format!("+{text}") } else { text }
}

/// Digits with a minus sign for the hyphen; zero has no sign.
pub(in crate::report) fn minus(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(digits) if digits.contains(|c: char| ('1'..='9').contains(&c)) => format!("−{digits}"),
        Some(digits) => digits.to_owned(),
        None => text.to_owned(),
    }
}

/// Below this, in the unit shown, a number is what rounding left of zero: the differences of currents
/// and voltages that ought to vanish come to some 1e-10.
const DUST: f64 = 1e-9;

/// The number, or zero where it is rounding dust.
pub(in crate::report) fn without_dust(value: f64) -> f64 {
    if value.abs() < DUST { 0.0 } else { value }
}

/// A number with so many significant digits; rounding dust is zero.
pub(in crate::report) fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return NONE.into();
    }
    let value = without_dust(value);
    if value == 0.0 {
        return "0".into();
    }
    let text = format!("{value:.*e}", usize::try_from(digits - 1).unwrap_or(0));
    let exponent = text.split_once('e').and_then(|(_, e)| e.parse::<i32>().ok()).unwrap_or(0);
    decimals(value, usize::try_from(digits - 1 - exponent).unwrap_or(0))
}

/// A current or a similar number, three digits.
pub(in crate::report) fn three(value: f64) -> String {
    significant(value, 3)
}

/// A rating: three digits, rounded up. What rounding left of the fourth does not count.
pub(in crate::report) fn three_up(value: f64) -> String {
    if !(value.is_finite() && without_dust(value) > 0.0) {
        return significant(value, 3);
    }
    significant(up(value, 3), 3)
}

/// The same, rounded down.
pub(in crate::report) fn three_down(value: f64) -> String {
    significant(if value.is_finite() && value > 0.0 { down(value, 3) } else { value }, 3)
}

/// A number above zero, rounded up to so many significant digits.
pub(in crate::report) fn up(value: f64, digits: u8) -> f64 {
    let unit = libm::pow(10.0, libm::floor(libm::log10(value)) + 1.0 - f64::from(digits));
    unit * libm::ceil(value / unit - 1e-9)
}

/// A value above zero, rounded down to so many digits: what is told as a largest value must do.
pub(in crate::report) fn down(value: f64, digits: u8) -> f64 {
    let unit = libm::pow(10.0, libm::floor(libm::log10(value)) + 1.0 - f64::from(digits));
    unit * libm::floor(value / unit + 1e-9)
}

/// A voltage or a similar number, four digits.
pub(in crate::report) fn four(value: f64) -> String {
    significant(value, 4)
}

/// A rating with four digits, rounded up.
pub(in crate::report) fn four_up(value: f64) -> String {
    significant(if value.is_finite() && value > 0.0 { up(value, 4) } else { value }, 4)
}

/// A number with so many decimals; with three digits where these would leave fewer than two.
pub(in crate::report) fn decimals_or_three(value: f64, digits: usize) -> String {
    let ten_of_last = libm::pow(10.0, 1.0 - digits as f64);
    if value != 0.0 && value.abs() < ten_of_last { three(value) } else { decimals(value, digits) }
}

/// A value in thousands of its unit, four digits.
pub(in crate::report) fn kilo(value: f64) -> String {
    four(value / 1e3)
}

/// A quantity with its unit and SI prefix.
pub(in crate::report) fn quantity(value: impl std::fmt::Display) -> String {
    unbroken(&minus(&value.to_string()))
}

/// A whole number in groups of three: `20 000`.
pub fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    text
}

/// So many things, as one or many: `1 part`, `20 000 parts`.
pub(in crate::report) fn counted(n: u64, thing: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{}\u{a0}{thing}{plural}", count(n))
}

/// The samples, as one or many.
pub(in crate::report) fn samples(n: u64) -> String {
    counted(n, "sample")
}

/// A fraction in percent with three significant digits or so.
pub(in crate::report) fn percent(fraction: f64) -> String {
    format!("{}\u{a0}%", in_percent(fraction))
}

/// A fraction in percent without the sign, for a table that says so.
pub(in crate::report) fn in_percent(fraction: f64) -> String {
    let p = 100.0 * fraction;
    let decimal_places = if p.abs() < 1.0 {
        3
    } else if p.abs() < 10.0 {
        2
    } else {
        1
    };
    decimals(p, decimal_places)
}

/// A share in parts per million without the unit, three digits.
pub(in crate::report) fn ppm(share: f64) -> String {
    let parts = 1e6 * share;
    if parts < 999.5 {
        return without_needless_zeros(&three(parts));
    }
    let unit = libm::pow(10.0, libm::floor(libm::log10(parts)) - 2.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "at most a million"
    )]
    let rounded = (unit * (parts / unit).round()).round() as u64;
    count(rounded)
}

/// A number, or a quantity with its unit, without zeros at the end of its decimals: `48 V` of `48.00 V`.
pub(in crate::report) fn without_needless_zeros(text: &str) -> String {
    let (number, unit) = text.split_once('\u{a0}').map_or((text, None), |(n, u)| (n, Some(u)));
    let number = if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    };
    unit.map_or_else(|| number.to_owned(), |unit| format!("{number}\u{a0}{unit}"))
}

/// A quantity in three significant digits at most, and without a remark in brackets.
pub(in crate::report) fn of_three_digits(text: &str) -> String {
    in_three_digits(text, three)
}

/// The same of a value that must do: rounded up.
pub(in crate::report) fn of_three_digits_up(text: &str) -> String {
    in_three_digits(text, three_up)
}

fn in_three_digits(text: &str, three: fn(f64) -> String) -> String {
    let text = text.split(" (").next().unwrap_or(text);
    let Some((number, unit)) = text.split_once('\u{a0}') else { return text.to_owned() };
    let rounded = number.parse::<f64>().map_or_else(|_| number.to_owned(), three);
    without_needless_zeros(&format!("{rounded}\u{a0}{unit}"))
}

/// The number of a quantity where another one that follows has the same unit.
pub(in crate::report) fn without_same_unit<'a>(quantity: &'a str, next: &str) -> &'a str {
    match (quantity.split_once('\u{a0}'), next.split_once('\u{a0}')) {
        (Some((number, unit)), Some((_, same))) if unit == same => number,
        _ => quantity,
    }
}

/// A share in percent, three significant digits.
pub(in crate::report) fn percent_of_three(share: f64) -> String {
    format!("{}\u{a0}%", three(100.0 * share))
}

/// The same of what must do: rounded up.
pub(in crate::report) fn percent_of_three_up(share: f64) -> String {
    format!("{}\u{a0}%", three_up(100.0 * share))
}

/// The same of what does not do, as all below: rounded down.
pub(in crate::report) fn percent_of_three_down(share: f64) -> String {
    format!("{}\u{a0}%", three_down(100.0 * share))
}

/// A p-value with two digits, or a bound of those that are too small to matter how small.
pub(in crate::report) fn p_value(p: f64) -> String {
    const SMALLEST: f64 = 1e-4;
    if p < SMALLEST { "<\u{a0}0.0001".into() } else { significant(p, 2) }
}

/// How many times as large something is: two digits below ten, whole above.
pub(in crate::report) fn factor(ratio: f64) -> String {
    if ratio < 9.95 { significant(ratio, 2) } else { decimals(ratio, 0) }
}

/// A change as a share, in percent with its sign and one decimal.
pub(in crate::report) fn signed_percent(share: f64) -> String {
    format!("{}\u{a0}%", signed(100.0 * share, 1))
}

/// A yield; none and all have no decimals.
pub(in crate::report) fn yield_in_few_digits(share: f64) -> String {
    if share > 0.0 && share < 1.0 { yield_percent(share) } else { given_percent(share) }
}

/// A yield in percent, with as many digits as tell it from 0 and 100 %, up to eight decimals.
pub(in crate::report) fn yield_percent(fraction: f64) -> String {
    yield_with(fraction, yield_decimals(fraction))
}

/// Two yields in percent that stand beside each other: both with the decimals that the nearer one to 0 or
/// 100 % needs.
pub(in crate::report) fn yields_alike(fractions: [f64; 2]) -> [String; 2] {
    let most = fractions.into_iter().filter_map(yield_decimals).max();
    fractions.map(|fraction| yield_with(fraction, yield_decimals(fraction).and(most)))
}

fn yield_with(fraction: f64, decimal_places: Option<usize>) -> String {
    // What no digits tell from the end is the end.
    let end = || if fraction < 0.5 { "0" } else { "100" }.to_owned();
    let text = decimal_places.map_or_else(end, |places| decimals(100.0 * fraction, places));
    format!("{text}\u{a0}%")
}

/// The decimals that tell a yield from 0 and 100 %; none where eight do not.
fn yield_decimals(fraction: f64) -> Option<usize> {
    const MOST_DIGITS: usize = 8;
    let p = 100.0 * fraction;
    let is_between = fraction > 0.0 && fraction < 1.0;
    if !is_between || (0.1..=99.9).contains(&p) {
        return Some(2);
    }
    let is_told = |places: &usize| {
        let text = decimals(p, *places);
        let is_zero = !text.contains(|c: char| ('1'..='9').contains(&c));
        !is_zero && !text.starts_with("100")
    };
    (3..=MOST_DIGITS).find(is_told)
}

/// A fraction that is a lower bound, in percent with two decimals, rounded down.
pub(in crate::report) fn percent_down(fraction: f64) -> String {
    format!("{}\u{a0}%", decimals(libm::floor(1e4 * fraction) / 1e2, 2))
}

/// A percentage as typed: 5 %, 99.5 %.
pub(in crate::report) fn given_percent(fraction: f64) -> String {
    // Ten digits hide what the hundredth of a decimal fraction adds.
    let rounded = format!("{:.9e}", 100.0 * fraction).parse().unwrap_or(100.0 * fraction);
    format!("{}\u{a0}%", minus(&rounded.to_string()))
}

/// A confidence level in percent: what is left to 100 % has three digits.
pub(in crate::report) fn level(confidence: Confidence) -> String {
    let left = 100.0 * confidence.one_sided_tail();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 17")]
    let decimal_places = (2.0 - libm::floor(libm::log10(left))).clamp(0.0, 17.0) as usize;
    let digits = format!("{:.decimal_places$}", 100.0 * confidence.get());
    format!("{}\u{a0}%", digits.trim_end_matches('0').trim_end_matches('.'))
}

/// A yield with its interval.
pub(in crate::report) fn yield_interval(good: &Yield) -> String {
    format!(
        "{} ({} interval {} to {})",
        yield_percent(good.estimate),
        level(good.confidence),
        yield_percent(good.lower),
        yield_percent(good.upper)
    )
}

/// Both ends of an interval, or what is missing for one.
pub(in crate::report) fn ends(interval: Option<Interval>, number: fn(f64) -> String) -> String {
    match interval {
        Some(i) => format!("{} to {}", number(i.lower), number(i.upper)),
        None => TOO_FEW_SAMPLES.into(),
    }
}

/// A quantile of all samples.
pub(in crate::report) fn quantile(value: Option<f64>, number: fn(f64) -> String) -> String {
    value.map_or_else(|| BEYOND.into(), number)
}

/// Both ends of a quantile's interval, or the one that there is and why the other is missing. Above a
/// lower end that is beyond there is nothing else.
pub(in crate::report) fn quantile_ends(
    interval: QuantileInterval,
    number: fn(f64) -> String,
) -> String {
    use QuantileEnd::{Beyond, TooFewSamples, Value};
    let end = |end: QuantileEnd| quantile(end.value(), number);
    match (interval.lower, interval.upper) {
        (Beyond, _) => BEYOND.into(),
        (TooFewSamples, TooFewSamples) => TOO_FEW_SAMPLES.into(),
        (Value(lower), TooFewSamples) => format!("from {}; {TOO_FEW_SAMPLES}", number(lower)),
        (TooFewSamples, upper) => format!("up to {}; {TOO_FEW_SAMPLES}", end(upper)),
        (lower, upper) => format!("{} to {}", end(lower), end(upper)),
    }
}

/// A sum of money without its currency: two decimals, four below a tenth.
pub(in crate::report) fn money(amount: f64) -> String {
    grouped(&decimals(amount, money_decimals(amount)))
}

/// A difference of sums of money, with its sign.
pub(in crate::report) fn signed_money(amount: f64) -> String {
    grouped(&signed(amount, money_decimals(amount)))
}

/// A number with its whole digits in groups of three.
pub(in crate::report) fn grouped(number: &str) -> String {
    let digits = number.trim_start_matches(['+', '−']);
    let sign = &number[..number.len() - digits.len()];
    let (whole, rest) = digits.split_at(digits.find('.').unwrap_or(digits.len()));
    whole
        .parse()
        .map_or_else(|_| number.to_owned(), |whole| format!("{sign}{}{rest}", count(whole)))
}

/// Decimals of a sum of money.
pub(in crate::report) fn money_decimals(amount: f64) -> usize {
    match amount.abs() {
        large if large >= 1e4 => 0,
        small if small > 0.0 && small < 0.1 => 4,
        _ => 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_values_keep_three_digits() {
        let told = [8.391, 0.1, 0.099, 0.002_149, -0.004, 0.0].map(|own| decimals_or_three(own, 2));
        assert_eq!(told, ["8.39", "0.10", "0.0990", "0.00215", "−0.00400", "0.00"]);
    }

    #[test]
    fn a_tiny_p_value_is_told_by_a_bound() {
        let told = [1.0, 0.012_34, 0.000_123, 1.7e-23, 0.0].map(p_value);
        assert_eq!(told, ["1.0", "0.012", "0.00012", "<\u{a0}0.0001", "<\u{a0}0.0001"]);
    }

    #[test]
    fn sums_of_money_have_groups_of_three_and_large_ones_no_decimals() {
        let told = [12.5, 0.012, 1234.5, 187_585.0, -20_500.4].map(money);
        assert_eq!(told, ["12.50", "0.0120", "1\u{a0}234.50", "187\u{a0}585", "−20\u{a0}500"]);
        assert_eq!(signed_money(1234.5), "+1\u{a0}234.50");
    }

    #[test]
    fn levels_keep_three_digits_of_what_is_left() {
        let level_of = |level: f64| super::level(Confidence::new(level).unwrap());
        assert_eq!(level_of(0.95), "95\u{a0}%");
        assert_eq!(level_of(0.9875), "98.75\u{a0}%");
        assert_eq!(level_of(1.0 - 0.05 / 12.0), "99.583\u{a0}%");
        assert_eq!(level_of(0.999_999), "99.9999\u{a0}%");
    }

    #[test]
    fn significant_digits_by_hand() {
        let cases = [(8.3456, "8.35"), (0.012_34, "0.0123"), (126.66, "127"), (1234.0, "1234")];
        for (value, text) in cases {
            assert_eq!(three(value), text);
        }
        assert_eq!((three(0.0).as_str(), three(f64::NAN).as_str()), ("0", NONE));
        assert_eq!(three(9.999), "10.0", "rounded up, still three digits");
        assert_eq!([three(-3.72e-10), three(1e-9), three(-0.0)], ["0", "0.00000000100", "0"]);
        assert_eq!(kilo(169_370.4), "169.4");
    }

    /// 0 and 100 % are written of a yield that is just that, or that eight decimals do not tell from it.
    #[test]
    fn a_yield_near_an_end_has_the_digits_that_tell() {
        for (fraction, text) in [
            (1.0, "100.00"),
            (0.0, "0.00"),
            (0.995, "99.50"),
            (0.9996, "99.960"),
            (1.0 - 6.9e-7, "99.9999"),
            (6.9e-7, "0.0001"),
            (1.0 - 4e-6, "99.9996"),
            (1.0 - 4e-11, "100"),
            (1.0_f64.next_down(), "100"),
            (1e-304, "0"),
        ] {
            assert_eq!(yield_percent(fraction), format!("{text}\u{a0}%"));
        }
        for (fractions, texts) in [
            ([0.003, 0.0005], ["0.300", "0.050"]),
            ([0.9995, 1.0], ["99.950", "100.000"]),
            ([0.5, 1.0 - 4e-11], ["50.00", "100"]),
            ([0.9975, 0.25], ["99.75", "25.00"]),
        ] {
            assert_eq!(yields_alike(fractions), texts.map(|text| format!("{text}\u{a0}%")));
        }
    }

    #[test]
    fn what_must_do_is_rounded_up_and_what_does_not_is_rounded_down() {
        assert_eq!(percent_of_three_up(0.023_931), "2.40\u{a0}%");
        assert_eq!(percent_of_three_up(0.02), "2.00\u{a0}%");
        assert_eq!(percent_of_three_down(0.019_69), "1.96\u{a0}%");
        assert_eq!(percent_of_three_down(0.0), "0\u{a0}%");
        assert_eq!(
            [of_three_digits, of_three_digits_up].map(|own| own("261.4\u{a0}V")),
            ["261\u{a0}V", "262\u{a0}V"]
        );
        assert_eq!([four_up(8.380_01), four_up(8.38)], ["8.381", "8.380"]);
    }

    #[test]
    fn percentages_read_as_typed() {
        for (text, fraction) in [("5", 0.05), ("99.5", 0.995), ("0.7", 0.007), ("99", 0.99)] {
            assert_eq!(given_percent(fraction), format!("{text}\u{a0}%"));
        }
    }

    #[test]
    fn below_zero_stands_a_minus_sign_and_zero_has_none() {
        assert_eq!([decimals(-1.25, 1), decimals(-0.004, 2)], ["−1.2", "0.00"]);
        assert_eq!(
            [signed(1.25, 1), signed(0.004, 2), signed(-0.004, 2)],
            ["+1.2", "0.00", "0.00"]
        );
        assert_eq!([signed_percent(-0.0612), percent(-0.0612)], ["−6.1\u{a0}%", "−6.12\u{a0}%"]);
        assert_eq!([money(-1.9), money(3.456), money(0.0123)], ["−1.90", "3.46", "0.0123"]);
        assert_eq!(quantity(crate::units::Volt(-380.0)), "−380.0\u{a0}V");
    }

    #[test]
    fn quantiles_among_samples_without_a_value_are_beyond() {
        use QuantileEnd::{Beyond, TooFewSamples, Value};
        let ends_of = |lower, upper| quantile_ends(QuantileInterval { lower, upper }, three);
        assert_eq!([quantile(Some(2.5), three), quantile(None, three)], ["2.50", "beyond"]);
        assert_eq!(ends_of(Value(1.0), Value(2.0)), "1.00 to 2.00");
        assert_eq!(ends_of(Value(1.0), Beyond), "1.00 to beyond");
        assert_eq!([Beyond, TooFewSamples].map(|upper| ends_of(Beyond, upper)), ["beyond"; 2]);
        assert_eq!(ends_of(TooFewSamples, TooFewSamples), "too few samples");
        assert_eq!(ends_of(Value(1.0), TooFewSamples), "from 1.00; too few samples");
        assert_eq!(ends_of(TooFewSamples, Value(2.0)), "up to 2.00; too few samples");
        assert_eq!(ends_of(TooFewSamples, Beyond), "up to beyond; too few samples");
    }

    #[test]
    fn counts_have_groups_and_their_things_a_plural() {
        assert_eq!(
            [count(999), count(20_000), count(1_234_567)],
            ["999", "20\u{a0}000", "1\u{a0}234\u{a0}567"]
        );
        assert_eq!([samples(1), samples(2000)], ["1\u{a0}sample", "2\u{a0}000\u{a0}samples"]);
    }
}
