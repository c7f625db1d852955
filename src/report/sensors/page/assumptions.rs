//! What the answer assumes: sensors, loops, parts, prices, methods, model.

use maud::{Markup, html};

use crate::converter::{Shared, TrimmedQuantity};
use crate::report::format::numbers::quantity;
use crate::report::format::page::prose;
use crate::report::format::tolerance::{band, band_of, tolerance, with_band};
use crate::report::format::{conditions, names};
use crate::report::sensors::words as told;
use crate::scenario::{Scenario, SensorRequest, Tolerance};
use crate::study::sensors::SensorStudy;
use crate::units::Ampere;

/// A list of them, short enough for one sheet.
pub(super) fn assumptions(
    scenario: &Scenario,
    request: &SensorRequest,
    study: &SensorStudy,
) -> Markup {
    html! {
        ul class="columns" {
            li { (told::method(scenario, study)) }
            (sensors_and_loops(scenario, request))
            (parts(scenario))
            (rescaling(scenario, request))
            (prices(request))
            li {
                "Model: stiff input and output, linear parts, duty 0.5 without dead time, ideal \
                 diodes with a fixed drop. Dynamics, noise and failures of the loops are outside \
                 it. Converters out of range or not solved count as failures."
            }
        }
    }
}

fn sensors_and_loops(scenario: &Scenario, request: &SensorRequest) -> Markup {
    html! {
        li {
            "Sensors measure the " (names::shared(request.measured).long) ": "
            (error("gain error", request.gain_error.as_ref())) "; "
            (error("drift", request.drift.as_ref()))
            @if request.drifts_with_age { " at the end of life" }
            "; "
            @if let Some(own) = &request.temperature_coefficient {
                "temperature coefficient " (conditions::coefficient(own)) "; "
            }
            (offset(request.offset.as_ref())) "."
        }
        li {
            @match request.trim {
                TrimmedQuantity::Part(part) => {
                    "Loops trim the " (names::parameter(part).long) " by " (band(request.trim_range))
                    " of its own value until the readings agree. The mean trim stays zero; a phase at \
                     an end of the range stays there."
                }
                TrimmedQuantity::SwitchingFrequency => {
                    "Loops run each paralleled phase at a frequency of its own, within "
                    (band(request.trim_range)) " of the common one, until the readings agree. A phase \
                     at an end of the range stays there. A chain has one frequency: the sensors of (d) \
                     only watch, and it has no trim elements."
                }
            }
            @if request.trim == TrimmedQuantity::SwitchingFrequency && scenario.losses.is_some() {
                " Resistances, drops and losses at turn-on are those at the common frequency."
            }
            " Each settled state is solved, not assumed."
        }
    }
}

/// An error of the sensors.
fn error(name: &str, error: Option<&Tolerance>) -> String {
    error.map_or_else(|| format!("{name} none"), |error| format!("{name} {}", tolerance(error)))
}

/// The offset, whose band is a current.
fn offset(offset: Option<&Tolerance>) -> String {
    let band = |offset: &Tolerance| {
        let [low, high] = offset.ends().map(|end| quantity(Ampere(end)));
        if offset.is_symmetric() { format!("±\u{a0}{high}") } else { format!("{low} to {high}") }
    };
    offset.map_or_else(
        || "offset none".to_owned(),
        |offset| format!("offset {}", with_band(offset, &band(offset))),
    )
}

fn parts(scenario: &Scenario) -> Markup {
    let bands = scenario
        .tolerances
        .iter()
        .map(|(p, t)| format!("{} {}", names::parameter(p).long, band_of(t)));
    html! {
        li { "Part bands: " (bands.collect::<Vec<_>>().join(", ")) "." }
        @for line in conditions::lines(scenario) { li { (line) } }
        li { (prose::FAR_FROM_LIMITS) }
    }
}

/// What holds of paralleled tanks, a sentence a quantity.
fn rescaling(scenario: &Scenario, request: &SensorRequest) -> Markup {
    let n = scenario.phases;
    html! {
        li {
            "Sensor and trim element add " (quantity(request.added_resistance)) " and "
            (quantity(request.standing_loss)) " per phase. Paralleled tanks are rescaled to \
             the whole input, where the resistance counts " (n * n) " times as much."
            @if request.offset.is_some() {
                @if request.measured == Shared::OutputCurrent {
                    " The offset is one of the output current, the same in all variants."
                } @else {
                    " The offset is one of the original tank’s current; that of a paralleled \
                     sensor is 1/" (n) " of it."
                }
            }
            " Switch currents are those of the real switches."
        }
    }
}

fn prices(request: &SensorRequest) -> Markup {
    html! {
        li {
            "Prices of the user: " (told::per_part(&request.price)) ". Failure rates of the user, FIT: "
            (told::per_part(&request.failure_rate)) ". Rates add up as if each part failed the \
             converter."
            @if request.price.chain == 0.0 && request.price.paralleled == 0.0 {
                " Switches, magnetics and control that differ between chain and paralleled are not priced."
            }
        }
    }
}
