//! The case for or against current sensors, in words that terminal and page share, and its outputs.

mod carrying;
mod flips;
mod headline;
mod json;
mod notices;
mod page;
mod terminal;

pub(super) use self::carrying::carrying;
pub(super) use self::flips::flips;
pub(super) use self::headline::{headline, mark};
pub(super) use self::notices::notices;
use crate::converter::Shared;
use crate::report::format::Report;
use crate::report::format::numbers::{grouped, yield_percent};
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::Yield;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::sensors::{SensorStudy, Unfinished, Variant, VariantResult};

/// What `sensors` shows and writes.
pub fn report(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Report {
    Report {
        text: terminal::text(scenario, request, study),
        summary: json::summary(scenario, request, study),
        files: vec![("report.html", page::page(scenario, request, study))],
    }
}

/// A variant in a table: `(b) chain`.
pub(super) fn name(variant: Variant) -> String {
    let words = match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "paralleled + sensors",
        Variant::ChainWithSensors => "chain + sensors",
    };
    format!("({}) {words}", variant.letter())
}

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
fn signed(x: f64, decimals: usize) -> String {
    format!("{x:+.decimals$}").replace('-', "−")
}

/// The variants of which something holds: `(c) and (d)`.
fn letters(study: &SensorStudy, holds: impl Fn(&VariantResult) -> bool) -> String {
    let all = study.variants.iter().filter(|v| holds(v));
    all.map(|v| format!("({})", v.variant.letter())).collect::<Vec<_>>().join(" and ")
}

/// What a demand is about.
fn demand(demand: &Demand) -> &'static str {
    match demand.figure {
        None => "frequency inside the band",
        Some(Figure::SharingError(_)) => "sharing error",
        Some(Figure::WorstSwitchRms) => "RMS switch current",
        Some(Figure::WorstSwitchPeak) => "peak switch current",
        Some(Figure::WorstBlocking) => "blocking voltage",
        Some(_) => "another figure",
    }
}

/// A shared quantity.
fn shared(shared: Shared) -> &'static str {
    match shared {
        Shared::OutputCurrent => "output current",
        Shared::MeanTankCurrent => "mean tank current",
        Shared::RmsTankCurrent => "RMS tank current",
    }
}

/// What words mean that the text takes for granted.
pub(super) fn meaning(scenario: &Scenario) -> String {
    format!(
        "Surely: by the whole {} interval. A failed converter counts as scrapped at its full price.",
        given(scenario.limits.confidence)
    )
}

/// Hours of a year.
const YEAR: f64 = 8760.0;

/// Share of converters that fail within a year of service at a constant rate in FIT, failures in
/// 10⁹ hours: 1 − exp(−λt).
pub(super) fn a_year(fit: f64) -> f64 {
    -libm::expm1(-fit * 1e-9 * YEAR)
}

/// A sum of money.
pub(super) fn money(amount: f64) -> String {
    format!("{amount:.2}").replace('-', "−")
}

/// What is missing of a study that was stopped.
pub(super) fn unfinished(study: &SensorStudy) -> Option<String> {
    Some(match study.unfinished? {
        Unfinished::Samples => format!(
            "PARTIAL: stopped after {} of {} samples; break-even factors were not searched for.",
            grouped(study.samples),
            grouped(study.settings.samples)
        ),
        Unfinished::Factors => "PARTIAL: stopped before all break-even factors were found.".into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 10⁹ h/8760 h = 114 155 FIT is once a year, of which 1 − 1/e fail within it.
    #[test]
    fn failures_a_year_by_hand() {
        assert!((a_year(1e9 / 8760.0) - 0.632_120_558_8).abs() < 1e-9);
        assert!((a_year(432.0) - 0.003_777_16).abs() < 1e-8, "{}", a_year(432.0));
    }

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
