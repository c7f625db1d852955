//! Names of things as a person reads them, on the terminal and on pages: one table, in two lengths.
//!
//! The short name is for columns and cells, the long one for sentences. Keys of
//! files and scenarios live beside the types that they name; numbers live in `numbers`.

use super::numbers::{decimals, given_percent, percent, quantity};
use crate::converter::{
    Arrangement, Configuration, Drive, Influence, Leg, Measure, Parameter, Property, RatedPart,
    Rating, Rectifier, Shared, Sharing, Stress, StressQuantity,
};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::Verdict;
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, Side, Switch};
use crate::study::common::loss_figures::LossFigure;
use crate::units::{Ampere, Celsius, KelvinPerWatt, Ohm, Second, Volt, VoltSecond};

/// A name in two lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) struct Term {
    /// For columns.
    pub short: &'static str,
    /// For sentences.
    pub long: &'static str,
}

const fn term(short: &'static str, long: &'static str) -> Term {
    Term { short, long }
}

/// How every result begins whose work was stopped before its end.
pub(in crate::report) const PARTIAL: &str = "PARTIAL: interrupted.";

/// An arrangement.
pub(in crate::report) fn arrangement(arrangement: Arrangement) -> Term {
    match arrangement {
        Arrangement::Chain => term("chain", "balanced chain"),
        Arrangement::Paralleled => term("paralleled", "paralleled reference"),
    }
}

/// An arrangement at the head of a text.
pub(in crate::report) fn arrangement_heading(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "With charge balancing (chain)",
        Arrangement::Paralleled => "Without charge balancing (paralleled)",
    }
}

/// A verdict.
pub(in crate::report) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::Fail => "fail",
        Verdict::NotDecided => "not decided",
    }
}

/// The same of what may have no limit to be judged by.
pub(in crate::report) fn verdict_if_judged(own: Verdict, is_judged: bool) -> &'static str {
    if is_judged { verdict(own) } else { "not judged" }
}

/// What a verdict is on, in few words.
pub(in crate::report) fn verdict_subject(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "with charge balancing",
        Arrangement::Paralleled => "plain paralleled",
    }
}

/// The text with a capital letter at its head.
pub(in crate::report) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next();
    first.map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A parameter of the parts; its short name is its symbol.
pub(in crate::report) fn parameter(parameter: Parameter) -> Term {
    match parameter {
        Parameter::ResonantInductance => term("Lr", "resonant inductance"),
        Parameter::ResonantCapacitance => term("Cr", "resonant capacitance"),
        Parameter::MagnetisingInductance => term("Lm", "magnetising inductance"),
        Parameter::TurnsRatio => term("n", "turns ratio"),
        Parameter::SeriesResistance => term("R", "series resistance"),
        Parameter::RectifierDrop => term("Vd", "rectifier drop"),
        Parameter::FlyingCapacitance => term("Cf", "flying capacitance"),
        Parameter::OnResistance => term("Ron", "on-resistance"),
        Parameter::PrimaryWindingResistance => term("Rp", "primary winding resistance"),
        Parameter::SecondaryWindingResistance => term("Rs", "secondary winding resistance"),
        Parameter::RectifierResistance => term("Rd", "rectifier resistance"),
        Parameter::SwitchThermalResistance => term("Rth,s", "thermal resistance of a switch"),
        Parameter::RectifierThermalResistance => term("Rth,d", "thermal resistance of a diode"),
    }
}

/// A parameter, or how its parts respond to temperature or age.
pub(in crate::report) fn property(property: Property) -> String {
    let Property { parameter, influence } = property;
    let own = self::parameter(parameter);
    match influence {
        None => own.long.to_owned(),
        Some(Influence::Temperature) => format!("temperature coefficient of {}", own.short),
        Some(Influence::AnyTemperature) => format!("change of {} with temperature", own.short),
        Some(Influence::Age) => format!("ageing of {}", own.short),
    }
}

/// A parameter with its symbol, for the first column of a table.
pub(in crate::report) fn parameter_and_symbol(parameter: Parameter) -> String {
    let Term { short, long } = self::parameter(parameter);
    format!("{long} {short}")
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
        _ => nominal_of_losses(scenario, parameter),
    }
}

