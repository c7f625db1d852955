//! The tables `[[operating_point]]`: what the converter has to do.

use std::ops::Bound;

use super::converter::TEMPERATURE;
use super::losses::NominalLosses;
use super::reader::{Bounds, Field, POSITIVE, Table};
use crate::converter::{Age, Condition, Drive, Parameter, Rectifier, SelfHeating};
use crate::input::csv::{Names, Spelling};
use crate::input::diagnostics::Diagnostic;
use crate::units::{Ampere, Celsius, Kelvin, Volt, Watt};

/// An operating point as asked for: what is left out is still to be chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct PointRequest {
    /// Its name, unlike that of the others.
    pub name: String,
    /// Voltage at the input of the chain, above zero.
    pub input_voltage: Volt,
    /// Voltage at the common output, above zero.
    pub output_voltage: Volt,
    /// Current of the common output, above zero; from the output power where that is given.
    pub output_current: Ampere,
    /// Drive of every phase, if the scenario names one.
    pub drive: Option<Drive>,
    /// Rectifier of every phase, if the scenario names one.
    pub rectifier: Option<Rectifier>,
    /// Temperatures of the parts.
    pub condition: Condition,
}

/// Most operating points times phases: 500 points of three phases. With 300 points sampling took 0.43 GB
/// of memory, and each point adds 55 kB to the page.
const MOST_PHASES: usize = 1500;

/// What operating points are read with.
#[derive(Debug, Clone, Copy)]
pub(super) struct PointContext {
    /// Phases of a converter.
    pub(super) phases: usize,
    /// How often each operating point is judged: new, and perhaps at the end of life.
    pub(super) ages: usize,
    /// The reference temperature.
    pub(super) reference: Celsius,
    /// The parts that tell losses apart.
    pub(super) losses: Option<NominalLosses>,
}

/// Reads all operating points: one at least, not too many, no name twice.
pub(super) fn read_all(tables: Vec<Table<'_>>, context: PointContext) -> Option<Vec<PointRequest>> {
    let PointContext { phases, ages, .. } = context;
    let most = MOST_PHASES / (ages * phases).max(1);
    if let Some(first_beyond) = tables.get(most) {
        let message = format!("the scenario has {} operating points", tables.len());
        let expected = format!(
            "expected at most {most} with {phases} phases: figures of every phase and point are kept \
             in memory. Keep the extreme points, or split the scenario"
        );
        first_beyond.report_at(None, message, &expected);
        return None;
    }
    let mut names = Names::default();
    let points: Vec<_> = tables
        .into_iter()
        .enumerate()
        .map(|(index, table)| read(table, index + 1, &mut names, context))
        .collect();
    if points.is_empty() { None } else { points.into_iter().collect() }
}

fn read(
    mut table: Table<'_>,
    number: usize,
    names: &mut Names,
    context: PointContext,
) -> Option<PointRequest> {
    let field = table.key("name", "its name, unlike that of the others");
    let subject = match field.peek_text() {
        Some(name) => format!("operating point \"{}\"", name.trim()),
        None => format!("operating point {number}"),
    };
    let place = field.value_span();
    let name = field.text().required();
    let spelling = name.as_ref().map(|name| (name, names.note(name)));
    let message = match spelling {
        Some((name, Spelling::Same)) => {
            Some(format!("a second operating point is called \"{name}\""))
        }
        // Files of converters tell them by their names, in which case does not count.
        Some((name, Spelling::Other(first))) => Some(format!(
            "operating point \"{name}\" differs from \"{first}\" only in upper and lower case"
        )),
        Some((_, Spelling::New)) | None => None,
    };
    if let Some(message) = message {
        table.report_at(place, message, "expected a name of its own");
    }
    let mut table = table.about(subject.clone());
    let input_voltage = table
        .key("input_voltage", "voltage at the input of the converter")
        .quantity(POSITIVE)
        .required();
    let output_voltage =
        table.key("output_voltage", "voltage at the common output").quantity(POSITIVE).required();
    let output_current = output_current(&mut table, &subject, output_voltage);
    let drive = table
        .key("drive", "drive of every phase")
        .choice(Drive::ALL, Drive::name)
        .optional("chosen by `prefer` of `[configuration]`");
    let rectifier = table
        .key("rectifier", "rectifier of every phase")
        .choice(Rectifier::ALL, Rectifier::name)
        .optional("chosen with the drive: full-bridge or voltage doubler");
    let condition = condition(&mut table, context);
    table.finish();
    Some(PointRequest {
        name: name?,
        input_voltage: input_voltage?,
        output_voltage: output_voltage?,
        output_current: output_current?,
        drive: drive?,
        rectifier: rectifier?,
        condition: condition?,
    })
}

