//! Quantities as typed: a number, an optional SI prefix, an SI unit (`"4.56 µH"`, `"5 %"`).
//!
//! Prefixes and units after the SI Brochure of the BIPM (9th edition, 2019), with `u` for `µ` and
//! `ohm` for `Ω`. Upper and lower case differ, as they do there: `m` is milli and `M` is mega.

use crate::units::{
    Ampere, Celsius, Farad, Henry, Hertz, Hour, Kelvin, KelvinPerWatt, Ohm, PerKelvin, Second,
    Volt, VoltSecond, Watt,
};

/// What a quantity measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dimension {
    Inductance,
    Capacitance,
    Resistance,
    Frequency,
    Voltage,
    Current,
    Power,
    Duration,
    FluxLinkage,
    Ratio,
    Temperature,
    TemperatureRise,
    TemperatureCoefficient,
    Time,
    ThermalResistance,
}

impl Dimension {
    pub(crate) const ALL: [Self; 15] = [
        Self::Inductance,
        Self::Capacitance,
        Self::Resistance,
        Self::Frequency,
        Self::Voltage,
        Self::Current,
        Self::Power,
        Self::Duration,
        Self::FluxLinkage,
        Self::Ratio,
        Self::Temperature,
        Self::TemperatureRise,
        Self::TemperatureCoefficient,
        Self::Time,
        Self::ThermalResistance,
    ];

    /// The dimension with its article.
    pub(crate) fn noun(self) -> &'static str {
        match self {
            Self::Inductance => "an inductance",
            Self::Capacitance => "a capacitance",
            Self::Resistance => "a resistance",
            Self::Frequency => "a frequency",
            Self::Voltage => "a voltage",
            Self::Current => "a current",
            Self::Power => "a power",
            Self::Duration => "a time in seconds",
            Self::FluxLinkage => "a flux linkage in volt-seconds",
            Self::Ratio => "a percentage",
            Self::Temperature => "a temperature",
            Self::TemperatureRise => "a temperature difference",
            Self::TemperatureCoefficient => "a temperature coefficient",
            Self::Time => "a time in hours",
            Self::ThermalResistance => "a thermal resistance",
        }
    }

    /// A quantity of this dimension as one would type it.
    pub(crate) fn example(self) -> &'static str {
        match self {
            Self::Inductance => "4.56 µH",
            Self::Capacitance => "247 nF",
            Self::Resistance => "30 mΩ",
            Self::Frequency => "150 kHz",
            Self::Voltage => "48 V",
            Self::Current => "62.5 A",
            Self::Power => "3 kW",
            Self::Duration => "150 ns",
            Self::FluxLinkage => "120 µVs",
            Self::Ratio => "5 %",
            Self::Temperature => "85 °C",
            Self::TemperatureRise => "4 K",
            Self::TemperatureCoefficient => "-200 ppm/K",
            Self::Time => "60000 h",
            Self::ThermalResistance => "1.2 K/W",
        }
    }

    /// The spellings of its unit, the preferred one first. Ω is both a Greek letter and a
    /// character of its own.
    pub(crate) fn symbols(self) -> &'static [&'static str] {
        match self {
            Self::Inductance => &["H"],
            Self::Capacitance => &["F"],
            Self::Resistance => &["\u{3a9}", OHM_SIGN, "ohm"],
            Self::Frequency => &["Hz"],
            Self::Voltage => &["V"],
            Self::Current => &["A"],
            Self::Power => &["W"],
            Self::Duration => &["s"],
            Self::FluxLinkage => &["Vs", "Wb"],
            Self::Ratio => &["%", PPM],
            Self::Temperature => &["°C", "degC"],
            Self::TemperatureRise => &["K"],
            Self::TemperatureCoefficient => &["ppm/K", "%/K", "ppm/°C", "%/°C"],
            Self::Time => &["h"],
            Self::ThermalResistance => &["K/W", "°C/W"],
        }
    }

    /// The name of its unit.
    pub(crate) fn unit_name(self) -> &'static str {
        match self {
            Self::Inductance => "henry",
            Self::Capacitance => "farad",
            Self::Resistance => "ohm",
            Self::Frequency => "hertz",
            Self::Voltage => "volt",
            Self::Current => "ampere",
            Self::Power => "watt",
            Self::Duration => "second",
            Self::FluxLinkage => "volt-second",
            Self::Ratio => "percent",
            Self::Temperature => "degree Celsius",
            Self::TemperatureRise => "kelvin",
            Self::TemperatureCoefficient => "parts per million per kelvin",
            Self::Time => "hour",
            Self::ThermalResistance => "kelvin per watt",
        }
    }

    pub(crate) fn symbol(self) -> &'static str {
        self.symbols()[0]
    }

    /// The prefixes its unit takes.
    pub(crate) fn prefixes(self) -> &'static [(&'static str, i32, &'static str)] {
        match self {
            Self::Ratio
            | Self::Temperature
            | Self::TemperatureRise
            | Self::TemperatureCoefficient
            | Self::Time
            | Self::ThermalResistance => &PREFIXES[..1],
            _ => &PREFIXES,
        }
    }

    /// Power of ten of the unit itself: a percent is a hundredth, and ppm are parts per million.
    fn exponent(self, symbol: &str) -> i32 {
        match self {
            Self::Ratio if symbol == PPM => -6,
            Self::TemperatureCoefficient if symbol.starts_with(PPM) => -6,
            Self::Ratio | Self::TemperatureCoefficient => -2,
            _ => 0,
        }
    }
}

