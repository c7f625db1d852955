//! Temperature and age of the parts, as the scenario assumes them: in summaries, on pages and terminals.

use std::collections::BTreeMap;

use maud::{Markup, html};
use schemars::JsonSchema;
use serde::Serialize;

use super::names;
use super::numbers::quantity;
use super::page::parts::{headings, number, remarked, table};
use super::tolerance::{self, ToleranceInForce};
use crate::converter::{Influence, Parameter};
use crate::scenario::{PointRequest, ResponseTolerance, Scenario, Tolerance};
use crate::units::{Celsius, Hour, Kelvin, PerKelvin};

/// What a summary holds of temperature and age.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ConditionsInForce {
    /// Temperature of the parts at which their values hold.
    #[serde(rename = "reference_temperature_C")]
    reference_temperature: Celsius,
    /// Hours after which operating points are judged again; null where new parts alone are.
    #[serde(rename = "service_life_h")]
    service_life: Option<Hour>,
    /// How parts respond, by `temperature_coefficient.X` or `ageing.X`.
    responses: BTreeMap<String, ResponseInForce>,
    /// One entry an operating point.
    temperatures: Vec<TemperaturesInForce>,
}

/// How the parts of one parameter respond to temperature or age.
#[derive(Debug, Serialize, JsonSchema)]
struct ResponseInForce {
    /// What it is: `per kelvin`, `at any temperature but the reference`, or `at the end of life`.
    acts: &'static str,
    /// Code of the dielectric that states it; null where there is none.
    code: Option<String>,
    /// Of a nominal part: relative change per kelvin, or relative change.
    nominal: f64,
    /// How it scatters from part to part; the ends are those of the response itself.
    scatter: ToleranceInForce,
}

/// Temperatures of the parts at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct TemperaturesInForce {
    /// Name of the operating point in the scenario.
    operating_point: String,
    /// Of the parts of the first phase, by parameter.
    #[serde(rename = "first_phase_C")]
    first_phase: BTreeMap<&'static str, Celsius>,
    /// From each phase to the next.
    #[serde(rename = "phase_rise_K")]
    phase_rise: Kelvin,
}

impl ConditionsInForce {
    /// Those of a scenario; none where temperature and age change nothing.
    pub(in crate::report) fn new(scenario: &Scenario) -> Option<Self> {
        let responses = scenario.tolerances.responses().iter();
        let of_point = |point: &PointRequest| TemperaturesInForce {
            operating_point: point.name.clone(),
            first_phase: names::told(scenario)
                .map(|parameter| (parameter.key(), temperature(scenario, point, parameter)))
                .collect(),
            phase_rise: Kelvin(point.condition.phase_rise),
        };
        is_stated(scenario).then(|| Self {
            reference_temperature: scenario.reference_temperature,
            service_life: scenario.service_life,
            responses: responses.map(|r| (r.property().key(), ResponseInForce::new(r))).collect(),
            temperatures: scenario.operating_points.iter().map(of_point).collect(),
        })
    }
}

impl ResponseInForce {
    fn new(response: &ResponseTolerance) -> Self {
        Self {
            acts: match response.influence {
                Influence::Temperature => "per kelvin",
                Influence::AnyTemperature => "at any temperature but the reference",
                Influence::Age => "at the end of life",
            },
            code: response.code.clone(),
            nominal: response.nominal(),
            scatter: ToleranceInForce::new(&response.scatter),
        }
    }
}

/// Whether the scenario says anything of temperature or age that changes a result.
pub(in crate::report) fn is_stated(scenario: &Scenario) -> bool {
    scenario.service_life.is_some() || !scenario.tolerances.responses().is_empty()
}

/// Temperature of the parts of the first phase.
fn temperature(scenario: &Scenario, point: &PointRequest, parameter: Parameter) -> Celsius {
    let above = point.condition.above_reference[parameter.index()];
    // Without the dust of the difference.
    Celsius(((scenario.reference_temperature.0 + above) * 1e6).round() / 1e6)
}

/// The ambient of the first phase above which a parameter's parts are warmed by their losses.
fn heated(point: &PointRequest, parameter: Parameter) -> Option<Celsius> {
    let heating = point.condition.self_heating.filter(|own| own.heats(parameter))?;
    Some(heating.ambient)
}

/// A temperature coefficient with its band: `−200 ppm/K, ± 50 ppm/K, uniform`.
pub(in crate::report) fn coefficient(own: &Tolerance) -> String {
    let value = quantity(PerKelvin(own.middle));
    format!("{value}, {}", scatter(own, &format!("±\u{a0}{}", quantity(PerKelvin(own.band)))))
}

/// How a response scatters within a band as it is written.
fn scatter(own: &Tolerance, band: &str) -> String {
    if own.band > 0.0 { tolerance::with_band(own, band) } else { "all parts alike".to_owned() }
}

