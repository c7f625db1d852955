//! How parts respond to temperature and age: the tables `[temperature_coefficient.X]` and `[ageing]`.

use std::ops::{Bound, Range};

use super::dielectric::Dielectric;
use super::operating_point::PointRequest;
use super::reader::{Bounds, Field, NOT_NEGATIVE, POSITIVE, Table};
use super::tolerance::{ResponseTolerance, ScatterKeys, Shape, Tolerance, Tolerances};
use crate::converter::{Age, Condition, Influence, MAX_PHASES, Parameter};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Quantity, Ratio};
use crate::units::{Celsius, Hour, PerKelvin};

const COEFFICIENT: &str = "how the parts change with temperature; X is a key of `[converter.tank]` or \
                           `[converter.losses]`, or `flying_capacitance`";
const DRIFT: &str = "how the parts change over the service life; X is a key of `[converter.tank]` or \
                     `[converter.losses]`, or `flying_capacitance`";
const AGEING: &str = "the service life: each operating point is judged new and at its end";
const CODE: &str = "code of a ceramic dielectric (EIA-198), such as \"C0G\" or \"X7R\", instead of `value` \
                    and `band`";

/// What a temperature coefficient may be.
const PER_KELVIN: Bounds = Bounds {
    words: "from -50000 ppm/K to 50000 ppm/K",
    low: Bound::Included(-0.05),
    high: Bound::Included(0.05),
};
/// What a drift may be.
const DRIFTED: Bounds = Bounds {
    words: "above -95 % and at most 200 %",
    low: Bound::Excluded(-0.95),
    high: Bound::Included(2.0),
};
/// The least factor on a value that temperature and age may leave.
const LEAST_FACTOR: f64 = 0.05;

/// What the scenario says of temperature and age.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Conditions {
    responses: Vec<StatedResponse>,
    /// The service life; none where no age is judged.
    pub(super) service_life: Option<Hour>,
}

/// A response, and where it stands.
#[derive(Debug, Clone, PartialEq)]
struct StatedResponse {
    response: ResponseTolerance,
    place: Range<usize>,
}

/// Reads both tables.
pub(super) fn read(root: &mut Table<'_>) -> Option<Conditions> {
    let coefficients = root
        .key("temperature_coefficient", "how parts change with temperature")
        .table()
        .or_empty("parts keep their values at any temperature");
    let coefficients = coefficients.and_then(read_coefficients);
    let ageing = root.key("ageing", AGEING).table().optional("new parts alone are judged");
    let ageing = match ageing {
        Some(Some(table)) => read_ageing(table).map(|(life, drifts)| (Some(life), drifts)),
        Some(None) => Some((None, Vec::new())),
        None => None,
    };
    let (mut responses, (service_life, drifts)) = (coefficients?, ageing?);
    responses.extend(drifts);
    Some(Conditions { responses, service_life })
}

fn read_coefficients(mut table: Table<'_>) -> Option<Vec<StatedResponse>> {
    let left_out = "no change with temperature";
    let all = read_of_parameters(&mut table, COEFFICIENT, left_out, read_coefficient);
    table.finish();
    all
}

fn read_ageing(mut table: Table<'_>) -> Option<(Hour, Vec<StatedResponse>)> {
    let life = table
        .key("service_life", "hours of operation after which the parts have drifted so far")
        .quantity::<Hour>(POSITIVE)
        .required();
    let all = read_of_parameters(&mut table, DRIFT, "no drift", read_drift);
    table.finish();
    Some((life?, all?))
}

fn read_drift(mut table: Table<'_>, parameter: Parameter) -> Option<StatedResponse> {
    let place = table.span();
    let scatter = read_response::<Ratio>(&mut table, DRIFT_KEYS);
    table.finish();
    let (influence, scatter) = (Influence::Age, scatter?);
    let response = ResponseTolerance { parameter, influence, scatter, code: None };
    Some(StatedResponse { response, place })
}

