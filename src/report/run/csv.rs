//! `worst_converters.csv`.

use itertools::Itertools;

use super::worst_case::words;
use crate::converter::{Converter, Parameter};
use crate::population::parts_file;
use crate::report::format::csv::{CsvCell, CsvTable};
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
    run: &Run,
    explanation: Option<&Explanation>,
) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(parts_file::COLUMNS)?;
    for case in &run.cases {
        let Some(worst) = &case.worst else { continue };
        let unit = format!(
            "sample {}: worst {} at {}",
            worst.sample,
            case.arrangement().name(),
            case.operating_point()
        );
        add(&mut table, &unit, &worst.converter)?;
    }
    let mut unsolved_converters = Vec::new();
    for worst in words::worst_cases(explanation).unwrap_or_default() {
        if let Some(extreme) = &worst.extreme {
            add(&mut table, &words::extreme_unit(run, worst), &extreme.converter)?;
        }
        let unsolved = worst.unsolved.as_ref();
        unsolved_converters.extend(unsolved.map(|unsolved| (worst.case, unsolved)));
    }
    for found in explanation.map_or(&[][..], |own| &own.frequency_extremes) {
        for (extreme, end) in [(&found.lowest, "lowest"), (&found.highest, "highest")] {
            let unit = words::frequency_unit(&run.cases[found.case], end);
            extreme.iter().try_for_each(|own| add(&mut table, &unit, &own.converter))?;
        }
        let unsolved = found.unsolved.as_ref();
        unsolved_converters.extend(unsolved.map(|unsolved| (found.case, unsolved)));
    }
    let named = unsolved_converters.into_iter().map(|(case, unsolved)| {
        (words::unsolved_unit(&run.cases[case], unsolved.status.name()), unsolved)
    });
    for (unit, unsolved) in named.unique_by(|(unit, _)| unit.clone()) {
        add(&mut table, &unit, &unsolved.converter)?;
    }
    table.text()
}

/// Adds a row for each phase of a converter.
fn add(table: &mut CsvTable, unit: &str, converter: &Converter) -> anyhow::Result<()> {
    for (k, tank) in converter.tanks.iter().enumerate() {
        let flying = |leg: &[Farad]| CsvCell::number(leg.get(k).map(|c| c.0));
        let tank = Parameter::of_tank().filter_map(|p| tank.value(p)).map(CsvCell::number);
        let legs = [flying(&converter.flying), flying(&converter.flying_return)];
        let names = [CsvCell::text(unit), CsvCell::count(k as u64 + 1)];
        table.row(names.into_iter().chain(tank).chain(legs))?;
    }
    Ok(())
}
