//! The tank in the cells of a CSV row.

use crate::converter::Tank;
use crate::input::csv::Row;
use crate::input::diagnostics::Diagnostic;
use crate::units::{Farad, Henry, Ohm, Volt};

/// The tank in the columns from `first` on; empty cells take the nominal values.
pub(super) fn read(
    row: &Row<'_>,
    first: usize,
    nominal: &Tank,
    errors: &mut Vec<Diagnostic>,
) -> Option<Tank> {
    let mut value =
        |index, may_be_zero, nominal| row.value(first + index, may_be_zero, nominal, errors);
    let resonant_inductance = value(0, false, nominal.resonant_inductance.0);
    let resonant_capacitance = value(1, false, nominal.resonant_capacitance.0);
    let magnetising_inductance = value(2, false, nominal.magnetising_inductance.0);
    let turns_ratio = value(3, false, nominal.turns_ratio);
    let series_resistance = value(4, true, nominal.series_resistance.0);
    let rectifier_drop = value(5, true, nominal.rectifier_drop.0);
    Some(Tank {
        resonant_inductance: Henry(resonant_inductance?),
        resonant_capacitance: Farad(resonant_capacitance?),
        magnetising_inductance: Henry(magnetising_inductance?),
        turns_ratio: turns_ratio?,
        series_resistance: Ohm(series_resistance?),
        rectifier_drop: Volt(rectifier_drop?),
    })
}

/// Invented nominal parts for tests, as in the scenario of the shelf.
#[cfg(test)]
pub(super) fn nominal(phases: usize) -> crate::converter::Converter {
    let tank = Tank {
        resonant_inductance: Henry(4.56e-6),
        resonant_capacitance: Farad(247e-9),
        magnetising_inductance: Henry(22.8e-6),
        turns_ratio: 2.4,
        series_resistance: Ohm(0.03),
        rectifier_drop: Volt(0.7),
    };
    crate::converter::Converter::uniform(phases, tank, Farad(50e-6))
}