/// Reads the tables of all parameters that have one.
fn read_of_parameters(
    table: &mut Table<'_>,
    meaning: &'static str,
    left_out: &'static str,
    read: impl Fn(Table<'_>, Parameter) -> Option<StatedResponse>,
) -> Option<Vec<StatedResponse>> {
    let mut all = Some(Vec::new());
    for parameter in Parameter::ALL {
        let own = match table.key_of(parameter, meaning).table().optional(left_out) {
            Some(Some(own)) => {
                read(own.about(format!("`{}`", parameter.key())), parameter).map(Some)
            }
            Some(None) => Some(None),
            None => None,
        };
        all = all.zip(own).map(|(mut all, own)| {
            all.extend(own);
            all
        });
    }
    all
}

/// The keys of a response: its nominal value and its band.
#[derive(Debug, Clone, Copy)]
pub(super) struct ResponseKeys {
    value: &'static str,
    value_meaning: &'static str,
    band_meaning: &'static str,
    bounds: Bounds,
}

/// Those of a temperature coefficient.
pub(super) const COEFFICIENT_KEYS: ResponseKeys = ResponseKeys {
    value: "value",
    value_meaning: "relative change per kelvin of a nominal part",
    band_meaning: "half width of the band about it, from part to part",
    bounds: PER_KELVIN,
};
/// Those of a drift.
const DRIFT_KEYS: ResponseKeys = ResponseKeys {
    value: "drift",
    value_meaning: "relative change of a nominal part at the end of the service life",
    band_meaning: "half width of the band about it, from part to part",
    bounds: DRIFTED,
};

fn read_coefficient(mut table: Table<'_>, parameter: Parameter) -> Option<StatedResponse> {
    let header = table.span();
    let field = table.key("code", CODE);
    let (key, place) = (field.key_span(), field.value_span());
    let code = field.text().optional("`value` is given");
    let has_code = key.is_some();
    let field = table.key(COEFFICIENT_KEYS.value, COEFFICIENT_KEYS.value_meaning);
    let band = table.key("band", COEFFICIENT_KEYS.band_meaning);
    let given = [("value", field.key_span()), ("band", band.key_span())];
    let value = field.quantity::<PerKelvin>(PER_KELVIN).needed_if(!has_code, "`code` states it");
    table.exactly_one([COEFFICIENT_KEYS.value, "code"]);
    table.not_both(["band", "code"]);
    let both = given.into_iter().find_map(|(key, place)| Some((key, place.filter(|_| has_code)?)));
    if let Some((key, place)) = both {
        let message = format!("both `code` and `{key}` are given");
        table.report_at(Some(place), message, "expected one of the two");
    }
    let scatter = read_scatter::<PerKelvin>(&mut table, band);
    let stated = code?.map(|code| read_code(&mut table, parameter, &code, place.clone()));
    table.finish();
    let (value, (band, scatter)) = (value?, scatter?);
    let response = match stated {
        Some(stated) => {
            let stated = stated?;
            let Tolerance { middle, band, .. } = stated.scatter;
            ResponseTolerance { scatter: scatter.tolerance(middle, band), ..stated }
        }
        None => ResponseTolerance {
            parameter,
            influence: Influence::Temperature,
            scatter: scatter.tolerance(value?.0, band),
            code: None,
        },
    };
    Some(StatedResponse { response, place: place.unwrap_or(header) })
}

/// What a code of a dielectric states of a capacitance.
fn read_code(
    table: &mut Table<'_>,
    parameter: Parameter,
    code: &str,
    place: Option<Range<usize>>,
) -> Option<ResponseTolerance> {
    let capacitances = [Parameter::ResonantCapacitance, Parameter::FlyingCapacitance];
    if !capacitances.contains(&parameter) {
        let message = format!("`{}` has the code of a dielectric", parameter.key());
        table.report_at(place, message, "expected a code for capacitances only");
        return None;
    }
    let Some(dielectric) = Dielectric::of_code(code) else {
        let message = format!("the code is \"{code}\"");
        let expected = "expected a code of EIA-198 such as \"C0G\", \"U2J\" or \"X7R\"";
        let capitals = code.to_uppercase();
        let help = Dielectric::of_code(&capitals).map(|_| format!("did you mean \"{capitals}\"?"));
        let place = place.unwrap_or_else(|| table.span());
        table.report(Diagnostic::new(place, message, expected).with_help(help));
        return None;
    };
    let (influence, middle, band) = match dielectric {
        Dielectric::Coefficient { value, band } => (Influence::Temperature, value, band),
        Dielectric::Range { change: [low, high], .. } => {
            (Influence::AnyTemperature, 0.5 * (low + high), 0.5 * (high - low))
        }
    };
    let scatter = Tolerance { middle, ..Tolerance::new(Shape::Uniform, band) };
    Some(ResponseTolerance { parameter, influence, scatter, code: Some(code.to_owned()) })
}

/// Reads a response and its scatter, which may be left out.
pub(super) fn read_response<Q: Quantity>(
    table: &mut Table<'_>,
    keys: ResponseKeys,
) -> Option<Tolerance> {
    let value = table.key(keys.value, keys.value_meaning).quantity::<Q>(keys.bounds).required();
    let band = table.key("band", keys.band_meaning);
    let (band, scatter) = read_scatter::<Q>(table, band)?;
    Some(scatter.tolerance(value?.value(), band))
}

/// Reads the half width of a band, zero where it is left out, and the shape within it.
fn read_scatter<Q: Quantity>(table: &mut Table<'_>, band: Field<'_>) -> Option<(f64, ScatterKeys)> {
    let band = band.quantity::<Q>(NOT_NEGATIVE).optional("all parts alike");
    let scatter = ScatterKeys::read(table, false);
    Some((band?.map_or(0.0, Quantity::value), scatter?))
}

impl Conditions {
    /// The tolerances with these responses.
    pub(super) fn added_to(&self, tolerances: Tolerances) -> Tolerances {
        let responses = self.responses.iter().map(|stated| stated.response.clone());
        responses.fold(tolerances, Tolerances::with_response)
    }

    /// Whether the scenario tells how a parameter changes over the service life.
    pub(super) fn has_drift(&self, parameter: Parameter) -> bool {
        let mut responses = self.responses.iter().map(|stated| &stated.response);
        responses.any(|own| (own.parameter, own.influence) == (parameter, Influence::Age))
    }

    /// At how many ages operating points are judged.
    pub(super) fn ages(&self) -> usize {
        if self.service_life.is_some() { Age::ALL.len() } else { 1 }
    }

    /// Reports responses that no part can have at the operating points: beyond the range of a dielectric,
    /// or so large that next to nothing is left of the value.
    pub(super) fn check(
        &self,
        table: &Table<'_>,
        points: &[PointRequest],
        hardware: TemperatureFrame,
    ) {
        for stated in &self.responses {
            let found =
                points.iter().find_map(|point| Some((point, hardware.problem(stated, point)?)));
            if let Some((point, (message, expected))) = found {
                let message = format!("{message} at operating point \"{}\"", point.name);
                table.report_at(Some(stated.place.clone()), message, &expected);
            }
        }
    }
}

impl Conditions {
    /// Reports responses of parts that the scenario does not tell.
    pub(super) fn check_told(&self, table: &Table<'_>, is_told: impl Fn(Parameter) -> bool) {
        for stated in self.responses.iter().filter(|own| !is_told(own.response.parameter)) {
            let key = stated.response.property().key();
            let message = format!("`{key}` tells of parts without a nominal value");
            let parameter = stated.response.parameter.key();
            let expected =
                format!("expected `{parameter}` in [converter.losses], or no such table");
            table.report_at(Some(stated.place.clone()), message, &expected);
        }
    }
}

/// What temperatures are told against.
#[derive(Debug, Clone, Copy)]
pub(super) struct TemperatureFrame {
    pub(super) phases: usize,
    pub(super) reference: Celsius,
}

impl TemperatureFrame {
    /// What is wrong with a response at an operating point, and what was expected.
    fn problem(self, stated: &StatedResponse, point: &PointRequest) -> Option<(String, String)> {
        let ResponseTolerance { parameter, influence, scatter, code } = &stated.response;
        let condition = point.condition.aged(Age::EndOfLife);
        let name = parameter.key();
        let ends = self.temperatures(&condition, *parameter);
        if let Some(Dielectric::Range { temperatures: [low, high], .. }) =
            code.as_deref().and_then(Dielectric::of_code)
            && let Some(beyond) = ends.into_iter().find(|t| !(low..=high).contains(t))
        {
            let message = format!("`{name}` is at {}", Celsius(beyond));
            let (low, high) = (Celsius(low), Celsius(high));
            return Some((
                message,
                format!("expected temperatures from {low} to {high} for this code"),
            ));
        }
        let stresses = (0..MAX_PHASES.min(self.phases))
            .map(|index| condition.stress(*influence, *parameter, index, self.phases));
        let least = stresses.flat_map(|s| scatter.ends().map(|response| 1.0 + s * response));
        let least = least.fold(1.0, f64::min);
        (least < LEAST_FACTOR).then(|| {
            let left = quantity::rounded(100.0 * least, None);
            let message = format!("{left} % of `{name}` are left");
            (message, "expected at least 5 % of the nominal value".to_owned())
        })
    }

    /// Lowest and highest temperature of a parameter's parts.
    fn temperatures(self, condition: &Condition, parameter: Parameter) -> [f64; 2] {
        let last = match parameter {
            Parameter::FlyingCapacitance => self.phases.saturating_sub(2),
            _ => self.phases - 1,
        };
        [0, last].map(|index| {
            self.reference.0 + condition.part_above_reference(parameter, index, self.phases)
        })
    }
}