const PPM: &str = "ppm";

/// Looks like the Greek letter Ω.
const OHM_SIGN: &str = "\u{2126}";

/// Symbol, power of ten and name; µ is both a character of its own and a Greek letter.
const PREFIXES: [(&str, i32, &str); 10] = [
    ("", 0, "no prefix"),
    ("p", -12, "pico"),
    ("n", -9, "nano"),
    ("\u{b5}", -6, "micro"),
    ("\u{3bc}", -6, "micro"),
    ("u", -6, "micro"),
    ("m", -3, "milli"),
    ("k", 3, "kilo"),
    ("M", 6, "mega"),
    ("G", 9, "giga"),
];

/// Magnitudes that no part or rating reaches. Within them no product in the solvers overflows.
pub(crate) const MAGNITUDES: std::ops::RangeInclusive<f64> = 1e-18..=1e12;

/// A type that a typed quantity becomes.
pub(crate) trait Quantity: Copy + From<f64> {
    /// What it measures.
    const DIMENSION: Dimension;
    /// The value in the SI unit, or the fraction for a ratio.
    fn value(self) -> f64;
}

macro_rules! quantity {
    ($($name:ident => $dimension:ident),*) => {$(
        impl Quantity for $name {
            const DIMENSION: Dimension = Dimension::$dimension;
            fn value(self) -> f64 {
                self.0
            }
        }
    )*};
}

quantity! {
    Henry => Inductance, Farad => Capacitance, Ohm => Resistance, Hertz => Frequency,
    Volt => Voltage, Ampere => Current, Watt => Power, Ratio => Ratio, Celsius => Temperature,
    Kelvin => TemperatureRise, PerKelvin => TemperatureCoefficient, Hour => Time, Second => Duration,
    VoltSecond => FluxLinkage, KelvinPerWatt => ThermalResistance
}

/// A ratio typed in percent; the value is the fraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ratio(pub(crate) f64);

impl From<f64> for Ratio {
    fn from(fraction: f64) -> Self {
        Self(fraction)
    }
}