/// The same of a part that tells losses apart.
fn nominal_of_losses(scenario: &Scenario, parameter: Parameter) -> String {
    let Some(value) = scenario.losses.and_then(|own| own.value(parameter)) else {
        return "not told".to_owned();
    };
    match parameter {
        Parameter::SwitchThermalResistance | Parameter::RectifierThermalResistance => {
            quantity(KelvinPerWatt(value))
        }
        _ => quantity(Ohm(value)),
    }
}

/// The parameters that a scenario tells, in the order of [`Parameter::ALL`].
pub(in crate::report) fn told(scenario: &Scenario) -> impl Iterator<Item = Parameter> {
    let losses = scenario.losses;
    let is_told = move |parameter: &Parameter| {
        parameter.index_of_losses().is_none()
            || losses.is_some_and(|own| own.value(*parameter).is_some())
    };
    Parameter::ALL.into_iter().filter(is_told)
}

/// A quantity that the phases share. The RMS current of a tank is not that of a switch.
pub(in crate::report) fn shared(shared: Shared) -> Term {
    match shared {
        Shared::OutputCurrent => term("output current", "output current"),
        Shared::MeanTankCurrent => term("mean tank current", "mean absolute tank current"),
        Shared::RmsTankCurrent => term("tank RMS", "tank RMS current"),
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

/// The sharing error that the limit is on.
pub(in crate::report) fn sharing(Sharing { share, measure }: Sharing) -> String {
    format!("{} of the {}", measure.name(), shared(share).long)
}

/// What a limit is about. Those on switches hold for every switch. The RMS current of a switch is not
/// that of a tank.
pub(in crate::report) fn limit(demand: &Demand) -> LimitTerm {
    let Term { short, long } = match demand.figure {
        None => term("frequency band", "switching frequency inside the band"),
        Some(Figure::SharingError(_)) => term("sharing error", "sharing error"),
        Some(Figure::WorstSwitchRms) => term("switch RMS", "switch RMS current"),
        Some(Figure::WorstSwitchPeak) => term("switch peak", "switch peak current"),
        Some(Figure::WorstBlocking) => term("blocking", "blocking voltage of a switch"),
        Some(Figure::Losses(LossFigure::Junction)) => term("junction", "junction temperature"),
        Some(Figure::Losses(LossFigure::LostShare)) => term("lost power", "lost power"),
        Some(Figure::Switching(_)) => term("soft switching", "demand for soft switching"),
        Some(Figure::Settling(_)) => term("settling", "settling of the flying capacitors"),
        Some(Figure::Rating(rating)) => return LimitTerm::of_rating(rating),
        Some(_) => term("another figure", "another figure"),
    };
    LimitTerm { short: short.to_owned(), long: long.to_owned() }
}

/// The symbol of a temperature.
pub(in crate::report) const CELSIUS: &str = "°C";

/// The unit of a figure as it is shown; a ratio has none.
pub(in crate::report) fn unit(figure: Figure) -> &'static str {
    match figure {
        _ if figure.is_ratio() => "",
        Figure::WorstBlocking | Figure::FlyingVoltage(_) => Volt::SYMBOL,
        Figure::Rating(Rating { stress, .. }) => stress_unit(stress),
        Figure::Losses(_) => CELSIUS,
        Figure::Settling(_) => Second::SYMBOL,
        _ => Ampere::SYMBOL,
    }
}

/// The unit of a stress.
pub(in crate::report) fn stress_unit(stress: Stress) -> &'static str {
    match stress.quantity() {
        StressQuantity::Current => Ampere::SYMBOL,
        StressQuantity::Voltage => Volt::SYMBOL,
        StressQuantity::VoltSeconds => VoltSecond::SYMBOL,
    }
}

/// What a limit is about, in two lengths.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::report) struct LimitTerm {
    /// For columns.
    pub short: String,
    /// For sentences.
    pub long: String,
}

impl LimitTerm {
    pub(in crate::report) fn of_rating(Rating { part, stress }: Rating) -> Self {
        let (part, stress) = (rated_part(part), self::stress(stress));
        Self {
            short: format!("{part}: {}", stress.short),
            long: if part.ends_with(|last: char| last.is_ascii_digit()) {
                format!("{} of {part}", stress.long)
            } else {
                format!("{} of the {part}", stress.long)
            },
        }
    }
}

