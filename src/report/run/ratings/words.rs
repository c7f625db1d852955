//! The table of what to order, in the words of all media: a row a part, a column a kind of load.

use crate::converter::{Arrangement, RatedPart, Stress, StressQuantity};
use crate::report::format::names;
use crate::report::format::numbers::{BEYOND, given_percent, three, three_up};
use crate::scenario::Scenario;
use crate::statistics::QuantileEnd;
use crate::study::run::{PartRating, Run};

/// Headings of the table; the first column names the part.
pub(super) const COLUMNS: [&str; 7] =
    ["part", "RMS\nA", "mean\nA", "peak\nA", "turn-off\nA", "voltage\nV", "ripple"];

/// Where so few samples show no rating.
pub(super) const TOO_FEW: &str = "too few";

/// A row of the table: the name of the part, and a cell for each further column.
pub(super) struct PartRow {
    pub(super) name: String,
    pub(super) cells: [String; COLUMNS.len() - 1],
}

/// A row in the making: the part's name and the load of each column.
struct RowPlan {
    name: String,
    stresses: [Option<Stress>; COLUMNS.len() - 1],
}

/// The loads that one part shows in a row; a transformer has three rows.
fn plans(part: RatedPart) -> Vec<RowPlan> {
    use Stress::{
        BlockingVoltage, MeanCurrent, PeakCurrent, PeakMagnetisingCurrent, PeakToPeakCurrent,
        PeakVoltage, PrimaryRmsCurrent, ReverseVoltage, RippleVoltage, RmsCurrent,
        SecondaryRmsCurrent, TurnOffCurrent,
    };
    let name = names::rated_part(part);
    let row = |stresses| vec![RowPlan { name: name.clone(), stresses }];
    let (rms, mean, peak) = (Some(RmsCurrent), Some(MeanCurrent), Some(PeakCurrent));
    match part {
        RatedPart::ResonantInductor => row([rms, None, peak, None, None, None]),
        RatedPart::ResonantCapacitor => row([rms, None, None, None, Some(PeakVoltage), None]),
        RatedPart::FlyingCapacitor(_) => {
            row([rms, None, None, None, Some(PeakVoltage), Some(RippleVoltage)])
        }
        RatedPart::Rectifier => row([rms, mean, peak, None, Some(ReverseVoltage), None]),
        RatedPart::OutputCapacitor => row([rms, None, None, None, None, Some(PeakToPeakCurrent)]),
        RatedPart::HeldLowSwitch => row([rms, mean, peak, None, None, None]),
        RatedPart::Transformer => {
            let winding = |what: &str, rms, peak| RowPlan {
                name: format!("{name}, {what}"),
                stresses: [rms, None, peak, None, None, None],
            };
            vec![
                winding("primary", Some(PrimaryRmsCurrent), None),
                winding("secondary", Some(SecondaryRmsCurrent), None),
                winding("magnetising", None, Some(PeakMagnetisingCurrent)),
            ]
        }
        _ => row([rms, mean, peak, Some(TurnOffCurrent), Some(BlockingVoltage), None]),
    }
}

/// The table of one arrangement. Cells hold what to order: the rating over its derating factor.
pub(super) fn rows(scenario: &Scenario, run: &Run, arrangement: Arrangement) -> Vec<PartRow> {
    let own: Vec<&PartRating> =
        run.ratings.iter().filter(|own| own.arrangement == arrangement).collect();
    let parts = RatedPart::all(scenario.phases);
    let is_there = |part: &RatedPart| own.iter().any(|rating| rating.rating.part == *part);
    let parts: Vec<RatedPart> = parts.filter(is_there).collect();
    let cell = |part: RatedPart, stress: Stress| {
        let found = own.iter().find(|own| own.rating.part == part && own.rating.stress == stress);
        found.map_or_else(String::new, |found| {
            let order = to_order(scenario, found);
            match (stress, order) {
                (Stress::RippleVoltage, OrderValue::Value(_)) => format!("{}\u{a0}V", order.text()),
                (Stress::PeakToPeakCurrent, OrderValue::Value(_)) => {
                    format!("{}\u{a0}A", order.text())
                }
                _ => order.text(),
            }
        })
    };
    let rows =
        parts.into_iter().flat_map(|part| plans(part).into_iter().map(move |plan| (part, plan)));
    rows.map(|(part, RowPlan { name, stresses })| PartRow {
        name,
        cells: stresses.map(|stress| stress.map_or_else(String::new, |own| cell(part, own))),
    })
    .collect()
}

