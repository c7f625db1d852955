//! The table `[sensors]`: current sensors and the loops that trim the phases by them.

use std::ops::Bound;

use super::conditions::{COEFFICIENT_KEYS, read_response};
use super::reader::{Bounds, Field, NOT_NEGATIVE, POSITIVE, Table};
use super::tolerance::{BAND_OF_GAIN, BandKey, Tolerance, sensor_error};
use crate::converter::{Shared, TrimmedQuantity};
use crate::input::quantity::Ratio;
use crate::units::{Ampere, Ohm, PerKelvin, Watt};

const STANDING_LOSS: &str =
    "power that sensor and trim element of one phase take; it counts against the efficiency";

/// Current sensors, one a phase, and the elements by which a loop trims every phase.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorRequest {
    /// What they measure.
    pub measured: Shared,
    /// Relative error of a sensor's gain when new; `None` is no error.
    pub gain_error: Option<Tolerance>,
    /// Relative change of its gain since.
    pub drift: Option<Tolerance>,
    /// Whether the drift waits for the end of life, because operating points are judged there too.
    pub drifts_with_age: bool,
    /// Relative change of its gain per kelvin away from the reference temperature.
    pub temperature_coefficient: Option<Tolerance>,
    /// What it reads of no current: the band is in ampere, of the output current or of the original
    /// tanks' current; a paralleled tank, rescaled to the whole input, reads 1/N of the latter.
    pub offset: Option<Tolerance>,
    /// What is trimmed: resonant inductance, resonant capacitance, or the frequency of paralleled phases.
    pub trim: TrimmedQuantity,
    /// How far to either side, as a fraction of the part's own value, or of the frequency at which all
    /// phases together deliver the output.
    pub trim_range: f64,
    /// What sensor and trim element add to the series resistance of a phase, referred to the
    /// primary of the original tanks; a tank rescaled to the whole input has N² times as much.
    pub added_resistance: Ohm,
    /// What sensor and trim element of a phase take besides.
    pub standing_loss: Watt,
    /// Prices, in any one currency.
    pub price: PerPart,
    /// Failure rates in FIT, failures in 10⁹ hours.
    pub failure_rate: PerPart,
}

/// A number for each kind of part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerPart {
    /// The converter without all that is compared.
    pub converter: f64,
    /// What a chain alone has, flying capacitors apart: its own switches, gate drivers and magnetics.
    pub chain: f64,
    /// What paralleled bridges alone have.
    pub paralleled: f64,
    /// One flying capacitor.
    pub flying_capacitor: f64,
    /// One current sensor.
    pub sensor: f64,
    /// One trim element with its loop.
    pub trim_element: f64,
}

const RANGE: Bounds = Bounds {
    words: "of zero or more and at most 50 %",
    low: Bound::Included(0.0),
    high: Bound::Included(0.5),
};

const DRIFT: &str = "relative change of the gain over its life; multiplies with the gain error; with \
                     `[ageing]` it acts at the end of life alone";
const BAND_OF_OFFSET: BandKey = BandKey {
    bounds: NOT_NEGATIVE,
    meaning: "half width of the band, or both ends, in ampere. It is of the output current, or of the \
              original tank current, of which a paralleled tank has 1/N",
};