/// Why a text is not the quantity wanted. Each reads on from "the inductance …".
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum Mistake {
    #[error("is empty")]
    Empty,
    #[error("is not a finite number")]
    NotFinite,
    #[error("does not start with a number")]
    NoNumber,
    #[error("holds more than one number")]
    ManyNumbers,
    #[error("has a decimal comma")]
    DecimalComma { corrected: String },
    #[error("is ambiguous: its comma may be a decimal or a thousands mark")]
    AnyComma { thousands: String, decimal: String },
    #[error("has no unit")]
    NoUnit,
    #[error("has the unknown unit `{unit}`")]
    UnknownUnit { unit: String, corrected: Vec<String> },
    #[error("has the unknown unit `{unit}`")]
    Degrees { unit: String, corrected: String },
    #[error("has the wrong unit")]
    WrongUnit { found: Dimension },
    #[error("is too large")]
    TooLarge,
    #[error("is too small")]
    TooSmall,
}

impl Mistake {
    /// Of a unit where none can stand.
    pub(crate) fn unknown_unit(unit: &str) -> Self {
        Self::UnknownUnit { unit: unit.to_owned(), corrected: Vec::new() }
    }

    /// What was expected, for a quantity of the dimension `wanted`.
    pub(crate) fn expected(&self, wanted: Dimension) -> String {
        let (noun, example) = (wanted.noun(), wanted.example());
        match self {
            Self::WrongUnit { found } => {
                format!("{noun} such as \"{example}\", found {} ({})", found.noun(), found.symbol())
            }
            Self::TooLarge => format!("{noun} of at most 1e12 {}", wanted.symbol()),
            Self::TooSmall => format!("{noun} of at least 1e-18 {}", wanted.symbol()),
            _ => format!("{noun} such as \"{example}\""),
        }
    }

    /// What to write instead, if that can be guessed.
    pub(crate) fn help(&self) -> Option<String> {
        match self {
            Self::DecimalComma { corrected } => {
                Some(format!("write a decimal point: \"{corrected}\""))
            }
            Self::Degrees { corrected, .. } => Some(format!("write \"{corrected}\"")),
            Self::AnyComma { thousands, decimal } => {
                Some(format!("write \"{thousands}\" or \"{decimal}\""))
            }
            Self::UnknownUnit { corrected, .. } if !corrected.is_empty() => {
                Some(format!("upper and lower case differ: write {}", corrected.join(" or ")))
            }
            _ => None,
        }
    }
}

/// A unit with its prefix.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct UnitInUse {
    /// As it was typed.
    pub(crate) symbol: String,
    /// The power of ten by which it is larger than the SI unit.
    pub(crate) power: i32,
}

/// Reads a unit alone. Upper and lower case may be wrong where only one unit can be meant.
pub(crate) fn unit(text: &str, wanted: Dimension) -> Result<UnitInUse, Mistake> {
    let symbol = text.to_owned();
    match look_up(text) {
        Some((power, found)) if found == wanted => Ok(UnitInUse { symbol, power }),
        Some((_, found)) => Err(Mistake::WrongUnit { found }),
        None => {
            // `mOhm` is milliohm: the prefix tells, unless all is written in capitals.
            let is_shouted = !text.contains(char::is_lowercase);
            let has_prefix = |unit: &str| !is_shouted && unit.chars().next() == text.chars().next();
            let mut meant: Vec<_> = corrections(text, wanted).collect();
            if meant.iter().any(|(unit, _)| has_prefix(unit)) {
                meant.retain(|(unit, _)| has_prefix(unit));
            }
            let mut powers = meant.iter().filter_map(|(unit, _)| Some(look_up(unit)?.0));
            match powers.next() {
                Some(power) if powers.all(|other| other == power) => {
                    Ok(UnitInUse { symbol, power })
                }
                _ => Err(Mistake::UnknownUnit {
                    unit: symbol,
                    corrected: meant
                        .iter()
                        .map(|(unit, name)| format!("{unit} ({name})"))
                        .collect(),
                }),
            }
        }
    }
}