/// What to order of a part.
#[derive(Clone, Copy)]
pub(super) enum OrderValue {
    /// A part of this rating at least.
    Value(f64),
    /// No rating: too many samples fail.
    Beyond,
    /// So few samples show no rating.
    TooFewSamples,
}

impl OrderValue {
    /// Three digits, rounded up, or why there is no number.
    pub(super) fn text(self) -> String {
        match self {
            Self::Value(value) => three_up(value),
            Self::Beyond => BEYOND.into(),
            Self::TooFewSamples => TOO_FEW.into(),
        }
    }

    pub(super) fn value(self) -> Option<f64> {
        match self {
            Self::Value(value) => Some(value),
            Self::Beyond | Self::TooFewSamples => None,
        }
    }
}

/// The rating over all operating points, over the derating factor if there is one.
pub(super) fn to_order(scenario: &Scenario, own: &PartRating) -> OrderValue {
    let factor = scenario.derating.factor(own.rating).unwrap_or(1.0);
    match own.over_all.rating {
        QuantileEnd::Value(value) => OrderValue::Value(value / factor),
        QuantileEnd::Beyond => OrderValue::Beyond,
        QuantileEnd::TooFewSamples => OrderValue::TooFewSamples,
    }
}

/// The limit of a part, where the scenario has one.
pub(super) fn limit(scenario: &Scenario, own: &PartRating) -> Option<f64> {
    let mut limits = scenario.limits.parts.iter();
    let found = limits.find(|l| (l.arrangement, l.rating) == (own.arrangement, own.rating))?;
    Some(found.limit)
}

/// What the table says.
pub(super) fn meaning(scenario: &Scenario) -> String {
    let share = given_percent(scenario.limits.yield_target);
    let confidence = given_percent(scenario.limits.confidence);
    let derated = if scenario.derating.is_empty() {
        "No derating."
    } else {
        "Divided by the factors of [derating], ripples apart."
    };
    format!(
        "Each number: what {share} of all converters keep to over all operating points, at \
         {confidence} confidence. {derated}"
    )
}

/// What else one must know to order.
pub(super) fn remarks(scenario: &Scenario, run: &Run, arrangement: Arrangement) -> Vec<String> {
    let own = || run.ratings.iter().filter(|own| own.arrangement == arrangement);
    let find =
        |part, stress| own().find(|own| own.rating.part == part && own.rating.stress == stress);
    let flux = find(RatedPart::Transformer, Stress::VoltSeconds)
        .map(|flux| to_order(scenario, flux))
        .and_then(OrderValue::value)
        .map(|flux| {
            format!("Flux linkage of the primary winding: {}\u{a0}µVs peak.", three_up(1e6 * flux))
        });
    let is_mixed = find(RatedPart::HeldLowSwitch, Stress::RmsCurrent).is_some()
        && run.cases.iter().any(|case| case.baseline.case.point.drive.legs() > 1);
    let held = is_mixed.then(|| {
        "Low switches held on are those of the return leg in half-bridge drive: they need the larger \
         of both rows."
            .to_owned()
    });
    let too_few = own()
        .any(|own| own.over_all.rating == QuantileEnd::TooFewSamples)
        .then(|| format!("“{TOO_FEW}”: so few samples show no rating."));
    let beyond = own().any(|own| own.over_all.rating == QuantileEnd::Beyond).then(|| {
        "“beyond”: too many converters have no steady state at some operating point.".to_owned()
    });
    [flux, held, too_few, beyond].into_iter().flatten().collect()
}

/// That each rating holds by itself.
pub(super) const ALONE: &str = "Each rating holds by itself: fewer converters keep to all of them at \
     once. Limits in [[limits.part]] are judged together.";

/// A load for the table of details: its quantity in a handy unit.
pub(super) fn with_unit(stress: Stress, value: f64) -> String {
    match stress.quantity() {
        StressQuantity::VoltSeconds => format!("{}\u{a0}µVs", three(1e6 * value)),
        _ => format!("{}\u{a0}{}", three(value), names::stress_unit(stress)),
    }
}
