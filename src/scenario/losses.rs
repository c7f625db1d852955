//! The table `[converter.losses]`: resistances of single parts, and how their losses warm them.

use super::reader::{Field, POSITIVE, Table};
use crate::converter::{LossParts, ParalleledSwitches, Parameter};
use crate::input::quantity::Quantity;
use crate::units::{KelvinPerWatt, Ohm};

/// Nominal parts that tell losses apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NominalLosses {
    /// One a parameter, in the order of [`Parameter::OF_LOSSES`], in SI units; none where it is not told.
    pub values: [Option<f64>; Parameter::OF_LOSSES.len()],
    /// The switches of the paralleled reference.
    pub paralleled: ParalleledSwitches,
}

impl NominalLosses {
    /// A nominal value in SI units; none where it is not told.
    pub fn value(&self, parameter: Parameter) -> Option<f64> {
        self.values[parameter.index_of_losses()?]
    }

    /// The parts of a converter with so many phases.
    pub fn parts(&self, phases: usize) -> LossParts {
        LossParts::uniform(phases, &self.values, self.paralleled)
    }

    /// Whether the temperatures of the switches follow from their losses.
    pub fn heat_switches(&self) -> bool {
        self.value(Parameter::SwitchThermalResistance).is_some()
    }

    /// Whether the temperatures of the rectifiers follow from their losses.
    pub fn heat_rectifiers(&self) -> bool {
        self.value(Parameter::RectifierThermalResistance).is_some()
    }
}

const MEANING: &str = "resistances told apart from `series_resistance`, and thermal resistances: losses of \
                       single parts, efficiency and junction temperatures follow";
const UNTOLD: &str = "no loss in it is told apart";
const NOT_HEATED: &str = "no junction temperature is told";
const EQUAL_LOSS: &str =
    "N² times that of the chain, which loses as much at an N-th of the current";
const AS_CHAIN: &str = "as in `[converter.losses]`";

/// Reads `[converter.losses]` of a converter with so many phases; `None` within where there is none.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
pub(super) fn read(
    converter: &mut Table<'_>,
    phases: Option<usize>,
) -> Option<Option<NominalLosses>> {
    let left_out = "losses are not told apart";
    match converter.key("losses", MEANING).table().optional(left_out)? {
        Some(table) => read_table(table, phases),
        None => Some(None),
    }
}

/// None within where no key is given.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn read_table(mut table: Table<'_>, phases: Option<usize>) -> Option<Option<NominalLosses>> {
    let all = Parameter::OF_LOSSES.map(|parameter| {
        let field = table.key(parameter.key(), meaning(parameter));
        match parameter {
            Parameter::SwitchThermalResistance | Parameter::RectifierThermalResistance => {
                value::<KelvinPerWatt>(field, NOT_HEATED)
            }
            _ => value::<Ohm>(field, UNTOLD),
        }
    });
    let mut values = [None; Parameter::OF_LOSSES.len()];
    let is_right = all.iter().all(Option::is_some);
    for (value, read) in values.iter_mut().zip(all) {
        *value = read.flatten();
    }
    let told = |parameter: Parameter| parameter.index_of_losses().and_then(|n| values[n]);
    let on_resistance = told(Parameter::OnResistance);
    let thermal_resistance = told(Parameter::SwitchThermalResistance);
    if is_right && on_resistance.is_none() && thermal_resistance.is_some() {
        table.report_missing(
            "[converter.losses] has `switch_thermal_resistance` without `on_resistance`".to_owned(),
            "expected both: the loss of a switch warms it",
        );
    }
    let meaning = "switches of the paralleled reference, which are others";
    let paralleled = table.key("paralleled", meaning).table();
    let paralleled = paralleled
        .or_empty("its keys take their defaults")
        .and_then(|own| read_paralleled(own, SwitchValues { on_resistance, thermal_resistance }));
    table.finish();
    let equal = ParalleledSwitches::with_equal_loss(phases?);
    let own = paralleled?;
    let is_told = values.iter().any(Option::is_some);
    let losses = NominalLosses {
        values,
        paralleled: ParalleledSwitches {
            on_resistance: own.on_resistance.unwrap_or(equal.on_resistance),
            thermal_resistance: own.thermal_resistance.unwrap_or(equal.thermal_resistance),
        },
    };
    is_right.then_some(is_told.then_some(losses))
}

/// What is told of switches.
#[derive(Debug, Clone, Copy)]
struct SwitchValues {
    on_resistance: Option<f64>,
    thermal_resistance: Option<f64>,
}

/// The switches of the paralleled reference, as multiples of the chain's.
fn read_paralleled(mut table: Table<'_>, chain: SwitchValues) -> Option<SwitchValues> {
    let field = table.key(Parameter::OnResistance.key(), "on-resistance of one of its switches");
    let own_resistance = value::<Ohm>(field, EQUAL_LOSS);
    let key = Parameter::SwitchThermalResistance.key();
    let field = table.key(key, "thermal resistance of one of its switches, junction to ambient");
    let own_thermal = value::<KelvinPerWatt>(field, AS_CHAIN);
    let ratio =
        |own: Option<f64>, chain: Option<f64>| own.zip(chain).map(|(own, chain)| own / chain);
    let (own_resistance, own_thermal) = (own_resistance?, own_thermal?);
    let lacks = own_resistance.is_some() && chain.on_resistance.is_none()
        || own_thermal.is_some() && chain.thermal_resistance.is_none();
    if lacks {
        table.report_missing(
            "[converter.losses.paralleled] tells of switches that [converter.losses] does not"
                .to_owned(),
            "expected the same key in [converter.losses] too",
        );
        return None;
    }
    table.finish();
    Some(SwitchValues {
        on_resistance: ratio(own_resistance, chain.on_resistance),
        thermal_resistance: ratio(own_thermal, chain.thermal_resistance),
    })
}

#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn value<Q: Quantity>(field: Field<'_>, left_out: &'static str) -> Option<Option<f64>> {
    let read: Option<Option<Q>> = field.quantity(POSITIVE).optional(left_out);
    read.map(|read| read.map(Quantity::value))
}

fn meaning(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::OnResistance => "on-resistance of one switch, at the reference temperature",
        Parameter::PrimaryWindingResistance => "resistance of the primary winding",
        Parameter::SecondaryWindingResistance => {
            "resistance of the secondary winding, at the secondary; with a centre tap, of one half"
        }
        Parameter::RectifierResistance => {
            "slope resistance of one rectifier diode, beside `rectifier_drop`"
        }
        Parameter::SwitchThermalResistance => {
            "thermal resistance of one switch, junction to ambient"
        }
        _ => "thermal resistance of one rectifier diode, junction to ambient",
    }
}