const PHASE_RISE: Bounds = Bounds {
    words: "from -50 K to 50 K",
    low: Bound::Included(-50.0),
    high: Bound::Included(50.0),
};

/// The temperatures of the parts.
fn condition(table: &mut Table<'_>, context: PointContext) -> Option<Condition> {
    let reference = context.reference;
    let temperature = table
        .key("temperature", "temperature of the parts of the first phase")
        .quantity(TEMPERATURE)
        .or_from(reference, "`reference_temperature` of `[converter]`");
    let phase_rise = table
        .key("phase_rise", "how much hotter each phase is than the one before")
        .quantity(PHASE_RISE)
        .or(Kelvin(0.0));
    let ambient = table
        .key(
            "ambient_temperature",
            "ambient of the parts of the first phase whose thermal resistance `[converter.losses]` gives",
        )
        .quantity::<Celsius>(TEMPERATURE)
        .optional("`temperature`");
    let parts = table
        .key("part_temperature", "temperatures of parts that differ, in the first phase")
        .table()
        .or_empty("all parts are at `temperature`");
    let above = |own: Celsius| own.0 - reference.0;
    let common = temperature.map(above);
    let (mut all, mut sensor) = (Some([common?; Parameter::ALL.len()]), None);
    if let Some(mut parts) = parts {
        let own = |field: Field<'_>| {
            field.quantity(TEMPERATURE).optional("`temperature`").map(|own| own.map(above))
        };
        let heated = self_heating(context, reference);
        for parameter in Parameter::ALL {
            let field =
                parts.key_of(parameter, "temperature of this part; X as in `[tolerance.X]`");
            let place = field.key_span();
            if place.is_some() && heated.is_some_and(|own| own.heats(parameter)) {
                let message =
                    format!("the temperature of `{}` follows from its loss", parameter.key());
                parts.report_at(place, message, "expected `ambient_temperature` instead");
                continue;
            }
            let own = own(field);
            all = all.zip(own).map(|(mut all, own)| {
                all[parameter.index()] = own.unwrap_or(all[parameter.index()]);
                all
            });
        }
        sensor = own(parts.key("sensor", "temperature of the current sensor"));
        parts.finish();
    }
    Some(Condition {
        above_reference: all?,
        sensor_above_reference: sensor?.or(common)?,
        phase_rise: phase_rise?.0,
        age: Age::New,
        self_heating: self_heating(context, ambient?.or(temperature)?),
    })
}

/// Which parts their losses warm above an ambient temperature.
fn self_heating(context: PointContext, ambient: Celsius) -> Option<SelfHeating> {
    let own = context.losses?;
    let heating = SelfHeating {
        reference: context.reference,
        ambient,
        of_switches: own.heat_switches(),
        of_rectifiers: own.heat_rectifiers(),
    };
    (heating.of_switches || heating.of_rectifiers).then_some(heating)
}

/// The output current, given as such or as I = P/Vo.
fn output_current(table: &mut Table<'_>, subject: &str, voltage: Option<Volt>) -> Option<Ampere> {
    let power = table.key("output_power", "power of the common output");
    let current = table.key("output_current", "current of the common output");
    table.exactly_one(["output_power", "output_current"]);
    if let (Some(first), Some(second)) = (power.key_span(), current.key_span()) {
        let later = if first.start > second.start { first } else { second };
        table.report(Diagnostic::new(
            later,
            format!("{subject} has both `output_power` and `output_current`"),
            "expected one of the two",
        ));
    }
    let neither = power.key_span().is_none() && current.key_span().is_none();
    let power = power.quantity::<Watt>(POSITIVE).optional("`output_current` is given");
    let current = current.quantity::<Ampere>(POSITIVE).optional("`output_power` is given");
    if neither {
        table.report_missing(
            format!("{subject} has neither `output_power` nor `output_current`"),
            "expected one of the two, such as `output_power = \"3 kW\"`",
        );
    }
    match (power?, current?) {
        (None, current) => current,
        (Some(power), _) => Some(Ampere(power.0 / voltage?.0)),
    }
}
