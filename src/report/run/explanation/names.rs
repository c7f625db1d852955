//! Names of drivers, and the numbers that tell of them.

use crate::converter::Property;
use crate::report::format::names::{LimitTerm, parameter, property};
use crate::report::format::numbers::decimals;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::explanation::{Driver, DriverPart};

/// A driver. Correlated parameters go by their symbols.
pub(super) fn driver(driver: &Driver) -> String {
    let symbols = || {
        let symbol = |own: &Property| match own.influence {
            None => parameter(own.parameter).short.to_owned(),
            Some(_) => property(*own),
        };
        driver.properties.iter().map(symbol).collect::<Vec<_>>()
    };
    match (&driver.properties[..], driver.part) {
        ([one], DriverPart::Whole) => property(*one),
        (_, DriverPart::Whole) => symbols().join(" + "),
        (_, DriverPart::Lot) => format!("lot of {}", symbols().join(" + ")),
    }
}

/// A figure that is explained.
pub(super) fn figure(figure: Figure) -> String {
    match figure {
        Figure::SharingError(_) => "sharing error".to_owned(),
        Figure::WorstSwitchRms => "switch RMS current".to_owned(),
        Figure::WorstSwitchPeak => "switch peak current".to_owned(),
        Figure::WorstBlocking => "blocking voltage".to_owned(),
        Figure::Losses(LossFigure::Junction) => "junction temperature".to_owned(),
        Figure::Losses(LossFigure::LostShare) => "lost power".to_owned(),
        Figure::Switching(_) => "shortfall of a swing".to_owned(),
        Figure::OutputCurrent(k) => format!("output current of phase {}", k + 1),
        Figure::Rating(rating) => LimitTerm::of_rating(rating).long,
        other => other.name(),
    }
}

/// A share of variance: two digits are enough.
pub(super) fn share_percent(share: f64) -> String {
    format!("{}\u{a0}%", decimals(100.0 * share, usize::from(share < 0.0995)))
}