/// Whether something like a unit follows a number.
pub(crate) fn has_unit(text: &str) -> bool {
    let number = text.trim_start_matches(['+', '-', '−', '.', ',']);
    number.starts_with(|c: char| c.is_ascii_digit())
        && number.ends_with(|c: char| c.is_alphabetic() || c == '%')
}

/// Reads a number of a column whose unit is larger than the SI unit by a power of ten. A unit of its
/// own counts instead of the column's.
pub(crate) fn number_of_column(
    text: &str,
    dimension: Option<Dimension>,
    power: i32,
) -> Result<f64, Mistake> {
    // Spreadsheets of some languages write a minus sign for the hyphen.
    let text = text.trim().replace('−', "-");
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => scale(&text, power).and_then(in_range),
        Ok(_) => Err(Mistake::NotFinite),
        Err(_) => {
            let (number, typed) = split(&text)?;
            let wanted = dimension.ok_or_else(|| Mistake::unknown_unit(typed))?;
            scale(number, unit(typed, wanted)?.power).and_then(in_range)
        }
    }
}

/// The unit that a value was meant in: with it the value lies within a factor two of the nominal one.
/// `ratio` is of the value to the nominal one, as read in a unit of this power of ten.
pub(crate) fn meant_unit(ratio: f64, power: i32, dimension: Dimension) -> Option<String> {
    dimension.prefixes().iter().find_map(|(prefix, other, _)| {
        let moved = ratio * 10_f64.powi(other - power);
        let is_near = *other != power && (0.5..=2.0).contains(&moved);
        is_near.then(|| format!("{prefix}{}", dimension.symbol()))
    })
}

/// What is typed for degrees Celsius where the keyboard has no ring.
const CELSIUS_WITHOUT_RING: [&str; 3] = ["C", "c", "deg C"];

/// Reads a typed quantity.
///
/// The value is the double nearest to the decimal number typed: `"4.56 µH"` is exactly `4.56e-6`.
pub(crate) fn parse<Q: Quantity>(text: &str) -> Result<Q, Mistake> {
    let text = text.trim();
    let (number, unit) = split(text)?;
    if unit.is_empty() {
        return Err(Mistake::NoUnit);
    }
    if Q::DIMENSION == Dimension::Temperature && CELSIUS_WITHOUT_RING.contains(&unit) {
        let corrected = format!("{number} °C");
        return Err(Mistake::Degrees { unit: unit.to_owned(), corrected });
    }
    let (exponent, found) = look_up(unit).ok_or_else(|| Mistake::UnknownUnit {
        unit: unit.to_owned(),
        corrected: corrections(unit, Q::DIMENSION)
            .map(|(symbol, name)| format!("\"{number} {symbol}\" ({name})"))
            .collect(),
    })?;
    if found != Q::DIMENSION {
        return Err(Mistake::WrongUnit { found });
    }
    scale(number, exponent).and_then(in_range).map(Q::from)
}

/// The value of a typed quantity in the SI unit, and what it measures; none where the text is no quantity.
pub(crate) fn of_any_kind(text: &str) -> Option<(f64, Dimension)> {
    let (number, unit) = split(text.trim()).ok()?;
    let (exponent, dimension) = look_up(unit)?;
    scale(number, exponent).ok().map(|value| (value, dimension))
}

/// A quantity as one would type it in the SI unit, or in percent, with its quotes.
pub(crate) fn written<Q: Quantity>(quantity: Q) -> String {
    let dimension = Q::DIMENSION;
    let value = match dimension {
        // Rounded, so that 0.07 is told as 7 and not as 7.000000000000001.
        Dimension::Ratio => (quantity.value() * 1e14).round() / 1e12,
        _ => quantity.value(),
    };
    format!("\"{value} {}\"", dimension.symbol())
}

