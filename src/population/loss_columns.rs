//! Columns that a parts file may have beside those of every converter: the parts that tell losses apart,
//! and the temperature coefficients of parts whose temperature follows from their losses.
//!
//! Such a part has no temperature until it is solved. So a file cannot hold the value that it takes at an
//! operating point, and holds the coefficient instead.

use crate::converter::{Converter, Influence, Leg, Parameter, PartResponse, Property, SwitchPlace};
use crate::input::csv::Row;
use crate::input::diagnostics::Diagnostic;

/// Parameters of parts that their own losses may warm.
const HEATED: [Parameter; 3] =
    [Parameter::RectifierDrop, Parameter::OnResistance, Parameter::RectifierResistance];

/// A cell of a row: its column among all that the file may have, and the phase of the row, from 0.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellPlace {
    pub(super) column: usize,
    pub(super) phase: usize,
}

/// A column of such parts: of a phase it holds one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LossColumn {
    /// Its name, with the SI unit of its values.
    pub name: String,
    /// What it holds of its parts.
    pub property: Property,
    /// Which switches of a phase it is of, in words: `high`, `return leg low`; empty of other parts.
    pub place: String,
    /// Parts of the phases stand together: how many such blocks come before.
    block: usize,
}

impl LossColumn {
    /// The columns that tell such parts of a converter; none where it does not tell losses apart.
    pub fn all(nominal: &Converter) -> Vec<Self> {
        let Some(losses) = &nominal.losses else { return Vec::new() };
        let told = Parameter::OF_LOSSES.into_iter().filter(|parameter| losses.tells(*parameter));
        let coefficients = nominal.responses.iter().map(PartResponse::property);
        let is_heated = |own: &Property| {
            own.influence == Some(Influence::Temperature) && HEATED.contains(&own.parameter)
        };
        told.map(Property::from)
            .chain(coefficients.filter(is_heated))
            .flat_map(Self::of_property)
            .collect()
    }

    fn of_property(property: Property) -> Vec<Self> {
        let Property { parameter, influence } = property;
        let unit = if influence.is_some() { "_1_per_K" } else { parameter.unit_suffix() };
        let stem = property.key().replace('.', "_");
        let column = |block: usize, place: &str| Self {
            name: format!("{stem}{place}{unit}"),
            property,
            place: place.replace('_', " ").trim_start().to_owned(),
            block,
        };
        if !parameter.is_of_switches() {
            return vec![column(0, "")];
        }
        let of_place = |place: SwitchPlace| {
            let side = if place.is_high() { "high" } else { "low" };
            let leg = if place.leg() == Leg::Return { "_return_leg" } else { "" };
            column(place as usize, &format!("{leg}_{side}"))
        };
        SwitchPlace::ALL.map(of_place).to_vec()
    }

    fn part(&self, phase: usize, phases: usize) -> usize {
        self.block * phases + phase
    }

    /// What it holds of a converter's phase, counted from 0.
    pub fn value(&self, converter: &Converter, phase: usize) -> Option<f64> {
        converter.property(self.property, self.part(phase, converter.phases()))
    }

    /// Takes over the cell of a row at this place among its columns; what is wrong with it is reported.
    pub(super) fn fill(
        &self,
        row: &Row<'_>,
        place: CellPlace,
        converter: &mut Converter,
        errors: &mut Vec<Diagnostic>,
    ) {
        let part = self.part(place.phase, converter.phases());
        let Some(own) = converter.property_mut(self.property, part) else { return };
        let read = match self.property.influence {
            None => row.value(place.column, false, *own, errors),
            Some(_) => row.signed(place.column, *own, errors),
        };
        if let Some(read) = read {
            *own = read;
        }
    }
}
