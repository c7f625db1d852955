//! `worst_converters.csv`.

use itertools::Itertools;

use super::worst_case::words;
use crate::converter::{Converter, Parameter, Property};
use crate::population::loss_columns::LossColumn;
use crate::population::parts_file;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::report::format::names;
use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::run::Run;
use crate::units::Farad;

/// The worst sample of every case as a parts file, and the extreme converters found in the tolerance
/// box.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn worst_converters(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> anyhow::Result<String> {
    let mut table = PartsTable::new(&scenario.nominal_converter())?;
    for case in &run.cases {
        let Some(worst) = &case.worst else { continue };
        let unit = format!(
            "sample {}: worst {} at {}",
            worst.sample,
            case.arrangement().name(),
            case.operating_point()
        );
        table.add(&unit, &worst.converter)?;
    }
    let mut unsolved_converters = Vec::new();
    for worst in words::worst_cases(explanation).unwrap_or_default() {
        if let Some(extreme) = &worst.extreme {
            table.add(&words::extreme_unit(run, worst), &extreme.converter)?;
        }
        let unsolved = worst.unsolved.as_ref();
        unsolved_converters.extend(unsolved.map(|unsolved| (worst.case, unsolved)));
    }
    for found in explanation.map_or(&[][..], |own| &own.frequency_extremes) {
        for (extreme, end) in [(&found.lowest, "lowest"), (&found.highest, "highest")] {
            let unit = words::frequency_unit(&run.cases[found.case], end);
            extreme.iter().try_for_each(|own| table.add(&unit, &own.converter))?;
        }
        let unsolved = found.unsolved.as_ref();
        unsolved_converters.extend(unsolved.map(|unsolved| (found.case, unsolved)));
    }
    let named = unsolved_converters.into_iter().map(|(case, unsolved)| {
        (words::unsolved_unit(&run.cases[case], unsolved.status.name()), unsolved)
    });
    for (unit, unsolved) in named.unique_by(|(unit, _)| unit.clone()) {
        table.add(&unit, &unsolved.converter)?;
    }
    table.rows.text()
}

/// The columns of a parts file that hold values.
pub(super) struct PartColumns {
    /// Those of the parts that tell losses apart.
    losses: Vec<LossColumn>,
}

/// Columns before those of values: unit and phase.
const NAMES: usize = 2;

impl PartColumns {
    /// Those that tell all of such converters.
    pub(super) fn of(nominal: &Converter) -> Self {
        Self { losses: LossColumn::all(nominal) }
    }

    /// Their names, with the units.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        let losses = self.losses.iter().map(|column| column.name.as_str());
        parts_file::COLUMNS.into_iter().skip(NAMES).chain(losses)
    }

    /// The symbol of a column for a table that people read.
    pub(super) fn label(&self, column: usize) -> String {
        let tank = Parameter::of_tank().map(|p| names::parameter(p).short);
        let flying = names::parameter(Parameter::FlyingCapacitance).short;
        let own =
            tank.map(str::to_owned).chain([flying.to_owned(), format!("{flying}, return leg")]);
        let mut own = own.chain(self.losses.iter().map(loss_label));
        own.nth(column).unwrap_or_default()
    }

    /// What they hold of a phase, counted from 0.
    pub(super) fn values(&self, converter: &Converter, phase: usize) -> Vec<Option<f64>> {
        let flying = |leg: &[Farad]| leg.get(phase).map(|c| c.0);
        let tank = converter.tanks.get(phase);
        let tank = Parameter::of_tank().map(|p| tank.and_then(|tank| tank.value(p)));
        let legs = [flying(&converter.flying), flying(&converter.flying_return)];
        let losses = self.losses.iter().map(|own| own.value(converter, phase));
        tank.chain(legs).chain(losses).collect()
    }
}

/// The symbol of a column of parts that tell losses apart, with the switches that it is of.
fn loss_label(column: &LossColumn) -> String {
    let Property { parameter, influence } = column.property;
    let per_kelvin = if influence.is_some() { " per K" } else { "" };
    let symbol = format!("{}{per_kelvin}", names::parameter(parameter).short);
    if column.place.is_empty() { symbol } else { format!("{symbol}, {}", column.place) }
}

/// A parts file in the making.
struct PartsTable {
    rows: CsvTable,
    columns: PartColumns,
}

impl PartsTable {
    /// With the columns that tell all of such converters.
    fn new(nominal: &Converter) -> anyhow::Result<Self> {
        let columns = PartColumns::of(nominal);
        let names = parts_file::COLUMNS.into_iter().take(NAMES).chain(columns.names());
        Ok(Self { rows: CsvTable::with_columns(names)?, columns })
    }

    /// Adds a row for each phase of a converter.
    fn add(&mut self, unit: &str, converter: &Converter) -> anyhow::Result<()> {
        for k in 0..converter.phases() {
            let values = self.columns.values(converter, k).into_iter().map(CsvCell::number);
            let names = [CsvCell::text(unit), CsvCell::count(k as u64 + 1)];
            self.rows.row(names.into_iter().chain(values))?;
        }
        Ok(())
    }
}