/// A value with prefix and unit, rounded to six digits: `50 µF`. A plain number where nothing is
/// measured.
pub(crate) fn rounded(value: f64, dimension: Option<Dimension>) -> String {
    let number = format!("{value:.5e}");
    // Without the dust that a factor of a power of ten would leave.
    let scaled = |power: i32| scale(&number, -power).unwrap_or(value);
    let Some(dimension) = dimension else { return scaled(0).to_string() };
    let fits = |power: i32| (1.0..1000.0).contains(&scaled(power).abs());
    let fitting = dimension.prefixes().iter().find(|(_, power, _)| fits(*power));
    let (prefix, power, _) = fitting.unwrap_or(&PREFIXES[0]);
    format!("{} {prefix}{}", scaled(*power), dimension.symbol())
}

/// Rejects values that are neither zero nor of a magnitude that parts and ratings have.
pub(crate) fn in_range(value: f64) -> Result<f64, Mistake> {
    match value.abs() {
        size if !size.is_finite() || size > *MAGNITUDES.end() => Err(Mistake::TooLarge),
        0.0 => Ok(0.0), // without the sign of a negative zero
        size if size < *MAGNITUDES.start() => Err(Mistake::TooSmall),
        _ => Ok(value),
    }
}

/// Splits a text into its number and its unit.
fn split(text: &str) -> Result<(&str, &str), Mistake> {
    if text.is_empty() {
        return Err(Mistake::Empty);
    }
    let Some(end) = number_length(text) else {
        return Err(if names_no_number(text) { Mistake::NotFinite } else { Mistake::NoNumber });
    };
    let (number, rest) = text.split_at(end);
    if let Some(tail) = rest.strip_prefix(',')
        && tail.starts_with(|c: char| c.is_ascii_digit())
    {
        let decimal = format!("{number}.{tail}");
        return Err(if is_group_of_three(number, tail) {
            Mistake::AnyComma { thousands: format!("{number}{tail}"), decimal }
        } else {
            Mistake::DecimalComma { corrected: decimal }
        });
    }
    let unit = rest.trim_start();
    if unit.starts_with(|c: char| c.is_ascii_digit() || "+-.,_'".contains(c)) {
        return Err(Mistake::ManyNumbers);
    }
    Ok((number, unit))
}

/// Whether a comma between these may divide thousands: three digits and no more follow a number that does not
/// begin with zero.
pub(crate) fn is_group_of_three(number: &str, tail: &str) -> bool {
    let digits = tail.bytes().take_while(u8::is_ascii_digit).count();
    let whole = number.trim_start_matches(['+', '-']);
    digits == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
}

/// True for the spellings of infinity and of "not a number".
fn names_no_number(text: &str) -> bool {
    let word = text.trim_start_matches(['+', '-']).to_lowercase();
    ["nan", "inf", "∞"].iter().any(|name| word.starts_with(name))
}

/// Length of the decimal number at the start of `text`: sign, digits, fraction, exponent.
fn number_length(text: &str) -> Option<usize> {
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let sign = |from: usize| usize::from(text[from..].starts_with(['+', '-']));
    let whole_start = sign(0);
    let whole = digits(whole_start);
    let mut end = whole_start + whole;
    let fraction = if text[end..].starts_with('.') { digits(end + 1) } else { 0 };
    if whole + fraction == 0 {
        return None;
    }
    if fraction > 0 {
        end += 1 + fraction;
    }
    if text[end..].starts_with(['e', 'E']) {
        let exponent_start = end + 1 + sign(end + 1);
        let exponent = digits(exponent_start);
        if exponent > 0 {
            end = exponent_start + exponent;
        }
    }
    Some(end)
}

/// Power of ten and dimension of a unit with its prefix.
fn look_up(unit: &str) -> Option<(i32, Dimension)> {
    Dimension::ALL.into_iter().find_map(|dimension| {
        dimension.symbols().iter().find_map(|symbol| {
            let prefix = unit.strip_suffix(symbol)?;
            let (_, power, _) = dimension.prefixes().iter().find(|(p, ..)| *p == prefix)?;
            Some((power + dimension.exponent(symbol), dimension))
        })
    })
}

