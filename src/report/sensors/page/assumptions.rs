//! What the answer assumes: sensors, loops, parts, prices, model.

use maud::{Markup, html};

use crate::converter::{Parameter, Shared};
use crate::report::format::words;
use crate::scenario::{PerPart, Scenario, SensorRequest, Shape, Tolerance};

fn error(name: &str, tolerance: Option<Tolerance>, band: fn(f64) -> String) -> String {
    let Some(t) = tolerance else { return format!("{name} none") };
    let end = match t.shape {
        Shape::Normal { sigmas } => format!(" at {sigmas} standard deviations"),
        _ => String::new(),
    };
    let lot = if t.lot_share > 0.0 {
        format!(", {} in common", words::given_percent(t.lot_share))
    } else {
        String::new()
    };
    format!("{name} {}, ±\u{a0}{}{end}{lot}", t.shape.name(), band(t.band))
}

fn ampere(x: f64) -> String {
    words::quantity(crate::units::Ampere(x))
}

/// A list of them, short enough for one sheet.
pub(super) fn assumptions(scenario: &Scenario, request: &SensorRequest) -> Markup {
    let bands = scenario
        .tolerances
        .iter()
        .map(|(p, t)| format!("{} ±\u{a0}{}", words::parameter(p), words::given_percent(t.band)));
    let trimmed = match request.trim {
        Parameter::ResonantCapacitance => "resonant capacitance",
        _ => "resonant inductance",
    };
    html! {
        ul class="columns" {
            li {
                "Sensors measure the " (words::shared(request.measured)) ": "
                (error("gain error", request.gain_error, words::given_percent)) "; "
                (error("drift", request.drift, words::given_percent)) "; "
                (error("offset", request.offset, ampere)) "."
            }
            li {
                "Loops trim the " (trimmed) " by ±\u{a0}" (words::given_percent(request.trim_range))
                " of its own value until the readings agree; the mean trim stays zero; a phase at an \
                 end stays there. Each settled state is solved, not assumed."
            }
            li { "Parts: " (bands.collect::<Vec<_>>().join(", ")) "." }
            (rescaled(scenario, request))
            li {
                "Prices, " (each(&request.price)) ", and failure rates in FIT, "
                (each(&request.failure_rate)) ", are the user’s. Rates are added up as if each part \
                 failed the converter. Switches, magnetics and control that differ between chain \
                 and paralleled are not priced."
            }
            li {
                "Model: stiff input and output, linear parts, duty 0.5 without dead time, ideal \
                 diodes with a fixed drop; the loops’ dynamics, noise and failures are outside. \
                 Converters out of range or not solved count as failures."
            }
        }
    }
}

/// A price or a rate of every kind of part.
fn each(all: &PerPart) -> String {
    format!(
        "converter {}, flying capacitor {}, sensor {}, trim element {}",
        all.converter, all.flying_capacitor, all.sensor, all.trim_element
    )
}

/// What holds of paralleled tanks, a sentence a quantity.
fn rescaled(scenario: &Scenario, request: &SensorRequest) -> Markup {
    let n = scenario.phases;
    let of_output = request.measured == Shared::OutputCurrent;
    html! {
        li {
            "Sensor and trim element add " (words::quantity(request.added_resistance)) " and "
            (words::quantity(request.standing_loss)) " a phase; paralleled, each tank is rescaled \
             to the whole input, where the resistance stands for " (n * n) " times as much."
            @if request.offset.is_some() {
                @if of_output {
                    " The offset is one of the output current, and the same in all variants."
                } @else {
                    " The offset is one of the original tank’s current: a paralleled sensor’s is 1/"
                    (n) " of it."
                }
            }
            " Switch currents are those of the real switches."
        }
    }
}
