//! Numbers and names as the page writes them.

use crate::converter::{
    Arrangement, Configuration, Drive, Measure, Parameter, Rectifier, Shared, Sharing,
};
use crate::report::format::numbers;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::{Confidence, Interval, Verdict};
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, Leg, Side, Switch};

/// What stands where there is no figure.
pub(in crate::report) const NONE: &str = "–";

/// The text with blanks at which no line breaks.
pub(in crate::report) fn unbroken(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// A count, in groups of three.
pub(in crate::report) fn count(n: u64) -> String {
    unbroken(&numbers::grouped(n))
}

/// A fraction in percent, three digits or so.
pub(in crate::report) fn percent(fraction: f64) -> String {
    unbroken(&numbers::percent(fraction))
}

/// A fraction in percent without the sign, for a table that says so.
pub(in crate::report) fn in_percent(fraction: f64) -> String {
    numbers::percent(fraction).trim_end_matches([' ', '%']).to_owned()
}

/// A yield in percent.
pub(in crate::report) fn yield_percent(fraction: f64) -> String {
    unbroken(&numbers::yield_percent(fraction))
}

/// A percentage as typed: 5 %, 99.5 %.
pub(in crate::report) fn given_percent(fraction: f64) -> String {
    // Ten digits hide what the hundredth of a decimal fraction adds.
    let rounded = format!("{:.9e}", 100.0 * fraction).parse().unwrap_or(100.0 * fraction);
    format!("{rounded}\u{a0}%")
}

/// A confidence level in percent.
pub(in crate::report) fn level(confidence: Confidence) -> String {
    unbroken(&numbers::level(confidence))
}

/// A quantity with its unit and SI prefix.
pub(in crate::report) fn quantity(value: impl std::fmt::Display) -> String {
    unbroken(&value.to_string())
}

/// A number with so many significant digits.
pub(in crate::report) fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return NONE.into();
    }
    if value == 0.0 {
        return "0".into();
    }
    let text = format!("{value:.*e}", usize::try_from(digits - 1).unwrap_or(0));
    let exponent = text.split_once('e').and_then(|(_, e)| e.parse::<i32>().ok()).unwrap_or(0);
    let decimals = usize::try_from(digits - 1 - exponent).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// A current or a similar number, three digits.
pub(in crate::report) fn three(value: f64) -> String {
    significant(value, 3)
}

/// A voltage or a similar number, four digits.
pub(in crate::report) fn four(value: f64) -> String {
    significant(value, 4)
}

/// A value in thousands of its unit.
pub(in crate::report) fn kilo(value: f64) -> String {
    four(value / 1e3)
}

/// Both ends of an interval, or what is missing for one.
pub(in crate::report) fn interval(interval: Option<Interval>, number: fn(f64) -> String) -> String {
    match interval {
        Some(i) => format!("{} to {}", number(i.lower), number(i.upper)),
        None => "too few samples".into(),
    }
}

/// An arrangement in a table.
pub(in crate::report) fn arrangement(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "balanced chain",
        Arrangement::Paralleled => "paralleled",
    }
}

/// An arrangement at the head of a text.
pub(in crate::report) fn arrangement_heading(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "With charge balancing",
        Arrangement::Paralleled => "Without: paralleled reference",
    }
}

/// A verdict as a word.
pub(in crate::report) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "Pass",
        Verdict::Fail => "Fail",
        Verdict::NotDecided => "Not decided",
    }
}

/// A shared quantity.
pub(in crate::report) fn shared(shared: Shared) -> &'static str {
    match shared {
        Shared::OutputCurrent => "output current",
        Shared::MeanTankCurrent => "mean absolute tank current",
        Shared::RmsTankCurrent => "RMS tank current",
    }
}

/// A measure as a formula, with m for the mean.
pub(in crate::report) fn formula(measure: Measure) -> &'static str {
    match measure {
        Measure::Deviation => "max |x − m| / m",
        Measure::Overload => "(max x − m) / m",
        Measure::Spread => "(max x − min x) / m",
    }
}

/// The sharing error that the limit speaks of.
pub(in crate::report) fn sharing(Sharing { share, measure }: Sharing) -> String {
    format!("{} of the {}", measure.name(), shared(share))
}

/// A rectifier.
pub(in crate::report) fn rectifier(rectifier: Rectifier) -> &'static str {
    match rectifier {
        Rectifier::FullBridge => "full bridge",
        Rectifier::CentreTap => "centre tap",
        Rectifier::VoltageDoubler => "voltage doubler",
    }
}