/// Parts that one orders as one type.
pub(in crate::report) fn rated_part(part: RatedPart) -> String {
    let name = match part {
        RatedPart::FirstHighSwitch => "high switch 1",
        RatedPart::OtherHighSwitch => "other high switches",
        RatedPart::InnerLowSwitch => "inner low switches",
        RatedPart::LastLowSwitch => "last low switch",
        RatedPart::HighSwitch => "high switches",
        RatedPart::LowSwitch => "low switches",
        RatedPart::HeldLowSwitch => "low switches held on",
        RatedPart::ReturnLowSwitch => "low switches, return leg",
        RatedPart::ResonantInductor => "resonant inductors",
        RatedPart::ResonantCapacitor => "resonant capacitors",
        RatedPart::FlyingCapacitor(k) => return format!("flying capacitor {}", k + 1),
        RatedPart::Transformer => "transformers",
        RatedPart::Rectifier => "rectifier diodes",
        RatedPart::OutputCapacitor => "output capacitors",
    };
    name.to_owned()
}

/// What loads a part.
pub(in crate::report) fn stress(stress: Stress) -> Term {
    match stress {
        Stress::RmsCurrent => term("RMS", "RMS current"),
        Stress::MeanCurrent => term("mean", "mean absolute current"),
        Stress::PeakCurrent => term("peak", "peak current"),
        Stress::TurnOffCurrent => term("turn-off", "turn-off current"),
        Stress::BlockingVoltage => term("blocking", "blocking voltage"),
        Stress::MeanVoltage => term("mean", "mean voltage"),
        Stress::PeakVoltage => term("peak", "peak voltage"),
        Stress::RippleVoltage => term("ripple", "ripple voltage (lowest to highest)"),
        Stress::PeakMagnetisingCurrent => term("magnetising peak", "peak magnetising current"),
        Stress::VoltSeconds => term("flux linkage", "peak flux linkage of the primary"),
        Stress::PrimaryRmsCurrent => term("primary RMS", "RMS current of the primary"),
        Stress::SecondaryRmsCurrent => term("secondary RMS", "RMS current of the secondary"),
        Stress::ReverseVoltage => term("reverse", "reverse voltage"),
        Stress::PeakToPeakCurrent => term("ripple", "ripple current (lowest to highest)"),
    }
}

/// The value of a limit with its unit, as typed; none where the limit is the frequency band.
pub(in crate::report) fn limit_value(demand: &Demand) -> Option<String> {
    Some(match demand.figure? {
        Figure::SharingError(_) => given_percent(demand.limit),
        Figure::WorstSwitchRms | Figure::WorstSwitchPeak => format!("{}\u{a0}A", demand.limit),
        Figure::WorstBlocking => format!("{}\u{a0}V", demand.limit),
        Figure::Losses(LossFigure::Junction) => quantity(Celsius(demand.limit)),
        Figure::Losses(LossFigure::LostShare) => lost(demand.limit, given_percent),
        Figure::Switching(_) => shortfall(demand.limit, given_percent),
        Figure::Settling(_) => quantity(Second(demand.limit)),
        Figure::Rating(Rating { stress, .. }) => stress_value(stress, demand.limit),
        _ => demand.limit.to_string(),
    })
}

/// What a limit asks for: `at most 9 A`, `at least 15 % of a swing to spare`.
pub(in crate::report) fn demanded(demand: &Demand) -> Option<String> {
    let limit = limit_value(demand)?;
    Some(match demand.figure {
        Some(Figure::Losses(LossFigure::LostShare)) => format!(
            "at most {} (efficiency at least {})",
            given_percent(demand.limit),
            given_percent(1.0 - demand.limit)
        ),
        Some(Figure::Switching(_)) if demand.limit <= 0.0 => format!("at least {limit}"),
        _ => format!("at most {limit}"),
    })
}

