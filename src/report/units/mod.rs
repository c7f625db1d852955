//! Converters whose parts are known: what terminal, page, CSV files and summary tell of them.
//!
//! They are solved in `study::units`; the parts file is read by `population::parts_file`, measured
//! currents by `population::measured_currents`.

mod brief;
mod converters;
mod csv;
mod json;
mod losses;
mod measured;
mod over_load;
mod page;
mod part_loads;
mod phases;
mod sharing_errors;
mod source;
mod switching;
mod terminal;
mod waveforms;
mod words;

pub(in crate::report) use self::json::UnitsResults;
pub use self::source::{SourceFile, UnitsSource};
pub use self::waveforms::{WaveformTable, first_line_of_waveforms};
use crate::report::format::Report;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::Listed;

/// What `units` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(
    scenario: &Scenario,
    source: &UnitsSource,
    method: Method,
    listed: &Listed,
) -> anyhow::Result<Report> {
    let mut files = vec![
        ("report.html", page::page(scenario, source, listed, method)),
        ("units.csv", csv::units(scenario, listed, method)?),
    ];
    if method == Method::Exact {
        files.push((part_loads::FILE, csv::ratings(scenario, listed)?));
    }
    if let Some(losses) = csv::losses(scenario, listed)? {
        files.push((losses::FILE, losses));
    }
    if let Some(transitions) = csv::commutation(listed)? {
        files.push((switching::FILE, transitions));
    }
    if let Some(over_load) = &listed.over_load {
        files.push(("over_load.csv", csv::over_load(scenario, listed, over_load, method)?));
    }
    Ok(Report {
        screen: terminal::screen(scenario, method, listed),
        summary: json::summary(scenario, source, method, listed).text()?,
        files,
    })
}
