//! Losses and junction temperatures of the nominal converter.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{SWITCHES_OF_PHASE, SwitchPlace};
use crate::report::format::names::{self, celsius};
use crate::report::format::numbers::{NONE, decimals_or_three, in_percent};
use crate::report::format::terminal::{table, trimmed};
use crate::scenario::Scenario;
use crate::solver::dissipation::{DeviceLoss, PhaseDissipation};
use crate::study::check::{Check, NominalDissipation};
use crate::study::common::loss_figures::LossFigure;
use crate::units::{Celsius, Watt};

/// Losses by part on the terminal; nothing where the scenario does not tell them apart.
pub(super) fn text(scenario: &Scenario, check: &Check) -> String {
    if scenario.losses.is_none() {
        return String::new();
    }
    let knows = |case: &NominalDissipation| case.value(LossFigure::TurnOn).is_some();
    let knows_turn_on = check.cases.iter().filter_map(|case| case.dissipation.as_ref()).any(knows);
    let turn_on = knows_turn_on.then_some("turn-on\nW");
    let head = ["operating point", "arrange-\nment", "switches\nW"].into_iter().chain(turn_on);
    let head =
        head.chain(["windings\nW", "diodes\nW", "rest\nW", "eff.\n%", "switch\n°C", "diode\n°C"]);
    let mut table = table(&head.collect::<Vec<_>>());
    for case in &check.cases {
        let Some(own) = &case.dissipation else { continue };
        let one_decimal = |figure| value(own, figure, |x| decimals_or_three(x, 1));
        let first = [
            case.baseline.case.point.name.clone(),
            names::arrangement(case.arrangement()).short.to_owned(),
            one_decimal(LossFigure::Switches),
        ];
        let turn_on = knows_turn_on.then(|| one_decimal(LossFigure::TurnOn));
        let cells = [
            one_decimal(LossFigure::Windings),
            one_decimal(LossFigure::Rectifiers),
            one_decimal(LossFigure::Rest),
            value(own, LossFigure::Efficiency, in_percent),
            one_decimal(LossFigure::SwitchJunction),
            one_decimal(LossFigure::RectifierJunction),
        ];
        table.add_row(first.into_iter().chain(turn_on).chain(cells));
    }
    let hottest = hottest(check).map_or_else(String::new, |words| format!("{words}\n"));
    format!(
        "Losses by part, and junction temperatures\n{}Eff.: efficiency. Switch, diode: junction \
         temperature of the hottest. Rest: the series resistance, which is not told \
         apart. {}\n{hottest}\n",
        trimmed(&table),
        names::losses_of_switching(knows_turn_on)
    )
}

fn value(own: &NominalDissipation, figure: LossFigure, write: impl Fn(f64) -> String) -> String {
    own.value(figure).map_or_else(|| NONE.to_owned(), write)
}

/// The hottest part of the chain, at its worst operating point.
pub(super) fn hottest(check: &Check) -> Option<String> {
    let cases =
        check.cases.iter().filter(|c| c.arrangement() == crate::converter::Arrangement::Chain);
    let all = cases.flat_map(|case| {
        let phases = case.dissipation.iter().flat_map(|own| own.phases.phases.iter().enumerate());
        let point = &case.baseline.case.point.name;
        phases.flat_map(move |(k, phase)| {
            let diode = phase.diodes_by_loss()[0].junction.map(|junction| (junction, None));
            let places = SwitchPlace::ALL.into_iter().zip(phase.switches);
            let switches = places.filter_map(|(place, own)| Some((own.junction?, Some(place))));
            switches.chain(diode).map(move |(junction, place)| (junction, place, k, point))
        })
    });
    let (junction, place, k, point) = all.reduce(|a, b| if b.0.0 > a.0.0 { b } else { a })?;
    let part = match place {
        None => format!("a diode of phase {}", k + 1),
        Some(place) => format!(
            "the {} switch of phase {}, {} leg",
            if place.is_high() { "high" } else { "low" },
            k + 1,
            place.leg().name()
        ),
    };
    let temperature = celsius(junction);
    Some(format!("The hottest part of the chain is {part}: {temperature} at “{point}”."))
}

/// Losses and junction temperatures of the nominal converter at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct LossesEntry {
    /// Output power over output power and all losses.
    efficiency: Option<f64>,
    /// Conduction of all switches together; null where `on_resistance` is not told.
    #[serde(rename = "switch_loss_W")]
    switches: Option<f64>,
    /// All switches together at turn-on; null where the switches are not described.
    #[serde(rename = "turn_on_loss_W")]
    turn_on: Option<f64>,
    /// All windings together; null where neither is told.
    #[serde(rename = "winding_loss_W")]
    windings: Option<f64>,
    /// All rectifiers together.
    #[serde(rename = "rectifier_loss_W")]
    rectifiers: Option<f64>,
    /// The series resistance: what is not told apart.
    #[serde(rename = "series_resistance_loss_W")]
    rest: Option<f64>,
    /// The highest of all; null where no thermal resistance is told.
    #[serde(rename = "junction_temperature_C")]
    junction: Option<f64>,
    phases: Vec<PhaseLossesEntry>,
}

/// Losses and junction temperatures of a phase.
#[derive(Debug, Serialize, JsonSchema)]
struct PhaseLossesEntry {
    /// High and low switch of the driven leg, low and high switch of the return leg.
    switches: [DeviceEntry; SWITCHES_OF_PHASE],
    /// The diode that loses more: those of the other half wave can carry less.
    diode: DeviceEntry,
    /// A diode of the other half wave.
    diode_of_other_half_wave: DeviceEntry,
    /// Number of the diodes, half of them for each half wave.
    diodes: usize,
}

/// Loss and temperature of one device.
#[derive(Debug, Serialize, JsonSchema)]
struct DeviceEntry {
    #[serde(rename = "loss_W")]
    loss: Watt,
    /// What of it is lost at turn-on.
    #[serde(rename = "turn_on_loss_W")]
    turn_on: Watt,
    /// Null where its thermal resistance is not told.
    #[serde(rename = "junction_temperature_C")]
    junction: Option<Celsius>,
}

impl DeviceEntry {
    fn new(own: &DeviceLoss) -> Self {
        Self { loss: own.loss, turn_on: own.turn_on, junction: own.junction }
    }
}

impl LossesEntry {
    pub(super) fn new(own: &NominalDissipation) -> Self {
        let of_phase = |phase: &PhaseDissipation| PhaseLossesEntry {
            switches: phase.switches.each_ref().map(DeviceEntry::new),
            diode: DeviceEntry::new(phase.diodes_by_loss()[0]),
            diode_of_other_half_wave: DeviceEntry::new(phase.diodes_by_loss()[1]),
            diodes: 2 * phase.diodes_each,
        };
        Self {
            efficiency: own.value(LossFigure::Efficiency),
            switches: own.value(LossFigure::Switches),
            turn_on: own.value(LossFigure::TurnOn),
            windings: own.value(LossFigure::Windings),
            rectifiers: own.value(LossFigure::Rectifiers),
            rest: own.value(LossFigure::Rest),
            junction: own.value(LossFigure::Junction),
            phases: own.phases.phases.iter().map(of_phase).collect(),
        }
    }
}
