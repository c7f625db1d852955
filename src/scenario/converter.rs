//! The table `[converter]`: how many phases, of which parts, at which frequencies.

use std::ops::{Bound, RangeInclusive};

use super::drift::{self, DriftRequest};
use super::losses::{self, NominalLosses};
use super::reader::{Bounds, Field, NOT_NEGATIVE, POSITIVE, Table};
use crate::converter::{FrequencyBand, MAX_PHASES, MIN_PHASES, Parameter, Tank};
use crate::input::quantity::Quantity;
use crate::units::{Celsius, Farad, Hertz};

const PHASES: RangeInclusive<u64> = MIN_PHASES as u64..=MAX_PHASES as u64;

/// Temperatures that parts can have.
pub(super) const TEMPERATURE: Bounds = Bounds {
    words: "from -100 °C to 300 °C",
    low: Bound::Included(-100.0),
    high: Bound::Included(300.0),
};
/// That of data sheets (common practice, no source).
pub(super) const REFERENCE_TEMPERATURE: Celsius = Celsius(25.0);

/// What `[converter]` says.
#[derive(Debug, Clone)]
pub(super) struct Hardware {
    pub(super) phases: usize,
    pub(super) nominal: Tank,
    pub(super) flying_capacitance: Farad,
    pub(super) drift: DriftRequest,
    pub(super) frequency: FrequencyBand,
    pub(super) reference_temperature: Celsius,
    pub(super) losses: Option<NominalLosses>,
}

/// Reads `[converter]`.
pub(super) fn read(mut table: Table<'_>) -> Option<Hardware> {
    let phases = table.key("phases", "number of phases in parallel").integer(&PHASES).required();
    let nominal = table.key("tank", "nominal parts of one phase").table().required().and_then(tank);
    let chain = table
        .key("chain", "the charge-balancing (flying) capacitors")
        .table()
        .required()
        .and_then(chain);
    let frequency = table
        .key("frequency", "the band of the switching frequency")
        .table()
        .required()
        .and_then(frequency);
    let reference_temperature = table
        .key("reference_temperature", "temperature of the parts at which their values hold")
        .quantity(TEMPERATURE)
        .or(REFERENCE_TEMPERATURE);
    let count = phases.and_then(|phases| usize::try_from(phases).ok());
    let losses = losses::read(&mut table, count);
    table.finish();
    let (flying_capacitance, drift) = chain?;
    Some(Hardware {
        phases: usize::try_from(phases?).ok()?,
        nominal: nominal?,
        flying_capacitance,
        drift,
        frequency: frequency?,
        reference_temperature: reference_temperature?,
        losses: losses?,
    })
}

fn tank(mut table: Table<'_>) -> Option<Tank> {
    fn part<Q: Quantity>(field: Field<'_>, bounds: Bounds) -> Option<Q> {
        field.quantity(bounds).required()
    }
    let mut key = |parameter: Parameter, meaning| table.key(parameter.key(), meaning);
    let resonant_inductance =
        part(key(Parameter::ResonantInductance, "series resonant inductance"), POSITIVE);
    let resonant_capacitance =
        part(key(Parameter::ResonantCapacitance, "series resonant capacitance"), POSITIVE);
    let magnetising_inductance = part(
        key(Parameter::MagnetisingInductance, "magnetising inductance, seen from the primary"),
        POSITIVE,
    );
    let turns_ratio =
        key(Parameter::TurnsRatio, "turns, primary : secondary").number(POSITIVE, "2.4").required();
    let series_resistance = part(
        key(
            Parameter::SeriesResistance,
            "resistance of switches and windings, referred to the primary: all that `[converter.losses]` \
             does not tell apart",
        ),
        NOT_NEGATIVE,
    );
    let rectifier_drop =
        part(key(Parameter::RectifierDrop, "forward voltage of one diode"), NOT_NEGATIVE);
    table.finish();
    Some(Tank {
        resonant_inductance: resonant_inductance?,
        resonant_capacitance: resonant_capacitance?,
        magnetising_inductance: magnetising_inductance?,
        turns_ratio: turns_ratio?,
        series_resistance: series_resistance?,
        rectifier_drop: rectifier_drop?,
    })
}

fn chain(mut table: Table<'_>) -> Option<(Farad, DriftRequest)> {
    let flying = table
        .key(
            Parameter::FlyingCapacitance.key(),
            "capacitance of every flying capacitor; there are N − 1 in each driven leg",
        )
        .quantity(POSITIVE)
        .required();
    let drift = drift::read(&mut table);
    table.finish();
    Some((flying?, drift?))
}

fn frequency(mut table: Table<'_>) -> Option<FrequencyBand> {
    let lowest = table.key("minimum", "lowest switching frequency that the control loop may set");
    let highest = table.key("maximum", "highest switching frequency; above the lowest");
    let place = highest.value_span();
    let minimum = lowest.quantity::<Hertz>(POSITIVE).required();
    let maximum = highest.quantity::<Hertz>(POSITIVE).required();
    let band = FrequencyBand { minimum: minimum?, maximum: maximum? };
    if band.minimum >= band.maximum {
        table.report_at(
            place,
            format!("`maximum` is {}, not above `minimum`", band.maximum),
            &format!("expected a frequency above {}", band.minimum),
        );
        table.finish();
        return None;
    }
    table.finish();
    Some(band)
}
