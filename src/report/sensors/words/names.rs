//! Names of variants, limited figures and shared quantities.

use crate::converter::Shared;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::sensors::{SensorStudy, Variant, VariantResult};

/// A variant in a table: `(b) chain`.
pub(in crate::report::sensors) fn name(variant: Variant) -> String {
    let words = match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "paralleled + sensors",
        Variant::ChainWithSensors => "chain + sensors",
    };
    format!("({}) {words}", variant.letter())
}

/// The variants of which something holds: `(c) and (d)`.
pub(super) fn letters(study: &SensorStudy, holds: impl Fn(&VariantResult) -> bool) -> String {
    let all = study.variants.iter().filter(|v| holds(v));
    all.map(|v| format!("({})", v.variant.letter())).collect::<Vec<_>>().join(" and ")
}

/// What a demand is about.
pub(super) fn demand(demand: &Demand) -> &'static str {
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
pub(super) fn shared(shared: Shared) -> &'static str {
    match shared {
        Shared::OutputCurrent => "output current",
        Shared::MeanTankCurrent => "mean tank current",
        Shared::RmsTankCurrent => "RMS tank current",
    }
}