/// The response of nominal parts with its band, and the code that states it.
fn response(own: &ResponseTolerance) -> String {
    let ResponseTolerance { influence, scatter: own_scatter, code, .. } = own;
    let written = match influence {
        Influence::Temperature => coefficient(own_scatter),
        Influence::AnyTemperature => {
            scatter(own_scatter, &tolerance::both_ends(own_scatter.ends()))
        }
        Influence::Age => {
            let value = tolerance::signed(own_scatter.middle);
            format!("{value}, {}", scatter(own_scatter, &tolerance::band(own_scatter.band)))
        }
    };
    code.as_ref().map_or_else(String::new, |code| format!("{code}: ")) + &written
}

/// What kind of response it is.
fn kind(influence: Influence) -> &'static str {
    match influence {
        Influence::Temperature => "temperature coefficient",
        Influence::AnyTemperature => "change at any other temperature",
        Influence::Age => "drift at the end of life",
    }
}

/// Where the values of parts hold, to follow their mention; nothing where temperature and age change
/// nothing.
pub(in crate::report) fn hold_at(scenario: &Scenario) -> String {
    if is_stated(scenario) {
        format!(", new, at {}", quantity(scenario.reference_temperature))
    } else {
        String::new()
    }
}

/// Temperature and age as the scenario has them, a line each; none where it says nothing of them.
pub(in crate::report) fn lines(scenario: &Scenario) -> Vec<String> {
    if !is_stated(scenario) {
        return Vec::new();
    }
    let responses = scenario.tolerances.responses().iter().map(|own| {
        let name = names::parameter(own.parameter).long;
        format!("The {name} has a {}: {}.", kind(own.influence), response(own))
    });
    responses.chain([explained(scenario)]).collect()
}

/// Temperature and age as the scenario has them; nothing where it says nothing of them.
pub(in crate::report) fn assumed(scenario: &Scenario) -> Markup {
    html! {
        @if is_stated(scenario) {
            h3 { "Temperature and age" }
            (responses(scenario))
            (temperatures(scenario))
            p class="remark" { (explained(scenario)) }
        }
    }
}

fn responses(scenario: &Scenario) -> Markup {
    let rows = html! {
        @for own in scenario.tolerances.responses() {
            tr {
                th scope="row" { (names::parameter_and_symbol(own.parameter)) }
                td { (kind(own.influence)) }
                td { (response(own)) }
            }
        }
    };
    let head =
        headings(3, &["parameter", "response", "nominal part, and scatter from part to part"]);
    table("How parts respond to temperature and age", &head, &rows)
}

fn temperatures(scenario: &Scenario) -> Markup {
    let responding = Parameter::ALL.into_iter().filter(|parameter| {
        let mut responses = scenario.tolerances.responses().iter();
        responses.any(|own| own.parameter == *parameter && own.influence != Influence::Age)
    });
    let responding: Vec<Parameter> = responding.collect();
    let mut names = vec!["operating point"];
    names.extend(responding.iter().map(|parameter| names::parameter(*parameter).short));
    names.push("rise per phase");
    let rows = html! {
        @for point in &scenario.operating_points {
            tr {
                th scope="row" { (point.name) }
                @for parameter in &responding {
                    @match heated(point, *parameter) {
                        Some(ambient) => (remarked("by its loss", &format!("above {}", quantity(ambient)))),
                        None => (number(quantity(temperature(scenario, point, *parameter)))),
                    }
                }
                (number(quantity(Kelvin(point.condition.phase_rise))))
            }
        }
    };
    html! {
        @if !responding.is_empty() {
            (table("Temperatures of the parts in the first phase", &headings(1, &names), &rows))
        }
    }
}

/// What these words mean, and what the model leaves out.
fn explained(scenario: &Scenario) -> String {
    let mut sentences = vec![format!(
        "The values of parts hold at {}, new.",
        quantity(scenario.reference_temperature)
    )];
    if let Some(life) = scenario.service_life {
        sentences.push(format!(
            "Every operating point is judged new and at the end of life, after {}. A good converter \
             meets all limits at both ages.",
            quantity(life)
        ));
    }
    let any = |is: Influence| scenario.tolerances.responses().iter().any(|r| r.influence == is);
    if any(Influence::AnyTemperature) {
        sentences.push(
            "A dielectric of class 2 states how far the capacitance may change, and no coefficient. Each \
             part has one change, taken at any temperature but the reference."
                .to_owned(),
        );
    }
    let are_heated =
        scenario.operating_points.iter().any(|own| own.condition.self_heating.is_some());
    let others = if are_heated {
        "Temperatures of parts with a thermal resistance follow from their losses, those of all others are given."
    } else {
        "Temperatures are given, not computed from losses."
    };
    sentences.push(format!(
        "{others} Coefficients and drifts of different parameters are independent of each other and of the \
         values."
    ));
    sentences.join(" ")
}