/// Units of the dimension wanted that differ from the one typed in case or in a plural s, each
/// with the name of its prefix.
fn corrections(typed: &str, wanted: Dimension) -> impl Iterator<Item = (String, &'static str)> {
    let same = move |symbol: &str, typed: &str| {
        let typed = typed.to_lowercase();
        symbol.to_lowercase() == typed || symbol.to_lowercase() == typed.trim_end_matches('s')
    };
    wanted.prefixes().iter().flat_map(move |(prefix, _, name)| {
        wanted
            .symbols()
            .iter()
            .filter(|symbol| **symbol != OHM_SIGN)
            .map(move |symbol| format!("{prefix}{symbol}"))
            .filter(move |unit| same(unit, typed))
            .map(|unit| (unit, *name))
            .collect::<Vec<_>>()
    })
}

/// The double nearest to `number · 10^exponent`, by way of the decimal text.
fn scale(number: &str, exponent: i32) -> Result<f64, Mistake> {
    let (mantissa, typed) = number.split_once(['e', 'E']).unwrap_or((number, "0"));
    let shown = |power: i64| format!("{mantissa}e{power}").parse::<f64>();
    let negative = typed.starts_with('-');
    // An exponent beyond i32 is out of range unless the mantissa is zero: clamp, then judge.
    let typed = typed.parse::<i32>().unwrap_or(if negative { -100_000 } else { 100_000 });
    let value = shown(i64::from(typed) + i64::from(exponent)).map_err(|_| Mistake::NoNumber)?;
    let vanished = value == 0.0 && mantissa.bytes().any(|c| (b'1'..=b'9').contains(&c));
    if vanished { Err(Mistake::TooSmall) } else { Ok(value) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_quantities_of_a_scenario_are_the_nearest_doubles() {
        assert_eq!(parse("4.56 µH"), Ok(Henry(4.56e-6)));
        assert_eq!(parse("247 nF"), Ok(Farad(247e-9)));
        assert_eq!(parse("30 mΩ"), Ok(Ohm(0.03)));
        assert_eq!(parse("380 V"), Ok(Volt(380.0)));
        assert_eq!(parse("3 kW"), Ok(Watt(3000.0)));
        assert_eq!(parse("150 kHz"), Ok(Hertz(150e3)));
        assert_eq!(parse("5 %"), Ok(Ratio(0.05)));
        assert_eq!(parse("10 ppm"), Ok(Ratio(10e-6)));
        assert_eq!(parse("62.5 A"), Ok(Ampere(62.5)));
    }

    #[test]
    fn temperatures_and_times_are_as_typed() {
        assert_eq!(parse("-40 °C"), Ok(Celsius(-40.0)));
        assert_eq!(parse("85 degC"), Ok(Celsius(85.0)));
        assert_eq!(parse("4 K"), Ok(Kelvin(4.0)));
        assert_eq!(parse("60000 h"), Ok(Hour(60e3)));
        for (text, value) in [("-200 ppm/K", -200e-6), ("30 ppm/°C", 30e-6), ("0.39 %/K", 0.0039)]
        {
            assert_eq!(parse(text), Ok(PerKelvin(value)), "{text}");
        }
    }

    #[test]
    fn spelling_variants_mean_the_same() {
        for text in ["4.56 µH", "4.56 μH", "4.56uH", " 4.56\u{a0}µH ", "4.56e-6 H", "4560e-3µH"]
        {
            assert_eq!(parse(text), Ok(Henry(4.56e-6)), "{text}");
        }
        for text in ["30 mΩ", "30 m\u{2126}", "30 mohm", "3e1 mohm", "+.03 ohm", "0.03Ω"] {
            assert_eq!(parse(text), Ok(Ohm(0.03)), "{text}");
        }
        assert_eq!(parse::<Volt>("-0 V").map(|v| v.0.is_sign_positive()), Ok(true));
        assert_eq!(parse("0e-99999999999 V"), Ok(Volt(0.0)));
    }

    /// SI prefixes: NIST, Constants, Units and Uncertainty, "Table 5. SI prefixes"; the same as
    /// Table 7 of the SI Brochure, 9th edition, 2019 (its table number from memory).
    #[test]
    fn prefixes_agree_with_the_si_brochure() {
        let table = [
            ("G", 1e9),
            ("M", 1e6),
            ("k", 1e3),
            ("", 1.0),
            ("m", 1e-3),
            ("µ", 1e-6),
            ("n", 1e-9),
            ("p", 1e-12),
        ];
        for (prefix, factor) in table {
            assert_eq!(parse(&format!("1 {prefix}F")), Ok(Farad(factor)), "{prefix}");
        }
        assert_eq!(PREFIXES.len(), table.len() + 2, "two further spellings of µ");
    }

    #[track_caller]
    fn mistake<Q: Quantity + std::fmt::Debug>(text: &str) -> Mistake {
        parse::<Q>(text).unwrap_err()
    }

    #[test]
    fn numbers_that_are_none() {
        for text in ["nan V", "NaN", "inf", "-inf V", "+Infinity V", "∞ V"] {
            assert_eq!(mistake::<Volt>(text), Mistake::NotFinite, "{text}");
        }
        for text in ["", "  "] {
            assert_eq!(mistake::<Volt>(text), Mistake::Empty);
        }
        for text in ["V", "full", ".V", "- 3 V", "e3 V", "−3 V", "0x"] {
            let found = parse::<Volt>(text);
            assert!(found.is_err(), "{text}: {found:?}");
        }
        for text in ["4 5 V", "4.5.6 V", "1_000 V", "1'000 V", "3 -V"] {
            assert_eq!(mistake::<Volt>(text), Mistake::ManyNumbers, "{text}");
        }
    }

    #[test]
    fn a_decimal_comma_is_pointed_out() {
        let found = mistake::<Henry>("4,56 µH");
        assert_eq!(found.help().as_deref(), Some("write a decimal point: \"4.56 µH\""));
        for text in ["0,456 µH", "4,5678 µH", "1234,567 µH"] {
            assert!(matches!(mistake::<Henry>(text), Mistake::DecimalComma { .. }), "{text}");
        }
    }

    #[test]
    fn degrees_without_their_ring_are_told() {
        for text in ["80 C", "80C", "80 deg C"] {
            assert_eq!(
                mistake::<Celsius>(text).help().as_deref(),
                Some("write \"80 °C\""),
                "{text}"
            );
        }
    }

    /// Three watts or three thousand: nobody can tell.
    #[test]
    fn a_comma_before_three_digits_is_ambiguous() {
        let found = mistake::<Watt>("3,000 W");
        assert_eq!(found.help().as_deref(), Some("write \"3000 W\" or \"3.000 W\""));
    }

    #[test]
    fn values_beyond_all_parts_are_refused() {
        assert_eq!(mistake::<Volt>("1e999 V"), Mistake::TooLarge);
        assert_eq!(mistake::<Volt>("1e99999999999 V"), Mistake::TooLarge);
        assert_eq!(mistake::<Volt>("1e12 kV"), Mistake::TooLarge);
        assert_eq!(mistake::<Henry>("1e-999 H"), Mistake::TooSmall);
        assert_eq!(mistake::<Henry>("1e-99999999999 H"), Mistake::TooSmall);
        assert_eq!(parse("1e3 GV"), Ok(Volt(1e12)));
        assert_eq!(parse("1e-6 pF"), Ok(Farad(1e-18)));
    }

    #[test]
    fn quantities_in_messages_are_rounded() {
        let farad = Some(Dimension::Capacitance);
        assert_eq!(rounded(5e-5, farad), "50 µF");
        assert_eq!(rounded(0.1 + 0.2, farad), "300 mF");
        assert_eq!(rounded(1.0 / 3.0, Some(Dimension::Resistance)), "333.333 mΩ");
        assert_eq!(rounded(999.999_96, Some(Dimension::Voltage)), "1 kV");
        assert_eq!(rounded(0.0, farad), "0 F");
        assert_eq!(rounded(2.4 / 3.0, None), "0.8");
    }

    #[test]
    fn a_wrong_unit_names_both() {
        assert_eq!(
            mistake::<Henry>("247 nF").expected(Dimension::Inductance),
            "an inductance such as \"4.56 µH\", found a capacitance (F)"
        );
        assert_eq!(mistake::<Volt>("5 %"), Mistake::WrongUnit { found: Dimension::Ratio });
        assert_eq!(mistake::<Volt>("5"), Mistake::NoUnit);
    }

    #[test]
    fn units_of_columns_may_differ_in_case_where_one_is_meant() {
        let power = |text, dimension| unit(text, dimension).map(|unit| unit.power);
        for (text, expected) in [("mohm", -3), ("mOhm", -3), ("MOhm", 6), ("kohms", 3), ("OHM", 0)]
        {
            assert_eq!(power(text, Dimension::Resistance), Ok(expected), "{text}");
        }
        assert_eq!(power("UH", Dimension::Inductance), Ok(-6));
        assert!(power("MOHM", Dimension::Resistance).unwrap_err().help().is_some(), "m or M");
        let wrong = Mistake::WrongUnit { found: Dimension::Capacitance };
        assert_eq!(power("nF", Dimension::Inductance), Err(wrong));
        assert!(has_unit("4,61 µH") && has_unit("0.3%") && !has_unit("4.61e-6") && !has_unit("x"));
    }

    #[test]
    fn slips_of_case_get_a_hint() {
        let help = |m: Mistake| m.help().unwrap();
        let khz = "upper and lower case differ: write \"150 kHz\" (kilo)";
        assert_eq!(help(mistake::<Hertz>("150 khz")), khz);
        assert_eq!(help(mistake::<Hertz>("150KHz")), khz);
        let mh = "upper and lower case differ: write \"2 mH\" (milli) or \"2 MH\" (mega)";
        assert_eq!(help(mistake::<Henry>("2 mh")), mh);
        let ohm = "upper and lower case differ: write \"2 mΩ\" (milli) or \"2 MΩ\" (mega)";
        assert_eq!(help(mistake::<Ohm>("2 mω")), ohm);
        assert!(help(mistake::<Ohm>("2 mOhms")).contains("\"2 mohm\" (milli)"));
        assert_eq!(mistake::<Hertz>("150 rpm").help(), None);
        assert!(parse::<Ratio>("5 m%").is_err(), "a percent takes no prefix");
    }

    proptest! {
        #[test]
        fn a_written_value_reads_back_exactly(value in 1e-18_f64..1e12) {
            prop_assert_eq!(parse::<Henry>(&format!("{value} H")), Ok(Henry(value)));
            prop_assert_eq!(parse::<Henry>(&format!("{value:e}H")), Ok(Henry(value)));
        }

        /// The display of a quantity has four significant digits: it is off by half a unit of
        /// the last one at most, 0.5/1000 of the value.
        #[test]
        fn a_displayed_value_reads_back_to_its_digits(mantissa in 1.0_f64..10.0, power in -12..9) {
            let value = mantissa * 10_f64.powi(power);
            let Ok(Volt(read)) = parse(&Volt(value).to_string()) else {
                return Err(TestCaseError::fail(Volt(value).to_string()));
            };
            prop_assert!((read / value - 1.0).abs() <= 0.5e-3 * (1.0 + 1e-9));
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,20}") {
            let _ = parse::<Volt>(&text);
        }
    }
}