/// A value of a limited figure with its unit.
pub(in crate::report) fn limited_value(demand: &Demand, value: f64) -> String {
    match demand.figure {
        Some(Figure::SharingError(_)) => percent(value),
        Some(Figure::WorstSwitchRms | Figure::WorstSwitchPeak) => quantity(Ampere(value)),
        Some(Figure::WorstBlocking) => quantity(Volt(value)),
        Some(Figure::Losses(LossFigure::Junction)) => celsius(Celsius(value)),
        Some(Figure::Losses(LossFigure::LostShare)) => lost(value, percent),
        Some(Figure::Switching(_)) => shortfall(value, percent),
        Some(Figure::Settling(_)) => quantity(Second(value)),
        Some(Figure::Rating(Rating { stress, .. })) => stress_value(stress, value),
        _ => value.to_string(),
    }
}

/// A computed temperature, to a tenth of a degree.
pub(in crate::report) fn celsius(value: Celsius) -> String {
    format!("{}\u{a0}°C", decimals(value.0, 1))
}

/// Lost power with the efficiency that it leaves.
fn lost(share: f64, in_percent: fn(f64) -> String) -> String {
    format!("{} (efficiency {})", in_percent(share), in_percent(1.0 - share))
}

/// By how much a swing falls short, or what it has to spare.
fn shortfall(share: f64, in_percent: fn(f64) -> String) -> String {
    if share > 0.0 {
        format!("{} short of a full swing", in_percent(share))
    } else {
        format!("{} of a swing to spare", in_percent(-share))
    }
}

/// A value of a stress with its unit.
pub(in crate::report) fn stress_value(stress: Stress, value: f64) -> String {
    match stress.quantity() {
        StressQuantity::Current => quantity(Ampere(value)),
        StressQuantity::Voltage => quantity(Volt(value)),
        StressQuantity::VoltSeconds => quantity(VoltSecond(value)),
    }
}

/// A drive.
pub(in crate::report) fn drive(drive: Drive) -> Term {
    match drive {
        Drive::HalfBridge => term("half", "half bridge"),
        Drive::FullBridge => term("full", "full bridge"),
    }
}

/// A rectifier.
pub(in crate::report) fn rectifier(rectifier: Rectifier) -> Term {
    match rectifier {
        Rectifier::FullBridge => term("full bridge", "full bridge"),
        Rectifier::CentreTap => term("centre tap", "centre tap"),
        Rectifier::VoltageDoubler => term("doubler", "voltage doubler"),
    }
}

/// A configuration in few letters, for a figure: drive, then rectifier.
pub(in crate::report) fn configuration(configuration: Configuration) -> String {
    let drive = drive(configuration.drive).short;
    format!("{drive}, {}", rectifier(configuration.rectifier).short)
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

/// A solver; the long name is used where it is read first.
pub(in crate::report) fn method(method: Method) -> Term {
    match method {
        Method::Exact => term("exact", "exact"),
        Method::Averaged => term("averaged", "averaged (fundamental harmonic)"),
    }
}

/// A figure of losses, with the unit.
pub(in crate::report) fn loss_figure(figure: LossFigure) -> &'static str {
    match figure {
        LossFigure::Efficiency => "efficiency, %",
        LossFigure::LostShare => "lost power, %",
        LossFigure::Switches => "loss in conducting switches, W",
        LossFigure::TurnOn => "loss at turn-on, W",
        LossFigure::Windings => "loss in the windings, W",
        LossFigure::Rectifiers => "loss in the rectifiers, W",
        LossFigure::Rest => "loss in the rest, W",
        LossFigure::SwitchJunction => "hottest switch, °C",
        LossFigure::RectifierJunction => "hottest diode, °C",
        LossFigure::Junction => "hottest junction, °C",
    }
}

/// What the loss of a converter holds: with the losses of its parts those at turn-on too, where they are told.
pub(in crate::report) fn loss(scenario: &Scenario) -> &'static str {
    match (&scenario.losses, &scenario.switch) {
        (Some(_), Some(_)) => "in resistances, in rectifiers and at turn-on",
        _ => "in resistances and rectifiers",
    }
}

/// Which losses of switching the losses told apart hold.
pub(in crate::report) fn losses_of_switching(knows_turn_on: bool) -> &'static str {
    if knows_turn_on {
        "Losses at turn-on are included, those at turn-off are not."
    } else {
        "Losses at turn-on and turn-off are not included."
    }
}