/// Reads `[sensors]`; left open, they measure `limited`, of which `[limits]` speaks. `has_life` tells
/// whether operating points are judged at the end of life.
pub(super) fn read(mut table: Table<'_>, limited: Shared, has_life: bool) -> Option<SensorRequest> {
    let measured = table
        .key("measured", "the quantity that the sensors measure")
        .choice(Shared::ALL, Shared::name)
        .or_from(limited, "what `share` of `[limits]` names");
    let gain_error = table.key("gain_error", "relative error of the gain of a new sensor");
    let gain_error = error(gain_error, "gain error", sensor_error::<Ratio>, BAND_OF_GAIN);
    let drift = table.key("drift", DRIFT);
    let drift = error(drift, "drift", sensor_error::<Ratio>, BAND_OF_GAIN);
    let offset = table.key("offset", "what a sensor reads of no current");
    let offset = error(offset, "offset", sensor_error::<Ampere>, BAND_OF_OFFSET);
    let coefficient = coefficient(
        table.key("temperature_coefficient", "relative change of the gain with temperature"),
    );
    let trim = trim(&mut table);
    let trim_range = trim_range(&mut table);
    let added_resistance = table
        .key(
            "added_resistance",
            "what sensor and trim element add to the series resistance, \
            referred to the primary of the original tank",
        )
        .quantity(NOT_NEGATIVE)
        .or(Ohm(0.0));
    let standing_loss =
        table.key("standing_loss", STANDING_LOSS).quantity(NOT_NEGATIVE).or(Watt(0.0));
    let price =
        per_part(table.key("price", "prices of one piece, in any one currency"), POSITIVE, "85");
    let failure_rate = per_part(
        table.key("failure_rate", "failure rates of one piece in FIT: failures in 10⁹ hours"),
        NOT_NEGATIVE,
        "120",
    );
    table.finish();
    Some(SensorRequest {
        measured: measured?,
        gain_error: gain_error?,
        drift: drift?,
        offset: offset?,
        drifts_with_age: has_life,
        temperature_coefficient: coefficient?,
        trim: trim?,
        trim_range: trim_range?.0,
        added_resistance: added_resistance?,
        standing_loss: standing_loss?,
        price: price?,
        failure_rate: failure_rate?,
    })
}

fn trim(table: &mut Table<'_>) -> Option<TrimmedQuantity> {
    table
        .key(
            "trim",
            "what a loop adjusts in every phase; the frequency in paralleled phases alone, as a chain \
             has one",
        )
        .choice(TrimmedQuantity::ALL, TrimmedQuantity::key)
        .required()
}

fn trim_range(table: &mut Table<'_>) -> Option<Ratio> {
    table
        .key(
            "trim_range",
            "how far to either side of the part's own value, or of the frequency at which all phases \
             together deliver the output",
        )
        .quantity::<Ratio>(RANGE)
        .required()
}

#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn coefficient(field: Field<'_>) -> Option<Option<Tolerance>> {
    match field.table().optional("no change with temperature")? {
        Some(table) => {
            let mut table = table.about("the sensors' temperature coefficient".to_owned());
            let coefficient = read_response::<PerKelvin>(&mut table, COEFFICIENT_KEYS);
            table.finish();
            coefficient.map(Some)
        }
        None => Some(None),
    }
}

#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn error<'a>(
    field: Field<'a>,
    name: &str,
    read: impl FnOnce(&mut Table<'a>, BandKey) -> Option<Tolerance>,
    band: BandKey,
) -> Option<Option<Tolerance>> {
    match field.table().optional("no such error")? {
        Some(table) => {
            let mut table = table.about(format!("the sensors' {name}"));
            let tolerance = read(&mut table, band);
            table.finish();
            tolerance.map(Some)
        }
        None => Some(None),
    }
}

/// One number for each kind of part; of the converter itself the bounds differ.
fn per_part(field: Field<'_>, converter: Bounds, example: &str) -> Option<PerPart> {
    let mut table = field.table().required()?;
    let whole = table
        .key("converter", "one converter without all that is compared")
        .number(converter, example)
        .required();
    let mut own = |key, meaning| table.key(key, meaning).number(NOT_NEGATIVE, "31.5").or(0.0);
    let chain = own(
        "chain",
        "what a chain alone has, flying capacitors apart: its own switches, gate drivers and magnetics",
    );
    let paralleled = own(
        "paralleled",
        "what paralleled bridges alone have: their switches carry less, block more",
    );
    let mut part = |key, meaning| table.key(key, meaning).number(NOT_NEGATIVE, "1.5").required();
    let flying_capacitor = part("flying_capacitor", "one flying capacitor");
    let sensor = part("sensor", "one current sensor");
    let trim_element = part("trim_element", "one trim element with its loop");
    table.finish();
    Some(PerPart {
        converter: whole?,
        chain: chain?,
        paralleled: paralleled?,
        flying_capacitor: flying_capacitor?,
        sensor: sensor?,
        trim_element: trim_element?,
    })
}