/// A configuration in few letters, for a figure: drive, then rectifier.
pub(in crate::report) fn configuration(configuration: Configuration) -> String {
    let drive = match configuration.drive {
        Drive::HalfBridge => "half",
        Drive::FullBridge => "full",
    };
    let rectifier = match configuration.rectifier {
        Rectifier::FullBridge => "full bridge",
        Rectifier::CentreTap => "centre tap",
        Rectifier::VoltageDoubler => "doubler",
    };
    format!("{drive}, {rectifier}")
}

/// A parameter of the parts.
pub(in crate::report) fn parameter(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::ResonantInductance => "resonant inductance Lr",
        Parameter::ResonantCapacitance => "resonant capacitance Cr",
        Parameter::MagnetisingInductance => "magnetising inductance Lm",
        Parameter::TurnsRatio => "turns ratio n",
        Parameter::SeriesResistance => "series resistance R",
        Parameter::RectifierDrop => "rectifier drop Vd",
        Parameter::FlyingCapacitance => "flying capacitance",
    }
}

/// The nominal value of a parameter, with its unit.
pub(in crate::report) fn nominal(scenario: &Scenario, parameter: Parameter) -> String {
    let tank = &scenario.nominal;
    match parameter {
        Parameter::ResonantInductance => quantity(tank.resonant_inductance),
        Parameter::ResonantCapacitance => quantity(tank.resonant_capacitance),
        Parameter::MagnetisingInductance => quantity(tank.magnetising_inductance),
        Parameter::TurnsRatio => quantity(tank.turns_ratio),
        Parameter::SeriesResistance => quantity(tank.series_resistance),
        Parameter::RectifierDrop => quantity(tank.rectifier_drop),
        Parameter::FlyingCapacitance => quantity(scenario.flying_capacitance),
    }
}

/// A switch; phases count from 1.
pub(in crate::report) fn switch(switch: Switch, legs: usize) -> String {
    let leg = match (legs, switch.leg) {
        (1, Leg::Driven) => "",
        (1, Leg::Return) => ", held on",
        (_, Leg::Driven) => ", driven leg",
        (_, Leg::Return) => ", return leg",
    };
    format!("{} {}{leg}", side(switch.side), switch.phase + 1)
}

/// A side of a leg.
pub(in crate::report) fn side(side: Side) -> &'static str {
    match side {
        Side::High => "high",
        Side::Low => "low",
    }
}

/// What a demand is about, without its limit.
pub(in crate::report) fn demand(demand: &Demand) -> &'static str {
    match demand.figure {
        None => "frequency inside the band",
        Some(Figure::SharingError(_)) => "sharing error",
        Some(Figure::WorstSwitchRms) => "RMS current of every switch",
        Some(Figure::WorstSwitchPeak) => "peak current of every switch",
        Some(Figure::WorstBlocking) => "blocking voltage of every switch",
        Some(_) => "another figure",
    }
}

/// The limit of a demand, if it has one.
pub(in crate::report) fn demand_limit(demand: &Demand) -> Option<String> {
    Some(match demand.figure? {
        Figure::SharingError(_) => given_percent(demand.limit),
        Figure::WorstSwitchRms | Figure::WorstSwitchPeak => format!("{}\u{a0}A", demand.limit),
        Figure::WorstBlocking => format!("{}\u{a0}V", demand.limit),
        _ => demand.limit.to_string(),
    })
}

/// A solver.
pub(in crate::report) fn method(method: Method) -> &'static str {
    match method {
        Method::Exact => "exact",
        Method::Averaged => "averaged (quick look)",
    }
}

/// The samples, as one or many.
pub(in crate::report) fn samples(n: u64) -> String {
    if n == 1 { "1\u{a0}sample".into() } else { format!("{}\u{a0}samples", count(n)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_keep_three_digits_of_what_is_left() {
        let of = |level: f64| super::level(Confidence::new(level).unwrap());
        assert_eq!(of(0.95), "95\u{a0}%");
        assert_eq!(of(0.9875), "98.75\u{a0}%");
        assert_eq!(of(1.0 - 0.05 / 12.0), "99.583\u{a0}%");
        assert_eq!(of(0.999_999), "99.9999\u{a0}%");
    }

    #[test]
    fn significant_digits_by_hand() {
        let cases = [(8.3456, "8.35"), (0.012_34, "0.0123"), (126.66, "127"), (1234.0, "1234")];
        for (value, text) in cases {
            assert_eq!(three(value), text);
        }
        assert_eq!((three(0.0).as_str(), three(f64::NAN).as_str()), ("0", NONE));
        assert_eq!(three(9.999), "10.0", "rounded up, still three digits");
        assert_eq!(kilo(169_370.4), "169.4");
    }

    #[test]
    fn percentages_read_as_typed() {
        for (text, fraction) in [("5", 0.05), ("99.5", 0.995), ("0.7", 0.007), ("99", 0.99)] {
            assert_eq!(given_percent(fraction), format!("{text}\u{a0}%"));
        }
    }
}
