//! `worst_converters.csv`.

use crate::converter::Parameter;
use crate::population::parts_file;
use crate::report::format::csv::text;
use crate::study::run::Run;

/// The worst converter of every case as a parts file.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(super) fn worst_converters(run: &Run) -> anyhow::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(parts_file::COLUMNS)?;
    for case in &run.cases {
        let Some(worst) = &case.worst else { continue };
        let unit = format!(
            "sample {}: worst {} at {}",
            worst.sample,
            case.arrangement().name(),
            case.operating_point()
        );
        for (k, tank) in worst.converter.tanks.iter().enumerate() {
            let flying = |leg: &[crate::units::Farad]| {
                leg.get(k).map_or_else(String::new, |c| c.0.to_string())
            };
            let number = |x: f64| x.to_string();
            let tank = Parameter::of_tank().filter_map(|p| tank.value(p)).map(number);
            let legs = [flying(&worst.converter.flying), flying(&worst.converter.flying_return)];
            writer.write_record(
                [unit.clone(), (k + 1).to_string()].into_iter().chain(tank).chain(legs),
            )?;
        }
    }
    text(writer)
}
