//! `worst_converters.csv`.

use crate::converter::Parameter;
use crate::population::parts_file;
use crate::report::format::csv::{CsvCell, CsvTable};
use crate::study::run::Run;
use crate::units::Farad;

/// The worst converter of every case as a parts file.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn worst_converters(run: &Run) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(parts_file::COLUMNS)?;
    for case in &run.cases {
        let Some(worst) = &case.worst else { continue };
        let unit = format!(
            "sample {}: worst {} at {}",
            worst.sample,
            case.arrangement().name(),
            case.operating_point()
        );
        for (k, tank) in worst.converter.tanks.iter().enumerate() {
            let flying = |leg: &[Farad]| CsvCell::number(leg.get(k).map(|c| c.0));
            let tank = Parameter::of_tank().filter_map(|p| tank.value(p)).map(CsvCell::number);
            let legs = [flying(&worst.converter.flying), flying(&worst.converter.flying_return)];
            let names = [CsvCell::text(&unit), CsvCell::count(k as u64 + 1)];
            table.row(names.into_iter().chain(tank).chain(legs))?;
        }
    }
    table.text()
}
